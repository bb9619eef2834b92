"""A neighbor's message, from the first word typed to the answer."""

import uuid

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from survey.people.models import Contact, Mail, Person
from survey.photos.models import Photo
from survey.reports.queries import DecisionQuerySet, DraftQuerySet, ReportQuerySet
from survey.trees.models import Area, Look, Site, Tree
from survey.trees.places import LATITUDE, LONGITUDE, point_rule


class Draft(models.Model):
    """A report being written, page by page. It survives a lost session and a closed browser.

    The page's address carries the key; the row keeps only its SHA-256 digest, so that a copy of
    the database opens nobody's pages.
    """

    key_digest = models.CharField(max_length=64, unique=True)
    client_ref = models.UUIDField(unique=True)
    area = models.ForeignKey(Area, on_delete=models.CASCADE, related_name="drafts")
    answers = models.JSONField(default=dict)
    photos = models.ManyToManyField(Photo, blank=True, related_name="drafts")
    started_at = models.DateTimeField()
    touched_at = models.DateTimeField()

    objects = DraftQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["touched_at"], name="draft_by_age")]

    def __str__(self):
        return f"draft {self.pk}"


class Report(models.Model):
    """What somebody saw, where and when; called by its day and number.

    Danger is a mark, not a state. The phone names the report (`client_ref`), so that sending it
    twice makes one. `version` counts decisions, so that the second of two people is told.
    """

    class State(models.TextChoices):
        NEW = "new", _("new")
        ASKED = "asked", _("asked back")
        JOINED = "joined", _("joined to another")
        ORDERED = "ordered", _("work ordered")
        ANSWERED = "answered", _("answered")
        SET_ASIDE = "set_aside", _("set aside")

    class Came(models.TextChoices):
        PHONE_PAGE = "page", _("by the report pages")
        CALL = "call", _("by a call")
        PICTURE = "picture", _("by a forwarded picture")
        LETTER = "letter", _("by letter or e-mail")
        API = "api", _("by another program")

    client_ref = models.UUIDField(unique=True, default=uuid.uuid4)
    area = models.ForeignKey(Area, on_delete=models.PROTECT, related_name="reports")
    day = models.DateField()
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=9, choices=State.choices, default=State.NEW)
    came = models.CharField(max_length=8, choices=Came.choices, default=Came.PHONE_PAGE)
    site = models.ForeignKey(
        Site, null=True, blank=True, on_delete=models.PROTECT, related_name="reports"
    )
    tree = models.ForeignKey(
        Tree, null=True, blank=True, on_delete=models.PROTECT, related_name="reports"
    )
    landmark = models.CharField(max_length=300, blank=True)
    latitude = models.FloatField(null=True, blank=True, validators=LATITUDE)
    longitude = models.FloatField(null=True, blank=True, validators=LONGITUDE)
    seen_on = models.DateField()
    danger = models.CharField(max_length=40, blank=True)
    danger_words = models.CharField(max_length=200, blank=True)
    danger_cleared_at = models.DateTimeField(null=True, blank=True)
    danger_cleared_by = models.CharField(max_length=60, blank=True)
    picture = models.CharField(max_length=24, blank=True)
    extent = models.CharField(max_length=24, blank=True)
    side = models.CharField(max_length=24, blank=True)
    words = models.TextField(blank=True)
    language = models.CharField(max_length=5, default="en")
    contact = models.ForeignKey(
        Contact, null=True, blank=True, on_delete=models.SET_NULL, related_name="reports"
    )
    photos = models.ManyToManyField(Photo, blank=True, related_name="reports")
    looks = models.ManyToManyField(Look, blank=True, related_name="reports")
    secret_digest = models.CharField(max_length=64, unique=True)
    submitted_at = models.DateTimeField()
    entered_by = models.CharField(max_length=60, blank=True)
    weight = models.FloatField(default=0)
    joined_to = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="joined"
    )
    likely_same_as = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="likely_repeats"
    )
    look_due = models.DateField(null=True, blank=True)
    opened_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="opened_reports"
    )
    opened_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=0)

    objects = ReportQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["state", "-weight", "submitted_at"], name="report_queue"),
            models.Index(fields=["tree", "submitted_at"], name="report_by_tree"),
            models.Index(fields=["site", "submitted_at"], name="report_by_site"),
            models.Index(fields=["area", "state", "-submitted_at"], name="report_by_state"),
            models.Index(fields=["area", "submitted_at"], name="report_by_time"),
            models.Index(fields=["area", "danger_cleared_at", "danger"], name="report_open_danger"),
        ]
        constraints = [
            models.UniqueConstraint(
                name="report_number_once_a_day", fields=["area", "day", "number"]
            ),
            models.CheckConstraint(
                name="report_state_known",
                condition=Q(
                    state__in=["new", "asked", "joined", "ordered", "answered", "set_aside"]
                ),
            ),
            models.CheckConstraint(
                name="report_came_known",
                condition=Q(came__in=["page", "call", "picture", "letter", "api"]),
            ),
            models.CheckConstraint(
                name="report_joined_names_the_other",
                condition=Q(state="joined", joined_to__isnull=False)
                | (~Q(state="joined") & Q(joined_to__isnull=True)),
            ),
            models.CheckConstraint(
                name="report_not_joined_to_itself",
                condition=Q(joined_to__isnull=True) | ~Q(joined_to=F("pk")),
            ),
            models.CheckConstraint(
                name="report_says_where",
                condition=Q(tree__isnull=False)
                | Q(site__isnull=False)
                | ~Q(landmark="")
                | Q(latitude__isnull=False),
            ),
            models.CheckConstraint(
                name="report_cleared_danger_was_danger",
                condition=Q(danger_cleared_at__isnull=True, danger_cleared_by="")
                | (~Q(danger="") & Q(danger_cleared_at__isnull=False) & ~Q(danger_cleared_by="")),
            ),
            models.CheckConstraint(
                name="report_danger_words_mark_a_danger",
                condition=Q(danger_words="") | ~Q(danger=""),
            ),
            models.CheckConstraint(name="report_numbered_from_one", condition=Q(number__gte=1)),
            point_rule("report_point_on_earth"),
        ]

    def __str__(self):
        return f"{self.day:%Y-%m-%d} note {self.number}"


class ReportSign(models.Model):
    """A sign the neighbor ticked."""

    report = models.ForeignKey(Report, on_delete=models.CASCADE, related_name="signs")
    sign = models.CharField(max_length=40)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(name="report_sign_once", fields=["report", "sign"]),
            models.CheckConstraint(name="report_sign_named", condition=~Q(sign="")),
        ]

    def __str__(self):
        return self.sign


class Decision(models.Model):
    """One decision at the desk: outcome, reason, what the neighbor is told, and whether undone.

    `at` is the area's time; `undo_until` is the real clock's, because a message really leaves.
    """

    class Outcome(models.TextChoices):
        ORDER = "order", _("work ordered")
        JOIN = "join", _("joined to another")
        ANSWER = "answer", _("answered")
        ASK = "ask", _("asked back")
        SET_ASIDE = "set_aside", _("set aside")
        DANGER = "danger", _("marked as danger")
        CLEAR = "clear", _("danger cleared")

    report = models.ForeignKey(Report, on_delete=models.CASCADE, related_name="decisions")
    outcome = models.CharField(max_length=9, choices=Outcome.choices)
    at = models.DateTimeField()
    by = models.CharField(max_length=60)
    reason = models.CharField(max_length=500)
    message = models.TextField(blank=True)
    mail = models.ForeignKey(Mail, null=True, blank=True, on_delete=models.SET_NULL)
    before = models.JSONField(default=dict)
    undo_until = models.DateTimeField(null=True, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.CharField(max_length=60, blank=True)

    objects = DecisionQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["at"], name="decision_by_time")]
        constraints = [
            models.CheckConstraint(
                name="decision_outcome_known",
                condition=Q(
                    outcome__in=["order", "join", "answer", "ask", "set_aside", "danger", "clear"]
                ),
            ),
            models.CheckConstraint(
                name="decision_has_reason_and_author", condition=~Q(reason="") & ~Q(by="")
            ),
            models.CheckConstraint(
                name="decision_undone_names_who",
                condition=Q(undone_at__isnull=True, undone_by="")
                | (Q(undone_at__isnull=False, undone_at__gte=F("at")) & ~Q(undone_by="")),
            ),
        ]

    def __str__(self):
        return f"{self.report}: {self.outcome}"


class Reply(models.Model):
    """What a neighbor wrote back on the private page after being asked."""

    report = models.ForeignKey(Report, on_delete=models.CASCADE, related_name="replies")
    client_ref = models.UUIDField(unique=True, default=uuid.uuid4)
    words = models.TextField()
    photos = models.ManyToManyField(Photo, blank=True, related_name="replies")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [models.CheckConstraint(name="reply_has_words", condition=~Q(words=""))]

    def __str__(self):
        return f"reply to {self.report}"


class DeskNote(models.Model):
    """What somebody at the desk has typed about a report and not yet decided: never lost."""

    report = models.ForeignKey(Report, on_delete=models.CASCADE, related_name="desk_notes")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="desk_notes")
    fields = models.JSONField(default=dict)
    seen_version = models.PositiveIntegerField(default=0)
    touched_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="desk_note_once", fields=["report", "person"]),
        ]

    def __str__(self):
        return f"{self.person} on {self.report}"
