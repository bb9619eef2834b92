"""Sites one after another on foot, against every walk there is on small towns."""

import itertools
import math
import time
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.survival.next_looks import BadWalk
from survey.science.survival.walk_plan import (
    Pace,
    best_walk_on_site,
    minutes_for,
    plan_walks,
    ways_by_site,
)
from survey.science.survival.walk_route import plan_route

NOWHERE = (math.nan, math.nan)


@dataclass(frozen=True)
class Spots:
    site: np.ndarray
    metres: np.ndarray


def spots(sites, metres):
    return Spots(np.array(sites), np.array(metres, dtype=float).reshape(-1, 2))


def town(dice, sites, a_site, apart=900.0):
    """Sites here and there, each a street of trees from west to east."""
    site = np.repeat(np.arange(sites), a_site)
    corner = dice.uniform(0, apart, (sites, 2))[site]
    along = np.concatenate([np.sort(dice.uniform(0, 250, a_site)) for _ in range(sites)])
    return Spots(site, corner + np.column_stack([along, np.zeros_like(along)]))


def metres(trees, one, other):
    return float(np.hypot(*(trees.metres[one] - trees.metres[other])))


def minutes_of(trees, visits, pace, spot):
    """What a walk takes, as it is walked: the way there, every look, every step."""
    rows = [row for visit in visits for row in visit]
    walked = sum(metres(trees, a, b) for a, b in itertools.pairwise(rows))
    looks = sum(spot[row] for row in rows)
    return pace.minutes_to_a_site + looks + walked * pace.detour / pace.metres_a_minute


def best_of_all(trees, gains, minutes, pace, spot):
    """The most that any choice of trees, order of sites and direction gains within the minutes."""
    many, most = len(trees.site), 0.0
    for size in range(1, many + 1):
        for rows in itertools.combinations(range(many), size):
            gain = float(gains[list(rows)].sum())
            if gain <= most:
                continue
            parts = [list(part) for _site, part in itertools.groupby(rows, trees.site.item)]
            for order in itertools.permutations(parts):
                turned = itertools.product(*((part, part[::-1]) for part in order))
                if any(minutes_of(trees, v, pace, spot) <= minutes for v in turned):
                    most = gain
                    break
    return most


def test_a_route_gains_nearly_what_the_best_of_all_walks_gains():
    dice = np.random.default_rng(3)
    shares = []
    for _ in range(16):
        trees = town(dice, 3, 3)
        gains, spot = dice.uniform(0.01, 0.3, 9), dice.choice([1.5, 2.5], 9)
        pace, minutes = Pace(minutes_to_a_site=5.0), float(dice.uniform(12, 40))
        found = plan_route(trees, gains, minutes=minutes, pace=pace, spot=spot)
        gained = sum(walk.gain for walk in found)
        shares.append(gained / best_of_all(trees, gains, minutes, pace, spot))
    assert max(shares) <= 1 + 1e-9
    assert min(shares) >= 0.85
    assert np.mean(shares) >= 0.96


@given(st.integers(0, 10_000), st.floats(0, 240), st.booleans())
@settings(max_examples=40, deadline=None)
def test_the_minutes_are_those_of_the_walk_and_are_kept(seed, minutes, some_nowhere):
    dice = np.random.default_rng(seed)
    trees = town(dice, 5, 6, apart=3000)
    if some_nowhere:
        trees.metres[dice.random(30) < 0.3] = NOWHERE
        trees.metres[trees.site == 2] = NOWHERE
    gains, spot = dice.uniform(-0.1, 0.3, 30), dice.choice([1.5, 2.5], 30)
    walks = plan_route(trees, gains, minutes=minutes, spot=spot)
    assert sum(walk.minutes for walk in walks) <= minutes + 1e-6
    assert len({walk.site for walk in walks}) == len(walks)
    rows = [row for walk in walks for row in walk.trees]
    assert len(set(rows)) == len(rows)
    assert (gains[rows] > 0).all()
    for walk in walks:
        assert {int(trees.site[row]) for row in walk.trees} == {walk.site}
        assert walk.gain == pytest.approx(gains[list(walk.trees)].sum())
        forth = list(walk.trees) == sorted(walk.trees)
        assert forth or list(walk.trees) == sorted(walk.trees, reverse=True)
    if walks and not some_nowhere:
        told = minutes_of(trees, [walk.trees for walk in walks], Pace(), spot)
        assert sum(walk.minutes for walk in walks) == pytest.approx(told)


def test_it_goes_on_to_the_site_near_by_and_not_to_the_far_one_that_tells_as_much():
    trees = spots([0, 0, 1, 1, 2, 2], [[0, 0], [30, 0], [4000, 0], [4030, 0], [60, 0], [90, 0]])
    walks = plan_route(trees, np.full(6, 0.1), minutes=22)
    assert {walk.site for walk in walks} == {0, 2}
    # the second is walked to from the first: 30 m, and no ten minutes again
    looks = 2 * 1.5 + 30 * 1.3 / 75
    assert [walk.minutes for walk in walks] == pytest.approx([10 + looks, 30 * 1.3 / 75 + looks])


def test_a_site_is_walked_from_the_end_where_one_comes_from():
    trees = spots([0, 0, 1, 1], [[0, 0], [100, 0], [500, 0], [110, 0]])
    walks = plan_route(trees, np.full(4, 0.1), minutes=120)
    assert [row for walk in walks for row in walk.trees] in ([0, 1, 3, 2], [2, 3, 1, 0])


def test_the_way_to_a_site_that_is_nowhere_takes_the_minutes_of_any_site():
    trees = spots([0, 1], [[0, 0], NOWHERE])
    walks = plan_route(trees, np.full(2, 0.1), minutes=60)
    assert [walk.minutes for walk in walks] == [11.5, 11.5]


def test_one_site_alone_is_the_walk_where_that_tells_most():
    dice = np.random.default_rng(5)
    trees, gains = town(dice, 1, 20), dice.uniform(0, 0.3, 20)
    [walk] = plan_route(trees, gains, minutes=30)
    alone = best_walk_on_site(trees, gains, 0, minutes=30)
    assert walk.gain == pytest.approx(alone.gain, rel=0.1)


def test_a_look_that_takes_longer_is_left_for_two_that_tell_as_much():
    trees = spots([0] * 3, [[0, 0]] * 3)
    gains, spot = np.array([0.2, 0.19, 0.18]), [6.0, 1.0, 1.0]
    [walk] = plan_route(trees, gains, minutes=16.5, spot=spot)
    assert walk.trees == (1, 2)
    [planned] = plan_walks(trees, gains, minutes=16.5, spot=spot)
    assert planned.trees == (1, 2)
    assert planned.minutes == pytest.approx(12)
    costs = [way.minutes for plan in ways_by_site(trees, gains, 30.0, spot=spot) for way in plan]
    assert costs == sorted(costs)


def test_the_minutes_of_each_look_are_the_pace_where_nothing_else_is_said():
    dice = np.random.default_rng(6)
    trees, gains = town(dice, 2, 8), dice.uniform(0, 0.3, 16)
    told = plan_walks(trees, gains, minutes=40)
    assert told == plan_walks(trees, gains, minutes=40, spot=np.full(16, 1.5))
    for walk in told:
        assert walk.minutes == pytest.approx(minutes_for(trees, walk.trees, Pace()))


@pytest.mark.parametrize("minutes", [-1, math.nan, math.inf])
def test_a_route_has_minutes(minutes):
    with pytest.raises(BadWalk):
        plan_route(spots([0], [[0, 0]]), np.ones(1), minutes=minutes)


@pytest.mark.parametrize("spot", [[0.0], [-1.0], [math.nan], [math.inf], [1.0, 1.0], 1.0])
def test_a_look_takes_a_known_time(spot):
    with pytest.raises(BadWalk):
        plan_route(spots([0], [[0, 0]]), np.ones(1), minutes=30, spot=spot)


@pytest.mark.parametrize("gain", [0.0, -1.0])
def test_where_nothing_can_be_told_nobody_walks(gain):
    assert plan_route(spots([0], [[0, 0]]), np.array([gain]), minutes=60) == []
    assert plan_route(spots([], []), np.zeros(0), minutes=60) == []


def test_three_thousand_trees_are_routed_in_about_a_second():
    dice = np.random.default_rng(8)
    trees, gains = town(dice, 60, 50, apart=5000), dice.uniform(0.01, 0.3, 3000)
    begun = time.perf_counter()
    assert len(plan_route(trees, gains, minutes=120)) >= 1
    assert time.perf_counter() - begun < 8  # two cores shared with other tests
