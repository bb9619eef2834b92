"""Looks are joined by tree, month and observer, as they last spoke."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from survey.science.condition.gather import LookRow, joined, looks_of
from survey.science.condition.records import LEAF, NOT_SAID, SCRATCH, STATES


def test_two_looks_of_one_observer_in_a_month_are_heard_once_as_they_last_spoke():
    looks = looks_of(
        [
            LookRow(0, 10, 0, "slipping", scratch="green", signs=2),
            LookRow(0, 10, 0, "failing", leaf="bare", complaint=True),
        ]
    )
    assert looks.number == 1
    assert STATES[looks.label[0]] == "failing"
    assert SCRATCH[looks.scratch[0]] == "green"
    assert LEAF[looks.leaf[0]] == "bare"
    assert looks.signs[0] == 2
    assert looks.complaint[0]


def test_other_observers_other_months_and_other_trees_are_not_joined():
    rows = [LookRow(0, 10, 0, "dead"), LookRow(0, 10, 1, "dead"), LookRow(0, 11, 0, "dead")]
    assert looks_of([*rows, LookRow(1, 10, 0, "dead")]).number == 4


def test_what_was_laid_down_for_sure_stands_apart():
    assert looks_of([LookRow(0, 1, 0, "dead"), LookRow(0, 1, 0, "holding", sure=True)]).number == 2


def test_a_tree_that_is_gone_has_no_bark_to_scratch():
    looks = looks_of([LookRow(0, 1, 0, "dead", scratch="brown"), LookRow(0, 1, 0, "gone")])
    assert (looks.scratch[0], looks.leaf[0]) == (0, 0)


def test_no_looks_make_no_columns():
    looks = looks_of([])
    assert looks.number == 0
    assert looks.complaint.dtype == bool


rows = st.builds(
    LookRow,
    st.integers(0, 2),
    st.integers(0, 2),
    st.integers(0, 2),
    st.sampled_from(["", *STATES]),
    st.sampled_from(SCRATCH),
    st.sampled_from(LEAF),
    st.integers(NOT_SAID, 3),
    complaint=st.booleans(),
    sure=st.booleans(),
)


@given(st.lists(rows, max_size=20))
def test_joining_again_changes_nothing_and_every_look_went_somewhere(said):
    looks = looks_of(said)
    again, went = joined(looks)
    assert (went == np.arange(looks.number)).all()
    for name in ("tree", "month", "observer", "label", "scratch", "leaf", "signs", "complaint"):
        assert (getattr(again, name) == getattr(looks, name)).all()
    assert looks.number == len({(row.tree, row.month, row.observer, row.sure) for row in said})


@given(st.lists(rows, max_size=12))
def test_the_last_word_counts_whatever_else_was_said(said):
    looks = looks_of(said)
    for place in range(looks.number):
        key = (looks.tree[place], looks.month[place], looks.observer[place], looks.sure[place])
        labels = [
            row.label
            for row in said
            if (row.tree, row.month, row.observer, row.sure) == key and row.label
        ]
        assert looks.label[place] == (STATES.index(labels[-1]) if labels else NOT_SAID)
