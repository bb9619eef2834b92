"""The months of trees side by side, and the chance of every move into each of them."""

import numpy as np

from survey.science.condition.laws import Law
from survey.science.condition.learnt import Learnt, is_warm
from survey.science.condition.prepared import Prepared, age_class
from survey.science.records import Floats, Whole


class Grid:
    """Ragged months side by side: all trees' first months, then all second months, and so on.

    Trees stand in order of falling length, so that those still under watch come first in every
    step. `places` says where each month of the long line stands in this order.
    """

    def __init__(self, offsets: Whole) -> None:
        lengths = np.diff(offsets)
        self.order = np.argsort(-lengths, kind="stable")
        rank = np.empty(len(lengths), dtype=np.int64)
        rank[self.order] = np.arange(len(lengths))
        longest = int(lengths.max(initial=0))
        ended = np.bincount(lengths, minlength=longest + 1)
        self.counts = len(lengths) - np.cumsum(ended)[:longest]  # trees with more than k months
        self.starts = np.concatenate([[0], np.cumsum(self.counts)])
        tree = np.repeat(np.arange(len(lengths)), lengths)
        step = np.arange(offsets[-1]) - np.repeat(offsets[:-1], lengths)
        self.places = self.starts[step] + rank[tree]
        steps = np.repeat(np.arange(longest), self.counts)
        self.step = steps
        self.tree = self.order[np.arange(len(steps)) - self.starts[steps]]
        self.moved = slice(len(lengths), None)  # every month but the first ones
        self.before = (np.arange(len(steps)) - self.counts[steps - 1])[self.moved]

    @property
    def tree_months(self) -> int:
        return len(self.step)


class Moves:
    """The monthly chances of every move, one column a tree-month, into that month.

    Rows of `better`: holding, slipping, failing. Of `worse`: thriving, holding, slipping. Of
    `death`: the four live states. Of `gone`: those four and dead. Of `stay`: all six.
    """

    def __init__(self, prepared: Prepared, grid: Grid, learnt: Learnt, law: Law) -> None:
        month = prepared.first[grid.tree] + grid.step
        self.site = prepared.site[grid.tree]
        self.warm = is_warm(month, south=prepared.south)
        age = age_class(prepared.age[grid.tree] + grid.step, law)
        care = np.zeros(grid.tree_months, dtype=np.int64)
        care[grid.places[prepared.care_at]] = 1
        self.cell = (age * 2 + self.warm) * 2 + care
        worse, death, better = factors(learnt, law)
        own = learnt.site[prepared.site] * learnt.cohort[prepared.cohort]
        self.own = own[grid.tree]
        self.better = learnt.better[:, None] * better[self.cell & 3]
        self.worse = learnt.worse[:, None] * (worse[self.cell] * self.own)
        self.death = learnt.death[:, None] * (death[self.cell] * self.own)
        self.gone = np.full((5, grid.tree_months), learnt.removed)
        self.gone[4] = learnt.removal
        self.stay = np.ones((6, grid.tree_months))
        leave = self.death + self.gone[:4]
        leave[:3] += self.worse
        leave[1:] += self.better
        if (leave > law.most).any():
            held = np.where(leave > law.most, law.most / leave, 1.0)
            self.worse *= held[:3]
            self.better *= held[1:]
            self.death *= held
            self.gone[:4] *= held
            leave *= held
        self.stay[:4] -= leave
        self.stay[4] -= learnt.removal
        self.gone *= 1 - learnt.logged
        logged = grid.places[prepared.logged_at]
        self.logged = logged
        if len(logged):
            for rows in (self.better, self.worse, self.death, self.stay):
                rows[:, logged] *= law.unlogged_move
            self.gone[:, logged] *= learnt.logged / max(1 - learnt.logged, 1e-12)


def factors(learnt: Learnt, law: Law) -> tuple[Floats, Floats, Floats]:
    """By kind of month the factors of getting worse and of dying; by season and care, of better."""
    seasons = learnt.worse_in_season
    age, season = learnt.age[:, None, None], seasons[None, :, None]
    care = np.array([1.0, learnt.worse_under_care])[None, None, :]
    worse = age * season * care
    death = worse if law.death_follows_season else age * np.ones((1, 2, 1)) * care
    cared = np.array([1.0, learnt.better_under_care])
    better = learnt.better_in_season[:, None] * cared
    return worse.reshape(-1), death.reshape(-1), better.reshape(-1)
