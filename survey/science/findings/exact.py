"""One group against all others, exactly: alone, and within strata.

Everything rests on one distribution: with both margins of each table given, the number of marked
trees in the group is hypergeometric, and over several tables their sum is the convolution. The
common odds ratio tilts it: P(t) is in proportion to C(t)·ψ^t. So one list of numbers gives the
exact test, the estimate and the exact limits.

Sources: Fisher 1935 J. R. Stat. Soc. 98:39-82; Gart 1970 Biometrika 57:471-475 (several tables);
Mehta, Patel & Gray 1985 J. Am. Stat. Assoc. 80:969-973 (by convolution).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln, logsumexp

from survey.science.records import Floats

LEVEL = 0.95
WIDEST = 60.0  # log odds beyond which a ratio is called endless


class BadTable(ValueError):
    """More marked trees than trees, or a negative number."""


@dataclass(frozen=True, slots=True)
class Table:
    """So many of so many trees here, and so many of so many elsewhere, show the sign."""

    here: int
    of_here: int
    there: int
    of_there: int

    def __post_init__(self) -> None:
        if not (0 <= self.here <= self.of_here and 0 <= self.there <= self.of_there):
            raise BadTable(
                f"{self.here} of {self.of_here} and {self.there} of {self.of_there} are no counts."
            )

    @property
    def tells(self) -> bool:
        """Whether its margins leave anything open: both groups, and trees of both sorts."""
        marked, of = self.here + self.there, self.of_here + self.of_there
        return self.of_here > 0 and self.of_there > 0 and 0 < marked < of


@dataclass(frozen=True, slots=True)
class Odds:
    """The common odds ratio and its exact limits; `math.inf` where nothing bounds it."""

    ratio: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Chances:
    """What the number of marked trees in the group could have been, and how likely by lot.

    `log_weight[i]` is the log of C(t) for t = `lowest` + i; `seen` is the number that was found.
    """

    lowest: int
    log_weight: Floats
    seen: int

    @property
    def at_least(self) -> float:
        """The chance of so many in the group or more, if the sign took no notice of it."""
        return _share(self.log_weight, slice(self.seen - self.lowest, None))

    @property
    def at_most(self) -> float:
        return _share(self.log_weight, slice(None, self.seen - self.lowest + 1))

    @property
    def as_odd(self) -> float:
        """The chance of a number no likelier than this one, to either side."""
        own = self.log_weight[self.seen - self.lowest]
        odd = self.log_weight <= own + 1e-7
        return min(1.0, float(np.exp(logsumexp(self.log_weight[odd]) - logsumexp(self.log_weight))))

    def odds(self, level: float = LEVEL) -> Odds:
        """The conditional estimate of the common odds ratio, with exact limits (Gart 1970)."""
        tail = (1 - level) / 2
        top = self.lowest + len(self.log_weight) - 1
        t = np.arange(self.lowest, top + 1, dtype=np.float64)
        at = self.seen - self.lowest

        def tilted(log_ratio: float) -> Floats:
            logs = self.log_weight + t * log_ratio
            return np.asarray(np.exp(logs - logsumexp(logs)))

        if self.lowest == top:
            return Odds(math.nan, 0.0, math.inf)
        ratio = low = 0.0
        high = math.inf
        if self.seen == top:
            ratio = math.inf
        elif self.seen > self.lowest:
            ratio = math.exp(_root(lambda x: float(tilted(x) @ t) - self.seen))
        if self.seen > self.lowest:
            low = math.exp(_root(lambda x: float(tilted(x)[at:].sum()) - tail))
        if self.seen < top:
            high = math.exp(_root(lambda x: tail - float(tilted(x)[: at + 1].sum())))
        return Odds(ratio, low, high)


def chances(tables: Sequence[Table]) -> Chances:
    """The exact distribution over all tables. Tables that can tell nothing change nothing."""
    lowest, seen = 0, 0
    weight = np.zeros(1)
    told = sorted((_one(table) for table in tables if table.tells), key=lambda one: one[1].size)
    for low, log_weight, here in told:
        lowest += low
        seen += here
        weight = _convolved(weight, log_weight)
    return Chances(lowest, weight, seen)


def _one(table: Table) -> tuple[int, Floats, int]:
    marked, of = table.here + table.there, table.of_here + table.of_there
    low = max(0, table.of_here + marked - of)
    t = np.arange(low, min(table.of_here, marked) + 1, dtype=np.float64)
    log_weight = _log_choose(float(marked), t) + _log_choose(float(of - marked), table.of_here - t)
    return low, np.asarray(log_weight - _log_choose(float(of), float(table.of_here))), table.here


def _log_choose(of: float, k: Floats | float) -> Floats:
    return np.asarray(
        gammaln(of + 1) - gammaln(np.asarray(k) + 1) - gammaln(of - np.asarray(k) + 1)
    )


def _convolved(a: Floats, b: Floats) -> Floats:
    """Logs of the convolution of two lists given as logs, without losing the far tails."""
    if a.size < b.size:
        a, b = b, a
    out = np.full(a.size + b.size - 1, -np.inf)
    for i, log_weight in enumerate(b):
        np.logaddexp(out[i : i + a.size], a + log_weight, out=out[i : i + a.size])
    return out


def _share(log_weight: Floats, part: slice) -> float:
    whole = logsumexp(log_weight)
    return min(1.0, float(np.exp(logsumexp(log_weight[part]) - whole)))


def _root(rising: Callable[[float], float]) -> float:
    """Where a rising function of a log odds ratio crosses zero, by halving."""
    low, high = -WIDEST, WIDEST
    for _turn in range(80):
        middle = (low + high) / 2
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2
