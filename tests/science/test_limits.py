"""Limits by profile likelihood, against exact limits and against maxima found another way."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq, minimize
from scipy.stats import binomtest, chi2

from survey.science.records import Spell
from survey.science.survival import limits
from survey.science.survival.limits import (
    METHOD,
    BadLevel,
    effective_trees,
    survival_at,
    survival_between,
)
from survey.science.survival.product_limit import product_limit
from survey.science.survival.turnbull import turnbull
from tests.science.published import channing_house, cosmesis, leukaemia, thirty

INF = math.inf


@pytest.mark.parametrize(
    ("spells", "given", "ages"),
    [
        (cosmesis("Rad"), None, [6, 12, 24, 36, 48]),
        (cosmesis("RadChem"), None, [6, 12, 24, 36, 60]),
        (thirty(), 65.0, [66, 70, 77, 80]),
        (channing_house(), 816.0, [900, 960, 1020, 1080]),
    ],
)
def test_limits_hold_the_estimate_and_stay_within_0_and_1(spells, given, ages):
    for row in survival_at(turnbull(spells), ages, given=given):
        assert 0 <= row.low <= row.at_least <= row.at_most <= row.high <= 1


def test_five_of_five_alive_is_not_certainty():
    fit = turnbull([Spell(None, 14, INF)] * 5)
    now, later = survival_at(fit, [12, 24])
    # 0.478 to 1: the Clopper-Pearson limits of 5 out of 5 (scipy.stats.binomtest)
    assert now.low == pytest.approx(binomtest(5, 5).proportion_ci().low)
    assert (now.at_least, now.at_most, now.high, now.at_risk) == (1, 1, 1, 5)
    assert (later.at_least, later.at_most, later.low, later.high, later.at_risk) == (0, 1, 0, 1, 0)


def test_none_of_five_alive_is_not_certainty():
    fit = turnbull([Spell(None, 3, 6)] * 5)
    between, after = survival_at(fit, [4, 12])
    assert (between.low, between.high) == (0, 1)
    assert (after.at_most, after.low) == (0, 0)
    # 0 to 0.522: the Clopper-Pearson limits of 0 out of 5 (scipy.stats.binomtest)
    assert after.high == pytest.approx(binomtest(0, 5).proportion_ci().high)


def test_the_smallest_number_at_risk_bounds_what_no_death_can_prove():
    # twenty trees until 6 months, ten of them watched on to 12, nobody dead
    fit = turnbull([Spell(None, 6, INF)] * 10 + [Spell(None, 12, INF)] * 10)
    early, late = survival_at(fit, [6, 12])
    assert early.low == pytest.approx(0.025 ** (1 / 20))
    assert late.low == pytest.approx(0.025 ** (1 / 10))


def test_a_gap_without_anybody_at_risk_proves_nothing():
    fit = turnbull([Spell(None, 10, INF)] * 6 + [Spell(20, 30, INF)] * 6)
    (row,) = survival_at(fit, [30])
    assert (row.low, row.high) == (0, 1)


def test_one_death_does_not_make_the_lower_limit_better():
    alive = [Spell(None, 12, INF)]
    (none,) = survival_at(turnbull(alive * 20), [12])
    (one,) = survival_at(turnbull(alive * 19 + [Spell(None, 3, 6)]), [12])
    assert one.low <= none.low


def test_the_watch_that_began_at_planting_is_as_good_as_from_before():
    from_before = turnbull([Spell(None, 14, INF)] * 5 + [Spell(None, 3, 6)])
    at_planting = turnbull([Spell(0, 14, INF)] * 5 + [Spell(0, 3, 6)])
    one = survival_at(from_before, [12])
    assert one == survival_at(at_planting, [12])
    assert one == survival_at(at_planting, [12], given=0.0)


def test_the_order_of_the_trees_does_not_show():
    spells = cosmesis("Rad")
    assert survival_at(turnbull(spells), [12, 24]) == survival_at(turnbull(spells[::-1]), [12, 24])


def test_the_size_of_a_batch_does_not_show(monkeypatch):
    fit = turnbull(cosmesis("Rad"))
    one = survival_at(fit, [12, 24, 40])
    monkeypatch.setattr(limits, "_ROOM", 1)
    for row, other in zip(one, survival_at(fit, [12, 24, 40]), strict=True):
        assert row.low == pytest.approx(other.low, abs=1e-5)
        assert row.high == pytest.approx(other.high, abs=1e-5)


@pytest.mark.parametrize("spells", [cosmesis("Rad"), cosmesis("RadChem"), thirty()])
def test_the_ways_of_finding_a_constrained_curve_agree(spells, monkeypatch):
    fit = turnbull(spells)
    asked = [(65.0, 70.0), (65.0, 77.0)] if spells == thirty() else [(None, 12.0), (None, 36.0)]
    one = survival_between(fit, asked)
    monkeypatch.setattr(limits, "_PAIRS", 0)  # from nothing, all at once
    two = survival_between(fit, asked)
    monkeypatch.setattr(limits, "_DENSE", 0)  # from nothing, one by one
    three = survival_between(fit, asked)
    for row, other, third in zip(one, two, three, strict=True):
        assert (row.low, row.high) == (
            pytest.approx(other.low, abs=1e-5),
            pytest.approx(other.high, abs=1e-5),
        )
        assert (row.low, row.high) == (
            pytest.approx(third.low, abs=1e-5),
            pytest.approx(third.high, abs=1e-5),
        )


@pytest.mark.parametrize(
    ("alive", "trees", "low", "high"),
    [
        # Clopper-Pearson as computed by statsmodels and scipy.stats.binomtest; 3 of 5 to 263
        (3, 5, 0.146633, 0.947255),
        (1, 29, 0.000873, 0.177644),
        (15, 148, 0.057844, 0.161650),
        (81, 263, 0.252737, 0.367622),
    ],
)
def test_where_every_fate_is_known_the_limits_are_the_exact_ones(alive, trees, low, high):
    fit = turnbull([Spell(None, 24, INF)] * alive + [Spell(None, 0, 6)] * (trees - alive))
    [row] = survival_at(fit, [12])
    assert (row.low, row.high) == (pytest.approx(low, abs=5e-6), pytest.approx(high, abs=5e-6))
    assert effective_trees(fit, [(None, 12)]) == [pytest.approx(trees)]


def test_on_exact_ages_the_profile_is_that_of_thomas_and_grunkemeier(monkeypatch):
    # Thomas & Grunkemeier 1975: with `pull` added to every number at risk, S = product of
    # 1 - d / (n + pull), and twice the fall of the log-likelihood is the sum below
    spells = leukaemia("6-MP")
    steps = [step for step in product_limit(spells).steps if step.age <= 16]
    d = np.array([step.deaths for step in steps], dtype=float)
    n = np.array([step.at_risk for step in steps], dtype=float)
    cut = chi2.ppf(0.95, 1)

    def fall(pull):
        alive = (n - d) * np.log1p(pull / (n - d)) - n * np.log1p(pull / n)
        return -2 * alive.sum() - cut

    # with the cutoff of that paper, so that nothing but the path is compared
    monkeypatch.setattr(limits._Profile, "_cutoff", lambda *_: (cut, 1.0))
    [row] = survival_at(turnbull(spells), [16])
    low = np.prod(1 - d / (n + brentq(fall, -(n - d).min() + 1e-9, 0)))
    high = np.prod(1 - d / (n + brentq(fall, 0, 1e5)))
    assert row.low == pytest.approx(low, abs=1e-6)
    assert row.high == pytest.approx(high, abs=1e-6)


@pytest.mark.parametrize(("arm", "age"), [("Rad", 24.0), ("RadChem", 17.0)])
def test_no_curve_through_a_limit_is_likelier_than_the_one_found(arm, age):
    """A general optimiser, told to go through the limit, finds the same likelihood."""
    spells = cosmesis(arm)
    fit = turnbull(spells)
    [row] = survival_at(fit, [age])
    profile = limits._Profile(fit, 0.025)
    inside, _ = limits.gone_by(age, fit.left, fit.right, None)
    cutoff, _ = profile._cutoff(False, inside & profile._live)
    live = np.flatnonzero(np.isfinite(fit.hazard))
    table = fit.spells
    first, last = fit.cells.first, fit.cells.last

    def unlikely(u):
        total = np.concatenate([[0.0], np.cumsum(u), [INF]])
        with np.errstate(divide="ignore"):
            told = -total[first] + np.log(-np.expm1(-(total[last + 1] - total[first])))
        return -float(table.count @ np.where(np.isposinf(table.right), -total[first], told))

    ones = inside[live].astype(float)
    best = minimize(
        unlikely,
        np.maximum(fit.hazard[live], 1e-3),
        method="SLSQP",
        bounds=[(1e-12, 20)] * len(live),
        constraints=[{"type": "eq", "fun": lambda u: ones @ u + math.log(row.low)}],
        options={"maxiter": 500, "ftol": 1e-12},
    )
    assert 2 * (fit.loglik + best.fun) == pytest.approx(cutoff, abs=2e-3)


def test_more_certainty_is_a_wider_interval():
    fit = turnbull(cosmesis("Rad"))
    (narrow,) = survival_at(fit, [24], level=0.8)
    (wide,) = survival_at(fit, [24], level=0.95)
    assert wide.low < narrow.low
    assert narrow.high < wide.high


@pytest.mark.parametrize("level", [1.0, 0.0, -1.0, math.nan])
def test_a_level_outside_0_to_1_is_refused(level):
    with pytest.raises(BadLevel):
        survival_at(turnbull([Spell(None, 5, INF)]), [3], level=level)


def test_an_age_that_is_not_a_number_is_refused():
    with pytest.raises(ValueError, match="not a number"):
        survival_at(turnbull([Spell(None, 5, INF)]), [math.nan])


def test_the_method_names_what_was_done():
    for word in ("Turnbull 1976", "left-truncated", "profile likelihood", "binomial"):
        assert word in METHOD
