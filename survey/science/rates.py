"""Annual mortality: from two counts, and from spells under a constant hazard."""

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from survey.science.proportions import clopper_pearson
from survey.science.records import Spell, Spells


class BadCounts(ValueError):
    """Counts or years from which no rate can be told."""


@dataclass(frozen=True, slots=True)
class AnnualRate:
    """One survival over some years, put as a yearly figure. Shares are 0 to 1."""

    survival: float  # over the whole time
    annual_survival: float
    annual_mortality: float
    hazard: float  # per year; inf when nothing survived
    half_life_years: float  # inf when nothing died
    mean_life_years: float  # inf when nothing died; holds only if the hazard never changes


@dataclass(frozen=True, slots=True)
class AnnualMortality:
    """A rate from counts with its limits."""

    rate: AnnualRate
    low: float  # annual mortality
    high: float


def annual_rate(survival: float, years: float) -> AnnualRate:
    """The yearly figures of a survival l over t years.

    p = l^(1/t), q = 1 - p, half-life ln 0.5 / ln p, mean life -1 / ln p: Sheil, Burslem & Alder
    (1995) J. Ecol. 83:331 for q; Roman & Scatena (2011) Urban For. Urban Green. 10:269 for trees.
    One such figure for trees of mixed ages means little: the hazard is highest in the first years.
    """
    if not (math.isfinite(survival) and 0 <= survival <= 1):
        raise BadCounts(f"A survival lies between 0 and 1, and {survival} does not.")
    if not (math.isfinite(years) and years > 0):
        raise BadCounts(f"The years between two counts must be above 0, not {years}.")
    annual = survival ** (1 / years)
    hazard = -math.log(survival) / years if survival > 0 else math.inf
    return AnnualRate(
        survival=survival,
        annual_survival=annual,
        annual_mortality=1 - annual,
        # +0.0 turns the -0.0 of full survival into 0.0
        hazard=hazard + 0.0,
        half_life_years=math.log(2) / hazard if hazard > 0 else math.inf,
        mean_life_years=1 / hazard if hazard > 0 else math.inf,
    )


def two_count_mortality(
    started: int, alive: int, years: float, *, level: float = 0.95
) -> AnnualMortality:
    """Annual mortality from `started` trees of which `alive` are left after `years`.

    q = 1 - (N_t / N_0)^(1/t); limits carried over from the Clopper-Pearson limits of N_t / N_0.
    Trees that entered between the counts must be left out of both.
    """
    if started <= 0 or not 0 <= alive <= started:
        raise BadCounts(f"{alive} alive of {started} is no survival.")
    limits = clopper_pearson(alive, started, level=level)
    return AnnualMortality(
        rate=annual_rate(alive / started, years),
        low=annual_rate(limits.high, years).annual_mortality,
        high=annual_rate(limits.low, years).annual_mortality,
    )


@dataclass(frozen=True, slots=True)
class ConstantHazard:
    """A hazard that never changes, fitted to spells, with limits.

    Hazards are per month. `watched_months` is the time for which trees are known to have lived
    under watch. `loglik` is `nan` when there was nothing to fit.
    """

    per_month: float
    low: float
    high: float
    loglik: float
    trees: int
    deaths: int
    watched_months: float

    @property
    def annual_mortality(self) -> float:
        """Share that dies in a year, 0 to 1."""
        return -math.expm1(-12 * self.per_month)

    @property
    def annual_mortality_low(self) -> float:
        """Lower limit of the share that dies in a year."""
        return -math.expm1(-12 * self.low)

    @property
    def annual_mortality_high(self) -> float:
        """Upper limit of the share that dies in a year."""
        return -math.expm1(-12 * self.high)


def constant_hazard(spells: Iterable[Spell] | Spells, *, level: float = 0.95) -> ConstantHazard:
    """The most likely constant hazard for spells with intervals and late entry.

    A tree that entered at T (0 without an entry) and died in (L, R] has the log-likelihood
    -h (L - T) + log(1 - exp(-h (R - L))), an exact death log h - h (L - T), a tree last seen alive
    -h (L - T). It is concave in h. Limits are the hazards whose log-likelihood lies within half
    the chi-square quantile of the best (profile likelihood; there is no other parameter).

    At the ends, where that rule promises too much, the exact limit is used instead: without any
    death the hazard under which no death had the probability (1 - level) / 2, which is -log of it
    over the months watched; when every tree was dead by the first look after its entry, the
    hazard under which that had this probability. With nothing watched the limits are 0 and inf
    and the rate is `nan`.
    """
    if not 0 < level < 1:
        raise BadCounts(f"The level of a limit lies between 0 and 1, and {level} does not.")
    watched = Spells.of(spells)
    entry = np.where(np.isneginf(watched.entry), 0.0, watched.entry)
    exposure = float(watched.count @ (watched.left - entry))
    died = ~watched.is_censored
    exact = died & watched.is_exact
    between = died & ~watched.is_exact
    width = (watched.right - watched.left)[between]
    weight = watched.count[between].astype(np.float64)
    exact_deaths = int(watched.count[exact].sum())
    deaths = exact_deaths + int(weight.sum())

    def loglik(hazard: float) -> float:
        known = exact_deaths * math.log(hazard) if exact_deaths else 0.0
        with np.errstate(divide="ignore"):
            return known - hazard * exposure + float(weight @ np.log(-np.expm1(-hazard * width)))

    def slope(hazard: float) -> float:
        with np.errstate(over="ignore"):
            pull = float((weight * width) @ (1 / np.expm1(hazard * width)))
        return exact_deaths / hazard - exposure + pull

    def answer(per_month: float, low: float, high: float, best: float) -> ConstantHazard:
        return ConstantHazard(
            per_month=per_month,
            low=low,
            high=high,
            loglik=best,
            trees=watched.trees,
            deaths=deaths,
            watched_months=exposure,
        )

    tail = math.log((1 - level) / 2)
    if deaths == 0:
        if exposure == 0:
            return answer(math.nan, 0.0, math.inf, math.nan)
        return answer(0.0, 0.0, -tail / exposure, 0.0)
    if exposure == 0:
        if exact_deaths:
            return answer(math.inf, 0.0, math.inf, math.nan)
        low = _crossing(lambda hazard: loglik(hazard) - tail, 1 / float(width.max()))
        return answer(math.inf, low, math.inf, 0.0)
    # (deaths / exposure) and 1 / width bound nothing, they only say where to look first
    guess = deaths / (exposure + float(weight @ width))
    hazard = _crossing(lambda candidate: -slope(candidate), guess)
    best = loglik(hazard)
    drop = best - NormalDist().inv_cdf(0.5 + level / 2) ** 2 / 2  # chi-square, 1 df
    low = _crossing(lambda candidate: loglik(min(candidate, hazard)) - drop, hazard / 2)
    high = _crossing(lambda candidate: drop - loglik(max(candidate, hazard)), hazard * 2)
    return answer(hazard, low, high, best)


def _crossing(rising: Callable[[float], float], guess: float) -> float:
    """Where a function that rises on the positive axis passes 0, to the last bit or so."""
    low = high = guess
    while rising(low) > 0:
        low /= 2
    while rising(high) < 0:
        high *= 2
    for _ in range(200):
        middle = math.sqrt(low * high)
        if not low < middle < high:
            break
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
    return math.sqrt(low * high)
