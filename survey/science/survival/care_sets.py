"""Sets of a tree that had a kind of care and trees like it that had not had it yet on that day.

Care goes to trees in trouble, so trees with and without it must not be compared as they are. Each
day of care is a landmark: the tree cared for and its controls were all alive and under watch, their
state was last seen *before* that day, and all are followed from it. What later looks say plays no
part in who is matched with whom, so waiting for care earns nobody survival.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from survey.science.records import Floats, Truths, Whole

THRIVING, HOLDING, SLIPPING, FAILING, LOST = range(5)


class BadHistory(ValueError):
    """Looks, care or times that no tree can have, or rules that nothing can satisfy."""


@dataclass(frozen=True, slots=True)
class Watched:
    """What is known of one tree. Times are months on one clock for all trees, fractions allowed.

    `looks`: (time, grade) of trained looks in order, 0 thriving to 3 failing, 4 dead or gone, which
    comes last. `care_from` and `care_to` bound the day of its first care of the kind; inf for none.
    `since`: when it came under watch.
    """

    site: str
    kind: str
    planted: float
    since: float
    looks: tuple[tuple[float, int], ...]
    care_from: float = math.inf
    care_to: float = math.inf

    def __post_init__(self) -> None:
        times = [time for time, _ in self.looks]
        grades = [grade for _, grade in self.looks]
        if not all(math.isfinite(time) for time in (self.planted, self.since, *times)):
            raise BadHistory("Every time of a tree must be a known number.")
        if times != sorted(times) or (times and times[0] < self.planted):
            raise BadHistory("The looks at a tree come after its planting, in order of time.")
        if any(grade not in range(5) for grade in grades) or LOST in grades[:-1]:
            raise BadHistory("A grade is 0 to 4, and nothing is seen of a tree after its loss.")
        if math.isnan(self.care_from) or not self.care_from <= self.care_to:
            raise BadHistory("The first possible day of care comes after the last.")


@dataclass(frozen=True, slots=True)
class Rules:
    """Who may be compared with whom, and the least that allows a figure. Months.

    Controls share site, kind and last grade; ages differ by at most `age_months`, and the times
    since the last look by at most `look_months`; a look older than `stale_months` says nothing
    about the day before care. No tree is a control twice.
    """

    age_months: float = 6.0
    look_months: float = 3.0
    stale_months: float = 12.0
    controls: int = 3
    horizon: float = 12.0
    change_from: float = 6.0
    change_to: float = 18.0
    least_treated: int = 20
    least_losses: int = 5
    least_seen: int = 5

    def __post_init__(self) -> None:
        spans = (self.age_months, self.look_months, self.stale_months, self.horizon)
        if not all(math.isfinite(span) and span > 0 for span in spans):
            raise BadHistory("The spans of a comparison must be months above 0.")
        if self.controls < 1 or self.least_treated < 1 or self.least_seen < 1:
            raise BadHistory("A comparison needs controls, trees and looks.")
        if not 0 < self.change_from < self.change_to:
            raise BadHistory("The months in which a change is read are upside down.")


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """How trees stood just before a time: grade (NaN unknown), and the age of that knowledge."""

    grade: Floats
    age: Floats


class Before(Protocol):
    """Says how trees stood just before a time, from nothing seen at that time or later.

    The state that looks alone give is `LastLooks`. A filtered belief can stand in its place.
    """

    def just_before(self, rows: Whole, time: float) -> State: ...


class LastLooks:
    """The grade at the last look before a time, and how long ago that look was."""

    def __init__(self, trees: Sequence[Watched]) -> None:
        most = max((len(tree.looks) for tree in trees), default=0)
        self._times = np.full((len(trees), most + 1), np.inf)
        self._grades = np.full((len(trees), most + 1), np.nan)
        for row, tree in enumerate(trees):
            for place, (time, grade) in enumerate(tree.looks):
                self._times[row, place], self._grades[row, place] = time, grade

    def just_before(self, rows: Whole, time: float) -> State:
        times = self._times[rows]
        last = (times < time).sum(axis=1) - 1
        known = last >= 0
        at = np.maximum(last, 0)
        across = np.arange(len(rows))
        grade = np.where(known, self._grades[rows, at], np.nan)
        return State(grade, np.where(known, time - times[across, at], np.inf))


@dataclass(frozen=True, slots=True)
class MatchedSet:
    """A tree cared for, its controls (rows), and the months since each was last seen before."""

    treated: int
    controls: tuple[int, ...]
    unseen: tuple[float, ...]  # of the treated tree first, then of each control
    grade: int


@dataclass(frozen=True, slots=True)
class BalanceRow:
    """One measure among trees cared for and others: means, and their difference in standard
    deviations of both together (Austin 2009 Stat. Med. 28:3083 calls up to 0.1 negligible)."""

    measure: str
    treated: float
    others: float
    difference: float


@dataclass(frozen=True, slots=True)
class Matching:
    """What matching found. `plain` pairs each tree cared for with one other picked from all not
    yet cared for, alike or not: what a comparison without matching would have used."""

    sets: tuple[MatchedSet, ...]
    plain: tuple[MatchedSet, ...]
    treated: int  # trees that had the care
    known_before: int  # of these, seen alive in the months before
    before: tuple[BalanceRow, ...]  # balance without matching
    after: tuple[BalanceRow, ...]  # and within the sets


def match(
    trees: Sequence[Watched], rules: Rules, *, seed: int, before: Before | None = None
) -> Matching:
    """Match every tree at its first care with trees not yet cared for that day.

    Trees cared for are taken in order of time, first one control each, then a second, so that a
    scarce control is not the third of a tree that has two. A tree may be a control until its own
    care and be cared for afterwards.
    """
    believed = before or LastLooks(trees)
    dice = np.random.default_rng(seed)
    alike: dict[tuple[str, str], list[int]] = defaultdict(list)
    for row, tree in enumerate(trees):
        alike[tree.site, tree.kind].append(row)
    buckets = {key: np.array(rows, dtype=np.int64) for key, rows in alike.items()}
    everyone = np.arange(len(trees))
    planted = np.array([tree.planted for tree in trees])
    since = np.array([tree.since for tree in trees])
    cared = np.array([tree.care_from for tree in trees])
    treated = [int(row) for row in np.argsort(cared, kind="stable") if math.isfinite(cared[row])]
    known: list[tuple[int, State]] = []
    for row in treated:
        state = believed.just_before(np.array([row]), trees[row].care_from)
        if state.grade[0] < LOST and state.age[0] <= rules.stale_months:
            known.append((row, state))

    def fit_to_serve(rows: Whole, row: int) -> tuple[Whole, State]:
        """Those of the rows alive, under watch and not yet cared for on this tree's day."""
        day, day_to = trees[row].care_from, trees[row].care_to
        may = rows[(rows != row) & (since[rows] < day) & (cared[rows] > day_to)]
        state = believed.just_before(may, day)
        fine = (state.grade < LOST) & (state.age <= rules.stale_months)
        return may[fine], State(state.grade[fine], state.age[fine])

    offers: list[list[tuple[float, int, float]]] = []
    plain: list[MatchedSet] = []
    alone: list[tuple[float, ...]] = []
    others: list[tuple[float, ...]] = []
    for row, state in known:
        age, grade = trees[row].care_from - planted[row], float(state.grade[0])
        alone.append(_measures(age, state.age[0], grade))
        some, theirs = fit_to_serve(
            dice.choice(everyone, size=min(_SOME, len(everyone)), replace=False), row
        )
        if len(some):
            others.append(_mean_measures(trees[row].care_from - planted[some], theirs))
            plain.append(
                MatchedSet(
                    row, (int(some[0]),), (float(state.age[0]), float(theirs.age[0])), int(grade)
                )
            )
        rows, had = fit_to_serve(buckets[trees[row].site, trees[row].kind], row)
        younger = np.abs(planted[rows] - planted[row]) / rules.age_months
        fresher = np.abs(had.age - state.age[0]) / rules.look_months
        near = (younger <= 1) & (fresher <= 1) & (np.round(had.grade) == round(grade))
        offers.append(
            sorted(
                zip(
                    (younger + fresher)[near].tolist(),
                    rows[near].tolist(),
                    had.age[near].tolist(),
                    strict=True,
                )
            )
        )
    sets = _dealt(known, offers, rules.controls)
    matched = [
        _mean_measures(
            trees[found.treated].care_from - planted[list(found.controls)],
            believed.just_before(np.array(found.controls), trees[found.treated].care_from),
        )
        for found in sets
    ]
    served = {found.treated for found in sets}
    alone_matched = [
        told for told, (row, _state) in zip(alone, known, strict=True) if row in served
    ]
    return Matching(
        sets=tuple(sets),
        plain=tuple(plain),
        treated=len(treated),
        known_before=len(known),
        before=_balance(alone, others),
        after=_balance(alone_matched, matched),
    )


_SOME = 40  # others looked at for each tree cared for, to say how they differ without matching
MEASURES = ("age_months", "months_since_look", "grade", "in_trouble")


def _dealt(
    known: list[tuple[int, State]], offers: list[list[tuple[float, int, float]]], most: int
) -> list[MatchedSet]:
    taken: set[int] = set()
    dealt: list[list[tuple[int, float]]] = [[] for _ in known]
    for _round in range(most):
        for place, offered in enumerate(offers):
            free = next((offer for offer in offered if offer[1] not in taken), None)
            if free is not None:
                taken.add(free[1])
                dealt[place].append((free[1], free[2]))
    return [
        MatchedSet(
            treated=row,
            controls=tuple(control for control, _unseen in controls),
            unseen=(float(state.age[0]), *(unseen for _control, unseen in controls)),
            grade=round(float(state.grade[0])),
        )
        for (row, state), controls in zip(known, dealt, strict=True)
        if controls
    ]


def _measures(age: float, unseen: float, grade: float) -> tuple[float, ...]:
    return (float(age), float(unseen), float(grade), float(grade >= SLIPPING))


def _mean_measures(ages: Floats, state: State) -> tuple[float, ...]:
    trouble: Truths = state.grade >= SLIPPING
    return tuple(float(part.mean()) for part in (ages, state.age, state.grade, trouble))


def _balance(
    treated: list[tuple[float, ...]], others: list[tuple[float, ...]]
) -> tuple[BalanceRow, ...]:
    if not treated or not others:
        return ()
    rows = []
    for column, measure in enumerate(MEASURES):
        one = np.array([told[column] for told in treated])
        other = np.array([told[column] for told in others])
        spread = math.sqrt(float(one.var() + other.var()) / 2)
        apart = float(one.mean() - other.mean())
        rows.append(
            BalanceRow(
                measure=measure,
                treated=float(one.mean()),
                others=float(other.mean()),
                difference=apart / spread if spread > 0 else 0.0,
            )
        )
    return tuple(rows)
