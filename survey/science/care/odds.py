"""The odds ratio behind a sum of hypergeometric numbers: the likeliest one, and its limits."""

import math
from collections.abc import Callable

import numpy as np

from survey.science.care.fisher import FloatArray, Law

_FAR = 60.0  # logarithm of an odds ratio past which nothing is told apart


def likeliest_odds(law: Law, seen: int) -> float:
    """The odds ratio under which the expected sum is the one seen; 1 if only one sum can be."""
    if len(law.chances) == 1:
        return 1.0
    if seen == law.least:
        return 0.0
    if seen == law.least + len(law.chances) - 1:
        return math.inf
    sums = law.least + np.arange(len(law.chances))
    return math.exp(_solve(lambda at: float(_tilted(law, at) @ sums) - seen))


def odds_limits(law: Law, seen: int, level: float) -> tuple[float, float]:
    """Exact limits: odds ratios that neither one-sided test rejects at `level` / 2."""
    place, last = seen - law.least, len(law.chances) - 1
    low, high = 0.0, math.inf
    if place > 0:
        low = math.exp(_solve(lambda at: float(_tilted(law, at)[place:].sum()) - level / 2))
    if place < last:
        high = math.exp(_solve(lambda at: level / 2 - float(_tilted(law, at)[: place + 1].sum())))
    return low, high


def _tilted(law: Law, log_odds: float) -> FloatArray:
    """Chances of the sums when the odds ratio is e^log_odds."""
    with np.errstate(divide="ignore"):
        logs = np.log(law.chances) + log_odds * np.arange(len(law.chances))
    weights = np.exp(logs - logs.max())
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def _solve(rising: Callable[[float], float]) -> float:
    low, high = -_FAR, _FAR
    for _ in range(200):
        middle = (low + high) / 2
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
    return high
