"""Survival when every event's age is known: the product limit, with delayed entry."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal, TypeAlias

import numpy as np

from survey.science.proportions import Limits
from survey.science.records import Floats, Spell, Spells, Whole

LimitKind: TypeAlias = Literal["plain", "log", "log-log"]


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


@dataclass(frozen=True, slots=True)
class ProductLimit:
    """A survival curve that falls at event ages only; `given` is the age it is conditioned on."""

    steps: tuple[Step, ...]
    given: float | None

    def at(self, age: float) -> float:
        """The estimated share alive after `age`."""
        alive = 1.0
        for step in self.steps:
            if step.age > age:
                break
            alive = step.survival
        return alive

    def median(self) -> float | None:
        """The first age at which no more than half are alive; `None` when never reached."""
        return next((step.age for step in self.steps if step.survival <= 0.5), None)


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
    birth can reach 0 on a risk set of one and stay there: condition on an age with a decent one.

    Raises `AgeUnsettled` when an event is known only to an interval.
    """
    watched = Spells.of(spells)
    if (~(watched.is_exact | watched.is_censored)).any():
        raise AgeUnsettled("The product limit needs exact ages; some events lie between two.")
    died = ~watched.is_censored & (watched.left > (-math.inf if given is None else given))
    ages, which = np.unique(watched.left[died], return_inverse=True)
    deaths = np.bincount(which, weights=watched.count[died], minlength=len(ages)).astype(np.int64)
    at_risk = _arrived(watched.entry, watched.count, ages) - _arrived(
        watched.left, watched.count, ages
    )
    survival, variance, hazard, high = 1.0, 0.0, 0.0, 1.0
    steps = []
    for age, here, dead in zip(ages.tolist(), at_risk.tolist(), deaths.tolist(), strict=True):
        survival *= 1 - dead / here
        hazard += dead / here
        if dead < here:
            variance += dead / (here * (here - dead))
        bounds = _limits(survival, variance, limits, level, high)
        high = bounds.high
        steps.append(
            Step(
                age=age,
                at_risk=here,
                deaths=dead,
                survival=survival,
                std_error=survival * math.sqrt(variance),
                low=bounds.low,
                high=bounds.high,
                cumulative_hazard=hazard,
            )
        )
    return ProductLimit(steps=tuple(steps), given=given)


def _arrived(
    when: Floats,
    count: Whole,
    ages: Floats,
) -> Whole:
    """How many trees have `when` < each age."""
    order = np.argsort(when, kind="stable")
    so_far = np.concatenate([[0], np.cumsum(count[order])])
    return np.asarray(so_far[np.searchsorted(when[order], ages, side="left")], dtype=np.int64)


def _limits(
    survival: float, variance: float, kind: LimitKind, level: float, high_before: float
) -> Limits:
    """Limits at one step; `variance` is Greenwood's sum, the variance of log survival.

    Where nobody is left no formula gives an upper limit; survival cannot rise, so the limit of
    the step before still holds and is kept.
    """
    z = NormalDist().inv_cdf(0.5 + level / 2)
    spread = z * math.sqrt(variance)
    if survival <= 0:
        return Limits(0.0, high_before)
    if kind == "plain":
        return Limits(max(0.0, survival * (1 - spread)), min(1.0, survival * (1 + spread)))
    if kind == "log":
        return Limits(survival * math.exp(-spread), min(1.0, survival * math.exp(spread)))
    log_survival = math.log(survival)
    factor = math.exp(spread / abs(log_survival))
    return Limits(survival**factor, survival ** (1 / factor))
