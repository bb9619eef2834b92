"""Addresses of the desk."""

from django.urls import path

from frontend.desk.entry_routes import entry_routes
from frontend.desk.views import acts, causes, docket, findings, operations, queue, turns

routes = [
    *entry_routes,
    path("desk/", queue.queue, name="queue"),
    path("desk/arrived/", queue.arrived, name="desk-arrived"),
    path("desk/operations/", operations.operations, name="operations"),
    path("desk/operations/letters/<str:name>/", operations.letter, name="letter"),
    path("desk/operations/chores/<int:number>/retry/", operations.retry, name="retry-chore"),
    path("desk/operations/calls/<int:pk>/", acts.called, name="called"),
    path("desk/photos/<slug:key>/<str:shown>/", acts.photo, name="photo-show"),
    path("desk/turns/<int:pk>/", turns.turn, name="turn"),
    path("desk/findings/", findings.findings, name="findings"),
    path("desk/findings/search/", findings.search_again, name="findings-search"),
    path("desk/findings/<int:number>/", findings.finding, name="finding"),
    path("desk/findings/<int:number>/order/", findings.order, name="finding-order"),
    path("desk/findings/<int:number>/letter/<str:kind>/", findings.letter, name="finding-letter"),
    path("desk/findings/<int:number>/<str:word>/", findings.judge, name="finding-judge"),
    path("desk/undo/<int:pk>/", acts.undo, name="undo"),
    path("trees/<slug:ref>/answers/<str:check>/", causes.answer, name="answer-check"),
    path("trees/<slug:ref>/causes/<str:cause>/", causes.judge, name="judge-cause"),
    path("desk/<int:pk>/", docket.docket, name="docket"),
    path("desk/<int:pk>/note/", docket.note, name="desk-note"),
    path("desk/<int:pk>/place/", acts.place, name="place"),
    path("desk/<int:pk>/erase/", acts.erase, name="erase"),
    path("desk/<int:pk>/<str:outcome>/", docket.decide, name="decide"),
]
