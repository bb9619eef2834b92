"""The figures of one group with all evidence weighed, from the drawn ages of its trees' losses."""

from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from typing import Any

import numpy as np

from survey.science.records import Whole
from survey.science.survival.drawn import (
    NEVER,
    Curves,
    Hazard,
    Share,
    Tally,
    Watched,
    curves,
    tally,
)
from survey.survival.figures import (
    CURVES,
    FEW,
    MILESTONES,
    NOT_OLD_ENOUGH,
    NOT_WATCHED,
    START_WITH,
    TOO_FEW,
    Told,
    share_told,
)
from survey.survival.members import Members
from survey.survival.spells import BECAUSE_OF_REPORT, NEVER_PLANTED

METHOD_IN_FULL = (
    "Weighed: the chance that a tree was lost by each month, from every look, report, removal and"
    " silence; sixty drawings of the months of loss, counted by age with delayed entry, half way to"
    " the mean of all; the hazard at each age drawn from a Beta that counts the town's as five"
    " trees; the mean of the drawings and their middle 95 %; removals for other reasons compete"
    " with death."
)
AGES = 241  # months of age that are counted: 0 to 240
REPEATS = 5  # hazards drawn for each drawing of losses
NO_LOOKS = "no_looks"


@dataclass(frozen=True, slots=True)
class Weighed:
    """Everything that is told of a group."""

    counts: dict[str, Any]
    curves: dict[str, Any]
    figures: tuple[Told, ...]


@dataclass(frozen=True, eq=False)
class _Trees:
    """The trees of a group that count in the rates, with the ages at which they were lost."""

    watched: Watched
    second: Whole
    lost: Whole  # by drawing and tree
    looked_at: int

    @property
    def number(self) -> int:
        return self.watched.trees

    @cached_property
    def counted(self) -> Tally:
        """Counted by age, as far as the oldest of them is watched."""
        oldest = int(self.watched.until.max(initial=0))
        return tally(self.watched, self.lost, min(oldest + 2, AGES))

    @cached_property
    def known(self) -> dict[str, tuple[int, int]]:
        """By milestone: trees old enough that are expected to stand then, and the others."""
        found = {}
        for milestone in MILESTONES:
            ages = self.asked(milestone)
            old = self.watched.until >= ages
            stand = _rounded((self.lost[:, old] > ages[old]).sum(axis=1).mean())
            found[milestone] = stand, int(old.sum()) - stand
        return found

    def asked(self, milestone: str) -> Whole:
        """The age at which each tree is asked about."""
        fixed = MILESTONES[milestone]
        return self.second if fixed is None else np.full(self.number, int(fixed), dtype=np.int64)

    def at_risk(self, age: int) -> int:
        """Trees under watch before an age and old enough that are expected to stand at it."""
        return int(self._at_risk[age]) if age < len(self._at_risk) else 0

    def ended(self, age: int, curve: str) -> int:
        """How many are expected to have come to a curve's end by an age."""
        return int(self._ended[curve][min(age, self.counted.ages - 1)])

    def carried(self, age: int) -> int:
        """How many trees the curve rests on at an age, whatever became of them."""
        return int(((self.watched.entry < age) & (self.watched.until >= age)).sum())

    @cached_property
    def _at_risk(self) -> Whole:
        return _rounded((self.counted.at_risk - self.counted.lost).mean(axis=0))

    @cached_property
    def _ended(self) -> dict[str, Whole]:
        ended = {"loss": self.counted.lost, "death": self.counted.died}
        return {curve: _rounded(np.cumsum(by.mean(axis=0))) for curve, by in ended.items()}


def work_out_group(
    members: Members,
    places: Whole,
    lost: Whole,
    *,
    town: Hazard,
    start: float | None,
    seed: tuple[int, ...],
) -> Weighed:
    """All that can be told of the trees at these places; `lost` holds their ages by drawing.

    The curve begins at `start` if five trees are expected under watch from it; otherwise as the
    verified one does, where ten (or five) are. A figure is withheld where fewer than five trees are
    old enough and were under watch before it, and everywhere in a group of which fewer than five
    trees have been looked at by anybody since their first month.
    """
    inside = members.counts[places]
    chosen = places[inside]
    trees = _Trees(
        watched=members.watched.of(chosen),
        second=members.second[chosen],
        lost=lost[:, inside],
        looked_at=int((members.looks[chosen] > 0).sum()),
    )
    given = _start(trees, start)
    counts = _counts(members, places, chosen, trees)
    if given is None:
        return Weighed(
            counts | {"from_age": None},
            {},
            tuple(_blank(trees, curve, name, None) for curve in CURVES for name in MILESTONES),
        )
    drawn = curves(trees.counted, town, given=given, repeats=REPEATS, seed=seed)
    until = _until(trees, given)
    return Weighed(
        counts | {"from_age": float(given), "until_age": float(until)},
        _curves(trees, drawn, until),
        tuple(_figure(trees, drawn, curve, name) for curve in CURVES for name in MILESTONES),
    )


def _start(trees: _Trees, start: float | None) -> int | None:
    """The age from which the curve begins; None where too few are ever watched, or looked at."""
    if trees.number < FEW or trees.looked_at < FEW:
        return None
    begun = np.round(trees.counted.at_risk[:, 1:].mean(axis=0), 6)  # by the age before
    if start is not None and start < len(begun) and begun[int(start)] >= FEW - 0.5:
        return int(start)
    for least in (START_WITH, FEW):
        enough = np.flatnonzero(begun >= least - 0.5)
        if len(enough):
            return int(enough[0])
    return None


def _why_withheld(trees: _Trees, ages: tuple[int, int], given: int | None) -> str:
    least, most = ages
    if trees.number < FEW:
        return TOO_FEW
    if trees.looked_at < FEW:
        return NO_LOOKS
    if not (trees.watched.until >= most).any():
        return NOT_OLD_ENOUGH
    if given is not None and least <= given:
        return NOT_WATCHED
    if given is None or trees.carried(most) < FEW:
        return TOO_FEW
    return ""


def _until(trees: _Trees, given: int) -> int:
    age = given
    while age + 1 < AGES and not _why_withheld(trees, (age + 1, age + 1), given):
        age += 1
    return age


def _ends(ages: Whole) -> tuple[int, int]:
    return (int(ages.min()), int(ages.max())) if len(ages) else (0, 0)


def _blank(trees: _Trees, curve: str, milestone: str, given: int | None) -> Told:
    ends = _ends(trees.asked(milestone))
    stand, gone = trees.known[milestone]
    fixed = MILESTONES[milestone]
    return Told(
        curve=curve,
        milestone=milestone,
        age=float(ends[1] if fixed is None else fixed),
        at_risk=trees.at_risk(ends[1]),
        events=trees.ended(ends[1], curve),
        at_least=None,
        at_most=None,
        low=None,
        high=None,
        alive=stand,
        lost=gone,
        unknown=0,
        withheld=_why_withheld(trees, ends, given) or TOO_FEW,
    )


def _figure(trees: _Trees, drawn: Curves, curve: str, milestone: str) -> Told:
    ages = trees.asked(milestone)
    blank = _blank(trees, curve, milestone, drawn.given)
    if _why_withheld(trees, _ends(ages), drawn.given):
        return blank
    share = drawn.over(curve, ages)
    return _with(blank, share)


def _with(blank: Told, share: Share) -> Told:
    mean = share_told(share.mean)
    return replace(
        blank,
        at_least=mean,
        at_most=mean,
        low=share_told(share.low),
        high=share_told(share.high),
        withheld="",
    )


def _curves(trees: _Trees, drawn: Curves, until: int) -> dict[str, Any]:
    """The curves by age, shaped as the verified ones are."""
    given = drawn.given
    step = 1 if until - given <= 60 else 3
    ages = sorted({*range(given, until + 1, step), until})
    told: dict[str, Any] = {}
    for curve in CURVES:
        if curve == "loss" or trees.counted.taken.any():
            told[curve] = [
                [
                    float(age),
                    share_told(at.mean),
                    share_told(at.mean),
                    share_told(at.low),
                    share_told(at.high),
                ]
                for age in ages
                for at in [drawn.at(curve, age)]
            ]
    return told | {
        "under_watch": [
            [age, trees.at_risk(max(age, 1)), trees.ended(age, "loss")]
            for age in range(0, until + 1, 6)
            if age >= given
        ],
        "second_summer": [float(end) for end in _ends(trees.second)],
    }


def _counts(members: Members, places: Whole, chosen: Whole, trees: _Trees) -> dict[str, Any]:
    excluded = [members.excluded[place] for place in places.tolist()]
    standing = (trees.lost > trees.watched.until).sum(axis=1)
    low, high = np.quantile(standing, [0.025, 0.975]) if trees.number else (0.0, 0.0)
    looks = members.looks[chosen]
    newest = int(members.newest[chosen].max()) if trees.number else None
    others = np.flatnonzero(trees.watched.other != NEVER)
    taken = trees.lost[:, others] >= trees.watched.other[others]
    taken &= trees.lost[:, others] != NEVER
    return {
        "registered": len(places),
        "in_rates": trees.number,
        "excluded": {why: excluded.count(why) for why in (BECAUSE_OF_REPORT, NEVER_PLANTED)},
        "late": int(members.is_late[chosen].sum()),
        "wide_dates": int(members.is_wide[chosen].sum()),
        "other_losses": _rounded(taken.sum(axis=1).mean()) if trees.number else 0,
        "expected_standing": {
            "mean": round(float(standing.mean()), 2),
            "low": int(np.floor(low)),
            "high": int(np.ceil(high)),
        },
        "looked_at": trees.looked_at,
        "looks": int(looks.sum()),
        "neighbor_looks": int(members.neighbors[chosen].sum()),
        "worried_looks": int(members.worried[chosen].sum()),
        "bare_looks": int(members.bare[chosen].sum()),
        "newest_month": None if newest is None else _first_day(newest).isoformat(),
        "months_unseen": None if newest is None else members.today - newest,
    }


def _first_day(month: int) -> date:
    return date(month // 12, month % 12 + 1, 1)


def _rounded(value: Any) -> Any:
    """Whole trees, halves up: one number or many."""
    return np.floor(value + 0.5).astype(np.int64) if np.ndim(value) else int(value + 0.5)
