"""Accounts, their training, observers, contacts that can be erased, and mail on its way out."""

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from survey.names import new_ref
from survey.people.queries import (
    ContactQuerySet,
    MailQuerySet,
    ObserverQuerySet,
    PracticeQuerySet,
)


class PersonManager(BaseUserManager):
    def create_user(self, sign_in, password=None, **fields):
        person = self.model(sign_in=sign_in.strip().lower(), **fields)
        person.set_password(password)
        person.save()
        return person

    def get_by_natural_key(self, sign_in):
        return self.get(sign_in=sign_in.strip().lower())


class Person(AbstractBaseUser):
    """Somebody with an account. Neighbors who report need none."""

    class Role(models.TextChoices):
        VOLUNTEER = "volunteer", _("volunteer")
        CREW = "crew", _("crew")
        STAFF = "staff", _("desk staff")
        LIAISON = "liaison", _("city liaison")
        KEEPER = "keeper", _("keeper of the accounts")

    class Units(models.TextChoices):
        US = "us", _("feet, inches and gallons")
        METRIC = "metric", _("meters and liters")

    key = models.CharField(max_length=12, unique=True, default=new_ref)
    sign_in = models.CharField(max_length=60, unique=True)
    name = models.CharField(max_length=80)
    email = models.EmailField(blank=True)
    role = models.CharField(max_length=10, choices=Role.choices)
    trained_on = models.DateField(null=True, blank=True)
    qualified_until = models.DateField(null=True, blank=True)
    units = models.CharField(max_length=6, choices=Units.choices, default=Units.US)
    language = models.CharField(max_length=5, default="en")
    is_active = models.BooleanField(default=True)
    created_at = models.DateTimeField(auto_now_add=True)

    USERNAME_FIELD = "sign_in"
    REQUIRED_FIELDS = ["name"]
    objects = PersonManager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="person_role_known",
                condition=Q(role__in=["volunteer", "crew", "staff", "liaison", "keeper"]),
            ),
            models.CheckConstraint(
                name="person_units_known", condition=Q(units__in=["us", "metric"])
            ),
            models.CheckConstraint(
                name="person_has_names", condition=~Q(sign_in="") & ~Q(name="") & ~Q(key="")
            ),
        ]

    def __str__(self):
        return self.name


class Observer(models.Model):
    """Whoever looks at trees: a person with an account, a neighbor, or a name from an import.

    `kind` is what the observer is today; whether a look counts as trained is written on the look,
    as it was on that day.
    """

    class Kind(models.TextChoices):
        RESIDENT = "resident", _("neighbor")
        VOLUNTEER = "volunteer", _("trained volunteer")
        STAFF = "staff", _("staff")
        CREW = "crew", _("crew")

    key = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    person = models.OneToOneField(
        Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="observer"
    )

    objects = ObserverQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="observer_kind_known",
                condition=Q(kind__in=["resident", "volunteer", "staff", "crew"]),
            ),
            models.CheckConstraint(name="observer_has_key", condition=~Q(key="")),
        ]

    def __str__(self):
        return self.key


class PracticeRound(models.Model):
    """One round of telling look-alikes apart by somebody who learns; its answers are kept.

    `answers` lists, for each picture, its code, what was said and whether that was right.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="practice")
    answers = models.JSONField()
    right = models.PositiveSmallIntegerField()
    of = models.PositiveSmallIntegerField()
    at = models.DateTimeField()

    objects = PracticeQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="practice_right_of_some", condition=Q(of__gte=1, right__lte=F("of"))
            ),
        ]

    def __str__(self):
        return f"{self.right} of {self.of}"


class PairedWalk(models.Model):
    """A walk on which somebody who learns and a trained partner looked at the same trees.

    `where` is the short name of the site. What both saw stands in their looks of that day.
    """

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="paired_walks")
    partner = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="walks_led")
    day = models.DateField()
    where = models.SlugField(max_length=60)
    note = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["day", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="paired_walk_once_a_day", fields=["person", "day", "where"]
            ),
            models.CheckConstraint(name="paired_walk_needs_two", condition=~Q(person=F("partner"))),
            models.CheckConstraint(name="paired_walk_has_place", condition=~Q(where="")),
        ]

    def __str__(self):
        return f"{self.person} with {self.partner} on {self.day}"


class Contact(models.Model):
    """How to answer one neighbor. Erasing empties the row and keeps that it was erased."""

    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    language = models.CharField(max_length=5, default="en")
    created_at = models.DateTimeField()
    erased_at = models.DateTimeField(null=True, blank=True)

    objects = ContactQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="contact_erased_means_empty",
                condition=Q(erased_at__isnull=True) | Q(email="", phone=""),
            ),
            models.CheckConstraint(
                name="contact_says_how_until_erased",
                condition=Q(erased_at__isnull=False) | ~Q(email="", phone=""),
            ),
        ]

    def __str__(self):
        return f"contact {self.pk}"


class Mail(models.Model):
    """A message to one contact. It leaves when it is due, unless it was withdrawn before."""

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        SENT = "sent", _("sent")
        WITHDRAWN = "withdrawn", _("withdrawn")
        BY_PHONE = "by_phone", _("to be told by phone")
        UNREACHABLE = "unreachable", _("nobody to send it to")

    key = models.CharField(max_length=80, unique=True)
    contact = models.ForeignKey(
        Contact, null=True, blank=True, on_delete=models.SET_NULL, related_name="mails"
    )
    subject = models.CharField(max_length=200)
    body = models.TextField()
    due_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=State.choices, default=State.WAITING)
    settled_at = models.DateTimeField(null=True, blank=True)

    objects = MailQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["state", "due_at"], name="mail_waiting")]
        constraints = [
            models.CheckConstraint(
                name="mail_state_known",
                condition=Q(state__in=["waiting", "sent", "withdrawn", "by_phone", "unreachable"]),
            ),
            models.CheckConstraint(
                name="mail_settled_unless_waiting",
                condition=Q(state="waiting", settled_at__isnull=True)
                | (~Q(state="waiting") & Q(settled_at__isnull=False)),
            ),
        ]

    def __str__(self):
        return self.key
