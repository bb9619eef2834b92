"""Questions about survival as last worked out."""

from django.db import models


class GroupQuerySet(models.QuerySet):
    def by(self, grouping: str):
        return self.filter(by=grouping)

    def verified(self):
        """Groups as trained looks alone tell them."""
        return self.filter(reading="verified")

    def weighed(self):
        """The same groups with all evidence weighed, where that has been worked out."""
        return self.filter(reading="weighed")

    def in_order(self):
        return self.order_by("area__ref", "by", "key", "reading")


class StandQuerySet(models.QuerySet):
    def of_group(self, by: str, key: str):
        """The stands of one group of an area; none for a key that cannot be."""
        if by == "year":
            return self.filter(year=int(key)) if key.isdecimal() and len(key) < 5 else self.none()
        if by == "town":
            return self if key == "all" else self.none()
        word = {"planting": "planting__ref", "site": "site__ref"}.get(by, by)
        return self.filter(**{word: key})
