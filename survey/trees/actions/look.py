"""Looks, happenings and care are written down."""

import dataclasses
from collections.abc import Sequence
from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.handbook.book import book
from survey.people.models import Observer, Person
from survey.people.policy import (
    counts_as_trained,
    may_do_work,
    may_enter_for_others,
    may_look,
)
from survey.photos.models import Photo
from survey.trees.dates import check_dates
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

SEEN_TREE = {Look.Presence.STANDING, Look.Presence.SPROUTING}
SEEN_WOOD = {*SEEN_TREE, Look.Presence.STUMP}


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


def _check_signs(tree: Tree, signs: Sequence[SeenSign]) -> None:
    known = book()
    for seen in signs:
        if seen.sign not in known.signs:
            raise ValidationError({"signs": _("Unknown sign: %s") % seen.sign})
        if seen.extent and seen.extent not in known.extents:
            raise ValidationError({"signs": _("Unknown extent: %s") % seen.extent})
        if seen.side and seen.side not in known.sides:
            raise ValidationError({"signs": _("Unknown side: %s") % seen.side})
        if not 0 <= seen.stem <= tree.stems:
            raise ValidationError({"signs": _("This tree has no stem %d.") % seen.stem})
    if len({(seen.sign, seen.stem) for seen in signs}) < len(signs):
        raise ValidationError({"signs": _("The same sign is given twice for one stem.")})


def _check_sense(tree: Tree, look: Look, signs: Sequence, girths: Sequence) -> None:
    """Refuse what cannot be seen: the leaves of a tree that is gone."""
    for name, choices in (
        ("presence", Look.Presence),
        ("channel", Look.Channel),
        ("leaf", Look.Leaf),
        ("scratch", Look.Scratch),
    ):
        value = getattr(look, name)
        if value not in choices.values and (value or name in ("presence", "channel")):
            raise ValidationError({name: _("Choose one from the list.")})
    if look.condition and look.presence not in SEEN_TREE:
        raise ValidationError({"condition": _("A condition needs a tree that stands.")})
    if (look.leaf or look.scratch or signs) and look.presence not in SEEN_WOOD:
        raise ValidationError({"presence": _("Leaves, bark and signs need a tree to look at.")})
    if any(girths) and look.presence not in SEEN_WOOD:
        raise ValidationError({"girths": _("A girth needs a trunk to measure.")})
    if len(girths) > tree.stems:
        raise ValidationError({"girths": _("There are more girths than stems.")})
    for girth in girths:
        if girth is not None and not 0 < girth <= 20:
            raise ValidationError({"girths": _("A girth lies between 0 and 20 meters (65 feet).")})


def _check_author(by: Person | None, observer: Observer, trained: bool, day: date) -> None:
    """Only staff may write for others, and nobody is trained before their training."""
    if by is None:
        if trained:
            raise PermissionDenied
        return
    if not may_look(by):
        raise PermissionDenied
    if may_enter_for_others(by):
        return
    if observer.person_id != by.pk:
        raise PermissionDenied
    if trained and not counts_as_trained(by, day):
        raise ValidationError({"day": _("You were not trained on that day yet.")})


def _check_correction(tree: Tree, old: Look, by: Person | None) -> None:
    if old.tree_id != tree.pk:
        raise ValidationError({"supersedes": _("That look was at another tree.")})
    if Look.objects.filter(supersedes=old).exists():
        raise ValidationError({"supersedes": _("That look has been corrected already.")})
    if by is None or not (may_enter_for_others(by) or old.observer.person_id == by.pk):
        raise PermissionDenied


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
    signs: Sequence[SeenSign] = (),
    girths_m: Sequence[float | None] = (),
    girth_height_m: float = 1.37,
    photos: Sequence[Photo] = (),
    note: str = "",
    supersedes: Look | None = None,
    repeat_key: str | None = None,
) -> Look:
    """Write down what one observer saw of one tree on one day.

    The same `repeat_key` again returns the first look unchanged. `girths_m` go stem by stem,
    None where a stem was not measured. `by` is None only for a neighbor's report. Raises
    ValidationError keyed by field, PermissionDenied.
    """
    _check_author(by, observer, trained, day)
    tree = (
        Tree.objects.select_for_update(of=("self",), no_key=True)
        .select_related("area")
        .get(pk=tree.pk)
    )
    if repeat_key and (known := Look.objects.filter(repeat_key=repeat_key).first()):
        return known
    _check_day(tree, day)
    _check_signs(tree, signs)
    if supersedes is not None:
        _check_correction(tree, supersedes, by)
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
    _check_sense(tree, look, signs, girths_m)
    look.full_clean()
    look.save()
    for seen in signs:
        sign = LookSign(look=look, **dataclasses.asdict(seen))
        sign.full_clean()
        sign.save()
    for stem, girth in enumerate(girths_m, start=1):
        if girth is not None:
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
    evidence_changed(tree, look)
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
    """The look at delivery or planting: `bases` maps street, path, left, right to their state."""
    reason = reason.strip()
    if not accepted and not reason:
        raise ValidationError({"reason": _("Say why it is refused.")})
    if missing := {"street", "path", "left", "right"} - bases.keys():
        raise ValidationError({f"base_{min(missing)}": _("Look at the base on all four sides.")})
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
        reason=reason,
    )
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
    kind = kind.strip()
    if not kind:
        raise ValidationError({"kind": _("Say what happened.")})
    if to_day < from_day:
        raise ValidationError({"to_day": _("The last day comes before the first.")})
    if to_day > place.area.today():
        raise ValidationError({"to_day": _("That day has not come yet.")})
    happening = Happening(
        **{type(place).__name__.lower(): place},
        kind=kind,
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
    check_dates(
        "given",
        given_from,
        given_to,
        given_precision,
        today=tree.area.today(),
        not_before=tree.planted_from,
    )
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
