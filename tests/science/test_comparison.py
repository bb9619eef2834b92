"""What is said of a difference between groups, when nothing is said, and how p is corrected."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests

from survey.science.records import Spell
from survey.science.survival.comparison import (
    NOT_AT_RISK_TOGETHER,
    TOO_FEW_LOSSES,
    TOO_FEW_TREES,
    compare,
    compare_pairs,
    compare_within,
)
from survey.science.survival.many_tests import BadP, benjamini_hochberg, holm
from survey.science.survival.proportional import GroupsDiffer
from survey.science.survival.what_else import what_else_differs
from tests.science.published import cosmesis
from tests.simulate.simulate_comparison import Watched, often, rarely, tally

INF = math.inf
ARMS = [cosmesis("Rad"), cosmesis("RadChem")]


def test_the_cosmesis_arms_differ_by_a_ratio_whose_limits_agree_with_p():
    found = compare(ARMS)
    assert (found.refused, found.trees, found.most_lost) == ("", (46, 48), 1)
    # Huang & Wellner 1995: coefficient 0.797
    assert math.log(found.ratio) == pytest.approx(0.797, abs=5e-4)
    assert 1 < found.low < found.ratio < found.high
    assert not found.could_be_chance


def test_swapping_groups_turns_the_ratio_and_row_order_changes_nothing():
    there, back = compare(ARMS), compare([ARMS[1][::-1], ARMS[0][::-1]])
    assert back.ratio == pytest.approx(1 / there.ratio, rel=1e-6)
    assert back.p == pytest.approx(there.p, rel=1e-6)
    assert back.most_lost == 0


def test_three_groups_have_a_p_and_no_ratio():
    found = compare([ARMS[0], ARMS[1][:24], ARMS[1][24:]])
    assert 0 < found.p < 0.1
    assert (found.ratio, found.low, found.high) == (None, None, None)


def test_copies_could_differ_by_chance():
    found = compare([ARMS[0], list(ARMS[0])])
    assert found.could_be_chance
    assert found.ratio == pytest.approx(1, abs=1e-6)


def test_pairs_are_corrected_for_how_many_there_are():
    pairs = compare_pairs([ARMS[0], ARMS[1][:24], ARMS[1][24:]])
    plain = [pair.comparison.p for pair in pairs]
    assert [pair.comparison.corrected_p for pair in pairs] == pytest.approx(holm(plain))


@pytest.mark.parametrize(
    ("groups", "why"),
    [
        ([ARMS[0][:9], ARMS[1]], TOO_FEW_TREES),
        ([[Spell(None, 12, INF)] * 30, [Spell(None, 0, 12)] * 7 + [Spell(None, 12, INF)] * 9],
         TOO_FEW_LOSSES),
        ([[Spell(None, 0, 6)] * 5 + [Spell(None, 12, INF)] * 5,
          [Spell(24, 24, 30)] * 5 + [Spell(24, 36, INF)] * 5], NOT_AT_RISK_TOGETHER),
    ],
)  # fmt: skip
def test_too_little_is_refused_with_its_reason(groups, why):
    found = compare(groups)
    assert (found.refused, found.p, found.ratio) == (why, None, None)
    assert found.could_be_chance


def test_one_group_or_unlike_strata_are_no_comparison():
    for strata in ([[ARMS[0]]], [ARMS, ARMS[:1]], []):
        with pytest.raises(GroupsDiffer):
            compare_within(strata)


@pytest.mark.parametrize(
    ("groups", "runs"),
    [([often(20), rarely(20)], 60), ([often(20), Watched(20, 6, 0.3), rarely(20)], 200)],
)
def test_groups_that_die_alike_are_seldom_told_apart_however_they_are_watched(groups, runs):
    told = tally(groups, runs=runs, seed=7)
    assert told.compared > runs / 2
    # 0.05 and three standard errors of so many samples
    allowed = 0.05 + 3 * math.sqrt(0.05 * 0.95 / told.compared)
    assert told.found <= allowed * told.compared


@settings(max_examples=20, deadline=None)
@given(ps=st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_corrections_agree_with_statsmodels(ps):
    assert holm(ps) == pytest.approx(multipletests(ps, method="holm")[1].tolist())
    assert benjamini_hochberg(ps) == pytest.approx(multipletests(ps, method="fdr_bh")[1].tolist())


@pytest.mark.parametrize("p", [-0.1, 1.1, np.nan])
def test_a_p_that_is_no_share_is_refused(p):
    with pytest.raises(BadP):
        holm([0.5, p])


def test_what_differs_most_between_groups_stands_first():
    found = what_else_differs(
        {
            "season": [{"fall": 10, "spring": 10}, {"fall": 10, "spring": 10}],
            "species": [{"oak": 20}, {"oak": 5, "linden": 15}],
        }
    )
    assert [one.attribute for one in found] == ["species", "season"]
    species, season = found
    assert species.total_variation == pytest.approx(0.75)
    # by hand: chi-square of the two by two table is 24, so V = sqrt(24 / 40)
    assert species.cramers_v == pytest.approx(math.sqrt(24 / 40))
    assert species.standardised == pytest.approx(0.75 / math.sqrt(0.25 * 0.75 / 2))
    assert (season.total_variation, season.cramers_v, season.standardised) == (0, 0, 0)


@pytest.mark.parametrize("counts", [{"a": [{"x": 1}]}, {"a": [{"x": -1}, {"x": 2}]}])
def test_counts_that_cannot_be_compared_are_refused(counts):
    with pytest.raises(ValueError, match=r"groups|count"):
        what_else_differs(counts)
