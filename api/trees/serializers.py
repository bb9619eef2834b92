"""Places, plantings, trees and looks as the interface shows them. No neighbor is ever in them."""

from rest_framework import serializers

from api.condition.serializers import BeliefOut
from api.trees.saving import WoundMeasureOut
from survey.trees.models import Look, LookSign, Planting, Site, StemMeasure, Tree


class SiteOut(serializers.ModelSerializer):
    area = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    land_manager = serializers.StringRelatedField()
    trees = serializers.IntegerField(source="tree_count", help_text="Trees on the list.")

    class Meta:
        model = Site
        fields = [
            "ref",
            "area",
            "name",
            "kind",
            "land_manager",
            "latitude",
            "longitude",
            "trees",
        ]


class PlantingOut(serializers.ModelSerializer):
    area = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    trees = serializers.IntegerField(source="tree_count", help_text="Trees on the list.")

    class Meta:
        model = Planting
        fields = [
            "ref",
            "area",
            "name",
            "planted_from",
            "planted_to",
            "planted_precision",
            "planted_count",
            "supplier",
            "contractor",
            "stock_form",
            "warranty_until",
            "trees",
        ]


class TreeOut(serializers.ModelSerializer):
    area = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    site = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    planting = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    replaces = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    last_condition = serializers.CharField(
        source="gauge_condition",
        help_text="Condition at the last trained look; empty when that look gave none.",
    )
    last_presence = serializers.CharField(
        source="gauge_presence", help_text="What the last trained look found there."
    )
    last_look = serializers.DateField(source="gauge_day", help_text="Day of the last trained look.")
    belief = BeliefOut(
        read_only=True,
        allow_null=True,
        help_text="What is believed of it by all evidence; null until it was weighed.",
    )

    class Meta:
        model = Tree
        fields = [
            "ref",
            "area",
            "site",
            "planting",
            "tag",
            "species",
            "planted_from",
            "planted_to",
            "planted_precision",
            "registered_on",
            "registered_because",
            "latitude",
            "longitude",
            "stems",
            "replaces",
            "left",
            "left_from",
            "left_to",
            "last_condition",
            "last_presence",
            "last_look",
            "belief",
        ]


class LookSignOut(serializers.ModelSerializer):
    class Meta:
        model = LookSign
        fields = ["sign", "extent", "side", "stem"]


class StemMeasureOut(serializers.ModelSerializer):
    class Meta:
        model = StemMeasure
        fields = ["stem", "girth_m", "height_m"]


class LookOut(serializers.ModelSerializer):
    signs = LookSignOut(many=True)
    measures = StemMeasureOut(many=True)
    wounds = WoundMeasureOut(many=True)
    supersedes = serializers.PrimaryKeyRelatedField(read_only=True)

    class Meta:
        model = Look
        fields = [
            "id",
            "day",
            "channel",
            "trained",
            "presence",
            "condition",
            "leaf",
            "scratch",
            "signs",
            "measures",
            "wounds",
            "supersedes",
        ]
