"""Addresses of the pages about accounts."""

from django.urls import path

from frontend.accounts import views

routes = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("first/", views.first, name="first"),
    path("account/", views.account, name="account"),
    path("people/", views.people, name="people"),
    path("people/new/", views.new_person, name="person-new"),
    path("people/<slug:key>/", views.person, name="person"),
    path("town/", views.town, name="town"),
]
