"""Trend tests against published examples, brute force and an independent program."""

import math
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import kendalltau, theilslopes

from survey.science.trend.kendall import BadSeries, mann_kendall, seasonal_kendall, theil_sen

# US EPA QA/G-9S, EPA/240/B-06/003 (2006), p. 109
EPA = [10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15]
# Hollander & Wolfe 1973, Nonparametric Statistical Methods, p. 187: tuna lightness and quality
LIGHTNESS = [44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1]
QUALITY = [2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8]


def test_the_epa_example_comes_out_as_printed():
    found = mann_kendall(EPA)
    assert found.rises == 22
    assert round(found.variance, 2) == 155.33
    assert round(found.z, 3) == 1.685
    # computed with an independent program from the same figures
    assert found.p_normal == pytest.approx(0.091998, abs=1e-6)
    assert found.tau == pytest.approx(0.40)
    slope = theil_sen(range(11), EPA)
    assert (slope.value, slope.low, slope.high) == (1.0, 0.0, 2.0)


def test_hollander_and_wolfes_example_comes_out_as_printed():
    found = mann_kendall(QUALITY, LIGHTNESS)
    assert found.rises == 16  # 26 pairs of 36 rise
    assert found.tau == pytest.approx(0.4444444, abs=1e-7)
    assert found.p_exact / 2 == pytest.approx(0.05972, abs=5e-6)
    # without the continuity correction the printed one-sided figure is 0.04765
    assert math.erfc(found.rises / math.sqrt(found.variance) / math.sqrt(2)) / 2 == pytest.approx(
        0.04765, abs=5e-6
    )
    # with it, computed
    assert (found.z, found.p_normal) == pytest.approx((1.563858, 0.117851), abs=1e-6)


def test_theils_example():
    # Hollander & Wolfe 1973, the Theil example (attribution from memory); figures computed
    values = [1.26, 1.27, 1.12, 1.16, 1.03]
    found = mann_kendall(values, range(1, 6))
    assert found.rises == -6
    assert found.p_exact == pytest.approx(0.2333333, abs=1e-7)
    assert found.p_down == pytest.approx(0.1167, abs=5e-5)
    assert theil_sen(range(1, 6), values).value == pytest.approx(-0.05625)


def test_five_values():
    # the small-sample example of the US EPA guidance (attribution from memory)
    found = mann_kendall([5, 6, 11, 8, 10])
    assert found.rises == 6
    assert found.p_exact / 2 == pytest.approx(0.1166667, abs=1e-7)
    assert theil_sen(range(5), [5, 6, 11, 8, 10]).value == 1.125


def test_the_slope_goes_by_the_date_and_not_by_the_place_in_the_list():
    # a round in spring and one in autumn, then none for two years: still a point a month
    dates = np.array([3, 9, 33, 39, 63, 66])
    assert theil_sen(dates, dates * -1.0).value == -1
    assert mann_kendall(dates[::-1] * -1.0, dates[::-1]).rises == -15


@given(st.lists(st.integers(0, 4), min_size=2, max_size=7))
@settings(max_examples=40, deadline=None)
def test_the_exact_law_with_ties_is_that_of_all_orders(values):
    found = mann_kendall(values)
    sums = [mann_kendall(order).rises for order in set(permutations(values))]
    extreme = np.mean([abs(one) >= abs(found.rises) for one in sums])
    assert found.p_exact == pytest.approx(extreme)
    assert found.p_down == pytest.approx(np.mean([one <= found.rises for one in sums]))
    assert np.var(sums) == pytest.approx(found.variance)


@given(st.lists(st.floats(-50, 50), min_size=3, max_size=12, unique=True))
@settings(deadline=None)
def test_without_ties_it_agrees_with_an_independent_program(values):
    found = mann_kendall(values)
    theirs = kendalltau(range(len(values)), values, method="exact")
    assert found.tau == pytest.approx(theirs.statistic, abs=1e-12)
    assert found.p_exact == pytest.approx(theirs.pvalue, abs=1e-9)
    assert theil_sen(range(len(values)), values).value == pytest.approx(
        theilslopes(values).slope, rel=1e-9, abs=1e-9
    )


def test_the_normal_law_takes_over_without_a_jump():
    dice = np.random.default_rng(3)
    values = dice.standard_normal(40) + np.arange(40) * 0.03
    found = mann_kendall(values)
    assert found.p_exact == pytest.approx(found.p_normal, abs=0.001)
    assert mann_kendall(np.append(values, 9.0)).p_exact is None


def test_seasons_are_compared_each_with_itself_only():
    # summers are 10 better than winters and nothing changes: no trend, whatever the order of rounds
    times = np.arange(8) * 6
    values = np.array([10, 0, 10.1, 0.1, 9.9, 0.05, 10.05, 0.02])
    seasons = times // 6 % 2
    found = seasonal_kendall(times, values, seasons)
    apart = [mann_kendall(values[seasons == one]) for one in (0, 1)]
    assert found.rises == sum(one.rises for one in apart)
    assert found.variance == pytest.approx(sum(one.variance for one in apart))
    assert abs(theil_sen(times, values, seasons=seasons).value) < 0.01
    assert seasonal_kendall(times, values, np.zeros(8)).p == mann_kendall(values).p


@pytest.mark.parametrize("seasons", [2, 3])
def test_the_exact_law_of_seasons_is_that_of_all_orders_within_each(seasons):
    values = np.array([3.0, 1, 2, 2, 5, 4, 0, 4, 1])[: 3 * seasons]
    which = np.repeat(np.arange(seasons), 3)
    found = seasonal_kendall(np.tile(np.arange(3), seasons), values, which)
    parts = [[mann_kendall(order).rises for order in permutations(values[which == one])]
             for one in range(seasons)]  # fmt: skip
    sums = np.array(parts[0])
    for part in parts[1:]:
        sums = (sums[:, None] + np.array(part)).ravel()
    assert found.p_exact == pytest.approx(np.mean(np.abs(sums) >= abs(found.rises)))


def test_seasons_that_hang_together_have_the_variance_of_all_orders_of_whole_years():
    # Dietz & Killeen 1981 J. Am. Stat. Assoc. 76:169, on which Hirsch & Slack 1984 build: with
    # every season in every year the covariance is that of shuffling whole years
    grid = np.array([[4.0, 9.0], [1.0, 7.5], [3.0, 8.0], [2.5, 6.0], [0.5, 8.5]])
    years = np.repeat(np.arange(5), 2)
    seasons = np.tile([0, 1], 5)
    found = seasonal_kendall(years * 12 + seasons * 6, grid.ravel(), seasons, years=years)
    sums = [
        sum(mann_kendall(grid[list(order), season]).rises for season in (0, 1))
        for order in permutations(range(5))
    ]
    assert found.variance == pytest.approx(np.var(sums))
    alone = seasonal_kendall(years * 12 + seasons * 6, grid.ravel(), seasons)
    assert found.variance > alone.variance  # years good in one season are good in the other here
    assert found.p_exact is None


def test_a_missing_season_has_the_middle_rank():
    # Hirsch & Slack 1984, equation for missing values: nothing is learnt where one is alone
    times, values = [0, 6, 12, 24, 30], [1.0, 2.0, 3.0, 5.0, 4.0]
    found = seasonal_kendall(times, values, [0, 1, 0, 0, 1], years=[0, 0, 1, 2, 2])
    # by hand: K = 1; ranks 1 2 3 and 1 1.5 2; (1 + 4 * 10 - 3 * 4 * 3) / 3, twice; 11/3 and 1 alone
    assert found.variance == pytest.approx(11 / 3 + 1 + 2 * 5 / 3)


@given(
    st.lists(st.tuples(st.integers(0, 60), st.floats(0, 100)), min_size=2, max_size=15,
             unique_by=lambda row: row[0]),
    st.sampled_from([0.8, 0.95]),
)  # fmt: skip
def test_the_limits_hold_the_slope_and_follow_the_units(rows, level):
    times, values = np.array(rows).T
    found = theil_sen(times, values, level=level)
    assert found.low <= found.value <= found.high
    turned = theil_sen(times, -values, level=level)
    assert (turned.low, turned.high) == pytest.approx((-found.high, -found.low))
    later = theil_sen(times + 12, values + 7, level=level)
    assert (later.value, later.low, later.high) == pytest.approx(
        (found.value, found.low, found.high), abs=1e-9
    )


def test_the_limits_of_a_slope_hold_the_truth_as_often_as_they_say():
    dice, held = np.random.default_rng(8), 0
    dates = np.array([0, 5, 13, 18, 30, 37, 41, 55])
    for _ in range(400):
        found = theil_sen(dates, -0.3 * dates + dice.standard_normal(8) * 4)
        held += found.low <= -0.3 <= found.high
    assert held >= 0.92 * 400  # 0.95 less three standard errors


def test_few_values_say_nothing_at_a_high_level():
    assert mann_kendall([4]).p == 1
    assert math.isnan(mann_kendall([4]).tau)
    assert theil_sen([1], [4]) is None
    assert theil_sen([1, 1], [4, 5]) is None
    found = theil_sen([0, 12, 24], [3, 2, 1])
    assert (found.value, found.low, found.high) == (pytest.approx(-1 / 12), -math.inf, math.inf)
    assert mann_kendall([2, 2, 2, 2]).p == 1


@pytest.mark.parametrize(
    "asked",
    [
        lambda: mann_kendall([]),
        lambda: mann_kendall([1, math.nan]),
        lambda: mann_kendall([1, 2], [1, math.inf]),
        lambda: mann_kendall([1, 2], [1]),
        lambda: mann_kendall([[1, 2], [3, 4]]),
        lambda: seasonal_kendall([1, 2], [1, 2], [1]),
        lambda: seasonal_kendall([1, 2], [1, 2], [1, 1], years=[1]),
        lambda: seasonal_kendall([1, 2], [1, 2], [1, 1], years=[1, 1]),
        lambda: theil_sen([1, 2], [1, 2], level=1),
    ],
)
def test_what_is_no_series_is_refused(asked):
    with pytest.raises(BadSeries):
        asked()
