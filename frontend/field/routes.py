"""Addresses of these pages."""

from django.urls import path

from frontend.field.views import (
    believe,
    doubts,
    finding,
    ground,
    life,
    looks,
    pages,
    register,
    walks,
    wounds,
)

routes = [
    path("trees/", finding.trees, name="trees"),
    path("trees/<slug:ref>/", pages.tree, name="tree"),
    path("trees/<slug:ref>/look/", looks.look, name="look"),
    path("trees/<slug:ref>/wounds/", wounds.wounds, name="wounds"),
    path("trees/<slug:ref>/alive/", life.life, name="life"),
    path("trees/<slug:ref>/graft/", wounds.graft, name="graft"),
    path("trees/<slug:ref>/acceptance/", looks.acceptance, name="acceptance"),
    path("trees/<slug:ref>/care/", looks.care, name="care"),
    path("trees/<slug:ref>/left/", looks.departure, name="departure"),
    path("trees/<slug:ref>/believe/", believe.believe, name="believe"),
    path("trees/<slug:ref>/believe/<int:pk>/", believe.withdraw, name="believe-withdraw"),
    path("trees/<slug:ref>/correct/", register.correct, name="correct-tree"),
    path(
        "trees/<slug:ref>/happening/",
        looks.happening,
        {"kind": "tree"},
        name="tree-happening",
    ),
    path("plantings/", finding.plantings, name="plantings"),
    path("plantings/<slug:ref>/", pages.planting, name="planting"),
    path(
        "plantings/<slug:ref>/happening/",
        looks.happening,
        {"kind": "planting"},
        name="planting-happening",
    ),
    path("sites/", finding.sites, name="sites"),
    path("sites/<slug:ref>/", pages.site, name="site"),
    path(
        "sites/<slug:ref>/happening/",
        looks.happening,
        {"kind": "site"},
        name="site-happening",
    ),
    path("sites/<slug:ref>/ground/", ground.ground, name="ground"),
    path("sites/<slug:ref>/ground/<int:pk>/", ground.end, name="leave-end"),
    path("register/", register.start, name="register"),
    path("register/<slug:site>/", register.at_site, name="register-site"),
    path("register/<slug:site>/<slug:planting>/", register.tree, name="register-tree"),
    path("walks/", walks.walks, name="walks"),
    path("walks/doubts/", doubts.doubts, name="doubts"),
    path("walks/<slug:ref>/", walks.walk, name="walk"),
]
