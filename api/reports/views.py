"""Reports: anybody may send one, the desk may read and decide."""

from django.conf import settings
from django.http import Http404
from django.urls import reverse
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.mixins import CreateModelMixin
from rest_framework.permissions import AllowAny
from rest_framework.response import Response
from rest_framework.viewsets import ReadOnlyModelViewSet

from api.causes.serializers import CausesOut, causes_out
from api.causes.views import told_or_refused
from api.permissions import only
from api.reports.filters import ReportFilter
from api.reports.serializers import (
    AnswerIntake,
    DecisionIntake,
    JoinIntake,
    Receipt,
    ReportIntake,
    ReportOut,
)
from api.throttles import ReportsFromOnePlace
from survey.people.policy import may_triage
from survey.reports.actions import intake, triage
from survey.reports.causes import causes_of_report
from survey.reports.models import Report
from survey.reports.reference import report_name
from survey.trees.models import Area
from survey.workorders.holds import holds_in


class ReportViewSet(CreateModelMixin, ReadOnlyModelViewSet):
    """What neighbors saw. Sending is open to anybody; reading and deciding to the desk."""

    queryset = Report.objects.none()
    serializer_class = ReportOut
    filterset_class = ReportFilter
    throttle_classes = [ReportsFromOnePlace]

    def get_permissions(self):
        return [AllowAny()] if self.action == "create" else [only(may_triage)()]

    def get_queryset(self):
        return (
            Report.objects.with_queue_place()
            .select_related("area", "site", "tree")
            .prefetch_related("signs")
        )

    @extend_schema(request=ReportIntake, responses={201: Receipt, 200: Receipt})
    def create(self, request):
        """Send a report. 201 for a new one, 200 when it had arrived before."""
        sent = ReportIntake(data=request.data)
        sent.is_valid(raise_exception=True)
        answers = dict(sent.validated_data)
        area = answers.pop("area", None) or _home()
        known = Report.objects.filter(client_ref=answers["client_ref"]).exists()
        report, secret = intake.submit_report(
            area=area, at=area.now(), came=Report.Came.API, **answers
        )
        if known:
            secret = None
        receipt = {
            "name": report_name(report),
            "client_ref": report.client_ref,
            "private_page": _private_page(secret) if secret else None,
        }
        return Response(Receipt(receipt).data, status=200 if known else 201)

    def _decide(self, request, intake_class, act):
        """Read the decision, let the domain decide, and answer with the report as it is now."""
        report = self.get_object()
        sent = intake_class(data=request.data)
        sent.is_valid(raise_exception=True)
        given = {"message": "", **sent.validated_data}
        act(report=report, by=request.user, at=report.area.now(), **given)
        return Response(ReportOut(self.get_queryset().get(pk=report.pk)).data)

    @extend_schema(request=AnswerIntake, responses=ReportOut)
    @action(detail=True, methods=["post"])
    def answer(self, request, pk):
        """Answer the neighbor; with `look_due` somebody looks again by that day."""
        return self._decide(request, AnswerIntake, triage.answer_report)

    @extend_schema(request=DecisionIntake, responses=ReportOut)
    @action(detail=True, methods=["post"])
    def ask(self, request, pk):
        """Ask the neighbor one question."""
        return self._decide(request, DecisionIntake, triage.ask_back)

    @extend_schema(request=JoinIntake, responses=ReportOut)
    @action(detail=True, methods=["post"])
    def join(self, request, pk):
        """Join this report to the one it repeats."""
        return self._decide(request, JoinIntake, triage.join_report)

    @extend_schema(request=DecisionIntake, responses=ReportOut)
    @action(detail=True, methods=["post"], url_path="set-aside")
    def set_aside(self, request, pk):
        """Close a report that needs nothing."""
        return self._decide(request, DecisionIntake, triage.set_aside_report)

    @extend_schema(responses=CausesOut, parameters=[], filters=False, operation_id="reports_causes")
    @action(detail=True, filterset_class=None, pagination_class=None)
    def causes(self, request, pk):
        """The causes that fit one report and the tree it names, and the question for a neighbor."""
        report = self.get_object()
        tree = report.tree
        kept_away = tree is not None and holds_in(report.area).on_tree(tree) is not None
        told, recorded = told_or_refused(lambda: causes_of_report(report, in_danger=kept_away))
        return Response(CausesOut(causes_out(told, recorded)).data)


def _home() -> Area:
    area = Area.objects.filter(is_home=True).first()
    if area is None:
        raise Http404
    return area


def _private_page(secret: str) -> str:
    return settings.PUBLIC_ADDRESS + reverse("frontend:note", args=[secret])
