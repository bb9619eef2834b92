"""Addresses of these pages."""

from django.urls import path

from frontend.work.views import deciding, dose, label, orders, sheet, trials

routes = [
    path("orders/", orders.orders, name="orders"),
    path("orders/new/", deciding.new, name="order-new"),
    path("orders/<int:number>/", orders.order, name="order"),
    path("fertilizer/", label.fertilizer_label, name="fertilizer-label"),
    path("orders/<int:number>/sheet/", sheet.sheet, name="order-sheet"),
    path("orders/<int:number>/dose/<slug:care>/", dose.dose, name="order-dose"),
    path("orders/<int:number>/change/", deciding.change, name="order-change"),
    path("orders/<int:number>/plan/", deciding.plan, name="order-plan"),
    path("orders/<int:number>/done/", deciding.done, name="order-done"),
    path("orders/<int:number>/drop/", deciding.drop, name="order-drop"),
    path("trials/", trials.trials, name="trials"),
    path("trials/new/", trials.new, name="trial-new"),
    path("trials/<slug:ref>/", trials.trial, name="trial"),
    path("trials/<slug:ref>/end/", trials.end, name="trial-end"),
]
