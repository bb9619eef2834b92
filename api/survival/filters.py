"""Filters on survival, shared by the list and the CSV."""

from django_filters import rest_framework as filters

from api.filters import StrictFilterSet
from survey.survival.models import Group


class SurvivalFilter(StrictFilterSet):
    area = filters.CharFilter(field_name="area__ref", help_text="Short name of a town.")
    by = filters.ChoiceFilter(choices=Group.By.choices, help_text="How trees are grouped.")
    reading = filters.ChoiceFilter(
        choices=Group.Reading.choices,
        help_text="Which evidence counts. The list gives the verified reading where nothing is"
        " said, the table both.",
    )

    class Meta:
        model = Group
        fields = {"key": ["exact", "in"], "as_of": ["exact"]}
