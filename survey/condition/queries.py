"""Questions about beliefs and site trends."""

from datetime import timedelta

from django.db import models
from django.db.models import F

A_YEAR = 366


class SiteMonthQuerySet(models.QuerySet):
    def in_order(self):
        return self.order_by("site__name", "month")


class LearningQuerySet(models.QuerySet):
    def newest_of(self, area):
        """The version in force in an area; None before anything was learnt."""
        return self.filter(area=area).order_by("-number").first()


class BeliefQuerySet(models.QuerySet):
    def in_doubt(self):
        """Trees of which one look would tell something, most telling first."""
        return self.filter(settle_gain__gt=0).exclude(settle="").order_by("-settle_gain", "tree")


class OverrulingQuerySet(models.QuerySet):
    def standing(self):
        return self.filter(withdrawn_at=None)


class OutlookQuerySet(models.QuerySet):
    def of_sites(self, area):
        return self.filter(area=area, by="site").order_by("label", "key")


class TurnQuerySet(models.QuerySet):
    def standing(self):
        """Sites that have turned down and have not come round."""
        return self.filter(over_on=None)

    def to_be_seen(self):
        """Those that nobody has put aside, and that began within the year before they were found.

        An old record that is read for the first time tells of turns long past: they stand on the
        site's page and are no news for the desk.
        """
        fresh = F("since") + timedelta(days=A_YEAR)
        return self.standing().filter(put_aside_at=None, found_on__lte=fresh)
