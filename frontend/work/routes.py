"""Addresses of these pages."""

from django.urls import path

from frontend.work.views import deciding, dose, orders, sheet

routes = [
    path("orders/", orders.orders, name="orders"),
    path("orders/new/", deciding.new, name="order-new"),
    path("orders/<int:number>/", orders.order, name="order"),
    path("orders/<int:number>/sheet/", sheet.sheet, name="order-sheet"),
    path("orders/<int:number>/dose/<slug:care>/", dose.dose, name="order-dose"),
    path("orders/<int:number>/change/", deciding.change, name="order-change"),
    path("orders/<int:number>/plan/", deciding.plan, name="order-plan"),
    path("orders/<int:number>/done/", deciding.done, name="order-done"),
    path("orders/<int:number>/drop/", deciding.drop, name="order-drop"),
]
