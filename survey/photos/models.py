"""Pictures: what arrived, whether it could be read, and whether anybody may see it."""

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from survey.photos.queries import PhotoQuerySet


class Photo(models.Model):
    """One picture. Its prepared copies are upright, re-encoded and carry no metadata.

    Only prepared copies are ever served, to staff while `shown` is hidden and to others once it
    is accepted.
    """

    class State(models.TextChoices):
        WAITING = "waiting", _("being prepared")
        READY = "ready", _("ready")
        REFUSED = "refused", _("could not be read")

    class Shown(models.TextChoices):
        HIDDEN = "hidden", _("hidden until accepted")
        ACCEPTED = "accepted", _("accepted")
        DECLINED = "declined", _("declined")

    class Part(models.TextChoices):
        WHOLE = "whole", _("whole tree")
        BASE = "base", _("base of the trunk")
        CLOSE = "close", _("close-up")
        OTHER = "other", _("something else")

    key = models.CharField(max_length=32, unique=True)
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    shown = models.CharField(max_length=8, choices=Shown.choices, default=Shown.HIDDEN)
    part = models.CharField(max_length=6, choices=Part.choices, default=Part.OTHER)
    facing = models.CharField(max_length=10, blank=True)
    taken_on = models.DateField(null=True, blank=True)
    received_at = models.DateTimeField()
    original = models.FileField(upload_to="originals", max_length=120, blank=True)
    picture = models.FileField(upload_to="pictures", max_length=120, blank=True)
    small = models.FileField(upload_to="pictures", max_length=120, blank=True)
    width = models.PositiveIntegerField(null=True, blank=True)
    height = models.PositiveIntegerField(null=True, blank=True)
    sha256 = models.CharField(max_length=64, blank=True)
    refused_because = models.CharField(max_length=200, blank=True)
    by = models.CharField(max_length=60, blank=True)

    objects = PhotoQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["state"], name="photo_by_state")]
        constraints = [
            models.CheckConstraint(
                name="photo_state_known", condition=Q(state__in=["waiting", "ready", "refused"])
            ),
            models.CheckConstraint(
                name="photo_shown_known", condition=Q(shown__in=["hidden", "accepted", "declined"])
            ),
            models.CheckConstraint(
                name="photo_part_known", condition=Q(part__in=["whole", "base", "close", "other"])
            ),
            models.CheckConstraint(
                name="photo_ready_has_copies",
                condition=~Q(state="ready")
                | (
                    ~Q(picture="")
                    & ~Q(small="")
                    & Q(width__isnull=False, width__gt=0, height__isnull=False, height__gt=0)
                ),
            ),
            models.CheckConstraint(
                name="photo_refused_says_why",
                condition=~Q(state="refused") | ~Q(refused_because=""),
            ),
            models.CheckConstraint(
                name="photo_accepted_is_ready",
                condition=~Q(shown="accepted") | Q(state="ready"),
            ),
        ]

    def __str__(self):
        return self.key
