"""Lives counted: how many trees share each way of counting, so that groups add up from parts.

A planting's trees fall into a handful of fates, a town's into some thousands. Every figure is
worked out from fates and their numbers, never from single trees, so a group of many plantings costs
what its distinct fates cost and can be put together without reading a look again.
"""

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any, NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from survey.science.records import Floats, Spells, Whole
from survey.survival.spells import A_YEAR, DIED, REMOVED_HEALTH, REMOVED_OTHER, Life

OUTCOMES = [DIED, REMOVED_HEALTH, REMOVED_OTHER]


class Fate(NamedTuple):
    """How a tree counts; see `Life`, whose words these are. `right` is inf while it stands.

    `unseen` says that it is not known to be lost and that trained eyes have not seen it for a
    year.
    """

    excluded: str
    entry: float | None
    left: float
    right: float
    outcome: str
    status: str
    age_now: float
    second_least: float
    second_most: float
    wide_date: bool
    late: bool
    unseen: bool


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """The fates that count in the rates, as columns of one length."""

    entry: Floats  # -inf: under watch from planting
    left: Floats
    right: Floats
    outcome: Whole  # 0 while it stands, else 1 + its place in OUTCOMES
    age_now: Floats
    second_least: Floats
    second_most: Floats
    is_late: NDArray[np.bool_]
    is_wide: NDArray[np.bool_]
    is_unseen: NDArray[np.bool_]
    is_lost_from_sight: NDArray[np.bool_]
    count: Whole

    @property
    def trees(self) -> int:
        return int(self.count.sum())

    @property
    def stands(self) -> NDArray[np.bool_]:
        """Which fates are not known to be lost."""
        return np.isinf(self.right)

    def of(self, which: NDArray[np.bool_]) -> int:
        """How many trees have one of these fates."""
        return int(self.count[which].sum())

    def spells(self) -> Spells:
        return Spells.from_columns(
            entry=self.entry, left=self.left, right=self.right, count=self.count
        )


@dataclass(frozen=True)
class Fates:
    """Trees by fate, the gaps between their looks, and the newest trained look at any of them."""

    counted: Mapping[Fate, int] = field(default_factory=dict)
    gaps: Mapping[int, int] = field(default_factory=dict)  # days between looks: how often
    newest: date | None = None

    @classmethod
    def of(cls, lives: Iterable[Life], as_of: date) -> Self:
        """Count lives. Only trees that are in the rates tell of gaps."""
        counted: Counter[Fate] = Counter()
        gaps: Counter[int] = Counter()
        newest = None
        for life in lives:
            counted[_fate(life, as_of)] += 1
            if life.counts:
                gaps.update(life.gaps)
            if life.last_seen and (newest is None or life.last_seen > newest):
                newest = life.last_seen
        return cls(counted, gaps, newest)

    @classmethod
    def together(cls, parts: Iterable["Fates"]) -> Self:
        """The fates of several groups that have no tree in common."""
        counted: Counter[Fate] = Counter()
        gaps: Counter[int] = Counter()
        newest = None
        for part in parts:
            for fate, trees in part.counted.items():
                counted[fate] += trees
            for days, often in part.gaps.items():
                gaps[days] += often
            if part.newest and (newest is None or part.newest > newest):
                newest = part.newest
        return cls(counted, gaps, newest)

    @classmethod
    def from_rows(cls, kept: Mapping[str, Any], newest: date | None) -> Self:
        """What `as_rows` wrote."""
        counted = {
            Fate(*row[:3], math.inf if row[3] is None else row[3], *row[4:-1]): row[-1]
            for row in kept["fates"]
        }
        return cls(counted, dict(kept["gaps"]), newest)

    def as_rows(self) -> dict[str, list]:
        """Plain lists in an order of their own, fit for JSON: the same trees, the same text."""
        rows = [
            [*fate[:3], None if math.isinf(fate.right) else fate.right, *fate[4:], trees]
            for fate, trees in self.counted.items()
        ]
        return {"fates": sorted(rows, key=repr), "gaps": [list(pair) for pair in self._gaps()]}

    @property
    def trees(self) -> int:
        return sum(self.counted.values())

    def count_by(self, word: str, *, in_rates: bool = False) -> Counter[str]:
        """How many trees have each status, or each reason to be left out."""
        found: Counter[str] = Counter()
        for fate, trees in self.counted.items():
            if getattr(fate, word) and not (in_rates and fate.excluded):
                found[getattr(fate, word)] += trees
        return found

    def median_gap(self) -> int | None:
        """The middle of the gaps between two trained looks at a tree, in whole days."""
        many = sum(self.gaps.values())
        if not many:
            return None
        middle = []
        for place in ((many - 1) // 2, many // 2):
            so_far = 0
            for days, often in self._gaps():
                so_far += often
                if so_far > place:
                    middle.append(days)
                    break
        return sum(middle) // 2

    @cached_property
    def in_rates(self) -> Columns:
        """The fates that count, in an order that does not depend on the trees' order."""
        kept = sorted(
            ((fate, trees) for fate, trees in self.counted.items() if not fate.excluded),
            key=repr,
        )
        fates, counts = [fate for fate, _ in kept], [trees for _, trees in kept]

        def floats(values: Iterable[float]) -> Floats:
            return np.fromiter(values, dtype=np.float64, count=len(fates))

        def truths(values: Iterable[bool]) -> NDArray[np.bool_]:
            return np.fromiter(values, dtype=np.bool_, count=len(fates))

        return Columns(
            entry=floats(-math.inf if fate.entry is None else fate.entry for fate in fates),
            left=floats(fate.left for fate in fates),
            right=floats(fate.right for fate in fates),
            outcome=np.array(
                [1 + OUTCOMES.index(fate.outcome) if fate.outcome else 0 for fate in fates],
                dtype=np.int64,
            ),
            age_now=floats(fate.age_now for fate in fates),
            second_least=floats(fate.second_least for fate in fates),
            second_most=floats(fate.second_most for fate in fates),
            is_late=truths(fate.late for fate in fates),
            is_wide=truths(fate.wide_date for fate in fates),
            is_unseen=truths(fate.unseen for fate in fates),
            is_lost_from_sight=truths(fate.status == "lost" for fate in fates),
            count=np.array(counts, dtype=np.int64),
        )

    def _gaps(self) -> list[tuple[int, int]]:
        return sorted(self.gaps.items())


def _fate(life: Life, as_of: date) -> Fate:
    stands = life.right == math.inf
    stale = life.last_seen is None or as_of - life.last_seen > A_YEAR
    return Fate(
        excluded=life.excluded,
        entry=life.entry,
        left=life.left,
        right=life.right,
        outcome=life.outcome,
        status=life.status,
        age_now=life.age_now,
        second_least=life.second[0],
        second_most=life.second[1],
        wide_date=life.wide_date,
        late=life.late,
        unseen=stands and stale,
    )
