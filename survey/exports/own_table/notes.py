"""What to know before the figures of an own table are quoted."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from survey.exports.own_table.figures import NOT_SEEN, Carried, Row
from survey.exports.own_table.gather import Gathered, Gathering
from survey.exports.own_table.stories import FOUND_DEAD, NEVER_PLANTED, NOT_FOUND_ALIVE
from survey.exports.own_table.wording import age_said
from survey.science.records import Spells
from survey.science.survival.turnbull import Turnbull
from survey.survival.figures import FEW, START_WITH

QUIET = {"between_looks", "late", "planting_assumed", "few"}
"""Notes that a reader wants and a program does not: its figures say them already."""


@dataclass(frozen=True, slots=True)
class Note:
    """Something to know before the figures are quoted; `group` is "" where it is about all."""

    code: str
    group: str
    said: str


def notes_of_table(found: Gathering) -> list[Note]:
    notes = []
    if found.bad_rows:
        notes.append(
            Note(
                "bad_rows",
                "",
                ngettext(
                    "%(rows)d row that cannot be read is left out, and %(trees)d trees with it.",
                    "%(rows)d rows that cannot be read are left out, and %(trees)d trees with"
                    " them.",
                    found.bad_rows,
                )
                % {"rows": found.bad_rows, "trees": found.bad_trees},
            )
        )
    if found.form.ages_in_months and not found.watch_is_told:
        notes.append(
            Note(
                "planting_assumed",
                "",
                _(
                    "No column says when a tree came on your list, so every tree counts from"
                    " planting. If your list was begun later, trees lost before it are missing and"
                    " these figures are too high."
                ),
            )
        )
    return notes


def notes_of_group(
    group: Gathered,
    fit: Turnbull,
    where: Carried | None,
    rows: Sequence[Row],
    found: Gathering,
) -> list[Note]:
    months, spells = found.form.ages_in_months, fit.spells
    lead = "" if len(found.groups) == 1 else _("Group “%s”: ") % group.name
    said: list[tuple[str, str]] = []

    if where is None:
        said.append(
            (
                "emptied",
                _(
                    "At some age nobody was left under watch, and at no age were five trees"
                    " watched at once. There is no curve, only counts."
                ),
            )
        )
    elif where.given is not None:
        words = _(
            "Too few trees were watched before the age of %s. The figures are about trees that"
            " were alive at that age, not about all that were planted."
        )
        said.append(("starts_late", words % age_said(where.given, months)))
    if where is not None and where.until < math.inf:
        words = _(
            "At the age of %s nobody was left under watch. Trees that joined later say nothing"
            " about those before, so the curve ends there."
        )
        said.append(("ends_early", words % age_said(where.until, months)))
    if where is not None and where.given is None and (thin := _thin_until(spells)):
        words = _(
            "Fewer than %(few)d trees were watched before the age of %(age)s, and a death among so"
            " few moves the whole curve after it."
        )
        said.append(("thin_start", words % {"few": FEW, "age": age_said(thin, months)}))
    if not fit.is_unique and where is not None and where.until == math.inf:
        said.append(("not_unique", _("Other curves fit the table exactly as well as this one.")))
    if any(row.why == NOT_SEEN for row in rows):
        words = _(
            "Nobody was seen alive later than at the age of %s. What is said of later ages is not"
            " to be quoted."
        )
        said.append(("not_seen", words % age_said(float(spells.left.max()), months)))
    if any(row.at_least != row.at_most for row in rows if row.can_be_quoted):
        words = _(
            "Some losses are only known to fall between two looks. That is why there is an at least"
            " and an at most; quote the at least."
        )
        said.append(("between_looks", words))
    said += _counts(group, spells)
    return [Note(code, group.name, f"{lead}{words}") for code, words in said]


def _counts(group: Gathered, spells: Spells) -> list[tuple[str, str]]:
    """How many trees count in a way that has to be known, by code, in words."""
    late = int(spells.count[spells.entry > 0].sum())
    few = spells.trees if spells.trees < START_WITH else 0
    left_out = group.left_out
    counted = [
        (
            "few",
            few,
            ngettext(
                "Only %(n)d tree stands behind these figures.",
                "Only %(n)d trees stand behind these figures. One more or less would change them.",
                few,
            ),
        ),
        (
            "late",
            late,
            ngettext(
                "%(n)d tree came under watch later. It counts from then on, not before.",
                "%(n)d trees came under watch later. They count from then on, not before.",
                late,
            ),
        ),
        (
            "removed_other",
            group.removed_other,
            ngettext(
                "%(n)d living tree was removed for another reason. It counts as lost here.",
                "%(n)d living trees were removed for other reasons. They count as lost here.",
                group.removed_other,
            ),
        ),
        (
            "lost",
            group.lost,
            ngettext(
                "%(n)d tree could not be found again. It leaves the count where it was last seen"
                " alive.",
                "%(n)d trees could not be found again. They leave the count where they were last"
                " seen alive.",
                group.lost,
            ),
        ),
        (
            "misjudged",
            group.misjudged,
            ngettext(
                "%(n)d tree was called dead and seen alive later. The later look counts.",
                "%(n)d trees were called dead and seen alive later. The later look counts.",
                group.misjudged,
            ),
        ),
        (
            FOUND_DEAD,
            left_out[FOUND_DEAD],
            ngettext(
                "%(n)d tree was dead when it came on the list. It is left out: had it been gone by"
                " then, nobody would have listed it.",
                "%(n)d trees were dead when they came on the list. They are left out: had they been"
                " gone by then, nobody would have listed them.",
                left_out[FOUND_DEAD],
            ),
        ),
        (
            NOT_FOUND_ALIVE,
            left_out[NOT_FOUND_ALIVE],
            ngettext(
                "%(n)d tree came on the list after planting and no look found it alive then. It is"
                " left out.",
                "%(n)d trees came on the list after planting and no look found them alive then."
                " They are left out.",
                left_out[NOT_FOUND_ALIVE],
            ),
        ),
        (
            NEVER_PLANTED,
            left_out[NEVER_PLANTED],
            ngettext(
                "%(n)d tree was never planted. It is left out.",
                "%(n)d trees were never planted. They are left out.",
                left_out[NEVER_PLANTED],
            ),
        ),
    ]
    return [(code, words % {"n": number}) for code, number, words in counted if number]


def _thin_until(spells: Spells) -> float | None:
    """The first age from which five trees were watched, if somebody ended before it was reached."""
    if spells.watched_from(None) >= FEW:
        return None
    for age in np.unique(spells.entry[np.isfinite(spells.entry)]).tolist():
        if spells.watched_from(age) >= FEW:
            before = bool((spells.left < age).any())
            return age if before and age > 0 else None
    return None
