"""Wounds are measured on a tree: a look, with each wound's place, width and rim."""

import dataclasses
from collections.abc import Sequence
from datetime import date, datetime

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.causes.wound_words import REFUSED
from survey.causes.wounds import wound_of
from survey.people.models import Observer, Person
from survey.photos.models import Photo
from survey.science.wounds.face import BadWound
from survey.science.wounds.girdled import Girdled, girdled_by_stem
from survey.science.wounds.outlook import band_of
from survey.trees.actions.look import SeenSign, record_look
from survey.trees.measured import WoundMeasure
from survey.trees.models import Look, Tree

MOST_WOUNDS = 24
MOST_HEIGHT_M = 30
MEASURED = "bark_wound"  # the sign under which measured wounds stand among the signs of a look
STEPS = {
    "under_quarter": "less_than_quarter",
    "quarter_to_half": "quarter_to_half",
    "half_or_more": "half_or_more",
    "all_round": "all_round",
}
"""The step of the lay scale that says the same as a band."""


@dataclasses.dataclass(frozen=True, slots=True)
class MeasuredWound:
    """One wound as it comes from a form, lengths in meters. Hours as in `WoundMeasure`."""

    stem: int = 1
    number: int = 1
    girth_m: float | None = None
    width_m: float | None = None
    from_hour: float | None = None
    to_hour: float | None = None
    low_edge_m: float | None = None
    length_m: float | None = None
    wood_shows: bool | None = None
    rim: str = "unseen"
    note: str = ""


@transaction.atomic
def measure_wounds(
    *,
    tree: Tree,
    observer: Observer,
    trained: bool,
    day: date,
    wounds: Sequence[MeasuredWound],
    by: Person,
    at: datetime,
    channel: str = Look.Channel.WALK,
    condition: str = "",
    leaf: str = "",
    scratch: str = "",
    shoots: bool = False,
    photos: Sequence[Photo] = (),
    note: str = "",
    repeat_key: str | None = None,
) -> Look:
    """Write down the wounds of one tree as a look of its own.

    The look bears the sign *cut bark* for each stem, as far round as the measures say, so that
    whatever reads signs knows of it. The same `repeat_key` gives back the same look. Raises
    ValidationError keyed `<field>_<row>` (rows from 0, in the order given) or by the look's own
    fields, PermissionDenied.
    """
    rows = _checked(tree, wounds)
    look = record_look(
        tree=tree,
        observer=observer,
        trained=trained,
        day=day,
        channel=channel,
        presence=Look.Presence.STANDING,
        condition=condition,
        leaf=leaf,
        scratch=scratch,
        signs=_signs(tree, rows, shoots=shoots),
        photos=photos,
        note=note,
        repeat_key=repeat_key,
        by=by,
        at=at,
    )
    if look.wounds.exists():
        return look  # sent twice
    for row in rows:
        row.look = look
        row.full_clean()
        row.save()
    record(
        "wounds.measured",
        subject=f"tree:{tree.ref}",
        by=by,
        at=at,
        look=look.pk,
        wounds=len(rows),
    )
    return look


def _checked(tree: Tree, wounds: Sequence[MeasuredWound]) -> list[WoundMeasure]:
    """The rows, each of them possible; all that is wrong is told at once."""
    if not wounds:
        raise ValidationError(_("Measure at least one wound."))
    if len(wounds) > MOST_WOUNDS:
        raise ValidationError(_("At most %d wounds in one look.") % MOST_WOUNDS)
    wrong: dict[str, list[str]] = {}
    rows = []
    seen = set()
    for n, wound in enumerate(wounds):
        row = WoundMeasure(**dataclasses.asdict(wound))
        row.note = row.note.strip()
        rows.append(row)
        if not 1 <= row.stem <= tree.stems:
            wrong[f"stem_{n}"] = [str(REFUSED["no_such_stem"])]
            continue
        if (row.stem, row.number) in seen:
            wrong[f"number_{n}"] = [_("This stem has a wound of that number already.")]
        seen.add((row.stem, row.number))
        try:
            wound_of(row)
        except BadWound as refused:
            wrong[f"{refused.field}_{n}"] = [str(REFUSED[refused.reason])]
        for name in ("low_edge_m", "length_m"):
            if why := height_refused(name, getattr(row, name)):
                wrong[f"{name}_{n}"] = [why]
    if wrong:
        raise ValidationError(wrong)
    return rows


def height_refused(name: str, height_m: float | None) -> str:
    """Why a lower edge (`low_edge_m`) or a tallness (`length_m`) cannot be; empty if it can."""
    if height_m is None:
        return ""
    if not 0 <= height_m <= MOST_HEIGHT_M:
        return _("A height lies between 0 and 30 meters (98 feet).")
    return str(REFUSED["not_above_zero"]) if name == "length_m" and height_m == 0 else ""


def _signs(tree: Tree, rows: Sequence[WoundMeasure], *, shoots: bool) -> list[SeenSign]:
    shares = girdled_by_stem(wound_of(row) for row in rows)
    signs = [
        SeenSign(MEASURED, extent=_step(share), stem=stem if tree.stems > 1 else 0)
        for stem, share in shares.items()
    ]
    if shoots:
        signs.append(SeenSign("base_shoots"))
    return signs


def _step(share: Girdled) -> str:
    """The step of the lay scale; empty where the range spans several."""
    low, high = band_of(share.low), band_of(share.high)
    return STEPS[low] if low == high else ""
