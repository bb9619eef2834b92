"""Work orders, for the people who plan and do the work."""

from django_filters import rest_framework as filters
from rest_framework.viewsets import ReadOnlyModelViewSet

from api.filters import StrictFilterSet
from api.permissions import only
from api.workorders.serializers import OrderOut
from survey.people.policy import may_see_orders
from survey.workorders.models import WorkOrder


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
