"""Questions about site trends."""

from django.db import models


class SiteMonthQuerySet(models.QuerySet):
    def in_order(self):
        return self.order_by("site__name", "month")
