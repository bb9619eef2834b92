"""Questions about drafts, reports and decisions. Reads only; every word chains."""

from django.db import models
from django.db.models import Q


class DraftQuerySet(models.QuerySet):
    def untouched_since(self, moment):
        return self.filter(touched_at__lt=moment)


class ReportQuerySet(models.QuerySet):
    def undecided(self):
        """Reports that still wait for a decision at the desk."""
        return self.filter(state__in=["new", "asked"])

    def in_danger(self):
        """Reports whose danger nobody qualified has cleared yet, decided or not."""
        return self.exclude(danger="").filter(danger_cleared_at=None)

    def on_the_desk(self):
        """What the queue shows: undecided reports, and every open danger."""
        open_danger = ~Q(danger="") & Q(danger_cleared_at=None)
        return self.filter(Q(state__in=["new", "asked"]) | open_danger)


class DecisionQuerySet(models.QuerySet):
    def standing(self):
        """Decisions that were not undone."""
        return self.filter(undone_at=None)
