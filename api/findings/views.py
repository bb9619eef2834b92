"""Findings, for the people of the desk. Read only: a word is said on the page."""

from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework.viewsets import ReadOnlyModelViewSet

from api.filters import StrictFilterSet
from api.findings.serializers import FindingOut, OneFindingOut
from api.permissions import only
from survey.causes import finding_words as words
from survey.causes.models import Finding
from survey.people.policy import may_triage


class FindingFilter(StrictFilterSet):
    area = filters.CharFilter(field_name="area__ref", help_text="Short name of a town.")
    state = filters.MultipleChoiceFilter(choices=Finding.State.choices)
    follows = filters.MultipleChoiceFilter(choices=Finding.Follows.choices)
    site = filters.CharFilter(field_name="site__ref", help_text="Short name of a site.")
    planting = filters.CharFilter(field_name="planting__ref", help_text="Reference of a planting.")
    tree = filters.CharFilter(
        field_name="trees__ref", distinct=True, help_text="Reference of a tree with the sign."
    )
    gone = filters.BooleanFilter(
        field_name="gone_on", lookup_expr="isnull", exclude=True, help_text="No longer found."
    )

    class Meta:
        model = Finding
        fields = {"sign": ["exact"], "number": ["exact"], "found_on": ["gte", "lt"]}


class FindingViewSet(ReadOnlyModelViewSet):
    """What many trees have in common: one sign, and whether it follows the site, the planting, the
    supplier, the species, the side of the trunk or a stretch of time. A finding accuses nobody."""

    queryset = Finding.objects.none()
    serializer_class = FindingOut
    filterset_class = FindingFilter
    permission_classes = [only(may_triage)]

    def get_serializer_class(self):
        return OneFindingOut if self.action == "retrieve" else FindingOut

    def get_queryset(self):
        rows = Finding.objects.select_related("area", "site", "planting")
        return rows.prefetch_related("trees") if self.action == "retrieve" else rows

    def get_serializer_context(self):
        return super().get_serializer_context() | {"names": Naming()}

    @extend_schema(responses=OneFindingOut)
    def retrieve(self, request, *args, **kwargs):
        """One finding with its trees and everything it was weighed from."""
        return super().retrieve(request, *args, **kwargs)


class Naming:
    """Names for sentences. Site and planting come with the row; kinds are read once an area."""

    def __init__(self) -> None:
        self._kinds: dict[int, words.Names] = {}

    def __call__(self, row: Finding) -> words.Names:
        if row.area_id not in self._kinds:
            self._kinds[row.area_id] = words.names_of(row.area, ())
        return words.Names(
            sites={row.site_id: row.site.name} if row.site else {},
            plantings={row.planting_id: row.planting.name} if row.planting else {},
            kinds=self._kinds[row.area_id].kinds,
        )
