"""How likely a look is to leave nothing in doubt: against answers thrown one by one."""

import numpy as np
import pytest

from survey.science.condition.settled import chance_settled
from survey.science.condition.settling import (
    LEAF,
    LOOK,
    NOTHING,
    PHOTO,
    SCRATCH,
    VOLUNTEER,
    BadQuestion,
    Doubtful,
    best_look,
    said_of,
)
from tests.science.condition.test_settling import FEBRUARY, JULY, LEARNT, PINE, trees

TREES = [
    (0.2, 0.2, 0.1, 0.1, 0.35, 0.05),
    (0.6, 0.35, 0.03, 0.01, 0.01, 0.0),
    (0.0, 0.01, 0.03, 0.06, 0.8, 0.1),
    (0.05, 0.3, 0.4, 0.2, 0.05, 0.0),
]


@pytest.mark.parametrize("month", [FEBRUARY, JULY])
@pytest.mark.parametrize("name", [LOOK, SCRATCH])
def test_it_is_how_often_thrown_answers_leave_nothing_in_doubt(month, name):
    asked = trees(*TREES, month=month)
    found = chance_settled(asked, [name] * 4, LEARNT)
    said = said_of(name, month == FEBRUARY, VOLUNTEER, LEARNT)
    dice = np.random.default_rng(1)
    for row, shares in enumerate(TREES):
        state = dice.choice(6, size=4000, p=shares)
        answer = (dice.random(4000)[:, None] > said.T[state].cumsum(axis=1)).sum(axis=1)
        kinds, often = np.unique(np.minimum(answer, len(said) - 1), return_counts=True)
        after = said[kinds] * np.array(shares)
        left = trees(*(after / after.sum(axis=1, keepdims=True)), month=month)
        done = best_look(left, LEARNT).best == NOTHING
        # four standard errors of 4,000 throws
        assert found[row] == pytest.approx(often[done].sum() / 4000, abs=0.032)


def test_it_is_a_chance_and_each_tree_is_asked_for_its_own_look():
    asked = trees(*TREES, month=JULY, leaf_off=PINE)
    mixed = chance_settled(asked, [LOOK, SCRATCH, SCRATCH, LOOK], LEARNT)
    looks, scratches = (chance_settled(asked, [name] * 4, LEARNT) for name in (LOOK, SCRATCH))
    assert mixed == pytest.approx([looks[0], scratches[1], scratches[2], looks[3]])
    assert ((mixed >= 0) & (mixed <= 1 + 1e-12)).all()
    assert mixed.max() > 0.2


def test_a_tree_of_which_all_is_known_stays_settled():
    sure = trees((1, 0, 0, 0, 0, 0), (0, 0, 0, 0, 0, 1), month=JULY)
    assert chance_settled(sure, [LOOK, SCRATCH], LEARNT) == pytest.approx([1, 1])


def test_no_trees_have_no_chances():
    none = np.zeros(0, dtype=np.int64)
    nobody = Doubtful(np.zeros((0, 6)), JULY, np.zeros((0, 12), dtype=bool), none, none, none)
    assert len(chance_settled(nobody, [], LEARNT)) == 0


@pytest.mark.parametrize("looks", [[LOOK], [LOOK] * 3, [LOOK, LEAF], [LOOK, PHOTO], ["", LOOK]])
def test_only_a_look_of_this_month_is_asked_about(looks):
    with pytest.raises(BadQuestion):
        chance_settled(trees(*TREES[:2]), looks, LEARNT)
