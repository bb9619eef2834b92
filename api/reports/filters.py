"""Filters on reports."""

from django_filters import rest_framework as filters

from api.filters import StrictFilterSet
from survey.reports.models import Report


class ReportFilter(StrictFilterSet):
    area = filters.CharFilter(field_name="area__ref", help_text="Short name of a town.")
    site = filters.CharFilter(field_name="site__ref", help_text="Short name of a site.")
    tree = filters.CharFilter(field_name="tree__ref", help_text="Reference of a tree.")
    state = filters.MultipleChoiceFilter(choices=Report.State.choices)
    danger_open = filters.BooleanFilter(
        method="with_open_danger", help_text="true: only reports whose danger is still open."
    )
    on_the_desk = filters.BooleanFilter(
        method="waiting", help_text="true: only what the queue shows."
    )

    class Meta:
        model = Report
        fields = {"day": ["exact", "gte", "lt"], "submitted_at": ["gte", "lt"]}

    def with_open_danger(self, queryset, name, value):
        dangers = Report.objects.in_danger().values("pk")
        return queryset.filter(pk__in=dangers) if value else queryset.exclude(pk__in=dangers)

    def waiting(self, queryset, name, value):
        return queryset.on_the_desk() if value else queryset
