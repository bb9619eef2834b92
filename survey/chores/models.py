"""Work to be done, one row for each piece."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from survey.chores.queries import ChoreQuerySet


class Chore(models.Model):
    """One piece of work that a committed change made necessary.

    The kind says which room does it and the key says on what ("tree 4012"). While one waits, a
    second wish for the same kind and key is the same chore; while one is being done, the next
    waits. A claimed chore is held by whoever knows the token in `claimed_by`, and only until
    `lease_until`.
    """

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        CLAIMED = "claimed", _("being done")
        DONE = "done", _("done")
        PARKED = "parked", _("parked")

    kind = models.CharField(max_length=60)
    key = models.CharField(max_length=150)
    state = models.CharField(max_length=7, choices=State.choices, default=State.WAITING)
    due_at = models.DateTimeField()
    attempts = models.PositiveSmallIntegerField(default=0)
    last_error = models.TextField(blank=True, default="")
    claimed_by = models.UUIDField(null=True, blank=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    rung_at = models.DateTimeField(null=True, blank=True)  # when a worker was last told of it
    created_at = models.DateTimeField()
    done_at = models.DateTimeField(null=True, blank=True)
    parked_at = models.DateTimeField(null=True, blank=True)

    objects = ChoreQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["state", "due_at"], name="chore_due"),
            models.Index(fields=["kind", "key"], name="chore_subject"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["kind", "key"],
                condition=Q(state="waiting"),
                name="chore_waits_once",
            ),
            models.UniqueConstraint(  # two at once could keep the older result last
                fields=["kind", "key"],
                condition=Q(state="claimed"),
                name="chore_claimed_once",
            ),
            models.CheckConstraint(
                name="chore_state_known",
                condition=Q(state__in=["waiting", "claimed", "done", "parked"]),
            ),
            models.CheckConstraint(name="chore_named", condition=~Q(kind="") & ~Q(key="")),
            models.CheckConstraint(
                name="chore_leased_while_claimed",
                condition=Q(state="claimed", claimed_by__isnull=False, lease_until__isnull=False)
                | (~Q(state="claimed") & Q(claimed_by=None, lease_until=None)),
            ),
            models.CheckConstraint(
                name="chore_done_says_when",
                condition=Q(state="done", done_at__isnull=False)
                | (~Q(state="done") & Q(done_at=None)),
            ),
            models.CheckConstraint(
                name="chore_parked_says_when_and_why",
                condition=(Q(state="parked", parked_at__isnull=False) & ~Q(last_error=""))
                | (~Q(state="parked") & Q(parked_at=None)),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.key}"


class Schedule(models.Model):
    """The last period for which a repeating chore was written, so that no two clocks write it."""

    kind = models.CharField(max_length=60, unique=True)
    period = models.CharField(max_length=20, blank=True, default="")

    class Meta:
        constraints = [
            models.CheckConstraint(name="schedule_kind_named", condition=~Q(kind="")),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.period}"
