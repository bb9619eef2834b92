"""Score tests of groups, against the figures printed for published data and against enumeration."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.duration.survfunc import survdiff

from survey.science.records import Spell, Spells
from survey.science.survival.proportional import GroupsDiffer, Pooled, score_test
from survey.science.survival.score_tests import (
    NotExact,
    Scores,
    log_rank,
    permutation_test,
    permuted_within,
    tree_scores,
)
from survey.science.survival.turnbull import NoTrees, turnbull
from tests.science.published import cosmesis, leukaemia, thirty
from tests.science.test_turnbull_by_force import samples

INF = math.inf
ARMS = [cosmesis("Rad"), cosmesis("RadChem")]
DRUG, PLACEBO = leukaemia("6-MP"), leukaemia("placebo")


@pytest.mark.parametrize(
    ("kind", "score", "variance", "z", "p"),
    [
        (Scores.SUN, 9.141846, 11.737352, 2.6684, 0.007622),
        (Scores.FINKELSTEIN, 9.944182, 13.727984, 2.6839, 0.007277),
        (Scores.WILCOXON, 5.656724, 6.813210, 2.1672, 0.03022),
    ],
)
def test_the_breast_cosmesis_tests_come_out_as_published(kind, score, variance, z, p):
    # Fay & Shaw 2010, J. Stat. Softw. 36(2), sections 4.2-4.5, on Finkelstein & Wolfe 1985
    test = permutation_test(ARMS, kind)
    assert test.score[1] == pytest.approx(score, abs=5e-7)
    assert test.score[0] == pytest.approx(-score, abs=5e-7)
    assert test.variance == pytest.approx(variance, abs=5e-7)
    assert test.z == pytest.approx(z, abs=5e-5)
    assert test.p == pytest.approx(p, abs=5e-6)
    assert test.chi_square == pytest.approx(test.z**2)
    assert test.freedom == 1


def test_the_score_test_with_observed_information_comes_out_as_published():
    # Fay & Shaw 2010, J. Stat. Softw. 36(2), section 4.4: chi-square 7.8749, p 0.005012
    test = score_test([ARMS])
    assert test.chi_square == pytest.approx(7.8749, abs=5e-5)
    assert test.p == pytest.approx(0.005012, abs=5e-7)
    assert test.freedom == 1


@pytest.mark.parametrize(
    ("kind", "p"), [(Scores.SUN, 0.00729), (Scores.FINKELSTEIN, 0.00693), (Scores.WILCOXON, 0.0296)]
)
def test_shuffled_labels_give_the_monte_carlo_p_of_the_cosmesis_trial(kind, p):
    # 400,000 draws of the R package interval 1.1-1.0 on the data of Finkelstein & Wolfe 1985
    groups = [Spells.of(arm) for arm in ARMS]
    one_stratum = [[0] * len(group.count) for group in groups]
    test = permuted_within(groups, one_stratum, seed=3, draws=4000, kind=kind)
    assert test.p == pytest.approx(p, abs=4 * math.sqrt(p / 4000))


def test_the_log_rank_of_the_leukaemia_trial_comes_out_as_published():
    # Freireich et al. 1963, Blood 21:699: chi-square 16.79, p 4.17e-05, expected 19.25 and 10.75;
    # further digits by R survival 3.5-3, equal in lifelines
    test = log_rank([DRUG, PLACEBO])
    assert test.chi_square == pytest.approx(16.79294099, abs=5e-9)
    assert test.p == pytest.approx(4.169e-05, abs=5e-9)
    assert 9 - test.score[0] == pytest.approx(19.25050095, abs=5e-9)
    assert 21 - test.score[1] == pytest.approx(10.74949905, abs=5e-9)
    assert test.score[1] ** 2 / test.chi_square == pytest.approx(6.256960574, abs=5e-9)


def test_the_peto_test_of_the_leukaemia_trial_comes_out_as_published():
    # R survival 3.5-3, survdiff with rho = 1, on Freireich et al. 1963
    assert log_rank([DRUG, PLACEBO], rho=1).chi_square == pytest.approx(14.45715, abs=5e-6)


def test_sun_scores_are_the_log_rank_where_ages_are_exact():
    sun = permutation_test([DRUG, PLACEBO], Scores.SUN)
    assert sun.score == pytest.approx(log_rank([DRUG, PLACEBO]).score, abs=1e-9)


def test_sun_scores_are_the_log_rank_with_late_entry_too():
    groups = [thirty()[::2], thirty()[1::2]]
    sun = permutation_test(groups, Scores.SUN)
    assert sun.score == pytest.approx(log_rank(groups).score, abs=1e-8)


def test_the_log_rank_of_three_groups_agrees_with_statsmodels():
    groups = [DRUG, PLACEBO[:8], PLACEBO[8:]]
    spells = [spell for group in groups for spell in group]
    chi_square, p = survdiff(
        np.array([spell.left for spell in spells]),
        np.array([spell.is_exact for spell in spells], dtype=int),
        np.repeat([0, 1, 2], [len(group) for group in groups]),
    )
    test = log_rank(groups)
    assert test.freedom == 2
    assert test.chi_square == pytest.approx(chi_square, rel=1e-9)
    assert test.p == pytest.approx(p, rel=1e-9)


def test_the_finkelstein_score_is_the_formula_in_survival_at_the_ends():
    # Fay & Shaw 2010: (S_L ln S_L - S_R ln S_R) / (S_L - S_R) from the pooled fit
    pooled = Pooled.of(ARMS)
    fit = turnbull([spell for arm in ARMS for spell in arm])
    scores = tree_scores(pooled, Scores.FINKELSTEIN)
    wilcoxon = tree_scores(pooled, Scores.WILCOXON)
    for row in range(len(scores)):
        s_left = fit.at_most(float(pooled.spells.left[row]))
        right = float(pooled.spells.right[row])
        s_right = 0.0 if math.isinf(right) else fit.at_most(right)
        whole = s_left * math.log(s_left) - (s_right * math.log(s_right) if s_right else 0.0)
        assert scores[row] == pytest.approx(whole / (s_left - s_right), abs=1e-8)
        assert wilcoxon[row] == pytest.approx(s_left + s_right - 1, abs=1e-8)


@settings(max_examples=60, deadline=None)
@given(spells=samples, kind=st.sampled_from(list(Scores)))
def test_scores_sum_to_nothing_whatever_the_entry_ages(spells, kind):
    pooled = Pooled.of([spells, spells[:1]])
    scores = tree_scores(pooled, kind)
    assert np.isfinite(scores).all()
    assert float(scores @ pooled.spells.count) == pytest.approx(0, abs=1e-6 * len(spells) + 1e-7)


def test_shuffling_within_strata_agrees_with_every_possible_shuffle():
    first = [Spell(None, 0, 3), Spell(None, 0, 6), Spell(None, 3, 9), Spell(None, 6, INF)]
    second = [Spell(None, 9, INF), Spell(None, 12, INF), Spell(None, 6, 12), Spell(None, 9, 12)]
    groups = [Spells.of(first), Spells.of(second)]
    strata = [[0, 0, 1, 1], [0, 1, 1, 1]]
    pooled = Pooled.of(groups)
    scores = tree_scores(pooled, Scores.FINKELSTEIN)
    stratum = np.array(strata[0] + strata[1])
    mean = np.array([scores[stratum == one].mean() for one in (0, 1)])[stratum]
    centred = scores - mean
    seen = abs(centred[:4].sum())
    far = total = 0
    for places in itertools.combinations(range(8), 4):
        if [sum(stratum[list(places)] == one) for one in (0, 1)] == [2, 2]:
            total += 1
            far += abs(centred[list(places)].sum()) >= seen - 1e-9
    draws = 3000
    test = permuted_within(groups, strata, seed=5, draws=draws)
    exact = far / total
    assert test.p == pytest.approx(exact, abs=4 * math.sqrt(exact * (1 - exact) / draws) + 1e-3)
    assert test == permuted_within(groups, strata, seed=5, draws=draws)


def test_strata_of_one_group_each_leave_nothing_to_shuffle():
    groups = [Spells.of(arm) for arm in ARMS]
    strata = [[place] * len(group.count) for place, group in enumerate(groups)]
    test = permuted_within(groups, strata, seed=1)
    assert (test.freedom, test.p) == (0, 1.0)


def test_a_death_known_only_to_an_interval_is_no_matter_for_the_exact_test():
    with pytest.raises(NotExact):
        log_rank([DRUG, [Spell(None, 3, 6)]])


@pytest.mark.parametrize(
    "test",
    [
        log_rank,
        lambda groups: permutation_test(groups, Scores.SUN),
        lambda groups: score_test([groups]),
        lambda groups: permuted_within(groups, [[0] * 15], seed=1),
    ],
)
def test_one_group_alone_is_no_comparison(test):
    with pytest.raises(GroupsDiffer):
        test([DRUG])


def test_rows_without_a_stratum_are_refused():
    with pytest.raises(GroupsDiffer):
        permuted_within([DRUG, PLACEBO], [[0], [0]], seed=1)


def test_no_trees_at_all_are_refused():
    with pytest.raises(NoTrees):
        permutation_test([[], []], Scores.SUN)


def test_nobody_dead_says_nothing():
    alive = [Spell(None, age, INF) for age in (3, 6, 9)]
    for kind in Scores:
        assert permutation_test([alive, alive], kind).p == 1.0
    assert score_test([[alive, alive]]).freedom == 0
    assert log_rank([alive, alive]).p == 1.0
