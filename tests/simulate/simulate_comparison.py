"""How often groups that die alike are said to differ, and how often a real difference is found.

Long runs, kept out of the everyday tests; `make simulate` prints the table. The groups are watched
in different ways on purpose: one from planting and every three months, another once a year and
registered late, rounds missed, unequal sizes.
"""

import math
from dataclasses import dataclass

import numpy as np
import pytest

from survey.science.records import Spells
from survey.science.survival.comparison import compare
from survey.science.survival.score_tests import Scores, permutation_test, permuted_within

SHAPE = 0.8  # a Weibull law: the first years are the hardest
RUNS = 1000
MOST_SIZE = 0.06
FOUR_ERRORS = 4 * math.sqrt(0.05 * 0.95 / RUNS)


@dataclass(frozen=True, slots=True)
class Watched:
    """A group of trees, how they die and how they are watched. Ages in months."""

    trees: int
    every: int  # months between rounds
    late: float  # share of trees registered some 3 to 18 months after planting
    pace: float = 1.0  # its hazard as a multiple of the others'
    scale: float = 90.0
    until: tuple[int, int] = (24, 60)  # the last round falls somewhere in here
    missed: float = 0.2  # share of looks that do not happen


def drawn(group: Watched, dice: np.random.Generator) -> Spells:
    """Lives of one group; trees never seen after registration are left out, as nobody knows them.

    Rounds come at fixed distances from an age that differs by tree, because trees of one street
    were planted in different months.
    """
    columns: list[tuple[float, float, float]] = []
    while len(columns) < group.trees:
        death = group.scale * dice.weibull(SHAPE) / group.pace ** (1 / SHAPE)
        entry = float(dice.integers(3, 19)) if dice.random() < group.late else -math.inf
        since = max(entry, 0.0)
        rounds = np.arange(
            dice.integers(1, group.every + 1), dice.integers(*group.until), group.every
        ).astype(float)
        rounds = rounds[(rounds > since) & (dice.random(len(rounds)) >= group.missed)]
        if death <= since or not len(rounds):
            continue
        left = float(rounds[rounds < death].max(initial=since))
        right = float(rounds[rounds >= death].min(initial=math.inf))
        columns.append((entry, left, right))
    entry, left, right = np.array(columns).T
    return Spells.from_columns(entry=entry, left=left, right=right)


def often(trees: int, **more: float | tuple[int, int]) -> Watched:
    return Watched(trees, every=3, late=0.1, **more)


def rarely(trees: int, **more: float | tuple[int, int]) -> Watched:
    return Watched(trees, every=12, late=0.4, **more)


UNLIKE_WATCH = {
    "20 and 20": [often(20), rarely(20)],
    "50 and 50": [often(50), rarely(50)],
    "100 and 100": [often(100), rarely(100)],
    "20 and 100": [often(20), rarely(100)],
    "100 and 20": [often(100), rarely(20)],
    "few losses, 50 and 50": [often(50, scale=500.0), rarely(50, scale=500.0)],
    "one watched half as long": [often(40, until=(40, 60)), rarely(40, until=(15, 30))],
    "every 3 months, every 2 years": [Watched(50, 3, 0.0), Watched(50, 24, 0.8)],
    "three groups of 20": [often(20), Watched(20, 6, 0.3), rarely(20)],
    "three groups of 50": [often(50), Watched(50, 6, 0.3), rarely(50)],
    "three groups of 100": [often(100), Watched(100, 6, 0.3), rarely(100)],
    "three groups, 100, 20 and 20": [often(100), Watched(20, 6, 0.3), rarely(20)],
}


@dataclass(frozen=True, slots=True)
class Tally:
    """Of how many samples, how many were compared, found to differ, and held the true ratio."""

    compared: int
    found: int
    held: int
    losses: float


def tally(groups: list[Watched], *, runs: int, seed: int, ratio: float = 1.0) -> Tally:
    dice = np.random.default_rng(seed)
    compared = found = held = losses = 0
    for _ in range(runs):
        one = compare([drawn(group, dice) for group in groups])
        losses += sum(one.losses)
        if one.refused:
            continue
        compared += 1
        found += not one.could_be_chance
        if one.low is not None and one.high is not None:
            held += one.low <= ratio <= one.high
    return Tally(compared, found, held, losses / runs)


@pytest.mark.parametrize("name", UNLIKE_WATCH)
def test_groups_that_die_alike_are_seldom_told_apart_however_they_are_watched(name, capsys):
    told = tally(UNLIKE_WATCH[name], runs=RUNS, seed=len(name))
    with capsys.disabled():
        print(  # noqa: T201 - the table is what this is run for
            f"\n{name}: {told.losses:.0f} losses, {told.compared} of {RUNS} compared, "
            f"size {told.found / max(told.compared, 1):.3f}, "
            f"ratio 1 held {told.held / max(told.compared, 1):.3f}",
            end="",
        )
    # a size of 0.06 seen through the noise of this many runs
    allowed = MOST_SIZE + 2 * math.sqrt(MOST_SIZE * (1 - MOST_SIZE) / max(told.compared, 1))
    assert told.found <= allowed * told.compared


@pytest.mark.parametrize(
    ("pace", "trees", "least"), [(2.0, 50, 0.5), (2.0, 100, 0.8), (3.0, 50, 0.9)]
)
def test_a_real_difference_is_found_and_its_limits_hold_it(pace, trees, least, capsys):
    groups = [often(trees), rarely(trees, pace=pace)]
    told = tally(groups, runs=RUNS // 2, seed=trees, ratio=pace)
    with capsys.disabled():
        print(  # noqa: T201
            f"\n{pace:.0f} times the hazard, {trees} and {trees}: power "
            f"{told.found / told.compared:.3f}, limits held it {told.held / told.compared:.3f}",
            end="",
        )
    assert told.found >= least * told.compared
    # 0.95 less three standard errors of this many runs
    assert told.held >= 0.92 * told.compared


def test_shuffling_within_like_watch_keeps_its_size(capsys):
    """Half of each group is watched in each way, or nearly all of one and few of the other."""
    runs, dice = RUNS // 2, np.random.default_rng(11)
    everywhere = within = 0
    for _ in range(runs):
        parts = [
            [drawn(often(12), dice), drawn(rarely(48), dice)],
            [drawn(often(60), dice), drawn(rarely(10), dice)],
        ]
        groups, strata = joined(parts)
        everywhere += permutation_test(groups, Scores.FINKELSTEIN).p <= 0.05
        within += permuted_within(groups, strata, seed=1, draws=400).p <= 0.05
    with capsys.disabled():
        print(f"\nshuffled over all {everywhere / runs:.3f}, within {within / runs:.3f}", end="")  # noqa: T201
    assert within <= (0.05 + FOUR_ERRORS * math.sqrt(2)) * runs


def joined(parts: list[list[Spells]]) -> tuple[list[Spells], list[list[int]]]:
    """Each group's parts as one, with the part (the stratum) of every row."""
    groups, strata = [], []
    for group in parts:
        groups.append(
            Spells(
                entry=np.concatenate([part.entry for part in group]),
                left=np.concatenate([part.left for part in group]),
                right=np.concatenate([part.right for part in group]),
                count=np.concatenate([part.count for part in group]),
            )
        )
        strata.append([place for place, part in enumerate(group) for _ in part.count])
    return groups, strata
