"""Rounds that cover different trees are made comparable, and lost trees stay counted."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.condition.records import (
    DEAD,
    GONE,
    HOLDING,
    NOT_SAID,
    SLIPPING,
    THRIVING,
)
from survey.science.trend.kendall import BadSeries
from survey.science.trend.rounds import (
    LEAST_TAU,
    USUAL_TAU,
    WEIGHTS,
    round_estimates,
    usual_of,
)
from tests.science.trend.sites import Habit, cut, make_looks

RESIDENT, VOLUNTEER = 0, 1


def rounds_of(told, **kw):
    """Looks as (month, {tree: label})."""
    rows = [(tree, month, label) for month, seen in told for tree, label in seen.items()]
    tree, month, label = np.array(rows).T
    kind = kw.pop("kind", np.full(len(tree), VOLUNTEER))
    return round_estimates(tree, month, label, kind, **kw)


def all_as(label, trees=range(6)):
    return dict.fromkeys(trees, label)


def test_where_every_tree_is_met_a_round_is_the_mean_of_its_weights():
    found = rounds_of([(3, all_as(THRIVING)), (9, {**all_as(HOLDING), 0: DEAD})])
    assert found.months.tolist() == [3, 9]
    assert found.estimates == pytest.approx([94, 5 * 89 / 6])
    assert found.trees.tolist() == [6, 6]
    assert found.lost.tolist() == [0, 1]
    assert found.looks.tolist() == [6, 6]


def test_a_round_that_met_only_the_poor_trees_is_no_fall():
    good, poor = all_as(THRIVING, range(5)), all_as(SLIPPING, range(5, 10))
    found = rounds_of([(3, {**good, **poor}), (9, poor), (15, {**good, **poor})])
    plain = (5 * 94 + 5 * 74) / 10 - 74
    assert plain == 10
    assert found.estimates[0] - found.estimates[1] < 4  # a third stays: one look in three
    assert found.estimates[0] == pytest.approx(found.estimates[2], abs=0.5)
    assert found.errors[1] > found.errors[0]


def test_a_lost_tree_stays_counted_when_nobody_writes_down_the_empty_pit():
    left = all_as(HOLDING, range(1, 6))
    found = rounds_of([(3, all_as(HOLDING)), (9, {**left, 0: DEAD}), (15, left), (21, left)])
    assert found.lost.tolist() == [0, 1, 1, 1]
    assert found.estimates[1:] == pytest.approx([89 * 5 / 6] * 3)


def test_a_tree_found_alive_again_was_not_lost():
    found = rounds_of(
        [
            (3, {**all_as(HOLDING), 0: GONE}),
            (9, all_as(HOLDING)),
            (15, all_as(HOLDING, range(3, 6))),
        ],
        least=3,
    )
    assert found.lost.tolist() == [1, 0, 0]
    assert found.trees.tolist() == [6, 6, 3]


def test_a_loss_found_between_rounds_counts_and_a_grade_does_not():
    told = [(3, all_as(HOLDING)), (5, {0: DEAD, 1: SLIPPING}), (9, all_as(HOLDING, range(2, 6)))]
    found = rounds_of(told, walked=np.array([True] * 6 + [False] * 2 + [True] * 4), least=4)
    assert found.months.tolist() == [3, 9]
    assert found.lost.tolist() == [0, 1]
    assert found.trees.tolist() == [6, 5]


def test_neighbors_and_looks_without_a_word_make_no_round():
    told = [(3, all_as(DEAD)), (9, all_as(HOLDING)), (15, all_as(NOT_SAID)), (21, {0: 1, 1: 1})]
    found = rounds_of(told, kind=np.array([RESIDENT] * 6 + [VOLUNTEER] * 14))
    assert found.months.tolist() == [9]
    assert rounds_of(told[:1], kind=np.full(6, RESIDENT)).number == 0


def test_the_round_belongs_to_whoever_made_most_of_it():
    told = [(3, all_as(HOLDING))]
    assert rounds_of(told, observer=np.array([4, 4, 7, 7, 7, 7])).observers.tolist() == [7]
    assert rounds_of(told).observers.tolist() == [-1]


def test_two_looks_at_a_tree_in_one_round_count_as_their_mean():
    rows = [(tree, 3, HOLDING) for tree in range(4)] + [(0, 3, SLIPPING)]
    tree, month, label = np.array(rows).T
    found = round_estimates(tree, month, label, np.ones(5))
    assert found.estimates[0] == pytest.approx((3 * 89 + (89 + 74) / 2) / 4, abs=0.2)
    assert (found.trees[0], found.looks[0]) == (4, 5)


looks = st.lists(
    st.tuples(st.integers(0, 7), st.sampled_from([2, 8, 14, 20]), st.integers(0, 5)),
    min_size=1,
    max_size=50,
)


@given(looks, st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_neither_order_nor_names_nor_years_matter(told, dice):
    tree, month, label = np.array(told).T
    found = round_estimates(tree, month, label, np.ones(len(told)))
    order = np.array(dice.sample(range(len(told)), len(told)))
    names = np.array(dice.sample(range(90), 8))
    # a tree seen twice in a month is the mean of both, but which was last decides what stays lost
    again = round_estimates(names[tree][order], month[order] + 12, label[order], np.ones(len(told)))
    assert again.months.tolist() == (found.months + 12).tolist()
    assert again.estimates == pytest.approx(found.estimates)
    assert again.covariance == pytest.approx(found.covariance)
    assert (found.lost <= found.trees).all()
    assert np.isfinite(found.errors).all()
    if found.number:
        assert np.linalg.eigvalsh(found.covariance).min() > -1e-9


def test_the_errors_are_those_of_drawing_the_looks_again():
    habit = Habit(strict=0, day=0, bare=0, dying=0, every=12, years=4)
    changes, told = [], []
    for seed in range(120):
        found = cut(make_looks(habit, np.random.default_rng(seed)), 99)
        changes.append(found.estimates[-1] - found.estimates[0])
        spread = found.covariance
        told.append(spread[-1, -1] + spread[0, 0] - 2 * spread[0, -1])
    # trees wander a little too, so a change may be somewhat wider than its looks alone say
    assert 0.8 < np.std(changes) / np.sqrt(np.mean(told)) < 1.4


def test_the_spread_of_observers_is_found_from_the_towns_rounds():
    def usual(strict, day):
        dice = np.random.default_rng(4)
        habit = Habit(strict=strict, day=day, bare=0, every=4)
        return usual_of([cut(make_looks(habit, dice), 99) for _ in range(25)])

    calm, uneven = usual(0, 0), usual(0.6, 0.4)
    assert calm.tau < 3 < uneven.tau
    assert calm.pairs == uneven.pairs > 300
    # 0.2 % of trees a month, each worth some 85 points
    assert calm.dying == pytest.approx(0.002, abs=0.001)
    assert calm.drift == pytest.approx(-0.17, abs=0.06)


def test_a_town_without_rounds_has_what_is_usual():
    found = usual_of([])
    assert (found.tau, found.drift, found.pairs) == (USUAL_TAU, 0.0, 0)
    assert found.luck(25) == pytest.approx(0.003 * 85**2 / 25)
    assert usual_of([rounds_of([(3, all_as(HOLDING))])]).tau == USUAL_TAU
    still = [rounds_of([(m, all_as(HOLDING)) for m in range(3, 80, 6)])] * 30
    assert usual_of(still).tau == LEAST_TAU


def test_the_weights_fall_with_the_condition():
    assert list(WEIGHTS) == sorted(WEIGHTS, reverse=True)
    assert WEIGHTS[DEAD] == WEIGHTS[GONE] == 0


@pytest.mark.parametrize(
    "asked",
    [
        lambda: round_estimates([1], [2], [9], [1]),
        lambda: round_estimates([1], [2], [-3], [1]),
        lambda: round_estimates([1, 2], [2], [1], [1]),
        lambda: round_estimates([1], [2], [1], [1], least=0),
        lambda: round_estimates([1], [2], [1], [1], walked=[True, False]),
    ],
)
def test_what_is_no_look_is_refused(asked):
    with pytest.raises(BadSeries):
        asked()
