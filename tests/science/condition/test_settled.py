"""How likely a look is to make sure whether a tree lives: against answers thrown one by one."""

import numpy as np
import pytest
from hypothesis import given, settings

from survey.science.condition.records import DEAD
from survey.science.condition.settled import SURE, chance_sure, is_sure
from survey.science.condition.settling import (
    LEAF,
    LOOK,
    PHOTO,
    SCRATCH,
    VOLUNTEER,
    BadQuestion,
    Doubtful,
    said_of,
)
from tests.science.condition.test_settling import (
    FEBRUARY,
    JULY,
    LEARNT,
    PINE,
    shares_of_trees,
    trees,
)

TREES = [
    (0.2, 0.2, 0.1, 0.1, 0.35, 0.05),
    (0.55, 0.3, 0.03, 0.01, 0.1, 0.01),
    (0.0, 0.01, 0.03, 0.06, 0.8, 0.1),
    (0.05, 0.3, 0.35, 0.2, 0.1, 0.0),
]


@pytest.mark.parametrize("month", [FEBRUARY, JULY])
@pytest.mark.parametrize("name", [LOOK, SCRATCH])
def test_it_is_how_often_thrown_answers_make_sure(month, name):
    found = chance_sure(trees(*TREES, month=month), [name] * 4, LEARNT)
    said = said_of(name, month == FEBRUARY, VOLUNTEER, LEARNT)
    dice = np.random.default_rng(1)
    for row, shares in enumerate(TREES):
        state = dice.choice(6, size=4000, p=shares)
        answer = (dice.random(4000)[:, None] > said.T[state].cumsum(axis=1)).sum(axis=1)
        after = said[np.minimum(answer, len(said) - 1)] * np.array(shares)
        lost = after[:, DEAD:].sum(axis=1) / after.sum(axis=1)
        often = ((lost <= 1 - SURE) | (lost >= SURE)).mean()
        # four standard errors of 4,000 throws
        assert found[row] == pytest.approx(often, abs=0.032)
    assert found.max() > 0.3


def test_each_tree_is_asked_for_its_own_look():
    asked = trees(*TREES, month=JULY, leaf_off=PINE)
    mixed = chance_sure(asked, [LOOK, SCRATCH, SCRATCH, LOOK], LEARNT)
    looks, scratches = (chance_sure(asked, [name] * 4, LEARNT) for name in (LOOK, SCRATCH))
    assert mixed == pytest.approx([looks[0], scratches[1], scratches[2], looks[3]])


@given(shares_of_trees)
@settings(max_examples=40, deadline=None)
def test_it_is_a_chance(rows):
    for name in (LOOK, SCRATCH):
        found = chance_sure(trees(*rows), [name] * len(rows), LEARNT)
        assert ((found >= 0) & (found <= 1 + 1e-12)).all()


def test_a_tree_of_which_all_is_known_stays_sure():
    sure = trees((1, 0, 0, 0, 0, 0), (0, 0, 0, 0, 0, 1), month=JULY)
    assert chance_sure(sure, [LOOK, SCRATCH], LEARNT) == pytest.approx([1, 1])
    assert is_sure(sure.shares).all()


def test_sure_is_nineteen_in_twenty_either_way():
    rows = [[1 - lost, 0, 0, 0, lost / 2, lost / 2] for lost in (0.04, 0.06, 0.5, 0.94, 0.96)]
    assert is_sure(np.array(rows)).tolist() == [True, False, False, False, True]


def test_no_trees_have_no_chances():
    none = np.zeros(0, dtype=np.int64)
    nobody = Doubtful(np.zeros((0, 6)), JULY, np.zeros((0, 12), dtype=bool), none, none, none)
    assert len(chance_sure(nobody, [], LEARNT)) == 0


@pytest.mark.parametrize("looks", [[LOOK], [LOOK] * 3, [LOOK, LEAF], [LOOK, PHOTO], ["", LOOK]])
def test_only_a_look_of_this_month_is_asked_about(looks):
    with pytest.raises(BadQuestion):
        chance_sure(trees(*TREES[:2]), looks, LEARNT)
