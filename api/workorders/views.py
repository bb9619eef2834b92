"""Work orders, for the people who plan and do the work."""

from django.shortcuts import get_object_or_404
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework.decorators import action
from rest_framework.response import Response
from rest_framework.viewsets import ReadOnlyModelViewSet

from api.filters import StrictFilterSet
from api.permissions import only
from api.workorders.doses import (
    DosesOut,
    DosesQuestion,
    RefusalOut,
    RefusalsQuestion,
    doses_out,
    refusal_out,
)
from api.workorders.serializers import OrderOut
from survey.people.policy import may_see_orders
from survey.workorders.models import WorkOrder
from survey.workorders.refusals import refusals_of


class OrderFilter(StrictFilterSet):
    area = filters.CharFilter(field_name="area__ref", help_text="Short name of a town.")
    state = filters.MultipleChoiceFilter(choices=WorkOrder.State.choices)
    tree = filters.CharFilter(
        field_name="lines__tree__ref", distinct=True, help_text="Reference of a tree."
    )

    class Meta:
        model = WorkOrder
        fields = {
            "number": ["exact"],
            "who": ["exact"],
            "window_to": ["gte", "lt"],
            "planned_for": ["exact", "gte", "lt"],
        }


class OrderViewSet(ReadOnlyModelViewSet):
    """Why, which trees, which care, who may do it, in which window, and what became of it."""

    queryset = WorkOrder.objects.none()
    serializer_class = OrderOut
    filterset_class = OrderFilter
    permission_classes = [only(may_see_orders)]

    def get_queryset(self):
        return WorkOrder.objects.select_related("area").prefetch_related("lines__tree")

    @extend_schema(
        parameters=[DosesQuestion], responses=DosesOut, filters=False, operation_id="orders_doses"
    )
    @action(detail=True, filterset_class=None, pagination_class=None)
    def doses(self, request, pk=None):
        """Every dose of an order, line by line: SI values, operands, and the words of a reader."""
        asked = DosesQuestion(data=request.query_params)
        asked.is_valid(raise_exception=True)
        order = self._order(pk)
        own = getattr(request.user, "units", "") or order.area.units
        return Response(doses_out(order, asked.validated_data.get("units", own)))

    @extend_schema(
        parameters=[RefusalsQuestion],
        responses=RefusalOut(many=True),
        filters=False,
        operation_id="orders_refusals",
    )
    @action(detail=True, filterset_class=None, pagination_class=None)
    def refusals(self, request, pk=None):
        """Why an order may not be done on a day, each with what opens it again."""
        asked = RefusalsQuestion(data=request.query_params)
        asked.is_valid(raise_exception=True)
        day = asked.validated_data["day"]
        return Response([refusal_out(problem) for problem in refusals_of(self._order(pk), day)])

    def _order(self, pk) -> WorkOrder:
        return get_object_or_404(WorkOrder.objects.select_related("area"), pk=whole_key(pk))


def whole_key(text: str | None) -> int:
    """A primary key out of an address; what cannot be one finds nothing."""
    plain = text or ""
    return int(plain) if plain.isascii() and plain.isdecimal() and len(plain) < 18 else 0
