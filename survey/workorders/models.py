"""Work orders: why, which trees, which care, who may do it, when, and whether it worked."""

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from survey.causes.models import Finding
from survey.names import new_ref
from survey.photos.models import Photo
from survey.reports.models import Report
from survey.trees.models import Area, CareGiven, Look, Tree
from survey.workorders.queries import WorkOrderQuerySet


class WorkOrder(models.Model):
    """Care on some trees: drafted, planned, done, confirmed by a later look; or dropped."""

    class State(models.TextChoices):
        DRAFTED = "drafted", _("drafted")
        PLANNED = "planned", _("planned")
        DONE = "done", _("done")
        CONFIRMED = "confirmed", _("confirmed")
        DROPPED = "dropped", _("dropped")

    class Who(models.TextChoices):
        VOLUNTEER = "volunteer", _("volunteers")
        CREW = "crew", _("a crew")
        ARBORIST = "arborist", _("a qualified arborist")
        UTILITY = "utility", _("the utility")

    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="orders")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=9, choices=State.choices, default=State.DRAFTED)
    why = models.CharField(max_length=500)
    who = models.CharField(max_length=9, choices=Who.choices)
    window_from = models.DateField()
    window_to = models.DateField()
    planned_for = models.DateField(null=True, blank=True)
    team = models.CharField(max_length=120, blank=True)
    utility_ticket = models.CharField(max_length=60, blank=True)
    utility_ticket_until = models.DateField(null=True, blank=True)
    reports = models.ManyToManyField(Report, blank=True, related_name="orders")
    finding = models.ForeignKey(
        Finding, null=True, blank=True, on_delete=models.SET_NULL, related_name="orders"
    )
    created_at = models.DateTimeField()
    created_by = models.CharField(max_length=60)
    done_on = models.DateField(null=True, blank=True)
    done_by = models.CharField(max_length=120, blank=True)
    done_notes = models.TextField(blank=True)
    photos = models.ManyToManyField(Photo, blank=True, related_name="orders")
    look_due = models.DateField(null=True, blank=True)
    confirmed_at = models.DateTimeField(null=True, blank=True)
    dropped_at = models.DateTimeField(null=True, blank=True)
    dropped_because = models.CharField(max_length=300, blank=True)
    version = models.PositiveIntegerField(default=0)

    objects = WorkOrderQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["state", "window_to"], name="order_by_state")]
        constraints = [
            models.UniqueConstraint(name="order_number_once", fields=["area", "number"]),
            models.CheckConstraint(name="order_numbered_from_one", condition=Q(number__gte=1)),
            models.CheckConstraint(
                name="order_state_known",
                condition=Q(state__in=["drafted", "planned", "done", "confirmed", "dropped"]),
            ),
            models.CheckConstraint(
                name="order_who_known",
                condition=Q(who__in=["volunteer", "crew", "arborist", "utility"]),
            ),
            models.CheckConstraint(
                name="order_window_ordered", condition=Q(window_to__gte=F("window_from"))
            ),
            models.CheckConstraint(name="order_says_why", condition=~Q(why="")),
            models.CheckConstraint(
                name="order_planned_has_day",
                condition=~Q(state="planned") | Q(planned_for__isnull=False),
            ),
            models.CheckConstraint(
                name="order_done_says_when_and_by_whom",
                condition=(
                    Q(state__in=["done", "confirmed"], done_on__isnull=False) & ~Q(done_by="")
                )
                | ~Q(state__in=["done", "confirmed"]),
            ),
            models.CheckConstraint(
                name="order_confirmed_has_moment",
                condition=Q(state="confirmed", confirmed_at__isnull=False)
                | (~Q(state="confirmed") & Q(confirmed_at__isnull=True)),
            ),
            models.CheckConstraint(
                name="order_dropped_says_why",
                condition=(Q(state="dropped", dropped_at__isnull=False) & ~Q(dropped_because=""))
                | (~Q(state="dropped") & Q(dropped_at__isnull=True, dropped_because="")),
            ),
        ]

    def __str__(self):
        return f"order {self.number}"


class OrderLine(models.Model):
    """One kind of care on one tree of an order, and what became of it."""

    class Outcome(models.TextChoices):
        OPEN = "open", _("to do")
        GIVEN = "given", _("done")
        NOT_DONE = "not_done", _("not done")

    order = models.ForeignKey(WorkOrder, on_delete=models.CASCADE, related_name="lines")
    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="order_lines")
    care = models.CharField(max_length=40)
    dose = models.CharField(max_length=160, blank=True)
    inputs = models.JSONField(default=dict, blank=True)
    overruled_because = models.CharField(max_length=300, blank=True)
    overruled_by = models.CharField(max_length=60, blank=True)
    outcome = models.CharField(max_length=8, choices=Outcome.choices, default=Outcome.OPEN)
    remark = models.CharField(max_length=300, blank=True)
    given = models.OneToOneField(
        CareGiven, null=True, blank=True, on_delete=models.PROTECT, related_name="order_line"
    )
    look = models.ForeignKey(
        Look, null=True, blank=True, on_delete=models.PROTECT, related_name="order_lines"
    )

    class Meta:
        ordering = ["order", "tree__site__name", "tree__walk_order", "pk"]
        constraints = [
            models.UniqueConstraint(name="order_line_once", fields=["order", "tree", "care"]),
            models.CheckConstraint(name="order_line_names_care", condition=~Q(care="")),
            models.CheckConstraint(
                name="order_line_overruled_names_who",
                condition=Q(overruled_because="", overruled_by="")
                | (~Q(overruled_because="") & ~Q(overruled_by="")),
            ),
            models.CheckConstraint(
                name="order_line_given_is_recorded",
                condition=Q(outcome="given", given__isnull=False)
                | Q(outcome__in=["open", "not_done"], given__isnull=True),
            ),
        ]

    def __str__(self):
        return f"{self.order}: {self.care} on {self.tree}"


class Trial(models.Model):
    """Trees treated in two ways side by side, drawn by lot from a number that is kept.

    `care` is what the trees of the first arm get; the others get the usual care.
    """

    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="trials")
    ref = models.SlugField(max_length=12, unique=True, default=new_ref)
    question = models.CharField(max_length=300)
    care = models.CharField(max_length=40)
    instead = models.CharField(max_length=160)
    lot = models.PositiveBigIntegerField()
    until = models.DateField()
    created_by = models.CharField(max_length=60)
    created_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_because = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="trial_says_what_is_asked",
                condition=~Q(question="") & ~Q(care="") & ~Q(instead="") & ~Q(created_by=""),
            ),
            models.CheckConstraint(
                name="trial_ended_says_why",
                condition=Q(ended_at__isnull=True, ended_because="")
                | (Q(ended_at__isnull=False) & ~Q(ended_because="")),
            ),
        ]

    def __str__(self):
        return self.question


class TrialTree(models.Model):
    """One tree of a trial, the pair or block it was drawn in, and what the lot gave it."""

    trial = models.ForeignKey(Trial, on_delete=models.CASCADE, related_name="trees")
    tree = models.ForeignKey(Tree, on_delete=models.PROTECT, related_name="trials")
    block = models.CharField(max_length=80, blank=True)
    gets_care = models.BooleanField()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="trial_tree_once", fields=["trial", "tree"]),
        ]

    def __str__(self):
        return f"{self.tree}: {self.gets_care}"
