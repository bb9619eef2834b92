"""Where every address begins. Names the two front rooms only as strings."""

from django.urls import include, path
from django.utils.module_loading import import_string

urlpatterns = [
    path("livez", import_string("frontend.health.livez"), name="livez"),
    path("readyz", import_string("frontend.health.readyz"), name="readyz"),
    path("api/", include("api.urls")),
    path("", include("frontend.urls")),
]

handler400 = "frontend.errors.bad_request"
handler403 = "frontend.errors.forbidden"
handler404 = "frontend.errors.not_found"
handler500 = "frontend.errors.server_error"
