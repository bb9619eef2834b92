"""Addresses of the handbook: open to anybody, except the rules of the place, which staff keep."""

from django.urls import path

from frontend.handbook import views
from frontend.handbook.chapters import CHAPTERS
from frontend.handbook.local import pages as local

routes = [
    path("handbook/", views.contents, name="handbook"),
    path("handbook/a-to-z/", views.a_to_z, name="handbook-a-to-z"),
    path("handbook/local/", local.rules, name="handbook-local"),
    path("handbook/local/<slug:ref>/approve/", local.approve, name="handbook-local-approve"),
    path("handbook/local/<slug:ref>/withdraw/", local.withdraw, name="handbook-local-withdraw"),
    path("handbook/local/about/<str:about>/<str:code>/", local.propose, name="handbook-local-new"),
    *[
        path(f"handbook/{c.key}/", views.chapter, {"name": c.key}, name=f"handbook-{c.key}")
        for c in CHAPTERS
    ],
    path("handbook/causes/<str:code>/", views.cause, name="handbook-cause"),
    path("handbook/care/<str:code>/", views.care, name="handbook-care-of"),
    path("handbook/<str:name>/", views.chapter, name="handbook-chapter"),
    path("handbook/<str:shelf>/<str:code>/", views.entry, name="handbook-entry"),
]
