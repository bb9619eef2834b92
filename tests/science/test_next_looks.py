"""What a look would tell, against every death age taken in turn, and where it must tell nothing."""

import math
import time
from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.science.survival.next_looks import (
    BadWalk,
    Trees,
    count_band,
    curve_through,
    rate_band,
    worth_of_looks,
)

FIRM = 1e9  # so firmly held to the curve that the pace is 1


def weibull(age):
    return np.exp(-((np.asarray(age) / 90.0) ** 0.8))


def by_every_death_age(seen, now, milestone, curve):
    """Var(X), E Var(X | look) with the death in each hundredth of a month, one after another."""
    edges = np.arange(seen, 400, 0.01)
    alive = curve(edges) / curve(np.array([seen]))
    deaths = -np.diff(alive, append=0.0)
    middle = edges + 0.005
    stands_then, stands_now = middle > milestone, middle > now
    p = deaths[stands_then].sum()
    left_over = 0.0
    for group in (stands_now, ~stands_now):
        chance = deaths[group].sum()
        if chance > 0:
            q = deaths[group & stands_then].sum() / chance
            left_over += chance * q * (1 - q)
    return p, p * (1 - p), p * (1 - p) - left_over


@pytest.mark.parametrize(
    ("seen", "now", "milestone"),
    [(6, 20, 20), (6, 30, 22), (6, 14, 22), (0, 1, 60), (12, 13, 12.5), (3, 40, 39)],
)
def test_a_look_settles_what_taking_every_death_age_in_turn_says(seen, now, milestone):
    trees = Trees.of(site=[0], seen=[seen], now=[now], milestone=[milestone])
    worth = worth_of_looks(trees, weibull, prior=FIRM)
    chance, doubt, settled = by_every_death_age(seen, now, milestone, weibull)
    assert worth.chance[0] == pytest.approx(chance, abs=2e-4)
    assert worth.doubt[0] == pytest.approx(doubt, abs=2e-4)
    assert worth.settled[0] == pytest.approx(settled, abs=2e-4)


def test_a_look_on_the_milestone_settles_the_tree_fully_and_one_before_it_only_partly():
    trees = Trees.of(site=[0, 0, 0], seen=[6, 6, 6], now=[22, 12, 30], milestone=[22, 22, 22])
    worth = worth_of_looks(trees, weibull)
    assert worth.settled[0] == pytest.approx(worth.doubt[0])
    assert 0 < worth.settled[1] < worth.doubt[1]
    # found dead eight months late it may still have stood at the milestone
    assert 0 < worth.settled[2] < worth.doubt[2]


@pytest.mark.parametrize(
    ("why", "columns"),
    [
        ("seen after the milestone", {"seen": [24], "now": [30], "milestone": [22]}),
        ("seen today", {"seen": [18], "now": [18], "milestone": [22]}),
        ("known lost", {"seen": [6], "now": [30], "milestone": [22], "lost": [12]}),
        ("lost around it", {"seen": [6], "now": [30], "milestone": [22], "lost": [28]}),
        ("closed", {"seen": [6], "now": [30], "milestone": [22], "open_": [False]}),
    ],
)
def test_a_tree_that_can_tell_nothing_more_is_worth_no_look(why, columns):
    worth = worth_of_looks(Trees.of(site=[0], **columns), weibull)
    assert (worth.settled[0], worth.told[0]) == (0, 0), why


def test_a_tree_found_lost_on_either_side_of_the_milestone_keeps_its_doubt():
    trees = Trees.of(site=[0], seen=[6], lost=[28], now=[30], milestone=[22])
    worth = worth_of_looks(trees, weibull, prior=FIRM)
    died = weibull(6) - weibull(28)
    assert worth.chance[0] == pytest.approx((weibull(22) - weibull(28)) / died)
    assert worth.doubt[0] > 0


@given(seen=st.floats(0, 60), wait=st.floats(0.1, 60), milestone=st.floats(1, 100))
def test_a_look_never_adds_doubt_and_never_settles_more_than_there_is(seen, wait, milestone):
    trees = Trees.of(site=[0], seen=[seen], now=[seen + wait], milestone=[milestone])
    worth = worth_of_looks(trees, weibull)
    assert 0 <= worth.settled[0] <= worth.doubt[0] + 1e-12
    assert 0 <= worth.told[0] < 1
    assert 0 <= worth.chance[0] <= 1


def test_what_a_look_adds_to_the_rate_is_the_fisher_information_of_its_answer():
    trees = Trees.of(site=[0], seen=[6], now=[30], milestone=[22])
    worth = worth_of_looks(trees, weibull, prior=FIRM)

    def chance(pace):  # of standing at 30, months after the milestone left at the curve's own pace
        before = math.log(weibull(6) / weibull(22))
        return math.exp(-pace * before) * weibull(30) / weibull(22)

    slope = (chance(1 + 1e-5) - chance(1 - 1e-5)) / 2e-5
    p = chance(1)
    assert worth.told[0] == pytest.approx(slope**2 / (p * (1 - p)), rel=1e-6)


def test_the_pace_of_a_group_leans_towards_its_own_losses():
    columns = {"site": [0] * 40, "now": [30] * 40, "milestone": [30] * 40}
    lost = [12.0] * 20 + [math.inf] * 20
    many = Trees.of(**columns, seen=[6.0] * 20 + [24.0] * 20, lost=lost)
    none = Trees.of(**columns, seen=[24.0] * 40)
    assert worth_of_looks(many, weibull).pace > 1.5
    assert worth_of_looks(none, weibull).pace < 0.7
    assert worth_of_looks(none, weibull, prior=FIRM).pace == pytest.approx(1)


def test_looks_narrow_the_count_and_the_rate_and_looking_at_all_now_leaves_no_doubt_of_the_count():
    trees = Trees.of(site=[0] * 40, seen=[3.0] * 40, now=[24.0] * 40, milestone=[24.0] * 40)
    worth = worth_of_looks(trees, weibull)
    some, all_of_them = np.arange(40) < 20, np.ones(40, dtype=bool)
    widths = [
        [band.high - band.low for band in (limits(), limits(some), limits(all_of_them))]
        for limits in (partial(count_band, worth), lambda s=None: rate_band(worth, weibull, 24, s))
    ]
    for before, half, full in widths:
        assert before > half > full
    # the middle of the count is no whole number: one tree of rounding is left
    assert widths[0][2] <= 1
    band = rate_band(worth, weibull, 24)
    assert band.low < weibull(24) ** worth.pace < band.high


def test_the_limits_of_the_count_hold_the_number_that_stands():
    dice = np.random.default_rng(20_260_616)
    ages = dice.integers(0, 20, 60).astype(float)
    trees = Trees.of(site=[0] * 60, seen=ages, now=ages + 14, milestone=ages + 14)
    worth = worth_of_looks(trees, weibull, prior=FIRM)
    band = count_band(worth)
    stands = (dice.random((4000, 60)) < weibull(ages + 14) / weibull(ages)).sum(axis=1)
    held = ((stands >= band.low) & (stands <= band.high)).mean()
    assert held >= 0.95  # rounded outward, so rather more than less
    assert band.high - band.low <= 4.5 * stands.std() + 2


def test_the_count_of_trees_whose_fate_is_known_has_no_limits_but_itself():
    trees = Trees.of(site=[0] * 3, seen=[24, 24, 3], lost=[math.inf, math.inf, 9],
                     now=[24] * 3, milestone=[22] * 3)  # fmt: skip
    band = count_band(worth_of_looks(trees, weibull))
    assert (band.low, band.high) == (2, 2)


def test_a_curve_through_points_keeps_a_steady_pace_between_and_beyond_them():
    curve = curve_through([0, 12, 24], [1, 0.81, 0.729])
    assert curve(np.array([6.0]))[0] == pytest.approx(0.9)
    assert curve(np.array([36.0]))[0] == pytest.approx(0.729 * 0.9)
    late = curve_through([6, 18], [1, 0.9])
    assert late(np.array([0.0]))[0] / late(np.array([12.0]))[0] == pytest.approx(1 / 0.9)


@pytest.mark.parametrize(
    ("ages", "survival"),
    [([0], [1]), ([0, 0], [1, 1]), ([12, 0], [1, 1]), ([0, 12], [1, 1.1]), ([0, 12], [1, -0.1]),
     ([0, math.nan], [1, 1]), ([0, 12], [1, math.nan]), ([0, 12], [1])],
)  # fmt: skip
def test_a_curve_that_cannot_be_is_refused(ages, survival):
    with pytest.raises(BadWalk):
        curve_through(ages, survival)


@pytest.mark.parametrize(
    "wrong",
    [{"seen": [-1]}, {"seen": [math.nan]}, {"seen": [31]}, {"now": [math.inf]}, {"entry": [7]},
     {"lost": [0]}, {"milestone": [math.nan]}, {"seen": [1, 2]}, {"metres": [[0, 0], [1, 1]]}],
)  # fmt: skip
def test_trees_that_cannot_be_are_refused(wrong):
    with pytest.raises(BadWalk):
        Trees.of(**({"site": [0], "seen": [6], "now": [30], "milestone": [22]} | wrong))


@pytest.mark.parametrize("prior", [0, -1, math.nan, math.inf])
def test_a_group_is_held_to_its_curve_by_some_losses(prior):
    with pytest.raises(BadWalk):
        worth_of_looks(Trees.of(site=[0], seen=[6], now=[9], milestone=[22]), weibull, prior=prior)


@pytest.mark.parametrize("level", [0, 1, math.nan])
def test_limits_have_a_level_between_0_and_1(level):
    worth = worth_of_looks(Trees.of(site=[0], seen=[6], now=[9], milestone=[22]), weibull)
    with pytest.raises(BadWalk):
        count_band(worth, level=level)


def test_ten_thousand_trees_are_weighed_in_a_moment():
    dice = np.random.default_rng(1)
    seen = dice.integers(0, 30, 10_000).astype(float)
    trees = Trees.of(site=dice.integers(0, 200, 10_000), seen=seen, now=seen + 14,
                     milestone=[22.0] * 10_000)  # fmt: skip
    start = time.perf_counter()
    worth_of_looks(trees, weibull)
    assert time.perf_counter() - start < 1
