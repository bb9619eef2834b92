"""How far each look moved a belief: against the filter itself, and all paths written out."""

import math
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.condition.course import (
    LABEL,
    LOOK_PARTS,
    SCRATCHED,
    WORRY,
    Course,
    Factors,
)
from survey.science.condition.records import DEAD, GONE, LOST, NOT_SAID, SLIPPING
from survey.science.condition.story import (
    LOOK,
    MOST_POINTS,
    QUIET,
    REMOVAL,
    REMOVALS,
    STRETCH,
    STRETCH_PARTS,
    TIME,
    CannotBe,
    points_of,
    tell,
)

WORSE = (SLIPPING, 3, DEAD, GONE)


def course_of(seed, months=4, looks=3, smallest=1e-3):
    """A course of any factors at all: nothing of what the story promises rests on their values."""
    dice = np.random.default_rng(seed)
    moves = dice.dirichlet(np.ones(6), size=(max(months - 1, 0), 6))
    when = np.sort(dice.integers(0, months, looks))
    return Course(
        first=24300,
        start=dice.dirichlet(np.ones(6)),
        start_removals=dice.uniform(smallest, 1, 6),
        moves=moves,
        removals=dice.uniform(smallest, 1, (max(months - 1, 0), 6, 6)),
        quiet=dice.uniform(smallest, 1, (months, 6)),
        logged=frozenset({0} | {int(t) for t in dice.integers(0, months, 1)})
        if seed % 3
        else frozenset(),
        looks=tuple(
            Factors(
                look=place,
                month=int(month),
                parts=tuple(
                    (name, dice.uniform(smallest, 1, 6))
                    for name in LOOK_PARTS
                    if name == LABEL or dice.random() < 0.4
                ),
            )
            for place, month in enumerate(when)
        ),
    )


def by_all_paths(course):
    """The shares of the last month and of every month, from every path through the six states."""
    weight = course.quiet.copy()
    for look in course.looks:
        for _, factor in look.parts:
            weight[look.month] *= factor
    smoothed = np.zeros((course.months, 6))
    for path in product(range(6), repeat=course.months):
        chance = (course.start * course.start_removals * weight[0])[path[0]]
        for t in range(1, course.months):
            move = course.moves[t - 1] * course.removals[t - 1]
            chance *= move[path[t - 1], path[t]] * weight[t, path[t]]
        smoothed[range(course.months), path] += chance
    return smoothed / smoothed.sum(axis=1, keepdims=True)


def without(course, place):
    looks = course.looks
    return replace(course, looks=looks[:place] + looks[place + 1 :])


courses = st.builds(
    course_of,
    seed=st.integers(0, 2**32 - 1),
    months=st.integers(1, 12),
    looks=st.integers(0, 6),
    smallest=st.sampled_from([1e-3, 1e-9, 0.5]),
)
claims = st.sets(st.integers(0, 5), min_size=1, max_size=5).map(tuple)


@given(course=courses, claim=claims)
@settings(max_examples=60, deadline=None)
def test_the_steps_add_up_to_the_last_odds_less_the_first(course, claim):
    story = tell(course, claim)
    assert sum(step.points for step in story.steps) == pytest.approx(
        story.points - story.start, abs=1e-9
    )
    assert story.start == pytest.approx(points_of(course.start, claim), abs=1e-9)
    assert story.points == pytest.approx(points_of(story.filtered[-1], claim), abs=1e-6)
    for before, after in zip(story.steps, story.steps[1:], strict=False):
        assert after.before == before.after


@given(course=courses, claim=claims)
@settings(max_examples=60, deadline=None)
def test_the_parts_of_a_step_add_up_to_the_step(course, claim):
    for step in tell(course, claim).steps:
        assert sum(part.points for part in step.parts) == pytest.approx(step.points, abs=1e-9)
        names = [part.name for part in step.parts]
        allowed = {LOOK: LOOK_PARTS, STRETCH: STRETCH_PARTS, REMOVAL: (REMOVALS,)}[step.kind]
        assert names == [name for name in allowed if name in names]


@given(course=courses, claim=claims)
@settings(max_examples=40, deadline=None)
def test_without_a_look_is_what_a_course_without_it_says(course, claim):
    story = tell(course, claim)
    assert len(story.looks) == len(course.looks)
    for place, step in enumerate(story.looks):
        assert step.without == pytest.approx(
            tell(without(course, place), claim).share, rel=1e-9, abs=1e-12
        )
    low, high = story.without_one
    assert low <= story.share <= high


@given(seed=st.integers(0, 2**32 - 1), months=st.integers(1, 5), looks=st.integers(0, 4))
@settings(max_examples=12, deadline=None)
def test_it_ends_where_all_paths_written_out_end(seed, months, looks):
    course = course_of(seed, months, looks)
    story, truth = tell(course, LOST), by_all_paths(course)
    np.testing.assert_allclose(story.smoothed, truth, atol=1e-12)
    assert story.share == pytest.approx(truth[-1, list(LOST)].sum(), abs=1e-12)
    np.testing.assert_allclose(story.filtered[-1], story.smoothed[-1], atol=1e-12)


@given(course=courses, order=st.randoms(use_true_random=False))
@settings(max_examples=40, deadline=None)
def test_the_order_of_one_months_looks_changes_no_sum(course, order):
    shuffled = list(course.looks)
    order.shuffle(shuffled)
    shuffled.sort(key=lambda look: look.month)
    one, other = tell(course, LOST), tell(replace(course, looks=tuple(shuffled)), LOST)
    assert one.points == pytest.approx(other.points, abs=1e-9)
    np.testing.assert_allclose(one.smoothed, other.smoothed, atol=1e-12)
    kept = {step.look: step.without for step in one.looks}
    for step in other.looks:
        assert step.without == pytest.approx(kept[step.look], abs=1e-12)


def test_nobodys_complaint_has_a_pull_of_its_own():
    still = np.broadcast_to(np.eye(6), (9, 6, 6))
    complaints = np.array([1, 1, 2, 4, 6, 2.0])
    course = Course(
        first=24300,
        start=np.full(6, 1 / 6),
        start_removals=np.ones(6),
        moves=still,
        removals=np.ones((9, 6, 6)),
        quiet=np.broadcast_to(np.exp(-0.05 * complaints), (10, 6)),
        looks=(),
    )
    story = tell(course, (DEAD,))
    (stretch,) = story.steps
    assert (stretch.look, stretch.since, stretch.month) == (NOT_SAID, 24300, 24309)
    assert stretch.quiet == 10
    assert stretch.part(TIME) == pytest.approx(0, abs=1e-12)
    assert stretch.part(REMOVALS) == pytest.approx(0, abs=1e-12)
    # against a tree that is as likely any of the other five, ten months at these rates
    quiet = np.exp(-0.5 * complaints)
    expected = 10 * math.log10(quiet[DEAD] / quiet[[0, 1, 2, 3, 5]].mean())
    assert stretch.part(QUIET) == pytest.approx(expected, abs=1e-9)
    assert expected < -5


def test_a_month_with_a_complaint_is_not_counted_as_quiet():
    course = course_of(3, months=4, looks=0)
    worried = np.array([1, 1, 2, 4, 6, 2.0])
    look = Factors(look=0, month=2, parts=((WORRY, worried), (LABEL, np.ones(6))))
    story = tell(replace(course, looks=(look,)), LOST)
    before, asked, after = story.steps
    assert (before.quiet, after.quiet) == (2, 1)
    weighed = replace(
        course, looks=(replace(look, parts=((LABEL, worried),)),)
    )  # the same course, told without saying that it was a complaint
    assert tell(weighed, LOST).points == pytest.approx(story.points, abs=1e-9)
    assert asked.part(LABEL) == pytest.approx(0, abs=1e-12)
    assert asked.without == pytest.approx(tell(course, LOST).share, abs=1e-12)


def test_a_removal_on_record_is_a_step_of_its_own():
    moves = np.eye(6) * 0.9
    moves[:, GONE] += 0.1
    logged = np.full((3, 6, 6), 1.0)
    logged[1] = 1e-6
    logged[1, :, GONE] = 0.3
    course = Course(
        first=24300,
        start=np.array([1 / 6] * 6),
        start_removals=np.ones(6),
        moves=np.array([moves] * 3),
        removals=logged,
        quiet=np.full((4, 6), 0.5),
        looks=(),
        logged=frozenset({2}),
    )
    before, removal, after = tell(course, (GONE,)).steps
    assert (before.kind, removal.kind, after.kind) == (STRETCH, REMOVAL, STRETCH)
    assert (before.since, before.month, after.since, after.month) == (24300, 24302, 24302, 24303)
    assert removal.month == 24302
    still = 5 / 6 * 0.9**2
    assert before.share == pytest.approx(1 - still)
    assert before.part(TIME) == pytest.approx(
        10 * math.log10((1 - still) / still) + 10 * math.log10(5)
    )
    assert removal.points > 40
    assert removal.share > 0.999
    assert (before.quiet, after.quiet) == (2, 2)


def test_a_thousand_looks_in_a_month_keep_their_digits():
    course = course_of(5, months=3, looks=0)
    wrong = np.array([1e-3, 1e-3, 1e-3, 1e-3, 0.9, 1e-3])
    looks = tuple(Factors(look=n, month=1, parts=((LABEL, wrong),)) for n in range(1000))
    story = tell(replace(course, looks=looks), LOST)
    assert np.isfinite(story.filtered).all()
    assert story.filtered[1, DEAD] == pytest.approx(1)
    assert sum(step.points for step in story.steps) == pytest.approx(
        story.points - story.start, abs=1e-9
    )


def test_a_state_that_cannot_be_is_told_as_settled_and_no_more():
    course = Course(
        first=0,
        start=np.array([0.5, 0.5, 0, 0, 0, 0]),
        start_removals=np.ones(6),
        moves=np.eye(6)[None],
        removals=np.ones((1, 6, 6)),
        quiet=np.ones((2, 6)),
        looks=(Factors(0, 1, ((SCRATCHED, np.array([0.9, 0.1, 1, 1, 1, 1.0])),)),),
    )
    story = tell(course, LOST)
    assert (story.start, story.points, story.share) == (-MOST_POINTS, -MOST_POINTS, 0)
    assert all(step.points == 0 for step in story.steps)


@pytest.mark.parametrize("claim", [(), (0, 1, 2, 3, 4, 5)])
def test_a_claim_says_something_and_not_everything(claim):
    with pytest.raises(CannotBe):
        tell(course_of(1), claim)


def test_looks_that_leave_nothing_possible_are_refused():
    course = course_of(1, months=1, looks=0)
    nothing = Factors(0, 0, ((LABEL, np.zeros(6)),))
    with pytest.raises(CannotBe):
        tell(replace(course, looks=(nothing,)), WORSE)
