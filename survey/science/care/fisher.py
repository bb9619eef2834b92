"""Exact laws of two-by-two tables with their margins given, alone and added up over strata."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

FloatArray: TypeAlias = NDArray[np.float64]
_TIE = 1 + 1e-7  # outcomes as likely as this are no likelier: rounding must not part them


@dataclass(frozen=True, slots=True)
class Law:
    """Chances of `least`, `least` + 1, … ; they add up to 1."""

    least: int
    chances: FloatArray


def table_law(good: int, first: int, second: int) -> Law:
    """How many of `good` outcomes fall to the first side when lots alone decide."""
    least, most = max(0, good - second), min(good, first)
    here = np.arange(least, most + 1)
    logs = (
        _choices(first, here)
        + _choices(second, good - here)
        - _choices(first + second, np.asarray(good))
    )
    chances = np.exp(logs)
    return Law(least, np.asarray(chances / chances.sum(), dtype=np.float64))


def _choices(of: int, take: NDArray[np.int_]) -> FloatArray:
    return np.asarray(
        gammaln(of + 1) - gammaln(take + 1) - gammaln(of - take + 1), dtype=np.float64
    )


def strata_law(tables: Sequence[tuple[int, int, int, int]]) -> Law:
    """The same added up over tables: (good here, trees here, good there, trees there)."""
    least, chances = 0, np.ones(1)
    for good, first, other, second in tables:
        one = table_law(good + other, first, second)
        least, chances = least + one.least, np.convolve(chances, one.chances)
    return Law(least, np.asarray(chances / chances.sum(), dtype=np.float64))


def two_sided(chances: FloatArray, place: int) -> float:
    """Chance of all outcomes that are no likelier than the one at `place`."""
    return min(1.0, float(chances[chances <= chances[place] * _TIE].sum()))


def rejected(first: int, second: int, level: float) -> FloatArray:
    """1 where Fisher's two-sided test calls the first side better, 0 elsewhere.

    Rows: good outcomes of the first side, 0 to `first`; columns: of the second.
    """
    calls = np.zeros((first + 1, second + 1))
    for good in range(first + second + 1):
        law = table_law(good, first, second)
        order = np.argsort(law.chances, kind="stable")
        risen = np.cumsum(law.chances[order])
        # an outcome's p takes in all that tie with it
        ends = np.searchsorted(law.chances[order], law.chances * _TIE, side="right") - 1
        p = risen[ends]
        here = law.least + np.arange(len(p))
        there = good - here
        better = here * second > there * first
        calls[here, there] = (p <= level) & better
    return calls
