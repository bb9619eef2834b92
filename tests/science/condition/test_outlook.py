"""Outlooks of places, month by month."""

import numpy as np
import pytest

from survey.science.condition.chain import blocks, posterior
from survey.science.condition.learnt import Learnt
from survey.science.condition.outlook import (
    SHARED_LEAST,
    SHARED_OF,
    WEIGHTS,
    OutlookSums,
    outlook,
)
from survey.science.condition.records import DEAD, GONE, STATES, THRIVING
from tests.science.condition.small_towns import NEW_YEAR, any_learning, any_town, say, town


def test_an_outlook_is_the_mean_of_what_is_believed_of_a_places_trees():
    evidence = any_town(4, trees=30)
    found = posterior(evidence, any_learning(evidence, 4))
    seen = outlook(evidence, found, evidence.trees.site, evidence.sites, tau=2.0)
    trees, month = evidence.trees, seen.first + 30
    for site in range(evidence.sites):
        there = np.flatnonzero(
            (trees.site == site) & (trees.first <= month) & (trees.last >= month)
        )
        rows = found.smoothed[found.offsets[there] + month - trees.first[there]]
        value = rows @ np.array(WEIGHTS)
        spread = (rows @ np.array(WEIGHTS) ** 2 - value**2).sum() / len(there) ** 2
        half = 1.959963984540054 * np.sqrt(spread + 4.0)
        assert len(there) > 3
        assert seen.trees[site, 30] == len(there)
        assert seen.outlook[site, 30] == pytest.approx(value.mean())
        assert seen.low[site, 30] == pytest.approx(max(0.0, value.mean() - half))
        assert seen.high[site, 30] == pytest.approx(min(100.0, value.mean() + half))
        assert seen.standing[site, 30] == pytest.approx(rows[:, :DEAD].sum())
        assert seen.shares[site, 30] == pytest.approx(rows.mean(axis=0))
        looks = evidence.looks
        recent = (looks.month > month - 12) & (looks.month <= month)
        assert seen.looks[site, 30] == (recent & (trees.site[looks.tree] == site)).sum()


def test_before_anybody_is_registered_there_is_no_outlook():
    evidence = town(
        [(NEW_YEAR, NEW_YEAR, NEW_YEAR + 9, 0, 0), (NEW_YEAR, NEW_YEAR + 5, NEW_YEAR + 9, 1, 0)]
    )
    seen = outlook(evidence, posterior(evidence, Learnt.usual(evidence)), evidence.trees.site, 2)
    assert np.isnan(seen.outlook[1]).tolist() == [True] * 5 + [False] * 5
    assert seen.trees[1].tolist() == [0] * 5 + [1] * 5
    assert seen.standing[1, 4] == 0


def test_trees_of_no_place_are_left_out():
    evidence = any_town(4, trees=30)
    found = posterior(evidence, Learnt.usual(evidence))
    place = np.where(np.arange(30) < 10, 0, -1)
    seen = outlook(evidence, found, place, 1)
    first = evidence.of_trees(range(10))
    alone = outlook(first, posterior(first, Learnt.usual(evidence)), np.zeros(10, int), 1)
    assert seen.trees.sum() == alone.trees.sum()
    at = alone.first - seen.first
    months = slice(at, at + alone.outlook.shape[1])
    assert seen.outlook[0, months] == pytest.approx(alone.outlook[0], nan_ok=True)
    assert (seen.looks[0, months] == alone.looks[0]).all()


def test_a_town_in_parts_has_the_outlook_of_the_whole():
    evidence = any_town(8, trees=40)
    learnt = any_learning(evidence, 8)
    whole = outlook(evidence, posterior(evidence, learnt), evidence.trees.site, evidence.sites)
    sums = OutlookSums(evidence, evidence.sites)
    for which, part in blocks(evidence, 9):
        sums.add(part, posterior(part, learnt), evidence.trees.site[which])
    parts = sums.outlook()
    assert parts.outlook == pytest.approx(whole.outlook, nan_ok=True)
    assert parts.low == pytest.approx(whole.low, nan_ok=True)


def test_few_looks_make_a_wider_band():
    trees = [(NEW_YEAR, NEW_YEAR, NEW_YEAR + 23, site, 0) for site in (0, 1) for _ in range(20)]
    looks = [(tree, NEW_YEAR + month, *say(0, by=2)) for tree in range(20) for month in (5, 15)]
    evidence = town(trees, looks)
    found = posterior(evidence, Learnt.usual(evidence))
    seen = outlook(evidence, found, evidence.trees.site, 2)
    known = outlook(evidence, found, evidence.trees.site, 2, tau=0.0)
    shared = (seen.high - seen.low) ** 2 - (known.high - known.low) ** 2
    assert shared[1, 20] > shared[0, 20] > 0


def test_what_all_trees_of_a_place_may_be_off_together_grows_with_what_is_not_known():
    evidence = any_town(4, trees=30)
    found = posterior(evidence, any_learning(evidence, 4))
    seen = outlook(evidence, found, evidence.trees.site, evidence.sites)
    known = outlook(evidence, found, evidence.trees.site, evidence.sites, tau=0.0)
    inside = (seen.low > 0) & (seen.high < 100) & (known.high < 100) & (known.low > 0)
    assert inside.sum() > 20
    own = ((known.high - known.low)[inside] / 2 / 1.959963984540054) ** 2
    every = ((seen.high - seen.low)[inside] / 2 / 1.959963984540054) ** 2
    variance = own * seen.trees[inside]  # of one tree's weight, on the mean
    assert every - own == pytest.approx((variance / SHARED_OF) ** 2 + SHARED_LEAST**2)


def test_dead_trees_pull_a_place_to_nothing():
    trees = [(NEW_YEAR, NEW_YEAR, NEW_YEAR + 5, site, 0) for site in (0, 1) for _ in range(3)]
    looks = [
        (tree, NEW_YEAR + 5, *say(label, by=2, sure=1))
        for tree in range(6)
        for label in [(THRIVING, THRIVING, THRIVING, DEAD, DEAD, GONE)[tree]]
    ]
    evidence = town(trees, looks)
    found = posterior(evidence, Learnt.usual(evidence))
    seen = outlook(evidence, found, evidence.trees.site, 2)
    assert seen.outlook[0, -1] > 93
    assert seen.outlook[1, -1] < 1
    assert seen.standing[:, -1] == pytest.approx([3, 0], abs=0.05)
    assert seen.shares.shape == (2, 6, len(STATES))
