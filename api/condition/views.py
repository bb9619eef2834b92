"""Site trends, for anybody with an account; what was learnt of a town, for anybody."""

from django_filters import rest_framework as filters
from rest_framework import serializers
from rest_framework.permissions import AllowAny
from rest_framework.viewsets import ReadOnlyModelViewSet

from api.condition.serializers import LearningOut
from api.filters import StrictFilterSet
from api.permissions import only
from survey.condition.models import Learning, SiteMonth
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

    class Meta:
        model = SiteMonth
        fields = ["site", "month", "n", "standing", "looks", "shares"]

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
