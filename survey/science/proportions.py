"""Limits for a share: so many of so many."""

import math
from dataclasses import dataclass
from statistics import NormalDist

from scipy.special import betaincinv


class BadShare(ValueError):
    """More successes than trials, a negative number, or a level outside 0 to 1."""


@dataclass(frozen=True, slots=True)
class Limits:
    """The lower and upper limit of a share, both within 0 to 1."""

    low: float
    high: float


def wilson(count: float, of: float, *, level: float = 0.95) -> Limits:
    """Score limits of a share; never empty, and they never leave 0 to 1.

    Wilson (1927) J. Am. Stat. Assoc. 22:209; method 3 in Newcombe (1998) Stat. Med. 17:857.
    With `of` = 0 nothing is known and the limits are 0 and 1.
    """
    _refuse_impossible(count, of, level)
    if of == 0:
        return Limits(0.0, 1.0)
    z = NormalDist().inv_cdf(0.5 + level / 2)
    share = count / of
    middle = share + z * z / (2 * of)
    spread = z * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    whole = 1 + z * z / of
    # at the ends the formula gives 0 and 1 only up to rounding
    low = 0.0 if count == 0 else max(0.0, (middle - spread) / whole)
    high = 1.0 if count == of else min(1.0, (middle + spread) / whole)
    return Limits(low, high)


def clopper_pearson(count: float, of: float, *, level: float = 0.95) -> Limits:
    """Exact limits of a share: they miss the truth at most as often as the level says.

    Clopper & Pearson (1934) Biometrika 26:404, by quantiles of the beta distribution.
    With `of` = 0 nothing is known and the limits are 0 and 1.
    """
    _refuse_impossible(count, of, level)
    tail = (1 - level) / 2
    low = 0.0 if count == 0 else float(betaincinv(count, of - count + 1, tail))
    high = 1.0 if count == of else float(betaincinv(count + 1, of - count, 1 - tail))
    return Limits(low, high)


def jeffreys(count: float, of: float, *, level: float = 0.95, amended: bool = True) -> Limits:
    """Equal-tailed limits of the posterior of a share under the Jeffreys prior, Beta(1/2, 1/2).

    Brown, Cai & DasGupta (2001) Stat. Sci. 16:101. `amended` sets the lower limit to 0 when the
    count is 0 and the upper to 1 when it is full, so that the limits hold the share itself.
    """
    _refuse_impossible(count, of, level)
    tail = (1 - level) / 2
    low = float(betaincinv(count + 0.5, of - count + 0.5, tail))
    high = float(betaincinv(count + 0.5, of - count + 0.5, 1 - tail))
    if amended and count == 0:
        low = 0.0
    if amended and count == of:
        high = 1.0
    return Limits(low, high)


def _refuse_impossible(count: float, of: float, level: float) -> None:
    if not (math.isfinite(count) and math.isfinite(of) and 0 <= count <= of):
        raise BadShare(f"{count} of {of} is no share.")
    if not 0 < level < 1:
        raise BadShare(f"The level of a limit lies between 0 and 1, and {level} does not.")
