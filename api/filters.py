"""Filters that refuse what they do not know."""

from django.utils.translation import gettext as _
from django_filters import rest_framework as filters
from rest_framework.exceptions import ValidationError

PAGING = {"cursor", "limit"}


class StrictFilterSet(filters.FilterSet):
    """Refuses an unknown or misspelt parameter, rather than quietly answering with everything."""

    also_known: frozenset[str] = frozenset()

    def is_valid(self):
        known = set(self.filters) | PAGING | self.also_known
        if unknown := sorted(set(self.data) - known):
            raise ValidationError(
                {
                    name: _("Unknown filter. Known: %s.") % ", ".join(sorted(known))
                    for name in unknown
                }
            )
        return super().is_valid()
