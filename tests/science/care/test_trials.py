"""Trials by lot: balanced, reproducible, exact, and honest about their size (trials.toml)."""

import itertools
import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, fisher_exact

from survey.science.care.fisher import rejected
from survey.science.care.records import Impossible
from survey.science.care.trials import BlockOutcome, draw_lots, reach, weigh_trial
from tests.science.care.checks import checks

TRIALS = checks("trials")
BLOCKS = st.dictionaries(st.text(max_size=4), st.integers(1, 9), min_size=1, max_size=8)


def trees(sizes):
    return {block: [f"{block}/{number}" for number in range(size)] for block, size in sizes.items()}


@settings(deadline=None)
@given(BLOCKS, st.integers(0, 2**63 - 1))
def test_lots_are_balanced_in_every_block_and_in_all(sizes, lot):
    named = trees(sizes)
    if sum(sizes.values()) < 2:
        return
    drawn = draw_lots(named, lot)
    assert {one.tree for one in drawn} == {tree for block in named.values() for tree in block}
    for block in named:
        care = [one.gets_care for one in drawn if one.block == block]
        assert abs(2 * sum(care) - len(care)) <= 1
    assert abs(2 * sum(one.gets_care for one in drawn) - len(drawn)) <= 1


@settings(deadline=None)
@given(BLOCKS, st.integers(0, 2**32))
def test_the_same_number_gives_the_same_lots_in_whatever_order_trees_are_named(sizes, lot):
    named = trees(sizes)
    if sum(sizes.values()) < 2:
        return
    turned = {block: named[block][::-1] for block in reversed(list(named))}
    assert draw_lots(named, lot) == draw_lots(turned, lot)


def test_lots_of_a_kept_number_never_change():
    drawn = draw_lots({"a": ["1", "2", "3"], "b": ["4", "5", "6"], "c": ["7"]}, 5)
    assert "".join(one.tree for one in drawn if one.gets_care) == "145"


def test_every_tree_is_as_likely_to_get_the_care():
    named = trees({"a": 3, "b": 4, "c": 1})
    times = dict.fromkeys((tree for block in named.values() for tree in block), 0)
    for lot in range(4000):
        for one in draw_lots(named, lot):
            times[one.tree] += one.gets_care
    # 4000 lots at one half: six standard deviations are 190
    assert all(abs(count - 2000) < 190 for count in times.values()), times


@pytest.mark.parametrize(
    ("blocks", "lot", "code"),
    [
        ({}, 1, "too_few"),
        ({"a": ["1"]}, 1, "too_few"),
        ({"a": ["1", "2"], "b": ["2"]}, 1, "twice"),
        ({"a": ["1", "2"]}, -1, "negative"),
        ({"a": ["1", "2"]}, 1.5, "no_whole_number"),
        ({"a": ["1", "2"]}, "7", "no_number"),
    ],
)
def test_lots_that_cannot_be_drawn(blocks, lot, code):
    with pytest.raises(Impossible) as told:
        draw_lots(blocks, lot)
    assert told.value.code == code


@pytest.mark.parametrize("name", ["tea", "tea_three"])
def test_the_tasting_of_tea(name):
    # trials.toml: Fisher 1935
    row = TRIALS[name]
    result = weigh_trial([BlockOutcome("tea", **row["table"])])
    assert result.p == pytest.approx(float(Fraction(*row["two_sided"])))


def test_five_tables_of_rabbits():
    # trials.toml [rabbits]: Mantel 1963, as worked in the manual of R (limits to its own precision)
    row = TRIALS["rabbits"]
    result = weigh_trial([BlockOutcome(**block) for block in row["blocks"]])
    assert result.p == pytest.approx(row["p"], abs=5e-6)
    assert result.odds_ratio == pytest.approx(row["odds_ratio"], rel=1e-5)
    assert result.low == pytest.approx(row["low"], rel=1e-4)
    assert result.high == pytest.approx(row["high"], rel=5e-3)
    assert result.word == "care_better"
    assert result.telling_blocks == 3


@settings(deadline=None)
@given(st.integers(0, 9), st.integers(0, 9), st.integers(1, 9), st.integers(1, 9))
def test_one_block_is_fishers_exact_test(good, other, first, second):
    good, other = min(good, first), min(other, second)
    result = weigh_trial([BlockOutcome("one", good, first, other, second)])
    referee = fisher_exact([[good, first - good], [other, second - other]]).pvalue
    assert result.p == pytest.approx(referee, rel=1e-9)


def by_force(tables):
    """Chance of every sum by going through all tables with the same margins, in fractions."""
    chances = {}
    ways = []
    for good, first, other, second in tables:
        total = good + other
        ways.append(
            [
                (here, math.comb(first, here) * math.comb(second, total - here))
                for here in range(max(0, total - second), min(total, first) + 1)
            ]
        )
    for picked in itertools.product(*ways):
        here = sum(one for one, _ in picked)
        chances[here] = chances.get(here, 0) + math.prod(weight for _, weight in picked)
    every = sum(chances.values())
    return {here: Fraction(weight, every) for here, weight in chances.items()}


SIDE = st.integers(0, 5)
TABLE = st.tuples(SIDE, SIDE, SIDE, SIDE).map(
    lambda t: (min(t[0], t[1]), t[1], min(t[2], t[3]), t[3])
)


@settings(max_examples=60, deadline=None)
@given(st.lists(TABLE, min_size=1, max_size=4))
def test_blocks_together_are_what_counting_all_tables_gives(tables):
    outcomes = [BlockOutcome(str(place), *table) for place, table in enumerate(tables)]
    law = by_force(tables)
    seen = law[sum(good for good, *_ in tables)]
    exact = float(sum(chance for chance in law.values() if chance <= seen))
    result = weigh_trial(outcomes)
    assert result.p == pytest.approx(exact, rel=1e-9)
    assert result.low <= result.odds_ratio <= result.high
    if len(law) == 1:
        assert result.word == "nothing_to_weigh"
        assert result.p == 1


@settings(deadline=None)
@given(st.lists(TABLE, min_size=1, max_size=4))
def test_turning_good_into_bad_turns_the_answer_round(tables):
    plain = weigh_trial([BlockOutcome(str(n), *table) for n, table in enumerate(tables)])
    turned = weigh_trial(
        [BlockOutcome(str(n), f - g, f, s - o, s) for n, (g, f, o, s) in enumerate(tables)]
    )
    swapped = {"care_better": "care_worse", "care_worse": "care_better"}
    assert turned.p == pytest.approx(plain.p, rel=1e-9)
    assert turned.word == swapped.get(plain.word, plain.word)
    if plain.difference is not None:
        assert turned.difference == pytest.approx(-plain.difference, abs=1e-12)


def test_lots_alone_seldom_look_like_an_effect():
    # every outcome of two blocks of 4 + 4, weighed by its chance when the care does nothing
    share, wrong = 0.6, 0.0
    chances = binom.pmf(np.arange(5), 4, share)
    for cells in itertools.product(range(5), repeat=4):
        result = weigh_trial(
            [
                BlockOutcome("a", cells[0], 4, cells[1], 4),
                BlockOutcome("b", cells[2], 4, cells[3], 4),
            ]
        )
        if result.word in ("care_better", "care_worse"):
            wrong += math.prod(chances[cell] for cell in cells)
    assert 0 < wrong <= 0.05


@pytest.mark.parametrize(("first", "second"), [(7, 7), (5, 9), (12, 3)])
def test_what_would_be_noticed_agrees_with_the_test_table_by_table(first, second):
    calls = rejected(first, second, 0.05)
    for good, other in itertools.product(range(first + 1), range(second + 1)):
        p = fisher_exact([[good, first - good], [other, second - other]]).pvalue
        better = good / first > other / second
        assert calls[good, other] == (p <= 0.05 and better)


def test_the_smallest_effect_is_just_noticed_often_enough():
    told = reach(20, 20, 0.6)
    calls = rejected(20, 20, 0.05)

    def chance(share):
        return float(
            binom.pmf(np.arange(21), 20, share) @ calls @ binom.pmf(np.arange(21), 20, 0.6)
        )

    assert chance(told.better) == pytest.approx(0.8, abs=1e-6)
    assert chance(told.better - 0.01) < 0.8
    assert told.word == "too_small_to_tell"  # it needs 97 in 100 where 60 are expected


def test_a_small_trial_says_that_it_is_too_small():
    few = reach(10, 10, 0.7)
    assert few.better is None  # even if all did well, that would be noticed too seldom
    assert few.word == "too_small_to_tell"
    many = reach(120, 120, 0.5)
    assert many.word == "can_tell"
    assert many.better - 0.5 <= 0.2
    assert reach(120, 120, 0.5, worth=0.1).word == "too_small_to_tell"


def test_both_directions_mirror():
    told, mirrored = reach(30, 40, 0.6), reach(30, 40, 0.4)
    assert told.better == pytest.approx(1 - mirrored.worse, abs=1e-9)
    assert told.worse == pytest.approx(1 - mirrored.better, abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(st.integers(5, 40), st.floats(0.05, 0.95))
def test_more_trees_tell_smaller_effects_apart(size, share):
    small, large = reach(size, size, share), reach(4 * size, 4 * size, share)
    if small.better is not None:
        assert large.better is not None
        assert large.better < small.better


def test_more_good_outcomes_than_trees_are_impossible():
    with pytest.raises(Impossible) as told:
        weigh_trial([BlockOutcome("a", 5, 4, 0, 4)])
    assert told.value.field == "treated_good"
    with pytest.raises(Impossible):
        weigh_trial([])
    with pytest.raises(Impossible):
        weigh_trial([BlockOutcome("a", 1, 4, 0, 4), BlockOutcome("a", 1, 4, 0, 4)])
