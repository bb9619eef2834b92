"""Where to walk, against trying every choice of trees on small towns."""

import itertools
import math
import time

import numpy as np
import pytest

from survey.science.survival.next_looks import BadWalk, Trees, worth_of_looks
from survey.science.survival.walk_plan import (
    Pace,
    best_walk_on_site,
    metres_from_degrees,
    minutes_for,
    plan_walks,
)


def weibull(age):
    return np.exp(-((np.asarray(age) / 90.0) ** 0.8))


def town(dice, sites, a_site, spread=600.0):
    """Trees along a street on each site, in walking order, unseen for 1 to 30 months."""
    site = np.repeat(np.arange(sites), a_site)
    along = np.concatenate([np.sort(dice.uniform(0, spread, a_site)) for _ in range(sites)])
    seen = dice.uniform(0, 20, sites * a_site)
    now = seen + dice.uniform(1, 30, sites * a_site)
    return Trees.of(
        site=site, seen=seen, now=now, milestone=now,
        metres=np.column_stack([along, np.zeros_like(along)]),
    )  # fmt: skip


def best_of_all(trees, gains, minutes, pace):
    """The most that any choice of trees gains within the minutes."""
    most = 0.0
    many = len(trees)
    for size in range(1, many + 1):
        for rows in itertools.combinations(range(many), size):
            cost = sum(
                minutes_for(trees, [row for row in rows if trees.site[row] == site], pace)
                for site in {int(trees.site[row]) for row in rows}
            )
            if cost <= minutes:
                most = max(most, float(gains[list(rows)].sum()))
    return most


@pytest.mark.parametrize("aim", ["count", "rate"])
def test_the_plan_gains_nearly_what_the_best_of_all_choices_gains(aim):
    dice = np.random.default_rng(7)
    shares = []
    for _ in range(30):
        trees = town(dice, 3, 3)
        worth = worth_of_looks(trees, weibull)
        pace = Pace(minutes_to_a_site=float(dice.uniform(0, 10)))
        minutes = float(dice.uniform(12, 45))
        gains = worth.settled if aim == "count" else worth.told
        found = sum(walk.gain for walk in plan_walks(trees, gains, minutes=minutes, pace=pace))
        shares.append(found / best_of_all(trees, gains, minutes, pace))
    assert max(shares) <= 1 + 1e-9
    assert min(shares) >= 0.85
    assert np.quantile(shares, 0.1) >= 0.95


def test_the_minutes_are_kept_and_no_tree_is_visited_twice():
    dice = np.random.default_rng(8)
    trees = town(dice, 6, 12)
    worth = worth_of_looks(trees, weibull)
    for minutes in (0, 5, 11.5, 30, 90, 1000):
        walks = plan_walks(trees, worth.settled, minutes=minutes)
        assert sum(walk.minutes for walk in walks) <= minutes + 1e-9
        assert len({walk.site for walk in walks}) == len(walks)
        for walk in walks:
            assert list(walk.trees) == sorted(set(walk.trees))
            assert {int(trees.site[row]) for row in walk.trees} == {walk.site}
            assert walk.minutes == pytest.approx(minutes_for(trees, walk.trees, Pace()))
    assert sum(len(walk.trees) for walk in walks) == len(trees)  # a thousand minutes see them all


def test_more_minutes_never_gain_less_and_the_last_ones_gain_little():
    dice = np.random.default_rng(9)
    trees = town(dice, 8, 10)
    worth = worth_of_looks(trees, weibull)
    gains = [
        sum(walk.gain for walk in plan_walks(trees, worth.settled, minutes=minutes))
        for minutes in range(0, 260, 20)
    ]
    assert all(later >= sooner - 0.02 * gains[-1] for sooner, later in itertools.pairwise(gains))
    assert gains[-1] - gains[-3] < gains[2]


def test_a_site_far_away_loses_to_a_near_one_that_tells_the_same():
    trees = Trees.of(
        site=[0, 0, 1, 1], seen=[6] * 4, now=[30] * 4, milestone=[30] * 4,
        metres=[[0, 0], [900, 0], [0, 0], [20, 0]],
    )  # fmt: skip
    [walk] = plan_walks(trees, worth_of_looks(trees, weibull).settled, minutes=15)
    assert (walk.site, walk.trees) == (1, (2, 3))


def test_on_one_site_the_close_group_is_taken_before_the_lone_tree_far_off():
    trees = Trees.of(
        site=[0] * 4, seen=[6, 8, 8, 8], now=[30] * 4, milestone=[30] * 4,
        metres=[[0, 0], [2000, 0], [2010, 0], [2020, 0]],
    )  # fmt: skip
    walk = best_walk_on_site(trees, worth_of_looks(trees, weibull).settled, 0, minutes=16)
    assert walk.trees == (1, 2, 3)


def test_trees_without_a_place_cost_their_look_and_no_way():
    trees = Trees.of(site=[0] * 3, seen=[6] * 3, now=[30] * 3, milestone=[30] * 3)
    walk = best_walk_on_site(trees, worth_of_looks(trees, weibull).settled, 0, minutes=60)
    assert walk.minutes == pytest.approx(10 + 3 * 1.5)


def test_nothing_to_learn_is_no_walk():
    trees = Trees.of(site=[0, 1], seen=[30, 30], now=[30, 30], milestone=[22, 22])
    worth = worth_of_looks(trees, weibull)
    assert plan_walks(trees, worth.settled, minutes=60) == []
    assert best_walk_on_site(trees, worth.settled, 0, minutes=60) is None
    nobody = Trees.of(site=[], seen=[], now=[], milestone=[])
    assert plan_walks(nobody, worth_of_looks(nobody, weibull).settled, minutes=60) == []


@pytest.mark.parametrize("minutes", [-1, math.nan, math.inf])
def test_a_walk_has_minutes(minutes):
    trees = Trees.of(site=[0], seen=[6], now=[30], milestone=[30])
    with pytest.raises(BadWalk):
        plan_walks(trees, worth_of_looks(trees, weibull).settled, minutes=minutes)


@pytest.mark.parametrize(
    "wrong",
    [{"minutes_a_look": 0}, {"metres_a_minute": -1}, {"detour": 0.5}, {"minutes_to_a_site": -2},
     {"minutes_a_look": math.nan}, {"minutes_to_a_site": math.inf}],
)  # fmt: skip
def test_an_impossible_pace_is_refused(wrong):
    with pytest.raises(BadWalk):
        Pace(**wrong)


def test_ten_thousand_trees_are_planned_in_about_a_second():
    dice = np.random.default_rng(10)
    trees = town(dice, 250, 40)
    worth = worth_of_looks(trees, weibull)
    start = time.perf_counter()
    walks = plan_walks(trees, worth.settled, minutes=120)
    assert time.perf_counter() - start < 6  # two cores shared with other tests
    assert sum(len(walk.trees) for walk in walks) > 20


def test_places_in_metres_are_flat_within_a_town():
    # one minute of arc is a nautical mile, 1852 m on a sphere of its definition (1929 convention)
    places = metres_from_degrees([45.0, 45 + 1 / 60, 45.0], [10.0, 10.0, 10 + 1 / 60])
    assert places[1, 1] - places[0, 1] == pytest.approx(1852, rel=0.002)
    assert places[2, 0] - places[0, 0] == pytest.approx(1852 * math.cos(math.pi / 4), rel=0.002)
    over = metres_from_degrees([0.0, 0.0], [179.999, -179.999])
    assert abs(over[1, 0] - over[0, 0]) < 300
    assert np.isnan(metres_from_degrees([math.nan], [math.nan])).all()
