"""Site trends, for anybody with an account; what was learnt of a town, for anybody."""

from collections.abc import Iterable
from datetime import date

from django_filters import rest_framework as filters
from rest_framework import serializers
from rest_framework.permissions import AllowAny
from rest_framework.viewsets import ReadOnlyModelViewSet

from api.condition.outlooks import WeighedOut
from api.condition.serializers import LearningOut
from api.filters import StrictFilterSet
from api.permissions import only
from survey.condition.models import Learning, Outlook, SiteMonth
from survey.condition.outlooks import Month, months_of
from survey.condition.trend import shares_of
from survey.people.policy import may_read_survival


class ShareOut(serializers.Serializer):
    condition = serializers.CharField()
    trees = serializers.IntegerField()
    share = serializers.FloatField(allow_null=True)
    low = serializers.FloatField(source="limits.low", help_text="Lower 95 % Wilson limit.")
    high = serializers.FloatField(source="limits.high", help_text="Upper 95 % Wilson limit.")


class TrendOut(serializers.ModelSerializer):
    site = serializers.SlugRelatedField(slug_field="ref", read_only=True)
    shares = serializers.SerializerMethodField()
    weighed = WeighedOut(
        allow_null=True, read_only=True, help_text="The same month by all evidence weighed."
    )

    class Meta:
        model = SiteMonth
        fields = ["site", "month", "n", "standing", "looks", "shares", "weighed"]

    def get_shares(self, month) -> list[dict]:
        return ShareOut(shares_of(month), many=True).data


class TrendFilter(StrictFilterSet):
    area = filters.CharFilter(field_name="site__area__ref", help_text="Short name of a town.")
    site = filters.CharFilter(field_name="site__ref", help_text="Short name of a site.")

    class Meta:
        model = SiteMonth
        fields = {"month": ["exact", "gte", "lt"]}


class TrendViewSet(ReadOnlyModelViewSet):
    """A site's trees by the condition of their last trained look, month by month."""

    queryset = SiteMonth.objects.none()
    serializer_class = TrendOut
    filterset_class = TrendFilter
    permission_classes = [only(may_read_survival)]

    def get_queryset(self):
        return SiteMonth.objects.select_related("site")

    def paginate_queryset(self, queryset):
        page = super().paginate_queryset(queryset)
        _weigh(page)
        return page

    def get_object(self):
        month = super().get_object()
        _weigh([month])
        return month


def _weigh(months: Iterable[SiteMonth]) -> None:
    """Put what all evidence weighed says beside each month, in one question; None where nothing."""
    sites = {month.site for month in months}
    outlooks = Outlook.objects.filter(
        by=Outlook.By.SITE,
        area__in={site.area_id for site in sites},
        key__in={site.ref for site in sites},
    )
    weighed: dict[tuple[int, str, date], Month] = {
        (row.area_id, row.key, month.first_day): month
        for row in outlooks
        for month in months_of(row)
    }
    for month in months:
        month.weighed = weighed.get((month.site.area_id, month.site.ref, month.month))


class LearningFilter(StrictFilterSet):
    area = filters.CharFilter(field_name="area__ref", help_text="Short name of a town.")

    class Meta:
        model = Learning
        fields = {"number": ["exact"], "as_of": ["exact", "gte", "lt"]}


class LearningViewSet(ReadOnlyModelViewSet):
    """What the beliefs of a town rest on: by which method, from how much, learnt when.

    The number is the version that a belief names. What was learnt of observers is not shown.
    """

    queryset = Learning.objects.none()
    serializer_class = LearningOut
    filterset_class = LearningFilter
    permission_classes = [AllowAny]

    def get_queryset(self):
        return Learning.objects.select_related("area").defer("learnt", "names")
