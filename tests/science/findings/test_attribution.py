"""A place, a load, or neither told from the other."""

import numpy as np
import pytest

from survey.science.findings.attribution import crude, hold_up, weakest
from tests.science.findings.town import spread, town


def marked(chance, dice):
    return dice.random(len(chance)) < chance


def test_a_sign_of_the_place_persists_within_loads_and_its_loads_are_whole_elsewhere():
    site, planting, dice = spread(seed=1)
    seen = town(marked(np.where(site == 0, 0.9, 0.09), dice), site, planting)
    held = hold_up(seen, "site", 0, "planting")
    assert held.standing == "alone"
    assert held.within.strata == 6
    assert held.within.p < 1e-6
    assert held.within.table.here + held.within.table.there == seen.has.sum()
    assert held.rival.verdict == "no_contrast" or held.rival.odds.high < held.within.odds.ratio


def test_a_load_that_came_wounded_is_told_from_the_place_it_stands_at():
    # planting 0 stands mostly at site 0, so site 0 looks bad too
    site = np.array([0] * 40 + [1] * 20 + [0] * 16 + [1] * 60 + [2] * 60)
    planting = np.array([0] * 60 + [1] * 16 + [1] * 60 + [2] * 60)
    dice = np.random.default_rng(2)
    seen = town(marked(np.where(planting == 0, 0.85, 0.05), dice), site, planting)
    assert crude(seen, seen.site == 0).p < 1e-6
    assert hold_up(seen, "planting", 0, "site").standing == "alone"
    assert hold_up(seen, "site", 0, "planting").standing == "explained"


def test_one_load_at_one_place_can_be_told_by_nobody():
    site = np.repeat([0, 1, 2], 20)
    seen = town(np.repeat([True, False, False], 20), site, site)
    assert crude(seen, seen.site == 0).p < 1e-10
    held = hold_up(seen, "site", 0, "planting")
    assert held.standing == "cannot_tell"
    assert held.within.verdict == "no_contrast"
    assert hold_up(seen, "planting", 0, "site").standing == "cannot_tell"


def test_where_place_and_load_both_add_both_are_named():
    site, planting, dice = spread(seed=3, each=8)
    # loads 0 to 2 stand at site 0 too, and are bad everywhere; site 0 makes it worse
    keep = (site > 0) | (planting < 3)
    site, planting = site[keep], planting[keep]
    chance = np.where(planting < 3, 0.4, 0.05) + np.where(site == 0, 0.5, 0)
    held = hold_up(town(marked(chance, dice), site, planting), "site", 0, "planting")
    assert held.standing == "both"


def test_too_few_trees_on_one_side_never_persist():
    has = [True] * 4 + [False] * 46
    seen = town(has, [0] * 4 + [1] * 46, [0] * 50)
    assert crude(seen, seen.site == 0).verdict == "too_few"
    assert hold_up(seen, "site", 0, "planting").standing == "cannot_tell"


def test_finding_no_difference_among_few_trees_is_not_called_no_difference():
    site = np.array([0] * 30 + [1] * 6 + [2] * 60)
    planting = np.array([0] * 36 + [1] * 60)
    has = np.array([True] * 20 + [False] * 10 + [True] * 2 + [False] * 4 + [False] * 60)
    held = hold_up(town(has, site, planting), "site", 0, "planting")
    assert held.within.p > 0.05
    assert held.within.verdict == "too_few"
    assert held.standing == "cannot_tell"


def test_trees_are_compared_within_their_round():
    # site 0 was walked in August only, when every tree is thirsty; the others in both months
    site = np.array([0] * 20 + [1] * 40)
    rounds = np.array([8] * 20 + [8] * 20 + [5] * 20)
    has = np.array([True] * 20 + [True] * 20 + [False] * 20)
    seen = town(has, site, [0] * 60, rounds=rounds)
    assert crude(seen, seen.site == 0).p == 1.0
    assert crude(town(has, site, [0] * 60), site == 0).p < 1e-4


@pytest.mark.parametrize(
    ("standings", "left"),
    [
        (["alone", "alone"], "alone"),
        (["alone", "explained"], "explained"),
        (["both", "open"], "both"),
        (["cannot_tell", "alone"], "cannot_tell"),
    ],
)
def test_no_more_is_said_than_each_rival_leaves(standings, left):
    assert weakest(standings) == left


def test_turning_the_names_of_places_round_changes_nothing():
    site, planting, dice = spread(seed=5)
    has = marked(np.where(site == 0, 0.7, 0.1), dice)
    order = dice.permutation(len(has))
    one = hold_up(town(has, site, planting), "site", 0, "planting")
    other = hold_up(
        town(has[order], (7 - site)[order], (planting + 3)[order]), "site", 7, "planting"
    )
    assert one.within.p == pytest.approx(other.within.p, rel=1e-9)
    assert one.standing == other.standing
