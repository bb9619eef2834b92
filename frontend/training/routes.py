"""Addresses of these pages."""

from django.urls import path

from frontend.training.views import observers, practice, standing, walks

routes = [
    path("training/", standing.own, name="training"),
    path("training/practice/", practice.practice, name="practice"),
    path("training/practice/<int:pk>/", practice.finished, name="practice-round"),
    path("training/walks/new/", walks.new, name="paired-walk-new"),
    path("training/walks/<int:pk>/", walks.walk, name="paired-walk"),
    path("training/walks/<int:pk>/drop/", walks.drop, name="paired-walk-drop"),
    path("training/of/<slug:key>/", standing.of, name="training-of"),
    path("people/observers/", observers.observers, name="observers"),
]
