"""Looks, happenings and care are written down."""

import dataclasses
from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.handbook.book import book
from survey.people.models import Observer, Person
from survey.people.policy import may_do_work, may_look
from survey.photos.models import Photo
from survey.trees.evidence import evidence_changed
from survey.trees.models import (
    Acceptance,
    CareGiven,
    Happening,
    Look,
    LookSign,
    Planting,
    Site,
    StemMeasure,
    Tree,
)


@dataclasses.dataclass(frozen=True, slots=True)
class SeenSign:
    """A sign as it comes from a form: codes from the handbook; stem 0 = the tree as a whole."""

    sign: str
    extent: str = ""
    side: str = ""
    stem: int = 0


def _check_day(tree: Tree, day: date) -> None:
    if day > tree.area.today():
        raise ValidationError({"day": _("That day has not come yet.")})
    if day < tree.planted_from:
        raise ValidationError({"day": _("That is before the tree was planted.")})


def _check_signs(signs: tuple[SeenSign, ...]) -> None:
    known = book()
    for seen in signs:
        if seen.sign not in known.signs:
            raise ValidationError({"signs": _("Unknown sign: %s") % seen.sign})
        if seen.extent and seen.extent not in known.extents:
            raise ValidationError({"signs": _("Unknown extent: %s") % seen.extent})
        if seen.side and seen.side not in known.sides:
            raise ValidationError({"signs": _("Unknown side: %s") % seen.side})


@transaction.atomic
def record_look(
    *,
    tree: Tree,
    observer: Observer,
    trained: bool,
    day: date,
    channel: str,
    presence: str,
    at: datetime,
    by: Person | None,
    condition: str = "",
    leaf: str = "",
    scratch: str = "",
    signs: tuple[SeenSign, ...] = (),
    girths_m: tuple[float, ...] = (),
    girth_height_m: float = 1.37,
    photos: tuple[Photo, ...] = (),
    note: str = "",
    supersedes: Look | None = None,
    repeat_key: str | None = None,
) -> Look:
    """Write down what one observer saw of one tree on one day.

    The same `repeat_key` again returns the first look unchanged. `by` is None only for a
    neighbor's report. Raises ValidationError keyed by field, PermissionDenied.
    """
    if by is not None and not may_look(by):
        raise PermissionDenied
    if by is None and trained:
        raise PermissionDenied
    if repeat_key and (known := Look.objects.filter(repeat_key=repeat_key).first()):
        return known
    _check_day(tree, day)
    _check_signs(signs)
    if supersedes is not None and supersedes.tree_id != tree.pk:
        raise ValidationError({"supersedes": _("That look was at another tree.")})
    look = Look(
        tree=tree,
        observer=observer,
        day=day,
        channel=channel,
        trained=trained,
        presence=presence,
        condition=condition,
        leaf=leaf,
        scratch=scratch,
        note=note.strip(),
        supersedes=supersedes,
        repeat_key=repeat_key or None,
        entered_at=at,
        entered_by=f"person:{by.key}" if by else "",
    )
    look.full_clean()
    look.save()
    for seen in signs:
        LookSign.objects.create(look=look, **dataclasses.asdict(seen))
    for stem, girth in enumerate(girths_m, start=1):
        measure = StemMeasure(look=look, stem=stem, girth_m=girth, height_m=girth_height_m)
        measure.full_clean()
        measure.save()
    look.photos.set(photos)
    record(
        "look.recorded",
        subject=f"tree:{tree.ref}",
        by=by,
        at=at,
        look=look.pk,
        supersedes=supersedes.pk if supersedes else None,
    )
    evidence_changed(tree)
    return look


@transaction.atomic
def record_acceptance(
    *,
    tree: Tree,
    observer: Observer,
    trained: bool,
    day: date,
    bases: dict[str, str],
    flare: str,
    ties: str,
    accepted: bool,
    reason: str,
    by: Person,
    at: datetime,
    condition: str,
    photos: tuple[Photo, ...] = (),
    note: str = "",
) -> Look:
    """The look at delivery or planting: `bases` maps street, path, left and right to their state."""
    look = record_look(
        tree=tree,
        observer=observer,
        trained=trained,
        day=day,
        channel=Look.Channel.ACCEPTANCE,
        presence=Look.Presence.STANDING,
        condition=condition,
        photos=photos,
        note=note,
        by=by,
        at=at,
    )
    acceptance = Acceptance(
        look=look,
        base_street=bases["street"],
        base_path=bases["path"],
        base_left=bases["left"],
        base_right=bases["right"],
        flare=flare,
        ties=ties,
        accepted=accepted,
        reason=reason.strip(),
    )
    if not accepted and not acceptance.reason:
        raise ValidationError({"reason": _("Say why it is refused.")})
    acceptance.full_clean()
    acceptance.save()
    return look


@transaction.atomic
def record_happening(
    *,
    place: Site | Planting | Tree,
    kind: str,
    from_day: date,
    to_day: date,
    by: Person,
    at: datetime,
    note: str = "",
) -> Happening:
    """Write down a dated event at a site, a planting or a tree."""
    if not may_look(by):
        raise PermissionDenied
    if to_day > place.area.today():
        raise ValidationError({"to_day": _("That day has not come yet.")})
    happening = Happening(
        **{type(place).__name__.lower(): place},
        kind=kind.strip(),
        from_day=from_day,
        to_day=to_day,
        note=note.strip(),
        entered_at=at,
        entered_by=f"person:{by.key}",
    )
    happening.full_clean()
    happening.save()
    record("happening.recorded", subject=f"happening:{happening.pk}", by=by, at=at, kind=kind)
    return happening




@transaction.atomic
def record_care(
    *,
    tree: Tree,
    care: str,
    given_from: date,
    given_to: date,
    given_precision: str,
    by: Person,
    at: datetime,
    dose: str = "",
    by_whom: str = "",
    note: str = "",
) -> CareGiven:
    """Write down care that a tree has had, today or long ago."""
    if not may_do_work(by):
        raise PermissionDenied
    if care not in book().care:
        raise ValidationError({"care": _("Choose a kind of care from the list.")})
    if given_to > tree.area.today():
        raise ValidationError({"given_to": _("That day has not come yet.")})
    given = CareGiven(
        tree=tree,
        care=care,
        given_from=given_from,
        given_to=given_to,
        given_precision=given_precision,
        dose=dose.strip(),
        by_whom=by_whom.strip(),
        note=note.strip(),
        entered_at=at,
        entered_by=f"person:{by.key}",
    )
    given.full_clean()
    given.save()
    record("care.recorded", subject=f"tree:{tree.ref}", by=by, at=at, care=care)
    return given
