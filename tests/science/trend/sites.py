"""Invented sites whose trees are walked past in rounds, with what trained people really get wrong.

Nothing here is drawn from the model of the tests: trees have a level of their own that wanders,
each person is stricter or milder than others in every look, each day has its own light, trees look
worse out of leaf, rounds miss some trees, and trees die.
"""

from dataclasses import dataclass

import numpy as np

from survey.science.condition.learnt import is_warm
from survey.science.condition.records import DEAD, GONE
from survey.science.trend.rounds import Rounds, round_estimates

LEAF_ON = range(3, 9)  # April to September, counted from 0


@dataclass(frozen=True)
class Habit:
    """How sites of a town are walked and how they fare; shifts are in grades."""

    trees: int = 25
    every: int = 6  # months between rounds
    years: int = 6
    people: int = 4
    strict: float = 0.3  # how far people differ from each other, standard deviation
    day: float = 0.2  # how far one round differs from another by the same person
    slip: float = 0.45  # how far one look is off
    bare: float = 0.25  # how much worse trees look out of leaf
    met: float = 0.8
    dying: float = 0.002  # a tree a month, everywhere
    turn_month: int = 0
    worse: float = 0.0  # grades lost at once at the turn
    killed: float = 0.0  # share of trees dead within the turn month
    dying_after: float | None = None  # a tree a month from the turn on


def seasons_of(months):
    return is_warm(np.asarray(months, dtype=np.int64), south=False)


def make_looks(habit: Habit, dice) -> tuple[np.ndarray, ...]:
    """Columns (tree, month, label, kind, observer) of one site."""
    months = 12 * habit.years
    level = dice.normal(0.9, 0.8, habit.trees)
    people = dice.normal(0, habit.strict, habit.people)
    kinds = dice.integers(1, 3, habit.people)
    died = np.full(habit.trees, months * 2)
    told = []
    first = int(dice.integers(0, habit.every))
    for month in range(months):
        level = 0.9 + 0.97 * (level - 0.9) + dice.normal(0, 0.19, habit.trees)
        pace = habit.dying
        if month >= habit.turn_month and habit.dying_after is not None:
            pace = habit.dying_after
        if month == habit.turn_month and habit.killed:
            pace = habit.killed
        falls = (dice.random(habit.trees) < pace) & (died > month)
        died[falls] = month
        if (month - first) % habit.every:
            continue
        who = int(dice.integers(0, habit.people))
        shift = people[who] + dice.normal(0, habit.day)
        shift += habit.bare * (month % 12 not in LEAF_ON)
        shift += habit.worse * (month >= habit.turn_month)
        seen = level + shift + dice.normal(0, habit.slip, habit.trees)
        label = np.clip(np.round(seen), 0, 3).astype(int)
        lost = died <= month
        label[lost] = np.where(month - died[lost] > 8, GONE, DEAD)
        # an empty pit is often passed by
        met = dice.random(habit.trees) < np.where(label == GONE, 0.5, 1) * habit.met
        told += [(tree, month, label[tree], kinds[who], who) for tree in np.flatnonzero(met)]
    return tuple(np.array(told, dtype=np.int64).reshape(-1, 5).T)


def cut(looks, until: int) -> Rounds:
    """The rounds as they were known at the end of a month."""
    tree, month, label, kind, who = (column[looks[1] <= until] for column in looks)
    return round_estimates(tree, month, label, kind, observer=who)
