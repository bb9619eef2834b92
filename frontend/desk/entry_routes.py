"""The address of the page on which a call is written down."""

from django.urls import path

from frontend.desk.entry import quick_entry

entry_routes = [path("desk/new/", quick_entry, name="quick-entry")]
