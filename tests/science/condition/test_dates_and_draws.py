"""Months of death: quantiles of what is believed, and drawings of it."""

import numpy as np
import pytest

from survey.science.condition.chain import Posterior, posterior
from survey.science.condition.dates import when_died
from survey.science.condition.draws import NEVER, draw_losses
from survey.science.condition.learnt import Learnt
from survey.science.condition.survival_draws import survival_by_belief
from tests.science.condition.small_towns import NEW_YEAR, any_learning, any_town, one_tree, town


def believed(*trees):
    """A posterior whose chances of being lost are given, month by month."""
    lost = np.concatenate(trees)
    shares = np.zeros((len(lost), 6))
    shares[:, 0], shares[:, 4] = 1 - lost, lost
    offsets = np.concatenate([[0], np.cumsum([len(tree) for tree in trees])])
    evidence = town([(NEW_YEAR, NEW_YEAR, NEW_YEAR + len(tree) - 1, 0, 0) for tree in trees])
    return evidence, Posterior(offsets, shares, shares, np.zeros(len(trees)))


def test_the_interval_holds_the_share_asked_for_of_the_chance_of_death():
    evidence, found = believed([0.0, 0.02, 0.4, 0.6, 0.79, 0.8], [0.0, 0.0, 0.0])
    died = when_died(found, evidence, level=0.9)
    assert died.p_lost.tolist() == [0.8, 0.0]
    # of .8: 5 % is .04, first reached in month 2; half is .4, in month 2; 95 % is .76, in month 4
    assert [died.low[0], died.median[0], died.high[0]] == [NEW_YEAR + 2, NEW_YEAR + 2, NEW_YEAR + 4]
    assert when_died(found, evidence, level=0.97).high[0] == NEW_YEAR + 4
    assert when_died(found, evidence, level=0.98).high[0] == NEW_YEAR + 5
    assert NEW_YEAR <= died.low[1] <= died.high[1] <= NEW_YEAR + 2


@pytest.mark.parametrize("level", [0.0, 1.0, -1.0, 90.0])
def test_a_level_that_is_none_is_refused(level):
    evidence, found = believed([0.0, 0.5])
    with pytest.raises(ValueError, match="level"):
        when_died(found, evidence, level=level)


def test_of_no_trees_no_dates():
    evidence = any_town(0).of_trees([])
    found = posterior(evidence, Learnt.usual(evidence))
    assert when_died(found, evidence).low.shape == (0,)
    assert draw_losses(evidence, found, draws=4, seed=1).shape == (4, 0)


def test_months_of_loss_are_drawn_as_often_as_they_are_believed():
    evidence = any_town(6, trees=5, longest=30)
    found = posterior(evidence, any_learning(evidence, 6))
    many = 4000
    losses = draw_losses(evidence, found, draws=many, seed=3)
    for tree in range(5):
        lost = found.lost[found.offsets[tree] : found.offsets[tree + 1]]
        months = evidence.trees.first[tree] + np.arange(len(lost))
        drawn = (losses[:, tree][:, None] <= months).mean(axis=0)
        # the drawings of one tree are spread evenly over its chances
        assert drawn == pytest.approx(lost, abs=1.01 / many)


def test_the_drawings_of_two_trees_have_nothing_to_do_with_each_other():
    evidence, found = believed(*[np.linspace(0.0, 1.0, 60)] * 2)
    losses = draw_losses(evidence, found, draws=4000, seed=3)
    assert abs(np.corrcoef(losses.T)[0, 1]) < 0.06  # four standard errors of 1/sqrt(4000)


def test_the_same_seed_draws_the_same_and_another_does_not():
    evidence, found = believed(*[np.linspace(0.0, 0.9, 30)] * 5)
    first, again, other = (
        draw_losses(evidence, found, draws=9, seed=seed) for seed in (1, 1, (1, 2))
    )
    assert (first == again).all()
    assert (first != other).any()
    assert (first[:, 0] == NEVER).sum() in (0, 1)  # one of ten chances, nine drawings


def test_survival_by_belief_is_a_curve_for_each_group_with_limits_around_it():
    evidence = any_town(9, trees=60, longest=60)
    found = posterior(evidence, any_learning(evidence, 9))
    losses = draw_losses(evidence, found, draws=40, seed=1)
    group = np.where(np.arange(60) < 50, np.arange(60) % 3, -1)
    ages = (6, 12, 24, 36)
    shares = survival_by_belief(evidence, losses, group, 4, ages, seed=2)
    assert shares.shape == (4, 4, 3)
    share, low, high = np.moveaxis(shares, -1, 0)
    assert ((low >= 0) & (low <= share) & (share <= high) & (high <= 1)).all()
    assert (np.diff(share, axis=1) <= 0).all()
    assert (high - low)[3, -1] > (high - low)[0, -1]  # nobody stands in the last group
    # a group is believed by itself: the others' numbers do not matter to it
    only = survival_by_belief(evidence, losses, np.where(group == 0, 0, -1), 1, ages, seed=2)
    assert only[0] == pytest.approx(shares[0], abs=1e-12)


def test_trees_seen_by_all_to_die_at_ten_months_survive_until_then():
    rows = [np.r_[np.zeros(10), np.ones(20)]] * 200 + [np.zeros(30)] * 200
    evidence, found = believed(*rows)
    losses = draw_losses(evidence, found, draws=10, seed=1)
    half = survival_by_belief(evidence, losses, np.zeros(400, int), 1, (9, 10, 24), seed=4)[0]
    assert half[0, 0] > 0.98
    assert half[1, 0] == pytest.approx(0.5, abs=0.03)
    assert half[2, 0] == pytest.approx(half[1, 0], abs=0.03)


def test_a_tree_lost_in_the_month_it_came_on_the_list_adds_nothing():
    rows = [np.ones(30)] * 50 + [np.zeros(30)] * 50
    evidence, found = believed(*rows)
    losses = draw_losses(evidence, found, draws=10, seed=1)
    share = survival_by_belief(evidence, losses, np.zeros(100, int), 1, (24,), seed=4)[0, 0, 0]
    assert share > 0.95


def test_a_lone_tree_can_be_asked_about():
    evidence = one_tree(months=1)
    found = posterior(evidence, Learnt.usual(evidence))
    losses = draw_losses(evidence, found, draws=3, seed=1)
    assert losses.shape == (3, 1)
    assert when_died(found, evidence).median.tolist() == [NEW_YEAR]
