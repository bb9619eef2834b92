"""Addresses of the programming interface."""

from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView
from rest_framework.permissions import AllowAny
from rest_framework.routers import SimpleRouter

from api.causes.views import CausesView
from api.condition.doubts import DoubtsView
from api.condition.outlooks import OutlookViewSet
from api.condition.views import LearningViewSet, TrendViewSet
from api.exports.views import SurvivalCsv
from api.findings.views import FindingViewSet
from api.handbook.views import EntryView, HandbookView, ShelfView
from api.reports.views import ReportViewSet
from api.survival.views import SurvivalViewSet
from api.trees.views import PlantingViewSet, SiteViewSet, TreeViewSet
from api.workorders.views import OrderViewSet

app_name = "api"

router = SimpleRouter()
router.register("sites", SiteViewSet, "site")
router.register("plantings", PlantingViewSet, "planting")
router.register("trees", TreeViewSet, "tree")
router.register("reports", ReportViewSet, "report")
router.register("orders", OrderViewSet, "order")
router.register("findings", FindingViewSet, "finding")
router.register("survival", SurvivalViewSet, "survival")
router.register("trends", TrendViewSet, "trend")
router.register("outlooks", OutlookViewSet, "outlook")
router.register("learnings", LearningViewSet, "learning")

urlpatterns = [
    path("v1/survival.csv", SurvivalCsv.as_view(), name="survival-csv"),
    path("v1/causes/", CausesView.as_view(), name="causes"),
    path("v1/walks/doubts/", DoubtsView.as_view(), name="doubts"),
    path("v1/handbook/", HandbookView.as_view(), name="handbook"),
    path("v1/handbook/<str:shelf>/", ShelfView.as_view(), name="handbook-shelf"),
    path("v1/handbook/<str:shelf>/<str:code>/", EntryView.as_view(), name="handbook-entry"),
    path("v1/", include(router.urls)),
    path("schema/", SpectacularAPIView.as_view(permission_classes=[AllowAny]), name="schema"),
    path(
        "docs/",
        SpectacularSwaggerSplitView.as_view(url_name="api:schema", permission_classes=[AllowAny]),
        name="docs",
    ),
]
