"""Addresses of these pages."""

from django.urls import path

from frontend.liaison import downloads, imports, survival, trends

routes = [
    path("survival/", survival.survival, name="survival"),
    path("survival/<str:by>/<str:key>/", survival.survival_group, name="survival-group"),
    path("trends/", trends.trends, name="trends"),
    path("trends/<slug:ref>/", trends.trend, name="trend"),
    path("dictionary/", downloads.dictionary, name="dictionary"),
    path("downloads/", downloads.downloads, name="downloads"),
    path("downloads/<slug:table>.csv", downloads.download, name="download"),
    path("desk/imports/", imports.imports, name="imports"),
]
