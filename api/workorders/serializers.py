"""Work orders as the interface shows them."""

from rest_framework import serializers

from survey.workorders.models import OrderLine, WorkOrder


class OrderLineOut(serializers.ModelSerializer):
    tree = serializers.SlugRelatedField(slug_field="ref", read_only=True)

    class Meta:
        model = OrderLine
        fields = ["tree", "care", "dose", "outcome", "remark"]


class OrderOut(serializers.ModelSerializer):
    area = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    lines = OrderLineOut(many=True)

    class Meta:
        model = WorkOrder
        fields = [
            "number",
            "area",
            "state",
            "why",
            "who",
            "window_from",
            "window_to",
            "planned_for",
            "team",
            "done_on",
            "look_due",
            "lines",
        ]
