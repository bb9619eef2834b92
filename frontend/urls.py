"""Every page, gathered from the people it is for."""

from frontend.accounts.routes import routes as accounts
from frontend.desk.routes import routes as desk
from frontend.field.routes import routes as field
from frontend.handbook.routes import routes as handbook
from frontend.handbook.sun import routes as sun
from frontend.language import routes as language
from frontend.liaison.routes import routes as liaison
from frontend.neighbor.routes import routes as neighbor
from frontend.training.routes import routes as training
from frontend.work.routes import routes as work

app_name = "frontend"
urlpatterns = [
    *neighbor,
    *training,
    *accounts,
    *desk,
    *field,
    *work,
    *liaison,
    *sun,
    *handbook,
    *language,
]
