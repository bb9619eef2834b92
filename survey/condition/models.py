"""What we believe of each site: first version, the shares by condition of trained looks."""

from django.db import models
from django.db.models import F, Q

from survey.condition.queries import SiteMonthQuerySet
from survey.trees.models import Site


class SiteMonth(models.Model):
    """At the end of one month: a site's trees by the condition of their last trained look.

    Only trees with a trained look in the twelve months before count; `n` is how many.
    """

    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="months")
    month = models.DateField()
    thriving = models.PositiveIntegerField()
    holding = models.PositiveIntegerField()
    slipping = models.PositiveIntegerField()
    failing = models.PositiveIntegerField()
    dead = models.PositiveIntegerField()
    n = models.PositiveIntegerField()
    standing = models.PositiveIntegerField()
    looks = models.PositiveIntegerField()

    objects = SiteMonthQuerySet.as_manager()

    class Meta:
        ordering = ["site", "month"]
        constraints = [
            models.UniqueConstraint(name="site_month_once", fields=["site", "month"]),
            models.CheckConstraint(name="site_month_first_day", condition=Q(month__day=1)),
            models.CheckConstraint(
                name="site_month_adds_up",
                condition=Q(
                    n=F("thriving") + F("holding") + F("slipping") + F("failing") + F("dead")
                ),
            ),
        ]

    def __str__(self):
        return f"{self.site} {self.month:%Y-%m}"
