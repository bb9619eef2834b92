"""The story told of a tree ends where the condition model itself ends."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.condition.chain import posterior
from survey.science.condition.course import course_of
from survey.science.condition.laws import USUAL
from survey.science.condition.learnt import Learnt
from survey.science.condition.records import (
    DEAD,
    GONE,
    LOST,
    NOT_SAID,
    STATES,
    Evidence,
    Looks,
    Trees,
    no_pairs,
)
from survey.science.condition.story import QUIET, REMOVAL, share_without, waterfall

MARCH = 2024 * 12 + 2
RESIDENT, VOLUNTEER, STAFF = range(3)
WORSE = (2, 3, DEAD, GONE)


def evidence_of(*looks, months=24, later=False, removed=(), cared=(), trees=1):
    """One tree and more from March 2024 on; looks are (month from 0, observer, label, more)."""
    rows = sorted(looks, key=lambda row: (row[3].get("tree", 0), row[0]))

    def column(name, missing, kind=np.int64):
        return np.array([row[3].get(name, missing) for row in rows], dtype=kind)

    first = np.full(trees, MARCH)
    return Evidence(
        trees=Trees(
            planted=first - 10 * later,
            first=first,
            last=first + months - 1,
            site=np.arange(trees) % 2,
            cohort=np.zeros(trees, dtype=np.int64),
        ),
        looks=Looks(
            tree=column("tree", 0),
            month=np.array([MARCH + row[0] for row in rows], dtype=np.int64),
            observer=np.array([row[1] for row in rows], dtype=np.int64),
            label=np.array(
                [STATES.index(row[2]) if row[2] else NOT_SAID for row in rows], dtype=np.int64
            ),
            scratch=column("scratch", 0),
            leaf=column("leaf", 0),
            signs=column("signs", NOT_SAID),
            leaf_off=column("leaf_off", False, bool),
            complaint=column("complaint", False, bool),
            sure=column("sure", False, bool),
        ),
        observers=np.array([RESIDENT, RESIDENT, VOLUNTEER, STAFF]),
        care=np.array([(0, MARCH + month) for month in cared], dtype=np.int64).reshape(-1, 2),
        removals=np.array([(0, MARCH + month) for month in removed]).reshape(-1, 2)
        if removed
        else no_pairs(),
        sites=2,
        cohorts=1,
    )


a_look = st.tuples(
    st.integers(0, 23),
    st.integers(0, 3),
    st.sampled_from(["", *STATES]),
    st.fixed_dictionaries(
        {
            "tree": st.integers(0, 1),
            "scratch": st.integers(0, 2),
            "leaf": st.integers(0, 3),
            "signs": st.integers(-1, 4),
            "leaf_off": st.booleans(),
            "complaint": st.booleans(),
            "sure": st.booleans(),
        }
    ),
)
evidences = st.builds(
    lambda looks, later, removed, cared: evidence_of(
        *looks, later=later, removed=removed, cared=cared, trees=2
    ),
    looks=st.lists(a_look, max_size=8),
    later=st.booleans(),
    removed=st.lists(st.integers(0, 23), max_size=2, unique=True),
    cared=st.lists(st.integers(0, 23), max_size=3, unique=True),
)


@given(evidence=evidences, claim=st.sampled_from([LOST, WORSE, (DEAD,), (0, 1)]))
@settings(max_examples=60, deadline=None)
def test_every_month_agrees_with_the_model(evidence, claim):
    learnt = Learnt.usual(evidence)
    learnt = replace(learnt, rho=np.array([0.9, 0.2, 0.85, 0.97]))
    truth = posterior(evidence, learnt)
    for tree in range(2):
        story = waterfall(evidence, learnt, tree, claim)
        mine = slice(int(evidence.offsets[tree]), int(evidence.offsets[tree + 1]))
        np.testing.assert_allclose(story.filtered, truth.filtered[mine], atol=1e-9)
        np.testing.assert_allclose(story.smoothed, truth.smoothed[mine], atol=1e-9)
        assert sum(step.points for step in story.steps) == pytest.approx(
            story.points - story.start, abs=1e-9
        )
        assert {step.look for step in story.looks} == set(
            np.flatnonzero(evidence.looks.tree == tree).tolist()
        )


@given(evidence=evidences)
@settings(max_examples=30, deadline=None)
def test_without_a_look_is_what_the_model_says_of_the_record_without_it(evidence):
    learnt = Learnt.usual(evidence)
    for step in waterfall(evidence, learnt).looks[:3]:
        looks = evidence.looks
        kept = np.arange(looks.number) != step.look
        columns = [getattr(looks, name)[kept] for name in looks.__dataclass_fields__]
        fewer = replace(evidence, looks=Looks(*columns))
        expected = posterior(fewer, learnt).now[0, list(LOST)].sum()
        assert step.without == pytest.approx(expected, abs=1e-9)
        course = course_of(evidence, learnt)
        assert share_without(course, {step.look}, LOST) == pytest.approx(expected, abs=1e-9)


def points(label, observer=0, **more):
    """What one look moves, in the middle of a quiet year, by the law as it stands."""
    evidence = evidence_of((12, observer, label, more))
    (look,) = waterfall(evidence, Learnt.usual(evidence)).looks
    return look.points


@pytest.mark.parametrize("observer", [0, 2, 3])
def test_dead_says_less_of_a_bare_tree_in_its_bare_months(observer):
    assert 0 < points("dead", observer, leaf_off=True) < points("dead", observer) - 3


@pytest.mark.parametrize("leaf_off", [False, True])
@pytest.mark.parametrize("observer", [0, 2, 3])
def test_a_scratch_test_speaks_for_itself(observer, leaf_off):
    brown, none, green = (
        points("dead", observer, leaf_off=leaf_off, scratch=scratch) for scratch in (2, 0, 1)
    )
    assert green < none - 5 < none + 2 < brown


def test_a_trained_look_moves_more_than_a_neighbors():
    assert points("dead", 0) < points("dead", 2) < points("dead", 3)
    assert points("holding", 0) > points("holding", 2) > points("holding", 3)


@pytest.mark.parametrize("label", ["thriving", "slipping", "dead", "gone"])
def test_what_was_laid_down_for_sure_is_the_strongest_look_there_is(label):
    strongest = points(label, 3, sure=True)
    assert abs(strongest) > abs(points(label, 3)) + 3


def test_a_look_that_says_nothing_moves_nothing():
    assert points("") == pytest.approx(0, abs=1e-12)


def test_a_removal_on_record_is_a_step_of_its_own():
    evidence = evidence_of((6, 2, "holding", {}), removed=[14])
    story = waterfall(evidence, Learnt.usual(evidence))
    (removal,) = [step for step in story.steps if step.kind == REMOVAL]
    assert removal.month == MARCH + 14
    assert removal.points > 20
    assert story.share > 0.99


def test_a_removal_on_record_in_the_first_month_speaks_before_anything_else():
    evidence = evidence_of(removed=[0])
    learnt = Learnt.usual(evidence)
    story = waterfall(evidence, learnt)
    assert story.share == pytest.approx(posterior(evidence, learnt).now[0, list(LOST)].sum())
    assert (story.steps[0].kind, story.steps[0].points > 20) == (REMOVAL, True)


def test_silence_speaks_only_where_somebody_might_have_complained():
    evidence = evidence_of((0, 2, "holding", {}))
    learnt = replace(Learnt.usual(evidence), exposure=np.array([0.05, 0.0]))
    quiet = waterfall(evidence, learnt).steps[-1]
    assert quiet.quiet == 23
    assert quiet.part(QUIET) < -1
    nobody = replace(learnt, exposure=np.zeros(2))
    assert waterfall(evidence, nobody).steps[-1].part(QUIET) == pytest.approx(0, abs=1e-9)


def test_looks_alike_stand_side_by_side_in_their_month():
    evidence = evidence_of(
        (5, 2, "holding", {}), (5, 0, "dead", {}), (5, 3, "dead", {}), (5, 1, "dead", {})
    )
    course = course_of(evidence, Learnt.usual(evidence), law=USUAL)
    looks = evidence.looks
    said = [(int(looks.observer[f.look]), int(looks.label[f.look])) for f in course.looks]
    assert said == [(0, DEAD), (1, DEAD), (2, 1), (3, DEAD)]
