"""Survival as last worked out."""

from rest_framework import serializers

from survey.survival.models import Figure, Group


class FigureOut(serializers.ModelSerializer):
    class Meta:
        model = Figure
        fields = [
            "curve",
            "milestone",
            "age_months",
            "at_risk",
            "events",
            "at_least",
            "at_most",
            "low",
            "high",
            "count_alive",
            "count_lost",
            "count_unknown",
            "withheld",
        ]


class GroupOut(serializers.ModelSerializer):
    area = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    figures = FigureOut(many=True)

    class Meta:
        model = Group
        fields = [
            "id",
            "area",
            "by",
            "key",
            "label",
            "reading",
            "as_of",
            "counts",
            "curves",
            "mortality",
            "pooled",
            "forecast",
            "cautions",
            "method",
            "evidence",
            "figures",
        ]
