"""A report as other programs send it, and as the desk reads it."""

import uuid

from rest_framework import serializers

from survey.reports.answers import MOST_LANDMARK, MOST_WORDS
from survey.reports.models import Report
from survey.reports.reference import report_name
from survey.trees.models import Area, Site, Tree


class ReportIntake(serializers.Serializer):
    """What may be sent. The sender names the report: the same `client_ref` twice is one report."""

    client_ref = serializers.UUIDField(default=uuid.uuid4, help_text="The sender's own UUID.")
    area = serializers.SlugRelatedField(
        slug_field="ref", queryset=Area.objects.all(), required=False, help_text="Default: home."
    )
    tree = serializers.SlugRelatedField(
        slug_field="ref", queryset=Tree.objects.all(), required=False, allow_null=True
    )
    site = serializers.SlugRelatedField(
        slug_field="ref", queryset=Site.objects.all(), required=False, allow_null=True
    )
    landmark = serializers.CharField(max_length=MOST_LANDMARK, required=False, allow_blank=True)
    latitude = serializers.FloatField(required=False, allow_null=True)
    longitude = serializers.FloatField(required=False, allow_null=True)
    seen_on = serializers.DateField(required=False)
    danger = serializers.CharField(max_length=40, required=False, allow_blank=True)
    signs = serializers.ListField(
        child=serializers.CharField(max_length=40), required=False, max_length=60
    )
    picture = serializers.CharField(max_length=16, required=False, allow_blank=True)
    extent = serializers.CharField(max_length=16, required=False, allow_blank=True)
    side = serializers.CharField(max_length=16, required=False, allow_blank=True)
    words = serializers.CharField(max_length=MOST_WORDS, required=False, allow_blank=True)
    email = serializers.EmailField(required=False, allow_blank=True)
    phone = serializers.CharField(max_length=40, required=False, allow_blank=True)
    language = serializers.CharField(max_length=5, required=False)

    def validate_signs(self, signs):
        return tuple(signs)


class Receipt(serializers.Serializer):
    """What the sender keeps. `private_page` is shown once: the server holds only its digest."""

    name = serializers.CharField(help_text="What people call it: June 16, note 12.")
    client_ref = serializers.UUIDField()
    private_page = serializers.URLField(allow_null=True)


class ReportOut(serializers.ModelSerializer):
    """A report for the desk. How to reach the neighbor is not in it."""

    name = serializers.SerializerMethodField(help_text="What people call it: June 16, note 12.")
    area = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    site = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    tree = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    signs = serializers.SlugRelatedField(slug_field="sign", many=True, read_only=True)
    joined_to = serializers.PrimaryKeyRelatedField(read_only=True)
    danger_open = serializers.BooleanField(source="is_danger")

    class Meta:
        model = Report
        fields = [
            "id",
            "name",
            "client_ref",
            "area",
            "day",
            "number",
            "state",
            "came",
            "site",
            "tree",
            "landmark",
            "latitude",
            "longitude",
            "seen_on",
            "danger",
            "danger_words",
            "danger_open",
            "signs",
            "picture",
            "extent",
            "side",
            "words",
            "language",
            "submitted_at",
            "weight",
            "joined_to",
            "look_due",
            "version",
        ]

    def get_name(self, report) -> str:
        return report_name(report)


class DecisionIntake(serializers.Serializer):
    """A decision: on which version of the report, why, and what the neighbor is told."""

    version = serializers.IntegerField(min_value=0)
    reason = serializers.CharField(max_length=500)
    message = serializers.CharField(max_length=MOST_WORDS, required=False, allow_blank=True)


class AnswerIntake(DecisionIntake):
    look_due = serializers.DateField(required=False, allow_null=True)


class JoinIntake(DecisionIntake):
    other = serializers.PrimaryKeyRelatedField(queryset=Report.objects.all())
