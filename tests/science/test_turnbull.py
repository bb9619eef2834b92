"""The interval-censored, left-truncated estimate against published fits and known answers."""

import math

import numpy as np
import pytest
from lifelines import KaplanMeierFitter

from survey.science.records import Spell, Spells
from survey.science.survival.product_limit import product_limit
from survey.science.survival.turnbull import NoTrees, turnbull
from tests.science.published import channing_house, cosmesis, leukaemia, thirty

INF = math.inf


def heavy(fit):
    """Cells with mass, as {(left, right): mass}."""
    masses = fit.masses()
    return {
        (left, right): mass
        for left, right, mass in zip(
            fit.left.tolist(), fit.right.tolist(), masses.tolist(), strict=True
        )
        if mass > 0
    }


def slopes_of_masses(spells, fit):
    """Gentleman & Geyer's gradient for each cell, sum_i a_ij / P_i - n, straight from its words."""
    masses = fit.masses()
    inside = np.array(
        [
            [
                s.left <= left and right <= s.right
                for left, right in zip(fit.left, fit.right, strict=True)
            ]
            for s in spells
        ]
    )
    return (inside / (inside @ masses)[:, None]).sum(axis=0) - len(spells)


# Finkelstein & Wolfe 1985, Table 4. Masses to four places and the intervals: Fay & Shaw 2010,
# J. Stat. Softw. 36(2), section 4.1; ten places, log-likelihoods and the slope nearest to 0 among
# the empty cells: R packages interval 1.1-1.0, npsurv 0.5-0 and icenReg 2.0.16.
COSMESIS = [
    (
        ("Rad",), -58.0600219540, 14,
        {(4, 5): 0.0463467740, (6, 7): 0.0333633709, (7, 8): 0.0886673681,
         (11, 12): 0.0707529218, (24, 25): 0.0926458366, (33, 34): 0.0817857649,
         (38, 40): 0.1208798274, (46, 48): 0.4655581364},
        -2.79,
    ),
    (
        ("RadChem",), -65.6369649077, 19,
        {(4, 5): 0.0432826277, (5, 8): 0.0432826277, (11, 12): 0.0692055834,
         (16, 17): 0.1453977153, (18, 19): 0.1410948977, (19, 20): 0.1157459257,
         (24, 25): 0.0998653107, (30, 31): 0.0708813765, (35, 36): 0.1608311074,
         (44, 48): 0.0552064139, (48, 60): 0.0552064139},
        -1.61,
    ),
    (
        ("Rad", "RadChem"), -136.9638038739, 31,
        {(4, 5): 0.0449490966, (6, 7): 0.0225930763, (7, 8): 0.0560382887,
         (11, 12): 0.0790460571, (16, 17): 0.0605455591, (18, 19): 0.0215574536,
         (19, 20): 0.1440716727, (24, 25): 0.0497187963, (30, 31): 0.0911257046,
         (38, 39): 0.1264470773, (46, 48): 0.1868581786, (48, 60): 0.1170490392},
        -0.140,
    ),
]  # fmt: skip


@pytest.mark.parametrize(("arms", "loglik", "candidates", "masses", "nearest"), COSMESIS)
def test_agrees_with_the_published_cosmesis_fit(arms, loglik, candidates, masses, nearest):
    spells = cosmesis(*arms)
    fit = turnbull(spells)
    found = heavy(fit)
    assert len(fit.left) == candidates
    assert found.keys() == masses.keys()
    for cell, mass in masses.items():
        assert found[cell] == pytest.approx(mass, abs=1e-10)
    assert fit.loglik == pytest.approx(loglik, abs=1e-10)
    assert fit.certificate < 1e-12
    assert fit.is_unique
    slopes = slopes_of_masses(spells, fit)
    has_mass = fit.masses() > 0
    assert np.abs(slopes[has_mass]).max() < 1e-9
    assert slopes[~has_mass].max() == pytest.approx(nearest, abs=5e-3)


def test_dating_deaths_at_the_look_that_found_them_inflates_survival():
    # same data, RadChem at 24 months: 0.4420 here, but 0.5346, 0.4460 and 0.3076 from a product
    # limit that dates each loss at the finding look, half way, and at the last good look (R
    # survival 3.5-3)
    spells = cosmesis("RadChem")
    assert turnbull(spells).at_least(24) == pytest.approx(0.4420, abs=5e-5)

    def dated(when):
        return product_limit(
            [s if s.is_censored else Spell(None, when(s), when(s)) for s in spells]
        ).at(24)

    assert dated(lambda s: s.right) == pytest.approx(0.5346, abs=5e-5)
    assert dated(lambda s: (s.left + s.right) / 2) == pytest.approx(0.4460, abs=5e-5)
    assert dated(lambda s: s.left) == pytest.approx(0.3076, abs=5e-5)


def test_is_at_least_as_likely_as_an_independent_program():
    spells = cosmesis("Rad", "RadChem")
    theirs = KaplanMeierFitter()
    # lifelines takes closed intervals: a hair after the left end makes them half-open
    theirs.fit_interval_censoring(
        [s.left + 1e-5 for s in spells], [s.right for s in spells], tol=1e-10
    )
    ours = turnbull(spells)
    lower, upper = "NPMLE_estimate_lower", "NPMLE_estimate_upper"
    for age in (9, 15, 22, 28, 35, 43):
        band = theirs.survival_function_.loc[:age].iloc[-1]
        assert band[lower] == pytest.approx(ours.at_least(age), abs=1e-4)
        assert band[upper] == pytest.approx(ours.at_most(age), abs=1e-4)


def test_innermost_intervals_of_the_manual_example():
    # (1,3] (2,4] (5,6]: the cells are (2,3] and (5,6] (R package interval, manual)
    fit = turnbull([Spell(None, 1, 3), Spell(None, 2, 4), Spell(None, 5, 6)])
    assert list(heavy(fit)) == [(2, 3), (5, 6)]


def test_a_cell_that_starts_empty_is_filled():
    # of the kind of Gentleman & Geyer 1994, Biometrika 81:618 (remembered): (1/2, 0, 1/2) stands
    # still under EM at -4.1588830834, but the middle cell pulls. By hand: 1/3 each.
    spells = [Spell(None, a, b) for a, b in ((0, 1), (1, 3), (1, 3), (0, 2), (0, 2), (2, 3))]
    fit = turnbull(spells)
    assert heavy(fit) == pytest.approx({(0, 1): 1 / 3, (1, 2): 1 / 3, (2, 3): 1 / 3})
    assert fit.loglik == pytest.approx(-3.8190850097, abs=1e-10)


def test_exact_and_interval_ages_mix():
    # (0,3], exact 4, 6, 8, 12, and (0,10]: 5/24 each and 1/6, by the reverse product limit, by hand
    exact = [Spell(None, age, age) for age in (4, 6, 8, 12)]
    fit = turnbull([Spell(None, 0, 3), Spell(None, 0, 10), *exact])
    assert heavy(fit) == pytest.approx(
        {(0, 3): 5 / 24, (4, 4): 5 / 24, (6, 6): 5 / 24, (8, 8): 5 / 24, (12, 12): 1 / 6}
    )
    assert fit.at_least(4) == fit.at_most(4) == pytest.approx(1 - 10 / 24)
    assert (fit.at_least(2), fit.at_most(2)) == (pytest.approx(1 - 5 / 24), 1)


def test_looks_on_a_common_grid_give_the_product_limit_over_the_grid():
    # by hand: 15/20, times 10/13, times 4/6
    table = Spells.from_columns(
        entry=[-INF] * 6,
        left=[0, 12, 24, 12, 24, 36],
        right=[12, 24, 36, INF, INF, INF],
        count=[5, 3, 2, 2, 4, 4],
    )
    fit = turnbull(table)
    for age, survival in ((12, 0.75), (24, 0.5769230769), (36, 0.3846153846)):
        assert fit.at_least(age) == pytest.approx(survival, abs=5e-11)
        assert fit.at_most(age) == pytest.approx(survival, abs=5e-11)


@pytest.mark.parametrize("arm", ["6-MP", "placebo"])
def test_exact_and_right_censored_ages_give_the_product_limit(arm):
    # Freireich et al. 1963
    fit = turnbull(leukaemia(arm))
    for step in product_limit(leukaemia(arm)).steps:
        assert fit.at_least(step.age) == pytest.approx(step.survival, abs=1e-12)
        assert fit.at_risk(step.age) == step.at_risk


# No published example has late entry and intervals together. These were worked out twice by direct
# search: EM with ghosts and L-BFGS from 60 starts, equal to 1e-8.
def test_an_entry_age_is_an_end_of_a_cell():
    spells = [
        Spell(*row)
        for row in ((0, 2, 6), (0, 2, 6), (4, 6, INF), (4, 4, 6), (4, 6, INF), (0, 6, INF))
    ]
    fit = turnbull(spells)
    assert heavy(fit) == pytest.approx({(2, 4): 1 / 2, (4, 6): 1 / 6, (6, INF): 1 / 3})
    assert fit.loglik == pytest.approx(-3.8190850098, abs=1e-10)


TOY = Spells.from_columns(
    entry=[0, 0, 0, 0, 6, 6, 12, 12, 12, 18, 18, 24, 24, 30],
    left=[3, 6, 9, 24, 6, 18, 12, 24, 36, 18, 30, 24, 36, 30],
    right=[6, 12, 12, INF, 12, 24, 24, INF, INF, 30, 36, 30, INF, INF],
)


def test_late_entry_decides_the_answer():
    fit = turnbull(TOY)
    assert heavy(fit) == pytest.approx(
        {(3, 6): 1 / 4, (9, 12): 9 / 20, (18, 24): 4 / 35, (24, 30): 2 / 35, (30, 36): 3 / 70,
         (36, INF): 3 / 35}
    )  # fmt: skip
    assert fit.loglik == pytest.approx(-14.2138406562, abs=1e-10)
    assert fit.at_least(12) == pytest.approx(0.30)
    assert fit.at_least(36) == pytest.approx(3 / 35)
    ignoring = turnbull(
        Spells.from_columns(
            entry=[-INF] * len(TOY.count), left=TOY.left, right=TOY.right, count=TOY.count
        )
    )
    assert heavy(ignoring) == pytest.approx(
        {(3, 6): 0.07142857, (9, 12): 0.21428571, (18, 24): 0.18335498, (24, 30): 0.14003968,
         (30, 36): 0.13029702, (36, INF): 0.26059404},
        abs=5e-9,
    )  # fmt: skip
    assert ignoring.loglik == pytest.approx(-20.6808617024, abs=1e-10)


def test_conditioning_on_an_age_drops_what_lies_before():
    fit = turnbull(TOY)
    assert fit.at_least(36, given=12) == pytest.approx((3 / 35) / 0.30)
    # an age inside the cell (9,12] leaves open whether its deaths fell before or after
    assert fit.at_least(12, given=10) == pytest.approx(0.30 / 0.75)
    assert fit.at_most(12, given=10) == 1
    assert fit.at_least(12, given=12) == 1


def test_late_entry_with_exact_ages_gives_the_product_limit():
    # Klein & Moeschberger exercise 4.7
    fit = turnbull(thirty())
    for step in product_limit(thirty()).steps:
        assert fit.at_least(step.age) == pytest.approx(step.survival, abs=1e-12)


def test_a_curve_that_fell_to_zero_on_one_man_still_speaks_of_the_others():
    # Hyde 1977, Channing House: from birth the curve is 0 from 781 months on; given alive at 816
    # (68 years) it is the published one (R survival 3.5-3)
    fit = turnbull(channing_house())
    assert fit.at_most(781) == 0
    for years, survival in (
        (75, 0.804531129), (80, 0.637761403), (85, 0.454373346), (90, 0.222707313),
    ):  # fmt: skip
        assert fit.at_least(12 * years, given=816) == pytest.approx(survival, abs=5e-10)
        assert fit.at_most(12 * years, given=816) == pytest.approx(survival, abs=5e-10)


def test_support_starts_where_enough_were_watched_and_ends_where_too_few_are_left():
    men = Spells.of(channing_house())
    support = turnbull(men).support(10)
    assert support.given is not None
    earlier = [age for age in np.unique(men.entry).tolist() if age < support.given]
    assert men.watched_from(support.given) >= 10
    assert all(men.watched_from(age) < 10 for age in earlier)
    assert men.at_risk(support.until) >= 10 > men.at_risk(support.until + 1e-9)
    assert turnbull(men).at_most(support.until, given=support.given) > 0
    assert turnbull(men).support(97) is None


def test_support_needs_no_condition_when_trees_were_watched_from_planting():
    fit = turnbull([Spell(None, 24, INF)] * 9 + [Spell(None, 12, 18)])
    support = fit.support(10)
    assert (support.given, support.until) == (None, 12)
    assert fit.support(9).until == 24


def test_nobody_dead_is_full_survival_up_to_the_last_look_and_unknown_after():
    fit = turnbull([Spell(None, 12, INF), Spell(3, 24, INF)])
    assert heavy(fit) == {(24, INF): 1}
    assert fit.at_least(24) == fit.at_most(24) == 1
    assert (fit.at_least(25), fit.at_most(25)) == (0, 1)
    assert fit.loglik == 0


def test_everybody_dead_by_the_first_look():
    fit = turnbull([Spell(None, 0, 6)] * 4)
    assert (fit.at_least(3), fit.at_most(3)) == (0, 1)
    assert fit.at_least(6) == fit.at_most(6) == 0


def test_one_tree_is_a_sample():
    for spell in (Spell(None, 5, INF), Spell(2, 5, 9), Spell(None, 0, 0), Spell(4, 5, 5)):
        fit = turnbull([spell])
        assert fit.trees == 1
        assert fit.masses().sum() == pytest.approx(1)
        assert fit.loglik == 0
        assert fit.certificate == 0


def test_an_event_at_age_zero_is_seen_in_trees_watched_from_before():
    fit = turnbull([Spell(None, 0, 0), Spell(None, 12, INF)])
    assert fit.at_least(0) == fit.at_most(0) == 0.5
    assert fit.at_least(12, given=0) == 1


def test_a_gap_in_the_watch_is_left_open_both_ways():
    # all before 10 were lost from sight there, all others came at 20: nothing is known of 10 to 20
    fit = turnbull([Spell(None, 4, 6), Spell(None, 10, INF), Spell(20, 30, INF), Spell(20, 22, 25)])
    assert not fit.is_unique
    assert fit.at_least(10) == fit.at_most(10) == pytest.approx(0.5)
    assert (fit.at_least(20), fit.at_most(20)) == (0, pytest.approx(0.5))
    assert fit.at_least(30, given=20) == fit.at_most(30, given=20) == pytest.approx(0.5)


def test_a_flat_maximum_is_said_to_be_flat():
    # by hand: the first tree died in (0,1] or (2,3], one tree passed each of them, so only the sum
    # of their hazards is known: ln 2, with likelihood 1/2 * 1/2
    fit = turnbull([Spell(0, 0, 3), Spell(1, 3, 4), Spell(0, 2, 4)])
    assert not fit.is_unique
    assert not fit.unsettled.any()
    assert fit.at_least(3) == pytest.approx(0.5)
    assert fit.loglik == pytest.approx(math.log(1 / 4))


def test_no_trees_are_refused():
    with pytest.raises(NoTrees):
        turnbull([])


@pytest.mark.parametrize("question", ["at_least", "at_most", "at_risk"])
def test_an_age_that_is_not_a_number_is_refused(question):
    with pytest.raises(ValueError, match="not a number"):
        getattr(turnbull([Spell(None, 5, INF)]), question)(math.nan)
