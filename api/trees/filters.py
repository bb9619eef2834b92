"""Filters on places, plantings and trees."""

from django_filters import rest_framework as filters

from api.filters import StrictFilterSet
from survey.trees.models import Planting, Site, Tree

AREA = {"field_name": "area__ref", "help_text": "Short name of a town."}


class SiteFilter(StrictFilterSet):
    area = filters.CharFilter(**AREA)
    q = filters.CharFilter(method="matching", help_text="Words of the name.")

    class Meta:
        model = Site
        fields = ["kind"]

    def matching(self, queryset, name, value):
        return queryset.matching(value)


class PlantingFilter(StrictFilterSet):
    area = filters.CharFilter(**AREA)
    q = filters.CharFilter(method="matching", help_text="Words of the name or the supplier.")

    class Meta:
        model = Planting
        fields = {"supplier": ["exact"], "planted_from": ["gte", "lt"]}

    def matching(self, queryset, name, value):
        return queryset.matching(value)


class TreeFilter(StrictFilterSet):
    area = filters.CharFilter(**AREA)
    site = filters.CharFilter(field_name="site__ref", help_text="Short name of a site.")
    planting = filters.CharFilter(field_name="planting__ref", help_text="Short name of a planting.")
    in_place = filters.BooleanFilter(
        method="standing", help_text="true: trees that have not left; false: trees that have."
    )
    q = filters.CharFilter(method="matching", help_text="Tag, street, reference or landmark.")

    class Meta:
        model = Tree
        fields = {
            "tag": ["exact"],
            "species": ["exact"],
            "registered_on": ["gte", "lt"],
            "planted_from": ["gte", "lt"],
        }

    def standing(self, queryset, name, value):
        return queryset.in_place() if value else queryset.exclude(left="")

    def matching(self, queryset, name, value):
        return queryset.matching(value)
