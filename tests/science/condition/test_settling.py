"""The look that would settle most: against brute force, against the chain, and in plain cases."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.condition.chain import posterior
from survey.science.condition.course import course_of
from survey.science.condition.laws import USUAL
from survey.science.condition.learnt import Learnt
from survey.science.condition.records import DEAD, GONE, HOLDING, SLIPPING
from survey.science.condition.settling import (
    AILING_WEIGHT,
    LEAF,
    LEAST_GAIN,
    LOOK,
    LOOKS,
    PHOTO,
    RESIDENT,
    SCRATCH,
    VOLUNTEER,
    BadQuestion,
    Doubtful,
    best_look,
    doubt_of,
    moves_ahead,
    said_of,
)
from survey.science.survival.next_looks import Trees
from survey.science.survival.walk_plan import plan_walks
from tests.science.condition.small_towns import NEW_YEAR, any_town, one_tree, say

STAFF = 2
FEBRUARY, JULY = NEW_YEAR + 1, NEW_YEAR + 6
LINDEN = np.isin(np.arange(12), [10, 11, 0, 1, 2, 3])
PINE = np.zeros(12, dtype=bool)
LEARNT = Learnt.usual(any_town(1))
IN_DOUBT = (0.2, 0.2, 0.1, 0.1, 0.35, 0.05)


def trees(*shares, month=FEBRUARY, leaf_off=LINDEN, **more):
    told = np.array(shares, dtype=float)
    many = len(told)
    zero = np.zeros(many, dtype=np.int64)
    return Doubtful(
        told, month, np.tile(leaf_off, (many, 1)), zero + month - 18, zero, zero, **more
    )


def gain_of(name, asked, **kw):
    return best_look(asked, LEARNT, **kw).gains[:, LOOKS.index(name)]


shares_of_trees = st.lists(
    st.lists(st.floats(0.0, 1.0), min_size=6, max_size=6).filter(lambda row: sum(row) > 0.1),
    min_size=1,
    max_size=5,
).map(lambda rows: [np.array(row) / sum(row) for row in rows])


@pytest.mark.parametrize("name", [LOOK, SCRATCH])
@pytest.mark.parametrize("off", [False, True])
@pytest.mark.parametrize("kind", [RESIDENT, VOLUNTEER, STAFF])
def test_something_is_always_answered(name, off, kind):
    said = said_of(name, off, kind, LEARNT)
    assert said.sum(axis=0) == pytest.approx(np.ones(6))
    assert len(said) == (36 if name == SCRATCH else 18)


def test_an_answer_moves_a_belief_as_the_chain_does():
    # a volunteer says holding and sees leaves in part, in the bare months
    look = say(HOLDING, by=1, leaf=2, off=1)
    with_it, without = (one_tree(rows, months=3) for rows in ([(2, *look)], []))
    learnt = Learnt.usual(without)
    moved = posterior(with_it, learnt).now[0] / posterior(without, learnt).now[0]
    said = said_of(LOOK, True, VOLUNTEER, learnt)[HOLDING * 3 + 1]
    assert moved / moved[0] == pytest.approx(said / said[0], rel=1e-9)


@pytest.mark.parametrize("south", [False, True])
def test_trees_change_while_one_waits_as_they_do_in_the_chain(south):
    town = one_tree(months=8, first=FEBRUARY, planted=FEBRUARY - 10, south=south)
    learnt = replace(
        Learnt.usual(town), site=np.array([1.7]), cohort=np.array([0.8]), death=np.full(4, 0.02)
    )
    asked = replace(trees(IN_DOUBT, south=south), planted=np.array([FEBRUARY - 10]))
    whole = np.eye(6)
    for months, step in enumerate(course_of(town, learnt).moves, start=1):
        whole = whole @ step
        found = moves_ahead(asked, np.array([0]), months, learnt)[0]
        assert found == pytest.approx(whole, abs=1e-12)


@given(shares_of_trees, st.sampled_from([FEBRUARY, JULY]))
@settings(max_examples=40, deadline=None)
def test_the_gain_is_what_the_answers_take_away_one_by_one(rows, month):
    asked = trees(*rows, month=month)
    found = best_look(asked, LEARNT)
    off = month == FEBRUARY
    for place, name in enumerate(LOOKS):
        for row, shares in enumerate(asked.shares):
            doubt = doubt_of(shares)
            if doubt < LEAST_GAIN or (name == LEAF and not off):
                assert found.gains[row, place] == 0
                continue
            cost = 1.0
            if name == LEAF:
                moved = moves_ahead(asked, np.array([row]), 3, LEARNT)[0]
                said = said_of(LOOK, False, VOLUNTEER, LEARNT) @ moved.T
                cost = 0.9**3
            else:
                who = RESIDENT if name == PHOTO else VOLUNTEER
                said = said_of(name, off, who, LEARNT)
            left = 0.0
            for answer in said:
                chance = float(answer @ shares)
                if chance > 0:
                    left += chance * float(doubt_of(shares * answer / chance))
            assert found.gains[row, place] == pytest.approx(cost * (doubt - left), abs=1e-12)


@given(shares_of_trees, st.sampled_from([FEBRUARY, JULY]), st.sampled_from([LINDEN, PINE]))
@settings(max_examples=60, deadline=None)
def test_no_look_gains_more_than_there_is_and_more_evidence_never_less(rows, month, leaf_off):
    asked = trees(*rows, month=month, leaf_off=leaf_off)
    found = best_look(asked, LEARNT, kind=STAFF)
    assert (found.gains >= 0).all()
    assert (found.gains <= found.doubt[:, None] + 1e-12).all()
    look, scratch = (found.gains[:, LOOKS.index(name)] for name in (LOOK, SCRATCH))
    assert (scratch >= look - 1e-12).all()
    assert (found.gain <= found.gains.max(axis=1) + 1e-15).all()
    assert ((found.best == -1) == (found.gain == 0)).all()


def test_a_bare_linden_in_february_wants_a_scratch_test_or_leaves():
    asked = trees(IN_DOUBT)
    found = best_look(asked, LEARNT)
    assert found.name(0) == SCRATCH
    assert found.month[0] == FEBRUARY
    assert gain_of(LEAF, asked)[0] / 0.9**3 > gain_of(LOOK, asked)[0]
    # far from leaves, nobody who scratches, and the one who comes is a neighbor
    waits = best_look(asked, LEARNT, kind=RESIDENT, possible=(PHOTO, LOOK, LEAF))
    assert waits.name(0) == LEAF
    assert waits.month[0] == NEW_YEAR + 4  # May
    assert waits.plan[0] == 0


def test_in_leaf_a_plain_trained_look_will_do_and_a_photo_tells_more_than_in_winter():
    summer, winter = trees(IN_DOUBT, month=JULY), trees(IN_DOUBT)
    found = best_look(summer, LEARNT)
    assert found.name(0) == LOOK
    assert gain_of(LEAF, summer)[0] == 0
    assert gain_of(PHOTO, summer)[0] > 2 * gain_of(PHOTO, winter)[0]
    assert best_look(summer, LEARNT, possible=(PHOTO,)).name(0) == PHOTO


def test_an_evergreen_ignores_the_calendar():
    winter, summer = (trees(IN_DOUBT, month=m, leaf_off=PINE) for m in (FEBRUARY, JULY))
    one, other = best_look(winter, LEARNT), best_look(summer, LEARNT)
    assert one.gains == pytest.approx(other.gains)
    assert one.gains[0, LOOKS.index(LEAF)] == 0
    always = best_look(trees(IN_DOUBT, leaf_off=np.ones(12, dtype=bool)), LEARNT)
    assert always.gains[0, LOOKS.index(LEAF)] == 0


def test_a_year_later_the_answer_is_the_same():
    one, other = trees(IN_DOUBT), trees(IN_DOUBT, month=FEBRUARY + 12)
    assert best_look(one, LEARNT).gains == pytest.approx(best_look(other, LEARNT).gains)


def test_of_a_tree_beyond_doubt_nothing_is_asked():
    found = best_look(trees((0, 0, 0, 0, 0, 1), (0.7, 0.299, 0.001, 0, 0, 0)), LEARNT)
    assert [found.name(0), found.name(1)] == ["", ""]
    assert found.gain.tolist() == [0, 0]
    assert found.plan.tolist() == [0, 0]


def test_whether_it_lives_counts_four_times_what_ails_it():
    dead_or_not = doubt_of(np.array([0, 0, 0, 0.5, 0.5, 0]))
    ailing_or_not = doubt_of(np.array([0, 0.5, 0.5, 0, 0, 0]))
    assert dead_or_not == pytest.approx(0.25)
    assert ailing_or_not == pytest.approx(0.25 * AILING_WEIGHT)


def test_an_observer_who_follows_no_table_settles_nothing():
    blind = replace(USUAL, trust=((1e-9, 1.0),) * 3)
    found = best_look(trees(IN_DOUBT), LEARNT, blind)
    assert found.gains == pytest.approx(np.zeros((1, 4)), abs=1e-9)
    assert found.name(0) == ""


def test_where_walking_counts_the_gain_for_each_minute_decides():
    asked = trees(IN_DOUBT)
    near, far = (best_look(asked, LEARNT, walking=[way]) for way in (0.0, 60.0))
    assert near.name(0) == LOOK  # a minute less on the spot
    assert far.name(0) == PHOTO  # a neighbor is there already
    staff = best_look(asked, LEARNT, walking=[60.0], possible=(LOOK, SCRATCH))
    assert staff.name(0) == SCRATCH  # once there, the minute more is nothing


def test_a_walk_list_is_built_from_it():
    sure, ill = (0.9, 0.1, 0, 0, 0, 0), (0.1, 0.3, 0.3, 0.2, 0.1, 0)
    found = best_look(trees(sure, IN_DOUBT, IN_DOUBT, ill, sure), LEARNT)
    places = np.array([[0, 0], [20, 0], [40, 0], [60, 0], [80, 0]], dtype=float)
    ages = np.full(5, 18.0)
    walked = Trees.of(site=[0, 0, 0, 0, 0], seen=ages, now=ages, milestone=ages, metres=places)
    [walk] = plan_walks(walked, found.plan, minutes=14.0)
    assert walk.trees == (1, 2)
    assert walk.gain == pytest.approx(found.plan[1] + found.plan[2])
    [longer] = plan_walks(walked, found.plan, minutes=60.0)
    assert longer.trees == (1, 2, 3)


def test_many_trees_are_answered_alike_in_any_company():
    shares = np.random.default_rng(2).dirichlet(np.full(6, 0.4), 5000)
    found = best_look(trees(*shares), LEARNT)
    some = best_look(trees(*shares[4090:4100]), LEARNT)
    assert found.gains[4090:4100] == pytest.approx(some.gains, abs=1e-12)
    assert found.best[4090:4100].tolist() == some.best.tolist()


def test_groups_that_came_after_the_learning_are_usual():
    asked = replace(trees(IN_DOUBT), site=np.array([99]), cohort=np.array([-1]))
    assert best_look(asked, LEARNT).gains == pytest.approx(best_look(trees(IN_DOUBT), LEARNT).gains)


@pytest.mark.parametrize(
    "asked",
    [
        lambda: trees((0.5, 0.5, 0.5, 0, 0, 0)),
        lambda: trees((1.5, -0.5, 0, 0, 0, 0)),
        lambda: trees((np.nan, 1, 0, 0, 0, 0)),
        lambda: trees((0.5, 0.5)),
        lambda: replace(trees(IN_DOUBT), site=np.zeros(2, dtype=np.int64)),
        lambda: trees(IN_DOUBT, leaf_off=np.zeros(11, dtype=bool)),
        lambda: best_look(trees(IN_DOUBT), LEARNT, possible=("drone",)),
        lambda: best_look(trees(IN_DOUBT), LEARNT, kind=3),
        lambda: best_look(trees(IN_DOUBT), LEARNT, walking=[1.0, 2.0]),
        lambda: best_look(trees(IN_DOUBT), LEARNT, walking=[-1.0]),
    ],
)
def test_what_cannot_be_asked_is_refused(asked):
    with pytest.raises(BadQuestion):
        asked()


def test_what_is_lost_is_dead_or_gone_and_what_ails_begins_at_slipping():
    assert doubt_of(np.eye(6)) == pytest.approx(np.zeros(6))
    shares = np.zeros(6)
    shares[[DEAD, GONE]] = 0.5
    assert doubt_of(shares) == 0  # whichever it is, it is lost
    shares = np.zeros(6)
    shares[[SLIPPING, HOLDING]] = 0.5
    assert doubt_of(shares) > 0
