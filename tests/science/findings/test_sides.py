"""The side of the trunk."""

import math

import numpy as np
import pytest
from scipy.stats import binomtest, fisher_exact

from survey.science.findings.sides import BadBearing, by_the_street, by_the_sun, gathered


@pytest.mark.parametrize(("street", "away"), [(13, 0), (9, 4), (2, 11), (6, 6), (30, 12)])
def test_the_street_side_by_the_exact_sign_test(street, away):
    told = by_the_street(street, away)
    theirs = binomtest(street, street + away, 0.5)
    assert told.p == pytest.approx(theirs.pvalue, rel=1e-9)
    limits = theirs.proportion_ci(0.95, "exact")
    assert (told.share.low, told.share.high) == pytest.approx((limits.low, limits.high))


def test_thirteen_gaps_to_the_street_and_none_away_keep_to_the_street():
    assert by_the_street(13, 0).verdict == "street"
    assert by_the_street(0, 13).verdict == "away"
    assert by_the_street(7, 6).verdict == "not_shown"
    assert by_the_street(4, 0).verdict == "too_few"


def test_the_sun_is_told_from_the_street_by_streets_that_face_it_and_streets_that_do_not():
    bearing = np.array([180.0] * 12 + [0.0] * 12)
    sunny = np.array([True] * 11 + [False] + [False] * 10 + [True] * 2)
    told = by_the_sun(sunny, bearing, 180)
    assert told.verdict == "sunny"
    assert told.p == pytest.approx(fisher_exact([[11, 1], [2, 10]], "greater").pvalue)
    street = np.ones(24, dtype=bool)  # all on the street side, wherever the street lies
    assert by_the_sun(street, bearing, 180).verdict == "not_shown"


def test_streets_that_all_face_the_sun_tell_nothing_about_it():
    told = by_the_sun(np.ones(20, dtype=bool), np.full(20, 180.0), 180)
    assert told.verdict == "no_contrast"
    assert told.p == 1.0
    few = np.array([180.0] * 20 + [0.0] * 4)
    assert by_the_sun(np.ones(24, dtype=bool), few, 180).verdict == "too_few"


def test_hemispheres_mirror():
    bearing = np.array([170.0] * 9 + [350.0] * 9)
    side = np.array([True] * 8 + [False] * 9 + [True])
    north = by_the_sun(side, bearing, 180)
    south = by_the_sun(side, (bearing + 180) % 360, 0)
    assert north == south


def test_measured_bearings_against_the_formula_for_rayleighs_test():
    # p = exp(sqrt(1 + 4n + 4(n^2 - R^2)) - (1 + 2n)): Zar 1999, Biostatistical Analysis, eq. 27.4,
    # from memory
    dice = np.random.default_rng(4)
    for spread in (40, 70, 90):
        bearings = dice.normal(200, spread, 14) % 360
        told = gathered(bearings, seed=7)
        n = told.number
        r = told.length * n
        formula = math.exp(math.sqrt(1 + 4 * n + 4 * (n * n - r * r)) - (1 + 2 * n))
        assert told.p == pytest.approx(formula, abs=0.012)


def test_the_same_seed_gives_the_same_chance_and_never_none():
    close = np.full(20, 90.0)
    told = gathered(close, seed=1, shuffles=999)
    assert told == gathered(close, seed=1, shuffles=999)
    assert told.p == 1 / 1000
    assert told.mean == pytest.approx(90)
    assert told.verdict == "gathers"


def test_turning_the_compass_turns_the_mean_and_keeps_the_chance():
    bearings = np.array([10.0, 50, 80, 20, 355, 31, 62])
    one, other = gathered(bearings, seed=2), gathered((bearings + 130) % 360, seed=2)
    assert other.p == one.p
    assert other.mean == pytest.approx((one.mean + 130) % 360)


def test_few_bearings_and_impossible_ones():
    assert gathered(np.array([1.0, 2, 3, 4]), seed=1).verdict == "too_few"
    with pytest.raises(BadBearing):
        gathered(np.array([10.0, 400.0]), seed=1)
    with pytest.raises(BadBearing):
        by_the_sun(np.ones(1, dtype=bool), np.array([-3.0]), 180)
