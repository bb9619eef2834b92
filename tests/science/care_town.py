"""An invented town in which care goes to trees in trouble, and what care does to them is known.

Trees pass month by month from thriving (0) through failing (3) to dead (4), each at its own pace.
They are looked at on rounds, and the more often their last look found them in trouble, the sooner
somebody cares for them. From then on their moves to worse and to death come `multiplier` times as
often. The truth is worked out for each tree from its own moves, not thrown.
"""

from dataclasses import dataclass

import numpy as np

from survey.science.survival.care_sets import Watched

MONTHS = 60
WORSE = np.array([0.05, 0.05, 0.06, 0.0])
BETTER = np.array([0.0, 0.06, 0.05, 0.04])
DIES = np.array([0.001, 0.003, 0.012, 0.05])
CARED_FOR = np.array([0.005, 0.008, 0.05, 0.09])  # a month, by the grade last seen
BEGINS = np.array([0.45, 0.4, 0.13, 0.02])


@dataclass(frozen=True)
class Town:
    trees: list[Watched]
    moves: np.ndarray  # (trees, 5, 5) monthly moves without care
    moves_cared: np.ndarray
    grade_at_care: np.ndarray  # the true one


def moves_of(pace: np.ndarray, multiplier: float) -> np.ndarray:
    table = np.zeros((len(pace), 5, 5))
    for grade in range(4):
        worse = np.minimum(WORSE[grade] * pace * multiplier, 0.4)
        dies = np.minimum(DIES[grade] * pace * multiplier, 0.4)
        if grade < 3:
            table[:, grade, grade + 1] = worse
        table[:, grade, 4] += dies
        if grade:
            table[:, grade, grade - 1] = BETTER[grade]
        table[:, grade, grade] = 1 - table[:, grade].sum(axis=1)
    table[:, 4, 4] = 1
    return table


def make_town(
    seed: int, *, trees: int = 500, multiplier: float = 1.0, sees_truth: bool = False
) -> Town:
    """`sees_truth`: who gives care goes by the tree's true state that day, not by the last look."""
    dice = np.random.default_rng(seed)
    site, kind = dice.integers(0, 4, trees), dice.integers(0, 2, trees)
    pace = np.exp(dice.normal(0, 0.3, 4)[site] + dice.normal(0, 0.4, trees))
    planted = dice.integers(0, 18, trees)
    plain, cared = moves_of(pace, 1.0), moves_of(pace, multiplier)
    grade = dice.choice(4, size=trees, p=BEGINS)
    seen = np.zeros(trees, dtype=int)
    care = np.full(trees, np.inf)
    grade_at_care = np.full(trees, -1)
    looks: list[list[tuple[float, int]]] = [[] for _ in range(trees)]
    closed = np.zeros(trees, dtype=bool)
    for month in range(MONTHS):
        here = planted <= month
        first = planted == month
        rounds = dice.random(4) < 0.3
        looked = (first | (rounds[site] & (dice.random(trees) < 0.85) & here)) & ~closed
        slip = dice.choice([-1, 0, 1], size=trees, p=[0.08, 0.84, 0.08])
        told = np.where(grade < 4, np.clip(grade + slip, 0, 3), 4)
        for row in np.flatnonzero(looked):
            looks[row].append((month + 0.2, int(told[row])))
        closed |= looked & (told == 4)
        seen = np.where(looked, told, seen)
        wanted = CARED_FOR[np.minimum(grade if sees_truth else seen, 3)]
        gets = here & (grade < 4) & np.isinf(care) & (dice.random(trees) < wanted)
        care[gets], grade_at_care[gets] = month + 0.6, grade[gets]
        moves = np.where((care < np.inf)[:, None, None], cared, plain)
        chances = moves[np.arange(trees), grade].cumsum(axis=1)
        after = (dice.random(trees)[:, None] > chances).sum(axis=1)
        grade = np.where(here, np.minimum(after, 4), grade)
    found = [
        Watched(
            site=f"site {site[row]}",
            kind=f"kind {kind[row]}",
            planted=float(planted[row]),
            since=float(planted[row]),
            looks=tuple(looks[row]),
            care_from=float(care[row]),
            care_to=float(care[row]),
        )
        for row in range(trees)
    ]
    return Town(found, plain, cared, grade_at_care)


def true_effect(town: Town, rows: list[int], months: int = 12) -> float:
    """What care does to these trees: the mean difference in their chance to stand so much later."""
    difference = 0.0
    for row in rows:
        start = town.grade_at_care[row]
        with_care = np.linalg.matrix_power(town.moves_cared[row], months)[start, 4]
        without = np.linalg.matrix_power(town.moves[row], months)[start, 4]
        difference += without - with_care
    return difference / len(rows)
