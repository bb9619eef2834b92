"""Questions about survival as last worked out."""

from django.db import models


class GroupQuerySet(models.QuerySet):
    def by(self, grouping: str):
        return self.filter(by=grouping)

    def in_order(self):
        return self.order_by("area__ref", "by", "key")


class StandQuerySet(models.QuerySet):
    def of_group(self, by: str, key: str):
        """The stands of one group of an area; none for a key that cannot be."""
        if by == "year":
            return self.filter(year=int(key)) if key.isdecimal() and len(key) < 5 else self.none()
        if by == "town":
            return self if key == "all" else self.none()
        word = {"planting": "planting__ref", "site": "site__ref"}.get(by, by)
        return self.filter(**{word: key})
