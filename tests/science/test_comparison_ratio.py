"""The proportional-hazards fit: published figures, other software, plain search, derivatives."""

import math

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import chdtri
from statsmodels.duration.hazard_regression import PHReg
from statsmodels.genmod import families
from statsmodels.genmod.generalized_linear_model import GLM

from survey.science.records import Spell, Spells
from survey.science.survival.proportional import (
    GroupsDiffer,
    Pooled,
    hazard_ratio,
    quadratic_test,
    score_test,
)
from tests.science.published import channing_house, cosmesis, leukaemia

INF = math.inf
ARMS = [cosmesis("Rad"), cosmesis("RadChem")]
LATE = [
    [Spell(None, 3, 6), Spell(0, 6, 12), Spell(None, 9, INF), Spell(6, 6, 12), Spell(12, 24, INF)],
    [Spell(0, 0, 6), Spell(None, 3, 9), Spell(6, 12, INF), Spell(9, 9, 18), Spell(3, 12, 24)],
]


def test_the_cosmesis_ratio_comes_out_as_published():
    # Huang & Wellner 1995: coefficient 0.797, standard error 0.29 by profile likelihood; the
    # fourth digit by the R package icenReg 2.0.16
    found = hazard_ratio([ARMS])
    assert math.log(found.ratio) == pytest.approx(0.7974, abs=5e-5)
    assert found.log_error == pytest.approx(0.29, abs=5e-3)
    # limits of a likelihood that bends like that lie about two standard errors off
    assert math.log(found.low) == pytest.approx(0.797 - 1.96 * 0.29, abs=0.03)
    assert math.log(found.high) == pytest.approx(0.797 + 1.96 * 0.29, abs=0.03)


def by_search(groups, log_ratio):
    """The profile log-likelihood at one log ratio, by a general optimiser over every stretch."""
    ages = sorted(
        {a for g in groups for s in g for a in (s.entry, s.left, s.right) if a and a < INF}
    )
    place = {age: at + 1 for at, age in enumerate(ages)} | {0: 0, None: 0, INF: len(ages) + 1}

    def unlikely(root):
        total = np.concatenate([[0.0], np.cumsum(root**2)])
        height = 0.0
        for pace, group in zip((1.0, math.exp(log_ratio)), groups, strict=True):
            for s in group:
                come, left = total[place[s.entry]], total[place[s.left]]
                height -= pace * (left - come)
                if s.right < INF:
                    height += math.log(-math.expm1(-pace * (total[place[s.right]] - left)) + 1e-300)
        return -height

    dice = np.random.default_rng(2)
    starts = [dice.random(len(ages)) for _ in range(6)]
    return max(-minimize(unlikely, start, options={"maxiter": 2000}).fun for start in starts)


@pytest.mark.parametrize("log_ratio", [-1.0, 0.0, 0.7, 2.0])
def test_the_profile_is_what_plain_search_finds(log_ratio):
    pooled = Pooled.of(LATE)
    found = pooled.fit(np.array([0.0, log_ratio]))
    assert found.loglik == pytest.approx(by_search(LATE, log_ratio), abs=1e-5)


def test_the_limits_are_where_plain_search_has_lost_enough():
    found = hazard_ratio([LATE])
    top = by_search(LATE, math.log(found.ratio))
    for limit in (found.low, found.high):
        assert 2 * (top - by_search(LATE, math.log(limit))) == pytest.approx(
            float(chdtri(1, 0.05)), abs=1e-3
        )


@pytest.mark.parametrize("groups", [ARMS, LATE, [LATE[0], LATE[1], ARMS[0]]])
def test_score_and_information_are_the_derivatives_of_the_profile(groups):
    pooled = Pooled.of(groups)
    here = np.linspace(-0.2, 0.3, len(groups))
    hazard = pooled.fit(here).hazard
    score, information = pooled.score(here, hazard), pooled.information(here, hazard)
    step = 1e-3
    for g in range(len(groups)):
        move = np.zeros(len(groups))
        move[g] = step
        up, down = pooled.fit(here + move), pooled.fit(here - move)
        assert (up.loglik - down.loglik) / (2 * step) == pytest.approx(score[g], abs=1e-4)
        change = pooled.score(here + move, up.hazard) - pooled.score(here - move, down.hazard)
        assert change / (2 * step) == pytest.approx(-information[g], abs=2e-3)


def grouped_regression(groups):
    """The same model as a regression of every subject's every age, by statsmodels."""
    ages = sorted({s.left for group in groups for s in group if s.is_exact})
    rows, died = [], []
    for place, group in enumerate(groups):
        for s in group:
            for at, age in enumerate(ages):
                if (s.entry is None or s.entry < age) and age <= s.left:
                    rows.append([float(at == other) for other in range(len(ages))] + [float(place)])
                    died.append(float(s.is_exact and s.left == age))
    family = families.Binomial(link=families.links.CLogLog())
    fit = GLM(np.array(died), np.array(rows), family=family).fit(tol=1e-12, maxiter=200)
    return float(fit.params[-1]), float(fit.bse[-1])


def test_exact_ages_give_the_grouped_regression_of_prentice_and_gloeckler():
    groups = [leukaemia("6-MP"), leukaemia("placebo")]
    found = hazard_ratio([groups])
    coefficient, _ = grouped_regression(groups)
    assert math.log(found.ratio) == pytest.approx(coefficient, abs=1e-6)
    # between what ties make of Cox's regression here, 1.51 (Breslow) and 1.57 (Efron), and a little
    # beyond: the published trial has 17 ages for 30 relapses
    assert 1.5 < math.log(found.ratio) < 1.7


def test_exact_ages_with_late_entry_come_near_coxs_regression():
    # Channing House men (Hyde 1977), split by whether they came before 75 years of age: what the
    # halves are does not matter, both programs are to agree on them
    men = [man for man in channing_house() if man.left > 816]
    groups = [[m for m in men if m.entry < 900], [m for m in men if m.entry >= 900]]
    rows = [(m, place) for place, group in enumerate(groups) for m in group]
    cox = PHReg(
        np.array([m.left for m, _ in rows]),
        np.array([[float(place)] for _, place in rows]),
        status=np.array([float(m.is_exact) for m, _ in rows]),
        entry=np.array([m.entry for m, _ in rows]),
        ties="breslow",
    ).fit()
    found = hazard_ratio([groups])
    assert math.log(found.ratio) == pytest.approx(float(cox.params[0]), abs=0.06)
    assert found.log_error == pytest.approx(float(cox.bse[0]), rel=0.1)


def test_swapping_the_groups_turns_the_ratio_upside_down():
    there, back = hazard_ratio([ARMS]), hazard_ratio([ARMS[::-1]])
    assert back.ratio == pytest.approx(1 / there.ratio, rel=1e-6)
    assert back.low == pytest.approx(1 / there.high, rel=1e-5)
    assert back.high == pytest.approx(1 / there.low, rel=1e-5)
    assert back.p == pytest.approx(there.p, rel=1e-6)


def test_a_group_without_deaths_has_one_limit():
    healthy = [Spell(None, 36, INF)] * 20
    sick = [Spell(None, 0, 12)] * 6 + [Spell(None, 36, INF)] * 14
    found = hazard_ratio([[healthy, sick]])
    assert found.ratio == INF
    assert found.high == INF
    assert 1 < found.low < INF
    assert found.log_error is None
    other = hazard_ratio([[sick, healthy]])
    assert (other.ratio, other.low) == (0.0, 0.0)
    assert other.high == pytest.approx(1 / found.low, rel=1e-5)


def test_the_one_limit_is_the_one_of_a_share_where_all_were_seen_on_the_same_day():
    # 0 of 20 and 6 of 20 dead by month 12: the likelihood is that of two binomials with
    # 1 - p = (1 - q)^ratio, whose profile is worked out here on a grid
    healthy, sick = (
        [Spell(None, 12, INF)] * 20,
        [Spell(None, 0, 12)] * 6 + [Spell(None, 12, INF)] * 14,
    )
    found = hazard_ratio([[healthy, sick]])
    u = np.linspace(1e-6, 2, 400_001)
    top = 6 * math.log(0.3) + 14 * math.log(0.7)
    profile = (6 * np.log(-np.expm1(-u)) - 14 * u - 20 * u / found.low).max()
    assert 2 * (top - profile) == pytest.approx(3.841458820694124, abs=2e-3)


def test_groups_that_are_copies_have_ratio_one():
    found = hazard_ratio([[ARMS[0], list(ARMS[0])]])
    assert found.ratio == pytest.approx(1, abs=1e-6)
    assert found.p == pytest.approx(1, abs=1e-6)
    assert found.low < 1 < found.high


def test_trees_that_hold_the_ratio_within_strata_do_so_whatever_the_strata_are():
    # two strata that are the same data tell of the same ratio, twice as surely
    once, twice = hazard_ratio([ARMS]), hazard_ratio([ARMS, ARMS])
    assert twice.ratio == pytest.approx(once.ratio, rel=1e-6)
    assert twice.rise == pytest.approx(2 * once.rise, rel=1e-5)
    assert score_test([ARMS, ARMS]).chi_square == pytest.approx(
        2 * score_test([ARMS]).chi_square, rel=1e-6
    )


def test_a_stratum_of_one_group_alone_adds_nothing():
    alone = [[], ARMS[1]]
    once, more = hazard_ratio([ARMS]), hazard_ratio([ARMS, alone])
    assert more.ratio == pytest.approx(once.ratio, rel=1e-6)
    assert more.high == pytest.approx(once.high, rel=1e-5)
    assert score_test([ARMS, alone]).chi_square == pytest.approx(score_test([ARMS]).chi_square)


def test_a_higher_level_is_a_wider_interval():
    narrow, wide = hazard_ratio([ARMS], level=0.8), hazard_ratio([ARMS], level=0.99)
    assert wide.low < narrow.low < narrow.high < wide.high


def test_a_small_sample_widens_the_limits_and_a_limit_passes_one_when_p_passes_its_level():
    plain, careful = hazard_ratio([ARMS]), hazard_ratio([ARMS], second_freedom=12.0)
    assert careful.low < plain.low < plain.high < careful.high
    assert careful.p > plain.p
    edge = hazard_ratio([ARMS], level=1 - careful.p, second_freedom=12.0)
    assert edge.low == pytest.approx(1, abs=1e-5)


@pytest.mark.parametrize("groups", [[ARMS[0]], [*ARMS, ARMS[0]], []])
def test_a_ratio_stands_between_two_groups(groups):
    with pytest.raises(GroupsDiffer):
        hazard_ratio([groups])


@pytest.mark.parametrize("level", [0.0, 1.0, math.nan])
def test_a_level_that_is_no_share_is_refused(level):
    with pytest.raises(ValueError, match="level"):
        hazard_ratio([ARMS], level=level)


def test_groups_never_under_watch_together_say_nothing_about_each_other():
    early = [Spell(None, 0, 6)] * 5 + [Spell(None, 12, INF)] * 5
    late = [Spell(24, 24, 30)] * 5 + [Spell(24, 36, INF)] * 5
    assert score_test([[early, late]]).freedom == 0


def test_variance_without_directions_leaves_no_test():
    assert quadratic_test(np.zeros(2), np.zeros((2, 2))).p == 1.0


def test_rows_may_be_merged_or_not():
    merged = [Spells.of(arm) for arm in ARMS]
    apart = [
        Spells(
            entry=np.full(len(arm), -INF),
            left=np.array([s.left for s in arm]),
            right=np.array([s.right for s in arm]),
            count=np.ones(len(arm), dtype=np.int64),
        )
        for arm in ARMS
    ]
    assert hazard_ratio([merged]).ratio == pytest.approx(hazard_ratio([apart]).ratio, rel=1e-8)
