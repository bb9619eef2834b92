"""Questions about drafts, reports and decisions. Reads only; every word chains."""

from datetime import datetime

from django.db import models
from django.db.models import Case, Count, Exists, OuterRef, Q, Subquery, Value, When
from django.db.models.functions import Coalesce


class DraftQuerySet(models.QuerySet):
    def untouched_since(self, moment):
        return self.filter(touched_at__lt=moment)


OPEN_DANGER = Q(danger__gt="", danger_cleared_at=None)
"""A danger that nobody qualified has cleared yet. Asked as "after the empty text", not as "not
empty", because an index can answer that."""


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
        Each is asked of the few rows at hand, so that a page costs the same in a large town.
        """
        return self.annotate(
            is_danger=Case(
                When(OPEN_DANGER, then=Value(True)),
                default=Value(False),
                output_field=models.BooleanField(),
            ),
            voices=Coalesce(
                Subquery(
                    self.model.objects.filter(joined_to=OuterRef("pk"))
                    .order_by()
                    .values("joined_to")
                    .annotate(n=Count("pk"))
                    .values("n")
                ),
                0,
            ),
            replied_at=Subquery(
                _related(self.model, "replies")
                .filter(report=OuterRef("pk"))
                .order_by("-at")
                .values("at")[:1]
            ),
            photo_count=Coalesce(
                Subquery(
                    self.model.photos.through.objects.filter(report=OuterRef("pk"))
                    .order_by()
                    .values("report")
                    .annotate(n=Count("pk"))
                    .values("n")
                ),
                0,
            ),
        )

    def in_queue_order(self):
        """Danger first; then the signs' weight; then whoever has waited longest."""
        return self.with_queue_place().order_by("-is_danger", "-weight", "submitted_at", "pk")

    def with_reason(self, late_before: datetime):
        """Adds `why`: the one reason for which a report of the desk is shown where it is.

        The first that fits counts: danger; the neighbor has replied; several notes about one tree;
        heavy signs; waiting since before `late_before`; new; waiting for the neighbor's reply.
        """
        undecided = Q(state__in=["new", "asked"])
        replied = Exists(_related(self.model, "replies").filter(report=OuterRef("pk")))
        joined = Exists(self.model.objects.filter(joined_to=OuterRef("pk")).order_by())
        # Asked once for all rows, not for each: few reports are undecided, however many there are.
        repeated = Q(
            pk__in=self.model.objects.filter(
                state__in=["new", "asked"], likely_same_as__isnull=False
            )
            .order_by()
            .values("likely_same_as")
        )
        return self.annotate(
            why=Case(
                When(OPEN_DANGER, then=Value(1)),
                When(Q(replied, state="new"), then=Value(2)),
                When(state="asked", then=Value(7)),
                When(undecided & Q(likely_same_as__isnull=False), then=Value(3)),
                When(undecided & Q(joined), then=Value(3)),
                When(undecided & repeated, then=Value(3)),
                When(weight__gte=HEAVY, then=Value(4)),
                When(submitted_at__lt=late_before, then=Value(5)),
                default=Value(6),
                output_field=models.IntegerField(),
            )
        )


HEAVY = 4.0
"""From this weight on signs are called heavy: half the bark gone low down, say. Own rule."""


def _related(model, name: str):
    """All rows behind a reverse relation, by its name: the models stand above the questions."""
    return model._meta.get_field(name).related_model.objects.order_by()


class DecisionQuerySet(models.QuerySet):
    def standing(self):
        """Decisions that were not undone."""
        return self.filter(undone_at=None)

    def told(self, at: datetime):
        """Decisions whose message the neighbor may see: they can no longer be undone at `at`
        (the real clock)."""
        return self.standing().exclude(message="").exclude(undo_until__gt=at)
