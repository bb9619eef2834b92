"""How many of these trees will stand: sums that are exact, limits that are whole trees."""

import math

import numpy as np
import pytest

from survey.science.records import Spells
from survey.science.survival.forecast import (
    NobodyToForecast,
    Standing,
    forecast,
    path,
)
from survey.science.survival.pooling import BadPool, NotPooled, Patch, pool
from tests.simulate.simulate_forecast import judge


@pytest.fixture(scope="module")
def pooled():
    """Ten plantings of 40 trees; a tenth is lost in each of the first two years."""
    spells = Spells.from_columns(
        entry=[-math.inf] * 3, left=[0, 12, 30], right=[12, 24, math.inf], count=[4, 4, 32]
    )
    return pool([Patch(f"p{n}", "lime", f"site {n % 3}", spells) for n in range(10)], seed=4)


def trees(count, *, seen=6.0, until=18.0, planting="p1"):
    return Standing(planting, "lime", "site 1", seen, until, count)


def test_without_trees_there_is_nothing_to_forecast(pooled):
    with pytest.raises(NobodyToForecast):
        forecast(pooled, [])
    with pytest.raises(NobodyToForecast):
        path(pooled, [], [6.0])


@pytest.mark.parametrize(
    "bad",
    [trees(0), trees(-3), trees(3, seen=-1.0), trees(3, until=math.nan), trees(3, seen=math.inf)],
)
def test_trees_that_cannot_be_are_refused(pooled, bad):
    with pytest.raises(BadPool):
        forecast(pooled, [bad])


def test_other_impossible_questions_are_refused(pooled):
    with pytest.raises(NotPooled):
        forecast(pooled, [trees(3, planting="unheard of")])
    with pytest.raises(BadPool):
        forecast(pooled, [trees(3)], level=1.0)
    with pytest.raises(BadPool):
        forecast(pooled, [trees(3)], unrest=-1.0)
    with pytest.raises(BadPool):
        path(pooled, [trees(3)], [math.nan])


@pytest.mark.parametrize("count", [7, 8])
def test_a_tree_seen_alive_at_the_age_asked_about_stands_for_sure(pooled, count):
    told = forecast(pooled, [trees(count, seen=24.0, until=18.0)])
    assert (told.low, told.median, told.high) == (count, count, count)
    assert (told.lost_low, told.lost_high) == (0, 0)


def test_the_number_agrees_with_dice_thrown_for_every_tree(pooled):
    group = [trees(20, seen=3.0), trees(15, seen=9.0), trees(5, seen=0.0, planting="p4")]
    told = forecast(pooled, group, unrest=0.0)
    dice = np.random.default_rng(8)
    thrown = np.zeros((pooled.draws, 250))
    for kind in group:
        hazard = np.exp(pooled.log_hazard(kind.planting, kind.species, kind.site))
        opens = np.array([0.0, 3.0, 6.0, 12.0])  # the pieces up to 18 months
        closes = np.array([3.0, 6.0, 12.0, 18.0])
        months = np.maximum(closes - np.maximum(opens, kind.seen), 0)
        chance = np.exp(-(months @ hazard[:4]))
        thrown += dice.binomial(kind.count, chance[:, None], thrown.shape)
    assert told.expected == pytest.approx(thrown.mean(), abs=0.05)
    low, median, high = np.quantile(thrown, [0.025, 0.5, 0.975])
    assert abs(told.median - median) <= 1
    # the fewest numbers that hold 95 %: no wider than equal tails, and they do hold it
    assert told.high - told.low <= high - low + 1
    assert ((thrown >= told.low) & (thrown <= told.high)).mean() == pytest.approx(0.96, abs=0.02)


def test_the_longer_unseen_the_fewer_are_expected(pooled):
    fresh, stale = (forecast(pooled, [trees(40, seen=seen)]) for seen in (12.0, 0.0))
    assert stale.expected < fresh.expected
    assert stale.low <= fresh.low


def test_years_that_differ_widen_the_limits(pooled):
    calm, wild = (forecast(pooled, [trees(200)], unrest=unrest) for unrest in (0.0, 0.6))
    assert wild.high - wild.low > calm.high - calm.low


def test_rows_together_or_apart_in_any_order_say_the_same(pooled):
    once = forecast(pooled, [trees(30), trees(10, seen=2.0)])
    apart = forecast(pooled, [trees(10, seen=2.0), *[trees(1)] * 30])
    assert (once.low, once.median, once.high) == (apart.low, apart.median, apart.high)
    assert once.expected == pytest.approx(apart.expected)


def test_the_near_sum_of_many_trees_continues_the_exact_one(pooled):
    exact, near = forecast(pooled, [trees(300)]), forecast(pooled, [trees(301)])
    assert near.median == pytest.approx(exact.median, abs=2)
    assert near.low == pytest.approx(exact.low, abs=4)
    assert near.high == pytest.approx(exact.high, abs=4)


def test_the_line_starts_at_the_forecast_never_rises_and_widens(pooled):
    group = [trees(25), trees(15, seen=12.0)]
    line = path(pooled, group, [0.0, 6.0, 12.0, 24.0, 60.0])
    told = forecast(pooled, group)
    assert line[0].median * 40 == pytest.approx(told.median, abs=1)
    assert line[0].low * 40 == pytest.approx(told.low, abs=1)
    for column in ("median", "low", "high"):
        heights = [getattr(at, column) for at in line]
        assert heights == sorted(heights, reverse=True)
        assert all(0 <= height <= 1 for height in heights)
    assert line[-1].high - line[-1].low > line[0].high - line[0].low


def test_the_same_fit_and_trees_give_the_same_numbers(pooled):
    assert forecast(pooled, [trees(40)]) == forecast(pooled, [trees(40)])
    assert path(pooled, [trees(40)], [12.0]) == path(pooled, [trees(40)], [12.0])


def test_the_limits_hold_what_happens_on_a_few_towns():
    tally = judge(towns=4, seed=11, year=0.0)
    assert tally.told >= 80
    assert tally.held / tally.told >= 0.9
