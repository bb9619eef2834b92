"""Goes through every sign and every group, and keeps what chance alone would hardly bring.

All questions of one run are corrected together (Benjamini & Hochberg), so that of what is shown
at most one in twenty is expected to be an accident of having asked so much.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from survey.science.findings.attribution import (
    LEAST,
    RIVALS,
    Contrast,
    Held,
    Standing,
    crude,
    hangs_on_one_place,
    hold_up,
    weakest,
)
from survey.science.findings.exact import Table, chances
from survey.science.findings.records import AXES, UNKNOWN, Axis, Seen, paired
from survey.science.records import Truths
from survey.science.survival.many_tests import benjamini_hochberg

FALSE_SHARE = 0.05
LEAST_WITH = 3
"""A sign on one or two trees of a group is told on those trees' own pages."""

COVERED = 0.8
"""A group whose signed trees lie so far inside a plainer finding tells nothing of its own."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One question of a run: is this sign commoner in this group than elsewhere?"""

    sign: str
    axis: Axis
    level: int
    table: Table
    p: float


@dataclass(frozen=True, slots=True)
class Found:
    """A group that shows a sign more often than chance allows, and what speaks for what."""

    sign: str
    axis: Axis
    level: int
    crude: Contrast
    after_many: float
    held: tuple[Held, ...]
    standing: Standing


@dataclass(frozen=True, slots=True)
class Run:
    """What a run asked and found. `others` are the corrected chances of questions asked beside."""

    found: tuple[Found, ...]
    asked: int
    others: tuple[float, ...]


def search(signs: Mapping[str, Seen], beside: Sequence[float] = ()) -> Run:
    """All findings of a run. `beside` are p values of other questions that belong to it."""
    questions = [
        q for sign, seen in signs.items() for axis in seen.axes for q in ask(sign, seen, axis)
    ]
    corrected = benjamini_hochberg([*(q.p for q in questions), *beside])
    found = []
    for question, after_many in zip(questions, corrected, strict=False):
        if after_many <= FALSE_SHARE and question.table.here >= LEAST_WITH:
            found.append(_weighed(signs[question.sign], question, after_many))
    kept = _plainest(signs, [one for one in found if one.standing != "explained"])
    return Run(tuple(kept), len(questions) + len(beside), tuple(corrected[len(questions) :]))


def ask(sign: str, seen: Seen, axis: Axis) -> list[Asked]:
    """One question for each group with five trees or more, beside five or more others."""
    column = seen.on(axis)
    known = seen.rows(column != UNKNOWN)
    if not len(known.has):
        return []
    levels, place = np.unique(known.on(axis), return_inverse=True)
    rounds = paired(known.round)
    many, wide = len(levels), int(rounds.max()) + 1
    cell = place * wide + rounds

    def counted(rows: Truths):  # type: ignore[no-untyped-def]
        return np.bincount(cell[rows], minlength=many * wide).reshape(many, wide)

    of, with_sign = counted(np.ones(len(cell), dtype=bool)), counted(known.has)
    of_all, all_with = of.sum(axis=0), with_sign.sum(axis=0)
    out = []
    for i, level in enumerate(levels):
        here, of_here = int(with_sign[i].sum()), int(of[i].sum())
        whole = Table(here, of_here, int(all_with.sum()) - here, int(of_all.sum()) - of_here)
        if of_here < LEAST or whole.of_there < LEAST:
            continue
        in_rounds = of[i] > 0
        expected = float((of[i] * all_with / np.maximum(of_all, 1)).sum())
        p = 1.0
        if here > expected:
            p = chances(
                [
                    Table(int(a), int(n), int(b - a), int(m - n))
                    for a, n, b, m in zip(
                        with_sign[i][in_rounds],
                        of[i][in_rounds],
                        all_with[in_rounds],
                        of_all[in_rounds],
                        strict=True,
                    )
                ]
            ).at_least
        out.append(Asked(sign, axis, int(level), whole, p))
    return out


def _weighed(seen: Seen, question: Asked, after_many: float) -> Found:
    group = seen.on(question.axis) == question.level
    rivals = RIVALS[question.axis] if len(seen.axes) > 1 else ()
    held = tuple(hold_up(seen, question.axis, question.level, rival) for rival in rivals)
    return Found(
        question.sign,
        question.axis,
        question.level,
        crude(seen, group),
        after_many,
        held,
        _standing(question.axis, held, _came_whole(seen.rows(group & seen.has))),
    )


def _came_whole(signed: Seen) -> bool:
    """Whether the looks at planting found these trees whole: five or more, nine in ten at least."""
    whole, marked = int(signed.came_whole.sum()), int(signed.came_marked.sum())
    return whole >= LEAST and marked <= 0.1 * (whole + marked)


def _standing(axis: Axis, held: Sequence[Held], came_whole: bool) -> Standing:
    """What all rivals leave.

    A site whose loads stand nowhere else cannot be told from them by counting. It is told from
    the nursery by that nursery's other loads, and from these very loads by how they came.
    """
    if not held:
        return "alone"
    if axis == "site":
        by_load, by_nursery = held
        if by_load.standing != "cannot_tell":
            return by_load.standing
        if by_nursery.standing == "explained":
            return "explained"
        return by_nursery.standing if came_whole else "cannot_tell"
    return weakest([one.standing for one in held])


def _plainest(signs: Mapping[str, Seen], found: list[Found]) -> list[Found]:
    """Without those that only repeat a plainer one: a load that is all of a site, or the whole
    nursery where one load of it is behind everything, or the other way round."""
    told = {one: _signed(signs[one.sign], one) for one in found}
    order = {standing: i for i, standing in enumerate(("alone", "both", "open", "cannot_tell"))}
    found = [
        one
        for one in found
        if not _is_one_load(signs[one.sign], one)
        and (one.axis == "site" or not hangs_on_one_place(signs[one.sign], one.axis, one.level))
    ]
    ranked = sorted(found, key=lambda one: (order[one.standing], AXES.index(one.axis)))
    kept: list[Found] = []
    for one in ranked:
        before = np.zeros(len(told[one]), dtype=bool)
        for other in kept:
            if other.sign == one.sign and _may_cover(other, one):
                before |= told[other]
        covered = (told[one] & before).sum() / max(told[one].sum(), 1)
        if covered < COVERED:
            kept.append(one)
    return sorted(kept, key=lambda one: (one.after_many, one.sign, one.axis, one.level))


def _may_cover(plainer: Found, other: Found) -> bool:
    """A planting is covered by its supplier; else only what cannot stand alone is covered."""
    if (plainer.axis, other.axis) == ("supplier", "planting"):
        return True
    return other.standing in ("cannot_tell", "open") or other.axis == "species"


def _signed(seen: Seen, one: Found) -> Truths:
    rows: Truths = (seen.on(one.axis) == one.level) & seen.has
    return rows


def _is_one_load(seen: Seen, one: Found) -> bool:
    """Whether a supplier shows nothing any more once its most marked load is left out."""
    if one.axis != "supplier":
        return False
    group = seen.supplier == one.level
    loads = np.unique(seen.planting[group])
    if len(loads) < 2:
        return True
    share = [float(seen.has[group & (seen.planting == load)].sum()) for load in loads]
    rest = seen.rows(seen.planting != loads[int(np.argmax(share))])
    again = crude(rest, rest.supplier == one.level)
    return again.verdict != "persists"
