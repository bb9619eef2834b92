"""Do values rise or fall with time: Mann-Kendall, within seasons too, and the Theil-Sen slope.

Everything goes by the dates, never by the place in the list: rounds are not evenly spaced.
"""

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from survey.science.records import Floats, Whole

MOST_EXACT = 40
"""Up to so many values the exact law is used; beyond, the normal law is as good."""


class BadSeries(ValueError):
    """Columns of unequal length, values that are no numbers, or too few of them."""


@dataclass(frozen=True, slots=True)
class Kendall:
    """How many more pairs rise than fall (`rises`), with its variance if nothing changes.

    `z` has the continuity correction. `p_normal` is two-sided; `p_exact` too, and None where the
    exact law is not known: over `MOST_EXACT` values, tied dates, or seasons that hang together.
    `p_down` is the chance of falling at least as much by luck alone, from the exact law if known.
    """

    rises: float
    variance: float
    z: float
    p_normal: float
    p_exact: float | None
    p_down: float
    pairs: int

    @property
    def p(self) -> float:
        return self.p_normal if self.p_exact is None else self.p_exact

    @property
    def tau(self) -> float:
        """Rises less falls, as a share of all pairs (tau-a); NaN without a pair."""
        return self.rises / self.pairs if self.pairs else math.nan


def mann_kendall(values: ArrayLike, times: ArrayLike | None = None) -> Kendall:
    """Mann and Kendall's test of values against time, ties allowed.

    Without `times` the values came one after another. Sources: Mann 1945 Econometrica 13:245;
    Kendall 1975, Rank Correlation Methods; variance with ties in both as in US EPA QA/G-9S (2006).
    The exact law with ties: each order of the values is as likely, so that the falls are counted by
    a q-multinomial coefficient.
    """
    when, what, _ = _columns(times, values, None)
    return _summed([_season(when, what)], together=0.0)


def seasonal_kendall(
    times: ArrayLike,
    values: ArrayLike,
    seasons: ArrayLike,
    *,
    years: ArrayLike | None = None,
) -> Kendall:
    """The sum of Mann-Kendall tests within each season: winter is compared with winter only.

    `years` says which values belong together (their seasons may then hang together: a bad year is
    bad in spring and in autumn); each season comes once a year then. Without it the seasons are
    taken as independent. Sources: Hirsch, Slack & Smith 1982 Water Resour. Res. 18:107; covariance
    between seasons, Hirsch & Slack 1984 Water Resour. Res. 20:727.
    """
    when, what, which = _columns(times, values, seasons)
    parts = [_season(when[which == one], what[which == one]) for one in np.unique(which)]
    if years is None:
        return _summed(parts, together=0.0)
    year = np.asarray(years)
    if year.shape != when.shape:
        raise BadSeries("Years must be as many as values.")
    return _summed(parts, together=_shared(what, which, year), exact=False)


@dataclass(frozen=True, slots=True)
class Slope:
    """The middle of all slopes between pairs, with its limits, per unit of time.

    A limit is infinite where so few pairs say nothing at that level.
    """

    value: float
    low: float
    high: float
    pairs: int


def theil_sen(
    times: ArrayLike,
    values: ArrayLike,
    *,
    seasons: ArrayLike | None = None,
    level: float = 0.95,
) -> Slope | None:
    """The median slope over pairs of different dates (of one season, if seasons are given).

    Limits by the law of Kendall's sum, exact up to 40 values. None without a pair. Sources: Theil
    1950; Sen 1968 J. Am. Stat. Assoc. 63:1379; seasonal, Hirsch, Slack & Smith 1982.
    """
    if not 0 < level < 1:
        raise BadSeries(f"A level lies between 0 and 1, and {level} does not.")
    when, what, which = _columns(times, values, seasons)
    slopes, variance, sizes, tied = [], 0.0, [], False
    for one in np.unique(which):
        t, y = when[which == one], what[which == one]
        first, second = np.triu_indices(len(t), 1)
        apart = t[second] - t[first]
        apart, rise = apart[apart != 0], (y[second] - y[first])[apart != 0]
        slopes.append(rise / apart)
        variance += _season(t, y).variance
        tied = tied or len(np.unique(t)) < len(t)
        sizes.append(len(t))
    ordered = np.sort(np.concatenate(slopes)) if slopes else np.zeros(0)
    many = len(ordered)
    if not many:
        return None
    if not tied and sum(sizes) <= MOST_EXACT:
        reach = _exact_reach(sizes, 1 - level)
    else:
        reach = NormalDist().inv_cdf(0.5 + level / 2) * math.sqrt(variance)
    below = math.floor((many - reach) / 2 + 1e-9)
    low, high = -math.inf, math.inf
    if below >= 1:
        low, high = float(ordered[below - 1]), float(ordered[many - below])
    return Slope(float(np.median(ordered)), low, high, many)


@dataclass(frozen=True, slots=True)
class _Part:
    rises: float
    variance: float
    pairs: int
    compared: int  # pairs that are tied in neither
    ties: tuple[int, ...]
    tied_times: bool
    number: int


def _season(when: Floats, what: Floats) -> _Part:
    many = len(when)
    first, second = np.triu_indices(many, 1)
    signs = np.sign(when[second] - when[first]) * np.sign(what[second] - what[first])
    u = np.unique(when, return_counts=True)[1].astype(np.float64)
    t = np.unique(what, return_counts=True)[1].astype(np.float64)
    variance = 0.0
    if many > 1:
        whole = many * (many - 1) * (2 * many + 5)
        lost = sum(float((k * (k - 1) * (2 * k + 5)).sum()) for k in (t, u))
        two = float((t * (t - 1)).sum() * (u * (u - 1)).sum()) / (2 * many * (many - 1))
        three = 0.0
        if many > 2:
            three = float((t * (t - 1) * (t - 2)).sum() * (u * (u - 1) * (u - 2)).sum())
            three /= 9 * many * (many - 1) * (many - 2)
        variance = (whole - lost) / 18 + two + three
    return _Part(
        float(signs.sum()),
        variance,
        len(first),
        len(first) - int((t * (t - 1) / 2).sum()),
        tuple(int(k) for k in t),
        bool((u > 1).any()),
        many,
    )


def _summed(parts: list[_Part], *, together: float, exact: bool = True) -> Kendall:
    rises = sum(part.rises for part in parts)
    variance = sum(part.variance for part in parts) + together
    z = 0.0
    if variance > 0:
        z = (rises - math.copysign(1, rises)) / math.sqrt(variance) if rises else 0.0
    p_normal = math.erfc(abs(z) / math.sqrt(2))
    p_down = 1.0 if rises == 0 else NormalDist().cdf(z)
    if rises > 0 and variance > 0:  # the correction goes the other way for the other tail
        p_down = NormalDist().cdf((rises + 1) / math.sqrt(variance))
    p_exact = None
    known = exact and not any(part.tied_times for part in parts)
    if known and sum(part.number for part in parts) <= MOST_EXACT:
        falls = [1]
        for part in parts:
            falls = _times(falls, _orders_by_falls(part.ties))
        total, pairs = sum(falls), sum(part.compared for part in parts)
        # so many falls of so many pairs make this sum
        at = round((pairs - rises) / 2)
        tail = sum(falls[at:])
        p_down = tail / total
        extreme = sum(falls[max(at, len(falls) - 1 - at) :])
        p_exact = min(1.0, 2 * extreme / total)
    return Kendall(rises, variance, z, p_normal, p_exact, p_down, sum(part.pairs for part in parts))


def _orders_by_falls(ties: tuple[int, ...]) -> list[int]:
    """How many different orders of such values have 0, 1, 2, .. falling pairs.

    The q-multinomial coefficient, as a polynomial in whole numbers: for each group of equal values
    times (1 - q^(m + i)), divided by (1 - q^i).
    """
    number = sum(ties)
    most = (number * (number - 1) - sum(t * (t - 1) for t in ties)) // 2
    row = [1] + [0] * most
    before = 0
    for group in ties:
        for i in range(1, group + 1):
            up = before + i
            for place in range(most, up - 1, -1):
                row[place] -= row[place - up]
            for place in range(i, most + 1):
                row[place] += row[place - i]
        before += group
    return row


def _times(one: list[int], other: list[int]) -> list[int]:
    product = [0] * (len(one) + len(other) - 1)
    for i, a in enumerate(one):
        for j, b in enumerate(other):
            product[i + j] += a * b
    return product


def _exact_reach(sizes: list[int], outside: float) -> float:
    """The largest sum of signs inside the limits; over the number of pairs if there is none."""
    falls = [1]
    for size in sizes:
        falls = _times(falls, _orders_by_falls((1,) * size))
    total, most = sum(falls), len(falls) - 1
    tail = 0
    for place, orders in enumerate(falls):  # the sum is most - 2 place, the largest first
        tail += orders
        if tail > total * outside / 2:
            return float(most - 2 * place)
    return float(most)


def _shared(what: Floats, which: Floats, year: Whole) -> float:
    """Twice the covariances between seasons, by Hirsch and Slack's ranks; a gap has the middle."""
    seasons, years = np.unique(which), np.unique(year)
    grid = np.full((len(years), len(seasons)), np.nan)
    rows, columns = np.searchsorted(years, year), np.searchsorted(seasons, which)
    if len(np.unique(rows * len(seasons) + columns)) < len(what):
        raise BadSeries("A season comes once a year.")
    grid[rows, columns] = what
    with np.errstate(invalid="ignore"):
        signs = np.nan_to_num(np.sign(grid[None, :, :] - grid[:, None, :]))  # [i, j]: j above i
    there = ~np.isnan(grid)
    numbers = there.sum(axis=0)
    # of a value: how many lie below it, the middle rank where it is missing
    ranks = np.where(there, (numbers + 1 + signs.sum(axis=0)) / 2, (numbers + 1) / 2)
    together = np.einsum("ijg,ijh->gh", signs, signs) / 2
    covariance = (
        together + 4 * ranks.T @ ranks - len(years) * np.outer(numbers + 1, numbers + 1)
    ) / 3
    return float(covariance.sum() - np.trace(covariance))


def _columns(
    times: ArrayLike | None, values: ArrayLike, seasons: ArrayLike | None
) -> tuple[Floats, Floats, Floats]:
    what = np.asarray(values, dtype=np.float64)
    when = np.arange(len(what), dtype=np.float64) if times is None else np.asarray(times, float)
    which = np.zeros(len(what)) if seasons is None else np.asarray(seasons, dtype=np.float64)
    if what.ndim != 1 or when.shape != what.shape or which.shape != what.shape:
        raise BadSeries("Times, values and seasons must be columns of one length.")
    if not all(np.isfinite(column).all() for column in (what, when, which)):
        raise BadSeries("A series is made of known numbers.")
    if not len(what):
        raise BadSeries("A series holds at least one value.")
    return when, what, which
