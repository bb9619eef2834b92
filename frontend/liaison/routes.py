"""Addresses of these pages."""

from django.urls import path

from frontend.liaison import compare, downloads, helped, imports, survival, trends
from frontend.liaison.own_table import views as own_table

routes = [
    path("survival/", survival.survival, name="survival"),
    path("survival/own/", own_table.own_table, name="own-table"),
    path("survival/compare/", compare.compare, name="compare"),
    path("survival/care/", helped.care_kinds, name="care-kinds"),
    path("survival/care/<slug:code>/", helped.care_kind, name="care-kind"),
    path("survival/<str:by>/<str:key>/", survival.survival_group, name="survival-group"),
    path("trends/", trends.trends, name="trends"),
    path("trends/<slug:ref>/", trends.trend, name="trend"),
    path("trends/<slug:by>/<str:key>/", trends.trend_of, name="trend-of"),
    path("dictionary/", downloads.dictionary, name="dictionary"),
    path("downloads/", downloads.downloads, name="downloads"),
    path("downloads/<slug:table>.csv", downloads.download, name="download"),
    path("desk/imports/", imports.imports, name="imports"),
]
