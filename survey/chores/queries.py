"""The words for asking about chores."""

from datetime import datetime, timedelta

from django.db import models
from django.db.models import Q


class ChoreQuerySet(models.QuerySet):
    """Reads only; every word chains."""

    def waiting(self):
        return self.filter(state="waiting")

    def claimed(self):
        return self.filter(state="claimed")

    def parked(self):
        return self.filter(state="parked").order_by("-parked_at", "-pk")

    def finished(self):
        return self.filter(state="done").order_by("-done_at", "-pk")

    def of_kind(self, kind: str):
        return self.filter(kind=kind)

    def open(self):
        """Work that is not done: waiting, being done, or parked."""
        return self.exclude(state="done")

    def due(self, at: datetime):
        """What a runner may take at this moment, the longest overdue first.

        A claimed chore whose lease ran out belongs to a runner that died, so it is due again.
        While the same work is claimed, the next wish for it must wait: two at once could keep
        the result that was computed first, last.
        """
        in_hand = self.model.objects.filter(
            state="claimed", kind=models.OuterRef("kind"), key=models.OuterRef("key")
        )
        ready = Q(state="waiting", due_at__lte=at) & ~models.Exists(in_hand)
        return self.filter(ready | Q(state="claimed", lease_until__lt=at)).order_by("due_at", "pk")

    def unanswered(self, at: datetime, after: timedelta):
        """Due chores whose doorbell was never rung, or rang longer ago than `after`."""
        return self.due(at).filter(Q(rung_at=None) | Q(rung_at__lt=at - after))

    def overdue(self, at: datetime, by: timedelta):
        """Waiting chores that should have been done `by` ago: a sign that nobody is working."""
        return self.filter(state="waiting", due_at__lt=at - by)
