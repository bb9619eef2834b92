"""Paired walks are noted, and volunteers are signed off as trained; both can be taken back."""

from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.condition.training import Standing, standing_of, today_of_the_house
from survey.people.models import PairedWalk, Person
from survey.people.policy import counts_as_trained, may_note_walk_with, may_sign_off
from survey.trees.models import Site

MOST_LETTERS = PairedWalk._meta.get_field("note").max_length


@transaction.atomic
def note_paired_walk(
    *,
    person: Person,
    partner: Person,
    site: Site,
    day: date,
    by: Person,
    at: datetime,
    note: str = "",
) -> PairedWalk:
    """Write down that somebody who learns walked with a trained partner.

    Raises PermissionDenied unless `by` was the trained partner or signs volunteers off;
    ValidationError keyed by field where the walk cannot have been.
    """
    if not may_note_walk_with(by, partner, day) or by.pk == person.pk:
        raise PermissionDenied
    if day > site.area.today():
        raise ValidationError({"day": _("That day has not come yet.")})
    if person.pk == partner.pk:
        raise ValidationError({"partner": _("It takes two: choose somebody else.")})
    if not counts_as_trained(partner, day):
        said = _("%s was not trained on that day yet.") % partner.name
        raise ValidationError({"partner": said})
    person = Person.objects.select_for_update().get(pk=person.pk)
    if person.role != Person.Role.VOLUNTEER or not person.is_active:
        raise ValidationError({"person": _("Only volunteers learn here.")})
    if counts_as_trained(person, day):
        said = _("%s was trained on that day already.") % person.name
        raise ValidationError({"person": said})
    if PairedWalk.objects.filter(person=person, day=day, where=site.ref).exists():
        raise ValidationError({"day": _("That walk is written down already.")})
    note = _checked_words("note", note)
    walk = PairedWalk(person=person, partner=partner, day=day, where=site.ref, note=note, at=at)
    walk.full_clean()
    walk.save()
    record(
        "training.walk_noted",
        subject=f"person:{person.key}",
        by=by,
        at=at,
        partner=f"person:{partner.key}",
        day=day.isoformat(),
        where=site.ref,
    )
    return walk


@transaction.atomic
def drop_paired_walk(*, walk: PairedWalk, by: Person, at: datetime) -> None:
    """Take out a walk that was written down by mistake. The looks of that day stay."""
    if not may_sign_off(by):
        raise PermissionDenied
    walk = PairedWalk.objects.select_for_update().filter(pk=walk.pk).first()
    if walk is None:
        return
    record(
        "training.walk_dropped",
        subject=f"person:{walk.person.key}",
        by=by,
        at=at,
        partner=f"person:{walk.partner.key}",
        day=walk.day.isoformat(),
        where=walk.where,
    )
    walk.delete()


@transaction.atomic
def sign_off_training(
    *, person: Person, on: date, by: Person, at: datetime, reason: str = ""
) -> Person:
    """Say that a volunteer's looks count as trained from that day on.

    Without a reason the practice and the walks must be there, and the day is not before them; with
    one, staff take the training as done elsewhere. Looks that are written down already stay as they
    are. Raises PermissionDenied unless `by` signs volunteers off, ValidationError by field.
    """
    if not may_sign_off(by) or by.pk == person.pk:
        raise PermissionDenied
    person = Person.objects.select_for_update().get(pk=person.pk)
    reason = _checked_words("reason", reason)
    if person.role != Person.Role.VOLUNTEER or not person.is_active:
        raise ValidationError(_("Only a volunteer with an open account is signed off."))
    if person.trained_on is not None:
        raise ValidationError(_("%s is signed off already.") % person.name)
    if on > today_of_the_house(at):
        raise ValidationError({"on": _("That day has not come yet.")})
    standing = standing_of(person)
    if not reason:
        _refuse_what_is_missing(standing, on)
    person.trained_on = on
    person.save(update_fields=["trained_on"])
    record(
        "training.signed_off",
        subject=f"person:{person.key}",
        by=by,
        at=at,
        trained_on=on.isoformat(),
        reason=reason,
        rounds=len(standing.rounds),
        walks=len(standing.walks),
        was_complete=standing.ready_on is not None,
    )
    return person


def _refuse_what_is_missing(standing: Standing, on: date) -> None:
    if standing.ready_on is None:
        said = _("Something is missing. Give a reason to sign off anyway.")
        raise ValidationError({"reason": said})
    if on < standing.ready_on:
        said = _("On that day the practice or the walks were not done yet. Choose a later one.")
        raise ValidationError({"on": said})


def _checked_words(field: str, words: str) -> str:
    words = words.strip()
    if len(words) > MOST_LETTERS:
        raise ValidationError({field: _("At most %d letters.") % MOST_LETTERS})
    if "\0" in words:
        raise ValidationError({field: _("There is a letter in it that cannot be kept.")})
    return words


@transaction.atomic
def take_back_training(*, person: Person, reason: str, by: Person, at: datetime) -> Person:
    """From now on a volunteer's looks no longer count as trained. Earlier looks stay as they are.

    Raises PermissionDenied unless `by` signs volunteers off, ValidationError without a reason.
    """
    if not may_sign_off(by) or by.pk == person.pk:
        raise PermissionDenied
    reason = _checked_words("reason", reason)
    if not reason:
        raise ValidationError({"reason": _("Say why, so that it can be read later.")})
    person = Person.objects.select_for_update().get(pk=person.pk)
    if person.trained_on is None:
        raise ValidationError(_("%s is not signed off.") % person.name)
    was = person.trained_on
    person.trained_on = None
    person.save(update_fields=["trained_on"])
    record(
        "training.taken_back",
        subject=f"person:{person.key}",
        by=by,
        at=at,
        was=was.isoformat(),
        reason=reason,
    )
    return person
