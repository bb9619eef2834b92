"""Small plantings lean on the town: as far as they must, and no further."""

import math
from dataclasses import astuple

import numpy as np
import pytest

from survey.science.records import Spells
from survey.science.survival.pooling import (
    TOWN,
    BadPool,
    NothingToPool,
    NotPooled,
    Patch,
    pool,
)
from survey.science.survival.turnbull import turnbull
from tests.simulate.simulate_pooling import LAWS, judge, town

AGES = (6.0, 12.0, 24.0, 36.0, 60.0, 90.0)


def lives(*rows):
    """Spells of rows (entry, left, right, count)."""
    entry, left, right, count = zip(*rows, strict=True)
    return Spells.from_columns(entry=entry, left=left, right=right, count=count)


def watched(deaths_by_year, alive_at, alive):
    """Trees watched from planting with so many lost in each year, the rest last seen alive."""
    rows = [
        (-math.inf, 12.0 * year, 12.0 * year + 12, deaths)
        for year, deaths in enumerate(deaths_by_year)
        if deaths
    ]
    return lives(*rows, *([(-math.inf, float(alive_at), math.inf, alive)] if alive else []))


@pytest.fixture(scope="module")
def invented():
    return town(LAWS["plantings, species and sites differ"], np.random.default_rng(3), plantings=12)


@pytest.fixture(scope="module")
def pooled(invented):
    return pool(invented.patches, seed=1)


def test_an_empty_town_is_refused():
    with pytest.raises(NothingToPool):
        pool([], seed=1)
    with pytest.raises(NothingToPool):
        pool([Patch("a", "b", "c", Spells.of([]))], seed=1)


def test_impossible_questions_are_refused(invented, pooled):
    for ages in ([-1.0], [math.nan], [math.inf]):
        with pytest.raises(BadPool):
            pooled.survival("town", TOWN, ages)
    with pytest.raises(BadPool):
        pooled.survival("town", TOWN, [12.0], level=1.0)
    with pytest.raises(NotPooled):
        pooled.survival("planting", "nobody planted this", [12.0])
    with pytest.raises(BadPool):
        pool(invented.patches, seed=1, draws=99)


def test_the_order_of_the_rows_is_irrelevant_and_the_same_input_gives_the_same_bytes(
    invented, pooled
):
    other = pool(list(reversed(invented.patches)), seed=1)
    assert pooled.effects.planting.tobytes() == other.effects.planting.tobytes()
    assert pooled.every("site", AGES) == other.every("site", AGES)


def test_trees_in_one_row_or_in_many_are_the_same_trees(invented, pooled):
    split = []
    for patch in invented.patches:
        told = patch.spells
        for row in range(len(told.count)):
            here = slice(row, row + 1)
            part = Spells.from_columns(
                entry=told.entry[here],
                left=told.left[here],
                right=told.right[here],
                count=told.count[here],
            )
            split.append(Patch(patch.planting, patch.species, patch.site, part))
    assert pool(split, seed=1).every("planting", AGES) == pooled.every("planting", AGES)


def test_survival_never_rises_with_age_and_lies_within_its_limits(pooled):
    for by in ("planting", "species", "site", "town"):
        for told in pooled.every(by, AGES).values():
            for at in told:
                assert 0 <= at.low <= at.survival <= at.high <= 1
                assert 0 <= at.own <= 1
            for column in ("survival", "low", "high"):
                curve = [getattr(at, column) for at in told]
                assert curve == sorted(curve, reverse=True)


def test_one_group_alone_says_what_all_at_once_say(pooled):
    for by in ("planting", "species", "site"):
        for key, told in pooled.every(by, AGES).items():
            alone = pooled.survival(by, key, AGES)
            for one, at in zip(alone, told, strict=True):
                assert astuple(one) == pytest.approx(astuple(at))


def test_a_planting_of_which_nothing_was_seen_takes_the_survival_of_the_town():
    patches = [Patch(f"p{n}", "lime", "park", watched([6, 3], 36, 31)) for n in range(8)]
    patches.append(Patch("new", "lime", "park", lives((-math.inf, 0.0, math.inf, 10))))
    pooled = pool(patches, seed=1)
    new, whole = (
        pooled.survival(by, key, [24.0])[0] for by, key in (("planting", "new"), ("town", TOWN))
    )
    assert new.own == 0
    assert new.survival == pytest.approx(whole.survival, abs=0.02)
    assert new.high - new.low > 1.5 * (whole.high - whole.low)


def test_one_dead_tree_moves_its_planting_a_little_and_not_to_zero():
    patches = [Patch(f"p{n}", "lime", "park", watched([4, 3], 36, 33)) for n in range(12)]
    patches.append(Patch("one", "lime", "park", watched([1], 12, 0)))
    pooled = pool(patches, seed=1)
    one, whole = (
        pooled.survival(by, key, [24.0])[0] for by, key in (("planting", "one"), ("town", TOWN))
    )
    assert whole.survival - 0.2 < one.survival < whole.survival
    assert one.own < 0.2


def test_a_planting_of_thousands_says_what_its_own_trees_say():
    patches = [Patch(f"p{n}", "lime", "park", watched([6, 3], 36, 31)) for n in range(8)]
    many = watched([2000, 700, 300], 36, 1000)
    pooled = pool([*patches, Patch("many", "lime", "park", many)], seed=1)
    raw = turnbull(many)
    for at in pooled.survival("planting", "many", [12.0, 24.0, 36.0]):
        assert at.own > 0.9
        assert at.survival == pytest.approx(raw.at_least(at.age), abs=0.03)


@pytest.mark.parametrize(
    ("spells", "low", "high"),
    [
        (watched([], 24, 30), 0.85, 1.0),
        (watched([20], 12, 0), 0.0, 0.3),
        (lives((-math.inf, 0.0, 0.0, 3)), 0.0, 0.9),
        (lives((5.0, 6.0, 6.0, 1)), 0.0, 1.0),
    ],
    ids=["all alive", "all dead", "dead on the planting day", "one tree, entered late"],
)
def test_one_planting_alone_gets_an_answer_at_every_edge(spells, low, high):
    told = pool([Patch("", "", "", spells)], seed=1).survival("planting", "", [12.0])[0]
    assert low <= told.survival <= high
    assert told.low < told.high
    assert told.own == 1  # there is nobody to lean on


def test_late_entry_is_not_taken_for_survival_of_the_months_before():
    late = [
        Patch(f"p{n}", "lime", "park", lives((12.0, 24.0, math.inf, 40), (12.0, 12.0, 18.0, 10)))
        for n in range(6)
    ]
    early = [Patch(f"q{n}", "lime", "park", watched([20], 24, 20)) for n in range(6)]
    told = pool([*late, *early], seed=1).survival("town", TOWN, [12.0, 24.0])
    # half are lost in the first year (of those watched in it), and of the rest fewer in the second
    assert told[0].survival == pytest.approx(0.5, abs=0.1)
    assert told[1].survival < 0.5


@pytest.mark.parametrize("kind", ["plantings, species and sites differ", "nothing differs"])
def test_the_shrunk_limits_hold_on_a_few_towns(kind):
    tally = judge(LAWS[kind], towns=4, seed=5)
    assert tally.coverage >= 0.9  # 300 answers that are not independent; 0.95 in the long run
    assert tally.rmse("shrunk") < 0.75 * tally.rmse("raw")
