"""One cause among several, on published data and on spells worked by hand."""

import math

import numpy as np
import pytest

from survey.science.proportions import clopper_pearson
from survey.science.records import Spell
from survey.science.survival.aalen_johansen import aalen_johansen
from survey.science.survival.competing import (
    BadCauses,
    Competing,
    competing,
    competing_of_columns,
    free_of_cause_at,
)
from survey.science.survival.limits import BadLevel
from survey.science.survival.product_limit import AgeUnsettled, product_limit
from tests.science.published import channing_house, thirty

# 35 transplant patients of Scrucca, Santucci & Aversa (2007) Bone Marrow Transplant. 40:381, as
# shipped with that reference in scikit-survival (load_bmt): months, and 1 = transplant-related
# death, 2 = relapse, 0 = still under observation.
PATIENTS = [
    (13, 2), (1, 1), (72, 0), (7, 2), (8, 2), (67, 0), (9, 2), (5, 2), (70, 0), (4, 0), (7, 0),
    (68, 0), (1, 2), (10, 2), (7, 2), (3, 1), (4, 1), (4, 1), (3, 1), (3, 1), (22, 2), (8, 1),
    (2, 2), (0, 2), (0, 1), (35, 0), (35, 0), (4, 2), (14, 2), (26, 2), (3, 2), (2, 0), (8, 0),
    (32, 0), (12, 1),
]  # fmt: skip


def exactly(patients):
    spells = [Spell(None, t, t if cause else math.inf) for t, cause in patients]
    return spells, [cause for _, cause in patients]


@pytest.mark.parametrize(
    ("month", "alive", "first", "second"),
    [
        # computed alike by the R packages survival and cmprsk and by scikit-survival
        (0, 0.94285714, 0.028571429, 0.028571429),
        (1, 0.88571429, 0.057142857, 0.057142857),
        (3, 0.73891626, 0.145812808, 0.115270936),
        (4, 0.65024631, 0.204926108, 0.144827586),
        (7, 0.55735398, 0.204926108, 0.237719916),
        (8, 0.49178292, 0.237711636, 0.270505444),
        (12, 0.38640087, 0.272838988, 0.340760146),
        (26, 0.24589146, 0.272838988, 0.481269552),
    ],
)
def test_exact_ages_give_the_published_cumulative_incidence(month, alive, first, second):
    split = competing(*exactly(PATIENTS))
    assert split.fit.at_least(month) == pytest.approx(alive, abs=5e-9)
    for cause, incidence in ((1, first), (2, second)):
        assert split.at_least(cause, age=month) == pytest.approx(incidence, abs=5e-9)
        assert split.at_most(cause, age=month) == pytest.approx(incidence, abs=5e-9)


def test_causes_and_survival_add_up_to_every_tree_where_looks_leave_gaps():
    spells = [
        Spell(None, 0, 6), Spell(None, 3, 12), Spell(4, 6, 12), Spell(4, 8, 24),
        Spell(None, 12, math.inf), Spell(6, 12, 24), Spell(None, 24, math.inf),
    ]  # fmt: skip
    split = competing(spells, [1, 2, 1, 2, 0, 1, 0])
    for age in range(30):
        gone_late = split.at_least(1, age=age) + split.at_least(2, age=age)
        gone_early = split.at_most(1, age=age) + split.at_most(2, age=age)
        assert gone_late + split.fit.at_most(age) == pytest.approx(1, abs=1e-9)
        assert gone_early + split.fit.at_least(age) == pytest.approx(1, abs=1e-9)


def test_an_event_in_a_shared_gap_follows_what_the_sure_ones_say():
    # Sure events at 3 months (two of cause 1, one of 2) and at 9 (cause 2); one of cause 1 known
    # only to have come between 2 and 10. By hand: all causes together p3 = (3 + p3) / 5 = 3/4 and
    # p9 = 1/4. Cause 1 occurs at 3 only, so the wide event's share of cause 1 at 9 wanes to 0 and
    # it is counted at 3: there 3 of 4 events are of cause 1, and its incidence is 3/4 x 3/4.
    spells = [Spell(None, 3, 3)] * 3 + [Spell(None, 9, 9), Spell(None, 2, 10)]
    split = competing(spells, [1, 1, 2, 2, 1])
    cells = list(zip(split.fit.left.tolist(), split.share[:, 0].tolist(), strict=True))
    early = next(share for left, share in cells if left == 3)
    late = next(share for left, share in cells if left == 9)
    assert early == pytest.approx(3 / 4, abs=1e-6)
    assert late == pytest.approx(0, abs=1e-6)
    assert split.at_least(1, age=12) == pytest.approx(9 / 16, abs=1e-6)


def test_treating_the_other_cause_as_unseen_would_add_up_to_too_many():
    split = competing(*exactly(PATIENTS))
    wrong = 0.0
    for cause in (1, 2):
        alone = [Spell(None, t, t if c == cause else math.inf) for t, c in PATIENTS]
        wrong += 1 - competing(alone, [c if c == cause else 0 for _, c in PATIENTS]).fit.at_least(
            26
        )
    # the sum of the wrong figures and the true one, from the same three programs
    assert wrong == pytest.approx(0.958, abs=5e-4)
    assert split.at_least(1, age=26) + split.at_least(2, age=26) == pytest.approx(
        0.754108540, abs=5e-9
    )


def test_limits_hold_the_estimate():
    split = competing(*exactly(PATIENTS))
    for at in free_of_cause_at(split, [3, 26], causes=[1]):
        assert 0 < at.low < at.at_least == at.at_most < at.high < 1
    [late] = free_of_cause_at(split, [26], causes=[1])
    assert late.at_least == pytest.approx(1 - 0.272838988, abs=5e-9)


def test_where_every_fate_is_known_the_limits_are_the_exact_ones():
    # 12 of 20 die of cause 1 and 3 of cause 2 within 6 months: 5 and 8 of 20 are left
    spells = [Spell(None, 0, 6)] * 15 + [Spell(None, 24, math.inf)] * 5
    split = competing(spells, [1] * 12 + [2] * 3 + [0] * 5)
    for causes, alive in (([1, 2], 5), ([1], 8)):
        [at] = free_of_cause_at(split, [12], causes=causes)
        exact = clopper_pearson(alive, 20)
        assert at.low == pytest.approx(exact.low, abs=1e-6)
        assert at.high == pytest.approx(exact.high, abs=1e-6)


@pytest.mark.parametrize("causes", [[1], [0, 1], [-1, 0], [1, 1]])
def test_causes_that_do_not_fit_the_spells_are_refused(causes):
    with pytest.raises(BadCauses):
        competing([Spell(None, 3, 3), Spell(None, 3, math.inf)], causes)


def test_a_level_outside_0_to_1_is_refused():
    with pytest.raises(BadLevel):
        free_of_cause_at(competing([Spell(None, 3, 3)], [1]), [3], causes=[1], level=1.0)


@pytest.mark.parametrize(
    ("month", "at_risk", "alive", "first", "second", "first_error", "second_error"),
    [
        # incidences alike by the R packages survival and cmprsk and by scikit-survival; standard
        # errors by R survival 3.5-3
        (0, 35, 0.94285714, 0.028571429, 0.028571429, 0.028160307, 0.028160307),
        (1, 33, 0.88571429, 0.057142857, 0.057142857, 0.039234661, 0.039234661),
        (3, 29, 0.73891626, 0.145812808, 0.115270936, 0.060307004, 0.054239574),
        (4, 25, 0.65024631, 0.204926108, 0.144827586, 0.069106286, 0.059940534),
        (7, 20, 0.55735398, 0.204926108, 0.237719916, 0.069106286, 0.073570851),
        (8, 17, 0.49178292, 0.237711636, 0.270505444, 0.073605195, 0.077329011),
        (12, 12, 0.38640087, 0.272838988, 0.340760146, 0.078090688, 0.084151924),
        (26, 8, 0.24589146, 0.272838988, 0.481269552, 0.078090688, 0.090016796),
    ],
)
def test_aalen_johansen_gives_the_published_table(
    month, at_risk, alive, first, second, first_error, second_error
):
    table = aalen_johansen(*exactly(PATIENTS))
    row = table.age.tolist().index(month)
    assert table.at_risk[row] == at_risk
    assert table.survival[row] == pytest.approx(alive, abs=5e-9)
    assert table.incidence[row] == pytest.approx([first, second], abs=5e-10)
    assert table.std_error[row] == pytest.approx([first_error, second_error], abs=5e-10)
    assert (table.at(1, month), table.at(2, month)) == tuple(table.incidence[row])
    assert table.emptied_at is None


def test_one_minus_the_product_limit_of_each_cause_is_the_wrong_figure():
    # by the same programs: 0.32966393 and 0.62819042 where 0.272838988 and 0.481269552 are right
    for cause, wrong in ((1, 0.32966393), (2, 0.62819042)):
        alone = [Spell(None, t, t if c == cause else math.inf) for t, c in PATIENTS]
        assert 1 - product_limit(alone).at(26) == pytest.approx(wrong, abs=5e-9)


def test_with_one_outcome_the_errors_of_aalen_johansen_are_those_of_greenwood():
    spells = thirty()
    table = aalen_johansen(spells, [0 if s.is_censored else 1 for s in spells])
    curve = product_limit(spells)
    assert table.survival == pytest.approx(curve.survival, abs=1e-12)
    assert table.incidence[:, 0] == pytest.approx(1 - curve.survival, abs=1e-12)
    assert table.std_error[:, 0] == pytest.approx(curve.std_error, abs=1e-9)


def test_aalen_johansen_can_be_conditioned_and_says_what_emptied_it():
    men = channing_house()
    causes = [0 if s.is_censored else 1 + n % 2 for n, s in enumerate(men)]
    raw = aalen_johansen(men, causes)
    assert raw.emptied_at == 781
    later = aalen_johansen(men, causes, given=816)
    assert later.emptied_at is None
    assert later.survival[-1] + later.incidence[-1].sum() == pytest.approx(1)
    assert later.at(1, 816) == 0


def test_aalen_johansen_refuses_an_unsettled_age():
    with pytest.raises(AgeUnsettled):
        aalen_johansen([Spell(None, 3, 6)], [1])


def test_three_outcomes_of_a_hundred_thousand_trees_in_columns():
    dice = np.random.default_rng(4)
    many = 100_000
    left = dice.integers(0, 30, many).astype(float)
    right = np.where(dice.random(many) < 0.3, left + dice.integers(1, 30, many), math.inf)
    cause = np.where(np.isinf(right), 0, dice.integers(1, 4, many))
    split = competing_of_columns(
        entry=np.full(many, -math.inf), left=left, right=right, cause=cause
    )
    assert split.share.shape[1] == 3
    gone = sum(split.at_least(number, age=24) for number in (1, 2, 3))
    assert gone + split.fit.at_most(24) == pytest.approx(1, abs=1e-9)
    few = slice(0, 400)
    rows = [Spell(None, a, b) for a, b in zip(left[few].tolist(), right[few].tolist(), strict=True)]
    one = competing(rows, cause[few].tolist())
    other = competing_of_columns(
        entry=np.full(400, -math.inf), left=left[few], right=right[few], cause=cause[few]
    )
    assert one.share.tolist() == other.share.tolist()


def log_likelihood(split, spells, causes):
    total = 0.0
    for spell, cause in zip(spells, causes, strict=True):
        if cause:
            given = spell.entry
            gone = split.at_least(cause, age=spell.right, given=given)
            total += math.log(gone - split.at_least(cause, age=spell.left, given=given))
    return total


@pytest.mark.parametrize("seed", range(6))
def test_no_other_division_of_the_deaths_is_likelier(seed):
    dice = np.random.default_rng(seed)
    spells, causes = [], []
    for _ in range(60):
        left = int(dice.integers(0, 10))
        dead = dice.random() < 0.7
        spells.append(Spell(None, left, left + int(dice.integers(1, 8)) if dead else math.inf))
        causes.append(int(dice.integers(1, 4)) if dead else 0)
    split = competing(spells, causes)
    best = log_likelihood(split, spells, causes)
    for size in (0.001, 0.03, 0.5):
        for _ in range(5):
            share = split.share * np.exp(size * dice.normal(size=split.share.shape))
            share = 0.999 * share / share.sum(axis=1, keepdims=True) + 0.001 / 3
            other = Competing(fit=split.fit, share=share)
            assert log_likelihood(other, spells, causes) <= best + 1e-9


def test_a_cause_that_is_not_a_whole_number_is_refused():
    with pytest.raises(BadCauses):
        competing_of_columns(entry=[0], left=[3], right=[4], cause=[1.5])
