"""Questions about survival as last worked out."""

from django.db import models


class GroupQuerySet(models.QuerySet):
    def by(self, grouping: str):
        return self.filter(by=grouping)

    def in_order(self):
        return self.order_by("area__ref", "by", "key")
