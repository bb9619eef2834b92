"""Limits by drawing the trees again."""

import math

import numpy as np
import pytest
from scipy.stats import binomtest

from survey.science.records import Spell, Spells
from survey.science.survival import limits
from survey.science.survival.limits import METHOD, BadBootstrap, survival_at
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
    for row in survival_at(turnbull(spells), ages, seed=1, draws=200, given=given):
        assert 0 <= row.low <= row.at_least <= row.at_most <= row.high <= 1


def test_five_of_five_alive_is_not_certainty():
    fit = turnbull([Spell(None, 14, INF)] * 5)
    now, later = survival_at(fit, [12, 24], seed=3)
    # 0.478 to 1: the Clopper-Pearson limits of 5 out of 5 (scipy.stats.binomtest)
    assert now.low == pytest.approx(binomtest(5, 5).proportion_ci().low)
    assert (now.at_least, now.at_most, now.high, now.at_risk) == (1, 1, 1, 5)
    assert (later.at_least, later.at_most, later.low, later.high, later.at_risk) == (0, 1, 0, 1, 0)


def test_none_of_five_alive_is_not_certainty():
    fit = turnbull([Spell(None, 3, 6)] * 5)
    between, after = survival_at(fit, [4, 12], seed=3)
    assert (between.low, between.high) == (0, 1)
    assert (after.at_most, after.low) == (0, 0)
    # 0 to 0.522: the Clopper-Pearson limits of 0 out of 5 (scipy.stats.binomtest)
    assert after.high == pytest.approx(binomtest(0, 5).proportion_ci().high)


def test_the_smallest_number_at_risk_bounds_what_no_death_can_prove():
    # twenty trees until 6 months, ten of them watched on to 12, nobody dead
    fit = turnbull([Spell(None, 6, INF)] * 10 + [Spell(None, 12, INF)] * 10)
    early, late = survival_at(fit, [6, 12], seed=1)
    assert early.low == pytest.approx(0.025 ** (1 / 20))
    assert late.low == pytest.approx(0.025 ** (1 / 10))


def test_a_gap_without_anybody_at_risk_proves_nothing():
    fit = turnbull([Spell(None, 10, INF)] * 6 + [Spell(20, 30, INF)] * 6)
    (row,) = survival_at(fit, [30], seed=1)
    assert (row.low, row.high) == (0, 1)


def test_one_death_does_not_make_the_lower_limit_better():
    alive = [Spell(None, 12, INF)]
    (none,) = survival_at(turnbull(alive * 20), [12], seed=5)
    (one,) = survival_at(turnbull(alive * 19 + [Spell(None, 3, 6)]), [12], seed=5)
    assert one.low <= none.low


def test_the_watch_that_began_at_planting_is_as_good_as_from_before():
    from_before = turnbull([Spell(None, 14, INF)] * 5 + [Spell(None, 3, 6)])
    at_planting = turnbull([Spell(0, 14, INF)] * 5 + [Spell(0, 3, 6)])
    one = survival_at(from_before, [12], seed=9)
    assert one == survival_at(at_planting, [12], seed=9)
    assert one == survival_at(at_planting, [12], seed=9, given=0.0)


def test_the_same_seed_gives_the_same_numbers_in_any_order_of_trees():
    spells = cosmesis("Rad")
    one = survival_at(turnbull(spells), [12, 24], seed=11)
    other = survival_at(turnbull(spells[::-1]), [12, 24], seed=11)
    assert one == other
    assert one != survival_at(turnbull(spells), [12, 24], seed=12)


def test_the_size_of_a_batch_does_not_show(monkeypatch):
    fit = turnbull(cosmesis("Rad"))
    one = survival_at(fit, [12, 24, 40], seed=11, draws=100)
    monkeypatch.setattr(limits, "_ROOM", 1)
    for row, other in zip(one, survival_at(fit, [12, 24, 40], seed=11, draws=100), strict=True):
        assert row.low == pytest.approx(other.low, abs=1e-7)
        assert row.high == pytest.approx(other.high, abs=1e-7)


@pytest.mark.parametrize(
    ("spells", "given", "ages"),
    [
        (cosmesis("Rad"), None, [8, 12, 24, 36, 47]),
        (thirty(), 65.0, [66, 70, 72, 77]),
        ([Spell(0, 3, 9), Spell(0, 6, INF), Spell(6, 6, 14), Spell(6, 12, INF), Spell(9, 9, 20)],
         6.0, [9, 12, 15, 20]),
    ],
)  # fmt: skip
def test_each_draw_is_a_fit_of_its_own(spells, given, ages):
    fit = turnbull(spells)
    table = fit.spells
    lows, highs = limits._drawn_again(fit, [float(a) for a in ages], 4, 60, given)
    weights = np.random.default_rng(4).multinomial(table.trees, table.count / table.trees, size=60)
    for draw, weight in enumerate(weights):
        drawn = weight > 0
        own = turnbull(
            Spells.from_columns(
                entry=table.entry[drawn],
                left=table.left[drawn],
                right=table.right[drawn],
                count=weight[drawn],
            )
        )
        for column, age in enumerate(ages):
            if own.is_unique:
                at_least = own.at_least(age, given=given)
                at_most = own.at_most(age, given=given)
                assert lows[draw, column] == pytest.approx(at_least, abs=2e-4)
                assert highs[draw, column] == pytest.approx(at_most, abs=2e-4)


def test_drawing_trees_again_comes_near_the_formula_where_there_is_one():
    # Freireich et al. 1963, 6-MP: Greenwood's standard error at 10 weeks is 0.0963 (Klein &
    # Moeschberger, Table 4.1, remembered), so plain limits 0.564 to 0.942
    (row,) = survival_at(turnbull(leukaemia("6-MP")), [10], seed=2, draws=1000)
    plain = product_limit(leukaemia("6-MP"), limits="plain").steps[2]
    assert row.low == pytest.approx(plain.low, abs=0.03)
    assert row.high == pytest.approx(plain.high, abs=0.03)


def test_more_certainty_is_a_wider_interval():
    fit = turnbull(cosmesis("Rad"))
    (narrow,) = survival_at(fit, [24], seed=6, level=0.8)
    (wide,) = survival_at(fit, [24], seed=6, level=0.95)
    assert wide.low < narrow.low
    assert narrow.high < wide.high


@pytest.mark.parametrize(
    "wrong", [{"draws": 79}, {"draws": 0}, {"level": 1.0}, {"level": 0.0}, {"level": math.nan}]
)
def test_limits_that_the_draws_cannot_tell_are_refused(wrong):
    with pytest.raises(BadBootstrap):
        survival_at(turnbull([Spell(None, 5, INF)]), [3], seed=1, **wrong)


def test_an_age_that_is_not_a_number_is_refused():
    with pytest.raises(ValueError, match="not a number"):
        survival_at(turnbull([Spell(None, 5, INF)]), [math.nan], seed=1)


def test_the_method_names_what_was_done():
    for word in ("Turnbull 1976", "left-truncated", "bootstrap of trees", "binomial"):
        assert word in METHOD
