"""The outlook of sites, plantings and species, from all evidence weighed."""

from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.viewsets import ReadOnlyModelViewSet

from api.condition.serializers import SharesOut
from api.filters import StrictFilterSet
from api.permissions import only
from survey.condition.models import STATES, Outlook
from survey.condition.outlooks import Month, months_of
from survey.people.policy import may_read_survival


class WeighedOut(serializers.Serializer):
    """One month of a place as all evidence weighed has it."""

    outlook = serializers.FloatField(
        help_text="Of 100 trees like these, how many should still stand 24 months on."
    )
    low = serializers.FloatField(help_text="Lower end of its 95 % band.")
    high = serializers.FloatField(help_text="Upper end of its 95 % band.")
    standing = serializers.IntegerField(help_text="Trees that stand alive.")
    looks = serializers.IntegerField(help_text="Looks in the month, by anybody.")
    walked = serializers.BooleanField(
        source="surveyed", help_text="Whether walks of the year make it comparable with others."
    )


class OutlookMonthOut(WeighedOut):
    month = serializers.DateField(source="first_day")
    trees = serializers.IntegerField(help_text="Trees on the list by then, lost ones included.")
    shares = serializers.SerializerMethodField()

    @extend_schema_field(SharesOut)
    def get_shares(self, month: Month) -> dict[str, float]:
        return dict(zip(STATES, month.shares, strict=True))


class OutlookOut(serializers.ModelSerializer):
    area = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    by = serializers.CharField(help_text="site, planting or species")
    walked = serializers.BooleanField(
        source="surveyed", help_text="Whether walks of the year make it comparable with others."
    )
    version = serializers.IntegerField(source="learning", help_text="What was learnt; a learning.")

    class Meta:
        model = Outlook
        fields = [
            "id",
            "area",
            "by",
            "key",
            "label",
            "month",
            "outlook",
            "low",
            "high",
            "trees",
            "standing",
            "looks_in_year",
            "walked",
            "version",
        ]


class OutlookInFull(OutlookOut):
    months = serializers.SerializerMethodField()

    class Meta(OutlookOut.Meta):
        fields = [*OutlookOut.Meta.fields, "months"]

    @extend_schema_field(OutlookMonthOut(many=True))
    def get_months(self, row: Outlook) -> list[dict]:
        return OutlookMonthOut(months_of(row), many=True).data


class OutlookFilter(StrictFilterSet):
    area = filters.CharFilter(field_name="area__ref", help_text="Short name of a town.")

    class Meta:
        model = Outlook
        fields = {"by": ["exact"], "key": ["exact"]}


class OutlookViewSet(ReadOnlyModelViewSet):
    """Of 100 trees like those of a place, how many should still stand two summers on.

    The list holds the newest month of each place, one place has all its months.
    """

    queryset = Outlook.objects.none()
    filterset_class = OutlookFilter
    permission_classes = [only(may_read_survival)]

    def get_serializer_class(self):
        return OutlookInFull if self.action == "retrieve" else OutlookOut

    def get_queryset(self):
        rows = Outlook.objects.select_related("area")
        return rows if self.action == "retrieve" else rows.defer("months", "rounds")
