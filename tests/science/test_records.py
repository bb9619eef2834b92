"""Spells: what is refused, and how trees are collected."""

import math

import numpy as np
import pytest

from survey.science.records import (
    AgeNotANumber,
    BadCount,
    BadSpell,
    EntryTooLate,
    IntervalBackwards,
    Spell,
    Spells,
)

NAN, INF = math.nan, math.inf


@pytest.mark.parametrize(
    ("entry", "left", "right", "error"),
    [
        (None, NAN, 3, AgeNotANumber),
        (None, 3, NAN, AgeNotANumber),
        (NAN, 3, 4, AgeNotANumber),
        (-INF, 3, 4, AgeNotANumber),
        (INF, 3, 4, AgeNotANumber),
        (None, INF, INF, AgeNotANumber),
        (None, -INF, 4, AgeNotANumber),
        (None, -1, 4, AgeNotANumber),
        (-1, 3, 4, AgeNotANumber),
        (None, 5, 4, IntervalBackwards),
        (4, 3, 6, EntryTooLate),
        (3, 3, 3, EntryTooLate),
        (4, 3, INF, EntryTooLate),
    ],
)
def test_a_spell_no_life_can_have_is_refused_by_name(entry, left, right, error):
    with pytest.raises(error) as caught:
        Spell(entry, left, right)
    assert isinstance(caught.value, BadSpell)
    if entry is not None and math.isinf(entry):
        return  # in columns -inf is how "watched from before 0" is written
    column = [-INF if entry is None else entry]
    with pytest.raises(error, match="row 1"):
        Spells.from_columns(entry=[-INF, *column], left=[1, left], right=[2, right])


@pytest.mark.parametrize("count", [[0, 1], [1.5, 1], [NAN, 1], [-2, 1], [1], [INF, 1]])
def test_a_count_that_counts_no_trees_is_refused(count):
    with pytest.raises(BadCount):
        Spells.from_columns(entry=[0, 0], left=[1, 2], right=[2, 3], count=count)


def test_columns_of_different_length_are_refused():
    with pytest.raises(BadCount):
        Spells.from_columns(entry=[0], left=[1, 2], right=[2, 3])


def test_a_tree_registered_and_never_seen_again_is_a_spell():
    assert Spell(6, 6, INF).is_censored


def test_equal_spells_are_counted_together_in_one_order():
    rows = [Spell(None, 6, 12), Spell(3, 6, 12), Spell(None, 6, INF), Spell(None, 6, 12)]
    forward, backward = Spells.of(rows), Spells.of(rows[::-1])
    assert forward.trees == 4
    assert forward.deaths == 3
    assert forward.count.tolist() == [2, 1, 1]
    for column in ("entry", "left", "right", "count"):
        assert np.array_equal(getattr(forward, column), getattr(backward, column))
    assert Spells.of(forward) is forward


def test_counts_add_up_for_spells_given_twice():
    spells = Spells.from_columns(
        entry=[0, 0, 1], left=[2, 2, 3], right=[4, 4, INF], count=[5, 6, 7]
    )
    assert spells.count.tolist() == [11, 7]


def test_at_risk_is_entered_before_and_known_alive_until():
    spells = Spells.of([Spell(None, 6, 12), Spell(6, 12, INF), Spell(0, 9, 9)])
    assert [spells.at_risk(age) for age in (0, 1, 6, 7, 9, 10, 12, 13)] == [1, 2, 2, 2, 2, 1, 1, 0]


def test_watched_from_leaves_out_those_of_whom_nothing_later_is_known():
    spells = Spells.of([Spell(6, 6, INF), Spell(6, 6, 12), Spell(6, 9, INF), Spell(7, 9, INF)])
    assert spells.watched_from(6) == 2
    assert spells.watched_from(None) == 0


def test_no_spells_are_a_table_without_rows():
    assert Spells.of([]).trees == 0
