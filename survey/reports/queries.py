"""Questions about drafts, reports and decisions. Reads only; every word chains."""

from django.db import models
from django.db.models import Case, Count, Max, Q, Value, When


class DraftQuerySet(models.QuerySet):
    def untouched_since(self, moment):
        return self.filter(touched_at__lt=moment)


OPEN_DANGER = ~Q(danger="") & Q(danger_cleared_at=None)
"""A danger that nobody qualified has cleared yet."""


class ReportQuerySet(models.QuerySet):
    """The vocabulary for asking about reports."""

    def undecided(self):
        """Reports that still wait for a decision at the desk."""
        return self.filter(state__in=["new", "asked"])

    def in_danger(self):
        """Reports whose danger is still open, decided or not."""
        return self.filter(OPEN_DANGER)

    def on_the_desk(self):
        """What the queue shows: undecided reports, and every open danger."""
        return self.filter(Q(state__in=["new", "asked"]) | OPEN_DANGER)

    def with_queue_place(self):
        """Adds what decides a report's place: is_danger, voices, replied_at, photo_count.

        `voices` counts the reports joined to it; `replied_at` is the neighbor's newest reply.
        """
        return self.annotate(
            is_danger=Case(
                When(OPEN_DANGER, then=Value(True)),
                default=Value(False),
                output_field=models.BooleanField(),
            ),
            voices=Count("joined", distinct=True),
            replied_at=Max("replies__at"),
            photo_count=Count("photos", distinct=True),
        )

    def in_queue_order(self):
        """Danger first; then the signs' weight; then whoever has waited longest."""
        return self.with_queue_place().order_by("-is_danger", "-weight", "submitted_at", "pk")


class DecisionQuerySet(models.QuerySet):
    def standing(self):
        """Decisions that were not undone."""
        return self.filter(undone_at=None)
