"""Survival from drawn losses: the throws, the counting by age, and the curves.

Numbers were worked out by hand, but for the mean and the limits of a Beta, which have closed forms
(Johnson, Kotz and Balakrishnan 1995, Continuous Univariate Distributions 2, chapter 25).
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import betaincinv

from survey.science.survival import drawn
from survey.science.survival.drawn import (
    KEPT,
    NEVER,
    TOWN_TREES,
    Hazard,
    Watched,
    curves,
    dice,
    hazard_of,
    months_lost,
    tally,
)


def whole(*values):
    return np.array(values, dtype=np.int64)


def watched(entry, until, other=None):
    other = [NEVER] * len(entry) if other is None else other
    return Watched(whole(*entry), whole(*until), whole(*other))


KEYS = np.array([7, 2**63 + 11, 2**64 - 1, 0], dtype=np.uint64)


def test_a_tree_throws_the_same_wherever_it_stands_in_the_list():
    turned = [2, 0, 3, 1]
    assert (dice(KEYS, 60, 5)[:, turned] == dice(KEYS[turned], 60, 5)).all()
    assert (dice(KEYS, 60, 5) != dice(KEYS, 60, 6)).any()


def test_the_throws_of_one_tree_are_spread_one_in_each_sixtieth():
    thrown = dice(KEYS, 60, 5)
    assert (np.sort((thrown * 60).astype(int), axis=0) == np.arange(60)[:, None]).all()


def test_throws_of_different_trees_and_drawings_know_nothing_of_each_other():
    thrown = dice(np.arange(20_000, dtype=np.uint64), 10, 1)
    # one in each tenth makes any two correlate by -1/9; the standard error of 20,000 pairs is 0.007
    apart = np.corrcoef(thrown)[~np.eye(10, dtype=bool)]
    assert np.abs(apart + 1 / 9).max() < 0.03
    assert np.abs(np.corrcoef(thrown[0, :-1], thrown[0, 1:])[0, 1]) < 0.03
    assert thrown[0].mean() == pytest.approx(0.5, abs=0.01)


def test_a_throw_falls_into_the_first_month_whose_chance_reaches_it():
    chance = np.array([0.0, 0.25, 0.25, 0.5, 0.1, 0.1])  # two trees: four months, two months
    offsets, first = whole(0, 4, 6), whole(100, 200)
    thrown = np.array([[0.1, 0.05], [0.25, 0.1], [0.26, 0.11], [0.5, 0.9], [0.51, 1e-9]])
    assert months_lost(chance, offsets, first, thrown).tolist() == [
        [101, 200], [101, 200], [103, NEVER], [103, NEVER], [NEVER, 200],
    ]  # fmt: skip


def test_drawn_months_are_as_frequent_as_they_are_likely():
    chance = np.tile([0.02, 0.3, 0.35, 0.8], 3000)
    offsets = np.arange(0, 12_001, 4)
    months = months_lost(
        chance, offsets, np.zeros(3000, dtype=np.int64),
        dice(np.arange(3000, dtype=np.uint64), 10, 3),
    )  # fmt: skip
    shares = [(months <= month).mean() for month in range(4)]
    assert shares == pytest.approx([0.02, 0.3, 0.35, 0.8], abs=0.01)


def test_trees_are_counted_by_age_with_delayed_entry():
    # watched from planting and lost at 3; from 2 on and lost at 3; from 4 on and standing to 6;
    # said to be lost at 1, before its entry at 2: nobody would have come to watch it
    trees = watched([0, 2, 4, 2], [6, 6, 6, 6])
    counted = tally(trees, whole(3, 3, NEVER, 1)[None, :], 8)
    assert counted.at_risk.tolist() == [[0, 1, 1, 2, 0, 1, 1, 0]]
    assert counted.died.tolist() == [[0, 0, 0, 2, 0, 0, 0, 0]]
    assert not counted.taken.any()


def test_trees_counted_in_parts_are_counted_as_all_at_once(monkeypatch):
    trees = watched([0, 2, 4, 2, 1], [6, 6, 6, 6, 5], other=[NEVER, 3, NEVER, NEVER, NEVER])
    lost = np.array([[3, 3, NEVER, 1, 5], [NEVER, 4, 5, 3, 6]])
    at_once = tally(trees, lost, 8)
    monkeypatch.setattr(drawn, "_AT_ONCE", 2)
    in_parts = tally(trees, lost, 8)
    for name in ("at_risk", "died", "taken"):
        assert (getattr(at_once, name) == getattr(in_parts, name)).all()


def test_no_tree_at_all_can_be_counted():
    counted = tally(watched([], []), np.zeros((4, 0), dtype=np.int64), 3)
    assert counted.at_risk.shape == (4, 3)
    assert not counted.at_risk.any()


def test_a_tree_lost_in_its_month_of_entry_or_after_the_last_look_adds_nothing():
    trees = watched([2, 0, 3], [6, 3, 3])
    counted = tally(trees, whole(2, 5, 9)[None, :], 8)
    assert counted.at_risk.tolist() == [[0, 1, 1, 1, 0, 0, 0, 0]]
    assert not counted.lost.any()


def test_ages_beyond_the_table_are_watched_to_its_end_only():
    counted = tally(watched([0, 300], [400, 400]), whole(350, NEVER)[None, :], 5)
    assert counted.at_risk.tolist() == [[0, 1, 1, 1, 1]]
    assert not counted.lost.any()


def test_a_removal_for_another_reason_is_told_apart_from_its_age_on():
    trees = watched([0, 0], [9, 9], other=[5, 5])
    counted = tally(trees, whole(4, 5)[None, :], 10)
    assert np.flatnonzero(counted.died[0]).tolist() == [4]
    assert np.flatnonzero(counted.taken[0]).tolist() == [5]


def test_the_towns_hazard_is_smoothed_over_seven_months_and_never_none():
    lost = np.full((1, 100), NEVER)
    lost[0, :10] = 20
    town = tally(watched([0] * 100, [40] * 100), lost, 42)
    found = hazard_of(town)
    usual = (10 + 0.5) / (town.at_risk.sum() + 1)
    assert found.died[20] == pytest.approx((10 + usual) / (4 * 100 + 3 * 90 + 1))
    assert found.died[16] == pytest.approx(usual / 701)
    assert (found.died > 0).all()
    assert not found.taken.any()


def flat(ages, died=0.01, taken=0.0):
    return Hazard(np.full(ages, died), np.full(ages, taken))


def test_one_month_is_a_draw_from_the_beta_of_the_worked_model():
    """20 trees, 4 lost at the age of 1, a town hazard of 0.1: Beta(4 + 0.5, 16 + 4.5)."""
    lost = np.full((2000, 20), NEVER)
    lost[:, :4] = 1
    counted = tally(watched([0] * 20, [1] * 20), lost, 2)
    found = curves(counted, flat(2, 0.1), repeats=5, seed=(1,)).at("loss", 1)
    a, b = 4 + TOWN_TREES * 0.1, 16 + TOWN_TREES * 0.9
    assert found.mean == pytest.approx(1 - a / (a + b), abs=0.005)
    assert found.low == pytest.approx(1 - betaincinv(a, b, 0.975), abs=0.01)
    assert found.high == pytest.approx(1 - betaincinv(a, b, 0.025), abs=0.01)


def test_the_counts_of_a_drawing_are_drawn_towards_the_mean_drawing():
    """Of 20 trees none is lost in one drawing and 10 in the other: 5 on the mean. With half of the
    distance kept they count 2.5 and 7.5, with a town hazard of 0.1 for five trees."""
    lost = np.full((2, 20), NEVER)
    lost[1, :10] = 1
    counted = tally(watched([0] * 20, [1] * 20), lost, 2)
    found = curves(counted, flat(2, 0.1), repeats=20_000, seed=(1,))
    of_each = found.loss[:, 1].reshape(-1, 2).mean(axis=0)
    assert KEPT == 0.5
    assert of_each == pytest.approx([1 - 3.0 / 25, 1 - 8.0 / 25], abs=0.003)


def test_the_curve_starts_at_all_at_the_age_that_is_given():
    lost = np.full((60, 30), NEVER)
    lost[:, :10] = 3
    counted = tally(watched([0] * 30, [12] * 30), lost, 13)
    whole_curve = curves(counted, flat(13), repeats=2, seed=(1,))
    later = curves(counted, flat(13), given=3, repeats=2, seed=(1,))
    assert whole_curve.at("loss", 0).mean == later.at("loss", 3).mean == 1.0
    assert whole_curve.at("loss", 3).mean < 0.75
    assert later.at("loss", 12).mean > 0.85


def test_trees_asked_about_at_their_own_ages_are_told_by_their_mean():
    lost = np.full((60, 30), NEVER)
    lost[:, :10] = 3
    found = curves(tally(watched([0] * 30, [9] * 30), lost, 10), flat(10), repeats=2, seed=(1,))
    both = found.over("loss", whole(2, 9))
    assert both.mean == pytest.approx((found.at("loss", 2).mean + found.at("loss", 9).mean) / 2)


def test_without_other_removals_both_curves_are_one_and_with_them_death_lies_higher():
    lost = np.full((60, 40), NEVER)
    lost[:, :8] = 5
    plain = curves(tally(watched([0] * 40, [9] * 40), lost, 10), flat(10), repeats=2, seed=(1,))
    assert (plain.loss == plain.death).all()
    apart = curves(
        tally(watched([0] * 40, [9] * 40, other=[5] * 4 + [NEVER] * 36), lost, 10),
        flat(10, 0.01, 0.01), repeats=5, seed=(1,),
    )  # fmt: skip
    # half of the losses were removals: of ten in 40 lost, five died
    fell_in_all = 1 - apart.at("loss", 9).mean
    died = 1 - apart.at("death", 9).mean
    assert died == pytest.approx(fell_in_all / 2, rel=0.1)
    assert (apart.death >= apart.loss - 1e-12).all()


def test_removals_and_deaths_add_up_to_what_was_lost_in_every_drawing():
    """Competing ends: with 1-KM for each they would add up to more than was lost."""
    lost = np.full((60, 40), NEVER)
    lost[:, :8], lost[:, 8:20] = 2, 6
    there = watched([0] * 40, [9] * 40, other=[2] * 8 + [NEVER] * 32)
    swapped = watched([0] * 40, [9] * 40, other=[NEVER] * 8 + [6] * 12 + [NEVER] * 20)
    town = flat(10, 0.02, 0.02)
    death = curves(tally(there, lost, 10), town, repeats=40, seed=(1,)).at("death", 9).mean
    other = curves(tally(swapped, lost, 10), town, repeats=40, seed=(1,)).at("death", 9).mean
    loss = curves(tally(there, lost, 10), town, repeats=40, seed=(1,)).at("loss", 9).mean
    assert (1 - death) + (1 - other) == pytest.approx(1 - loss, abs=0.01)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 30), st.integers(0, 30), st.integers(0, 40), st.integers(0, 40)),
        min_size=1,
        max_size=12,
    ),
    st.integers(0, 5),
)
def test_every_curve_falls_from_one_and_stays_between_none_and_all(trees, start):
    entry, until, lost, other = (
        np.array(column, dtype=np.int64) for column in zip(*trees, strict=True)
    )
    there = Watched(entry, np.maximum(entry, until), np.where(other > 30, NEVER, other))
    ages = np.where(lost > 30, NEVER, lost)[None, :].repeat(4, axis=0)
    counted = tally(there, ages, 32)
    assert (counted.at_risk >= counted.lost).all()
    assert (counted.died >= 0).all()
    found = curves(counted, hazard_of(counted), given=start, repeats=2, seed=(1,))
    for rows in (found.loss, found.death):
        assert np.isfinite(rows).all()
        assert (rows[:, 0] == 1).all()
        assert ((rows >= -1e-12) & (rows <= 1)).all()
        assert (np.diff(rows, axis=1) <= 1e-12).all()
    for steps in found.steps.values():
        assert all(share.low <= share.mean <= share.high for share in steps)
    again = curves(counted, hazard_of(counted), given=start, repeats=2, seed=(1,))
    assert (again.loss == found.loss).all()
    turned = tally(there.of(np.arange(len(trees))[::-1]), ages[:, ::-1], 32)
    assert (turned.at_risk == counted.at_risk).all()
    assert (turned.died == counted.died).all()
