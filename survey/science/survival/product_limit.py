"""Survival when every event's age is known: the product limit, with delayed entry."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from statistics import NormalDist
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from survey.science.records import (
    BadCount,
    Floats,
    Spell,
    Spells,
    Truths,
    Whole,
    refuse_impossible,
    whole_counts,
)

LimitKind: TypeAlias = Literal["plain", "log", "log-log"]
_AT_ONCE = 32_768  # rows that fit a processor's own memory
_WHOLE_AGES = 1 << 20  # tables of whole ages are kept up to here


class AgeUnsettled(ValueError):
    """An event is only known to lie between two ages; use the interval-censored estimator."""


@dataclass(frozen=True, slots=True)
class Step:
    """The curve from one event age up to the next."""

    age: float
    at_risk: int
    deaths: int
    survival: float
    std_error: float
    low: float
    high: float
    cumulative_hazard: float


@dataclass(frozen=True, eq=False)
class ProductLimit:
    """A survival curve that falls at event ages only, as columns with one row an event age.

    `given` is the age it is conditioned on. `emptied_at` is an age at which everybody then under
    watch died although others came under watch later: from there on the curve stays 0 whatever
    those others did, so it must not be shown; condition on a later age instead.
    """

    age: Floats
    at_risk: Whole
    deaths: Whole
    survival: Floats
    std_error: Floats
    low: Floats
    high: Floats
    cumulative_hazard: Floats
    given: float | None
    emptied_at: float | None

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """The rows one by one."""
        columns = (
            self.age,
            self.at_risk,
            self.deaths,
            self.survival,
            self.std_error,
            self.low,
            self.high,
            self.cumulative_hazard,
        )
        return tuple(map(Step, *(column.tolist() for column in columns)))

    def at(self, age: float) -> float:
        """The estimated share alive after `age`."""
        place = int(np.searchsorted(self.age, age, side="right"))
        return float(self.survival[place - 1]) if place else 1.0

    def median(self) -> float | None:
        """The first age at which no more than half are alive; `None` when never reached."""
        reached = np.flatnonzero(self.survival <= 0.5)
        return float(self.age[reached[0]]) if len(reached) else None


def product_limit(
    spells: Iterable[Spell] | Spells,
    *,
    given: float | None = None,
    limits: LimitKind = "log-log",
    level: float = 0.95,
) -> ProductLimit:
    """Survival after each age at which a tree died, among trees alive at `given`.

    A tree is at risk at age t when entry < t <= exit; one last seen alive exactly at t still counts
    at t. Kaplan & Meier (1958) J. Am. Stat. Assoc. 53:457; delayed entry as in Hyde (1977)
    Biometrika 64:225; standard errors by Greenwood (1926). With delayed entry the curve from
    birth can reach 0 on a risk set of one and stay there: see `ProductLimit.emptied_at`.

    Raises `AgeUnsettled` when an event is known only to an interval.
    """
    watched = Spells.of(spells)
    if (~(watched.is_exact | watched.is_censored)).any():
        raise AgeUnsettled("The product limit needs exact ages; some events lie between two.")
    died = ~watched.is_censored
    tally = _tallied_whole(watched.entry, watched.left, died, watched.count)
    if tally is None:
        tally = _tallied(watched.entry, watched.left, died, watched.count)
    return _curve(*tally, given, limits, level)


def product_limit_of_columns(
    *,
    exit_age: ArrayLike,
    died: ArrayLike,
    entry: ArrayLike | None = None,
    count: ArrayLike | None = None,
    given: float | None = None,
    limits: LimitKind = "log-log",
    level: float = 0.95,
) -> ProductLimit:
    """The same from one row a tree: the age at which it died or was last seen alive.

    `entry` -inf, or none at all, says "watched from before age 0". A million trees whose ages are
    whole days or months are counted in some milliseconds, because nothing is sorted.

    Raises the `BadSpell` that `Spells.from_columns` raises.
    """
    exits = np.atleast_1d(np.asarray(exit_age, dtype=np.float64))
    dead = np.atleast_1d(np.asarray(died, dtype=bool))
    entries = None if entry is None else np.atleast_1d(np.asarray(entry, dtype=np.float64))
    counts = None if count is None else whole_counts(count)
    given_columns = [exits, dead, *(c for c in (entries, counts) if c is not None)]
    if exits.ndim != 1 or any(column.shape != exits.shape for column in given_columns):
        raise BadCount("The columns of spells differ in length.")
    tally = _tallied_whole(entries, exits, dead, counts)
    if tally is None:
        came = np.full(len(exits), -np.inf) if entries is None else entries
        refuse_impossible(came, exits, np.where(dead, exits, np.inf))
        tally = _tallied(came, exits, dead, counts)
    return _curve(*tally, given, limits, level)


_Tally: TypeAlias = tuple[Floats, Whole, Whole, float]


def _tallied(entry: Floats, exits: Floats, died: Truths, count: Whole | None) -> _Tally:
    """Ages at which trees died, trees at risk there, deaths there, and the last entry age."""
    ages, which = np.unique(exits[died], return_inverse=True)
    weights = None if count is None else count[died]
    deaths = np.bincount(which, weights=weights, minlength=len(ages)).astype(np.int64)
    at_risk = _before(ages, entry, count) - _before(ages, exits, count)
    return ages, at_risk, deaths, float(entry.max(initial=-np.inf))


def _before(ages: Floats, when: Floats, count: Whole | None) -> Whole:
    """How many trees have `when` < each age."""
    if count is None:
        return np.searchsorted(np.sort(when), ages, side="left")
    order = np.argsort(when, kind="stable")
    so_far = np.concatenate([[0], np.cumsum(count[order])])
    return np.asarray(so_far[np.searchsorted(when[order], ages, side="left")], dtype=np.int64)


def _tallied_whole(
    entry: Floats | None, exits: Floats, died: Truths, count: Whole | None
) -> _Tally | None:
    """The same for whole ages, counted in tables; `None` where an age is not whole or not allowed.

    Rows are taken some thousands at a time, so that each is fetched from memory once.
    """
    top = float(exits.max(initial=0.0))
    if not top < min(_WHOLE_AGES, 4 * len(exits) + 1000):
        return None
    ages = int(top) + 1
    seen = np.zeros(2 * ages)  # at 2 a: last seen alive at age a; at 2 a + 1: died there
    came = np.zeros(ages + 1)  # at 0: before age 0; at a + 1: at age a
    for begin in range(0, len(exits), _AT_ONCE):
        rows = slice(begin, begin + _AT_ONCE)
        leaving, dead = exits[rows], died[rows]
        weights = None if count is None else count[rows]
        if not (np.floor(leaving) == leaving).all() or leaving.min() < 0:
            return None
        if entry is not None:
            coming = entry[rows]
            # whole ages: before a death means a whole one before it
            if not (np.floor(coming) == coming).all() or not (coming <= leaving - dead).all():
                return None
            if coming.min() < 0 and ((coming < 0) & ~np.isneginf(coming)).any():
                return None
            place = np.maximum(coming, -1.0) + 1.0
            came += np.bincount(place.astype(np.int64), weights=weights, minlength=ages + 1)
        place = leaving + leaving
        place += dead
        seen += np.bincount(place.astype(np.int64), weights=weights, minlength=2 * ages)
    if entry is None:
        came[0] = seen.sum()
    gone = seen.reshape(ages, 2)
    at_risk = np.cumsum(came)[:-1] - np.cumsum(gone.sum(axis=1)) + gone.sum(axis=1)
    deadly = np.flatnonzero(gone[:, 1])
    last = np.flatnonzero(came)
    return (
        deadly.astype(np.float64),
        at_risk[deadly].astype(np.int64),
        gone[deadly, 1].astype(np.int64),
        float(last[-1] - 1) if len(last) and last[-1] else -math.inf,
    )


def _curve(
    ages: Floats,
    at_risk: Whole,
    deaths: Whole,
    last_entry: float,
    given: float | None,
    kind: LimitKind,
    level: float,
) -> ProductLimit:
    if given is not None:
        later = ages > given
        ages, at_risk, deaths = ages[later], at_risk[later], deaths[later]
    everybody = at_risk == deaths
    left = at_risk - deaths
    share = deaths / at_risk
    survival = np.asarray(np.cumprod(1.0 - share), dtype=np.float64)
    # Greenwood's sum, the variance of log survival; nobody left has none
    variance = np.cumsum(share / np.where(everybody, np.inf, left))
    low, high = _limits(survival, variance, kind, level)
    emptied = np.flatnonzero(everybody & (ages <= last_entry))
    return ProductLimit(
        age=ages,
        at_risk=at_risk,
        deaths=deaths,
        survival=survival,
        std_error=survival * np.sqrt(variance),
        low=low,
        high=high,
        cumulative_hazard=np.cumsum(share),
        given=given,
        emptied_at=float(ages[emptied[0]]) if len(emptied) else None,
    )


def _limits(
    survival: Floats, variance: Floats, kind: LimitKind, level: float
) -> tuple[Floats, Floats]:
    """Limits at each step; `variance` is that of log survival.

    Where nobody is left no formula gives an upper limit; survival cannot rise, so the limit of
    the step before still holds and is kept.
    """
    spread = NormalDist().inv_cdf(0.5 + level / 2) * np.sqrt(variance)
    somebody = survival > 0
    some = np.where(somebody, survival, 0.5)
    if kind == "plain":
        low, high = some * (1 - spread), some * (1 + spread)
    elif kind == "log":
        low, high = some * np.exp(-spread), some * np.exp(spread)
    else:
        factor = np.exp(spread / -np.log(some))
        low, high = some**factor, some ** (1 / factor)
    held = int(somebody.sum())
    high[held:] = high[held - 1] if held else 1.0
    return np.where(somebody, np.maximum(low, 0.0), 0.0), np.minimum(high, 1.0)
