"""Did the level change at one point in time: Pettitt's test."""

import math
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import ArrayLike

from survey.science.records import Floats
from survey.science.trend.kendall import BadSeries

MOST_ENUMERATED = 7
"""Up to so many values every order is tried; beyond, so many drawn ones."""


@dataclass(frozen=True, slots=True)
class Step:
    """The likeliest place of one step: the first value after it is number `at` (from 0).

    `statistic` is Pettitt's K, the largest |U|; `down` says that the values after it are the lower
    ones. `p` is two-sided: exact for few values, else from seeded permutations; `p_formula` is
    Pettitt's approximation, which is too large for short series.
    """

    at: int
    statistic: float
    down: bool
    p: float
    p_formula: float


def pettitt(values: ArrayLike, *, seed: int, draws: int = 4999) -> Step:
    """Pettitt's change-point test of values in order of time, ties allowed.

    Source: Pettitt 1979 Appl. Statist. 28:126. Raises `BadSeries` for fewer than two values.
    """
    told = np.asarray(values, dtype=np.float64)
    if told.ndim != 1 or len(told) < 2 or not np.isfinite(told).all():
        raise BadSeries("A step needs two known values or more.")
    number = len(told)
    ranks = (told[:, None] > told[None, :]).sum(1) + ((told[:, None] == told).sum(1) + 1) / 2
    sums = _sums(ranks[None, :])[0]
    place = int(np.argmax(np.abs(sums)))
    statistic = float(abs(sums[place]))
    if number <= MOST_ENUMERATED:
        orders = np.array(list(permutations(range(number))))
        beyond = np.abs(_sums(ranks[orders])).max(axis=1) >= statistic - 1e-9
        p = float(beyond.mean())
    else:
        dice = np.random.default_rng(seed)
        orders = dice.permuted(np.tile(ranks, (draws, 1)), axis=1)
        beyond = np.abs(_sums(orders)).max(axis=1) >= statistic - 1e-9
        p = (1 + int(beyond.sum())) / (draws + 1)
    formula = min(1.0, 2 * math.exp(-6 * statistic**2 / (number**3 + number**2)))
    return Step(place + 1, statistic, bool(sums[place] > 0), p, formula)


def _sums(ranks: Floats) -> Floats:
    """U after each but the last value: above 0 where the values so far are the higher ones."""
    number = ranks.shape[1]
    so_far = np.arange(1, number)
    return np.asarray(2 * np.cumsum(ranks, axis=1)[:, :-1] - so_far * (number + 1))
