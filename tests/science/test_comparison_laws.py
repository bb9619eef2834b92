"""What must hold of every comparison, whatever the trees."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from survey.science.records import Spell, Spells
from survey.science.survival.comparison import compare
from survey.science.survival.proportional import FARTHEST, hazard_ratio, score_test

INF = math.inf


@st.composite
def spells(draw):
    """A tree looked at every so often, some of them on the list late; ages on a grid of months."""
    entry = draw(st.sampled_from([None, None, 0, 3, 6]))
    left = (entry or 0) + draw(st.sampled_from([0, 3, 6, 12]))
    right = draw(st.sampled_from([left + 3, left + 6, left + 12, INF]))
    return Spell(entry, float(left), float(right))


groups = st.lists(spells(), min_size=3, max_size=9)
large = st.lists(spells(), min_size=10, max_size=14)


def log_of(ratio):
    """The log of a ratio, with no limit as the farthest that is asked about."""
    if ratio == 0:
        return -FARTHEST
    return min(max(math.log(ratio), -FARTHEST), FARTHEST)


@settings(max_examples=40, deadline=None)
@given(first=groups, second=groups)
def test_relabelling_turns_the_limits_upside_down_and_changes_no_p(first, second):
    there, back = hazard_ratio([[first, second]]), hazard_ratio([[second, first]])
    assert back.p == pytest.approx(there.p, abs=1e-5)
    assert log_of(back.low) == pytest.approx(-log_of(there.high), abs=2e-3)
    assert log_of(back.high) == pytest.approx(-log_of(there.low), abs=2e-3)
    assert there.low <= there.ratio <= there.high
    tested, turned = score_test([[first, second]]), score_test([[second, first]])
    assert turned.chi_square == pytest.approx(tested.chi_square, rel=1e-4, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(group=groups)
def test_copies_never_differ(group):
    tested = score_test([[group, list(group), list(group)]])
    assert tested.chi_square == pytest.approx(0, abs=1e-6)
    found = hazard_ratio([[group, list(group)]])
    assert found.low <= 1 <= found.high
    assert found.p == pytest.approx(1, abs=1e-6)


@settings(max_examples=25, deadline=None)
@given(first=large, second=large, dice=st.randoms(use_true_random=False))
def test_merging_rows_and_their_order_change_nothing(first, second, dice):
    shuffled = [dice.sample(group, len(group)) for group in (first, second)]
    apart = [
        Spells(
            entry=np.array([-INF if spell.entry is None else spell.entry for spell in group]),
            left=np.array([spell.left for spell in group], dtype=float),
            right=np.array([spell.right for spell in group], dtype=float),
            count=np.ones(len(group), dtype=np.int64),
        )
        for group in shuffled
    ]
    merged, split = compare([first, second]), compare(apart)
    assert (split.refused, split.trees, split.losses) == (
        merged.refused,
        merged.trees,
        merged.losses,
    )
    assume(not merged.refused)
    assert split.p == pytest.approx(merged.p, abs=1e-5)
    assert split.expected == pytest.approx(merged.expected, abs=1e-4)
