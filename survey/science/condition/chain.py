"""The hidden condition of every tree, month by month: forward filter and backward smoother.

States 0 to 3 are alive (thriving to failing), 4 is standing dead, 5 is gone. In a month a live tree
gets better by one state, worse by one, dies, is taken away alive, or stays; a dead tree is removed
or stays. A move into `gone` is seen with chance `logged` as a removal on record, and where a
removal is on record every other move is next to impossible (`unlogged_move`). A removal on record
in a tree's very first month, when there is no move, says the same of where it started.

The filter is the forward recursion scaled by the likelihood of each month (Rabiner 1989,
Proceedings of the IEEE 77:257); the smoother runs backward over the filtered shares (Kitagawa 1987,
J. Am. Stat. Assoc. 82:1032), which keeps every number between 0 and 1. Trees are taken side by side
in order of length, so that every step is arithmetic on whole columns.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from survey.science.condition.laws import ALIVE, USUAL, Law
from survey.science.condition.learnt import Learnt, is_warm
from survey.science.condition.likelihood import (
    LookFactors,
    Tables,
    look_factors,
    month_factors,
    tables_of,
)
from survey.science.condition.prepared import Prepared, age_class, part, prepare
from survey.science.condition.records import DEAD, GONE, Evidence
from survey.science.records import Floats, Whole

AT_ONCE = 40_000  # tree-months that fit a processor's own memory
_NOTHING = 1e-290  # shares below this cannot be divided by


@dataclass(frozen=True, eq=False)
class Posterior:
    """What is believed of every tree in every month, laid end to end as in `Evidence.offsets`.

    `filtered` rests on the evidence up to each month, `smoothed` on all of it; rows are the six
    states and add to 1; in a tree's last month the two are the same. `log_likelihood` is of each
    tree's evidence, silence included.
    """

    offsets: Whole
    filtered: Floats
    smoothed: Floats
    log_likelihood: Floats

    @property
    def lost(self) -> Floats:
        """The chance by tree-month that the tree is dead or gone; it never falls within a tree."""
        return np.asarray(self.smoothed[:, DEAD] + self.smoothed[:, GONE])

    @property
    def now(self) -> Floats:
        """The shares of each tree in its last month."""
        return self.filtered[self.offsets[1:] - 1]


def posterior(evidence: Evidence, learnt: Learnt, law: Law = USUAL) -> Posterior:
    """What is believed of these trees. Evidence and learning are numbered alike; observers, sites
    and cohorts that the learning does not know start at what is usual for them."""
    learnt = learnt.reaching(evidence, law)
    tables = tables_of(learnt, law)
    prepared = prepare(evidence)
    total = evidence.tree_months
    filtered, smoothed = np.empty((total, 6)), np.empty((total, 6))
    log_likelihood = np.empty(evidence.trees.number)
    for begin, end in spans(prepared.offsets, AT_ONCE):
        months = slice(int(prepared.offsets[begin]), int(prepared.offsets[end]))
        run = Run(part(prepared, begin, end), learnt, tables, law)
        filtered[months] = run.filtered[:, run.grid.places].T
        smoothed[months] = run.smoothed[:, run.grid.places].T
        log_likelihood[begin:end] = run.log_likelihood
    return Posterior(evidence.offsets, filtered, smoothed, log_likelihood)


def blocks(evidence: Evidence, size: int = 20_000) -> Iterator[tuple[Whole, Evidence]]:
    """The town in parts of `size` trees: the places of the trees, and their evidence."""
    number = evidence.trees.number
    for begin in range(0, number, size):
        which = np.arange(begin, min(begin + size, number))
        yield which, evidence.of_trees(which)


def spans(offsets: Whole, tree_months: int) -> Iterator[tuple[int, int]]:
    """Runs of whole trees of about that many months each; at least one tree a run."""
    begin, last = 0, len(offsets) - 1
    while begin < last:
        end = int(np.searchsorted(offsets, offsets[begin] + tree_months, side="right")) - 1
        end = min(max(end, begin + 1), last)
        yield begin, end
        begin = end


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


class Run:
    """Filter and smoother over one part of a town; columns stand in the order of its `Grid`."""

    def __init__(self, prepared: Prepared, learnt: Learnt, tables: Tables, law: Law) -> None:
        self.prepared, self.learnt, self.law = prepared, learnt, law
        self.grid = Grid(prepared.offsets)
        self.moves = Moves(prepared, self.grid, learnt, law)
        self.looks: LookFactors = look_factors(prepared, tables)
        self._weigh(tables)
        self._filter()
        self._smooth()

    def _weigh(self, tables: Tables) -> None:
        grid, moves = self.grid, self.moves
        warm, site = moves.warm[grid.places], moves.site[grid.places]
        factor, taken = month_factors(self.prepared, tables, self.looks, warm, site)
        self.factor = np.empty((6, grid.tree_months))
        self.factor[:, grid.places] = factor.T
        self.taken = taken

    def _filter(self) -> None:
        grid, moves, law, learnt = self.grid, self.moves, self.law, self.learnt
        many = len(grid.order)
        self.forecast = np.empty((6, grid.tree_months))
        self.filtered = np.empty((6, grid.tree_months))
        self.scale = np.empty(grid.tree_months)
        start = learnt.start[self.prepared.later[grid.order].astype(np.int64)].T.copy()
        at_once = moves.logged[moves.logged < many]
        if len(at_once):
            start[:GONE, at_once] *= law.unlogged_move
            start[GONE, at_once] *= learnt.logged
        self.forecast[:, :many] = start
        for step, count in enumerate(grid.counts.tolist()):
            now = slice(int(grid.starts[step]), int(grid.starts[step]) + count)
            ahead = self.forecast[:, now]
            if step:
                then = int(grid.starts[step - 1])
                was = self.filtered[:, then : then + count]
                np.multiply(was, moves.stay[:, now], out=ahead)
                ahead[:3] += was[1:4] * moves.better[:, now]
                ahead[1:4] += was[:3] * moves.worse[:, now]
                ahead[DEAD] += (was[:ALIVE] * moves.death[:, now]).sum(axis=0)
                ahead[GONE] += (was[:GONE] * moves.gone[:, now]).sum(axis=0)
            seen = ahead * self.factor[:, now]
            scale = seen.sum(axis=0)
            self.scale[now] = scale
            np.divide(seen, scale, out=self.filtered[:, now])

    def _smooth(self) -> None:
        grid, moves = self.grid, self.moves
        self.smoothed = self.filtered.copy()
        self.ratio = np.empty_like(self.filtered)
        self.forecast[self.forecast < _NOTHING] = np.inf
        for step in range(len(grid.counts) - 1, 0, -1):
            count = int(grid.counts[step])
            now = slice(int(grid.starts[step]), int(grid.starts[step]) + count)
            then = slice(int(grid.starts[step - 1]), int(grid.starts[step - 1]) + count)
            ratio = self.ratio[:, now]
            np.divide(self.smoothed[:, now], self.forecast[:, now], out=ratio)
            back = ratio * moves.stay[:, now]
            back[1:4] += ratio[:3] * moves.better[:, now]
            back[:3] += ratio[1:4] * moves.worse[:, now]
            back[:ALIVE] += ratio[DEAD] * moves.death[:, now]
            back[:GONE] += ratio[GONE] * moves.gone[:, now]
            back *= self.filtered[:, then]
            total = back.sum(axis=0)
            if (total < 0.5).any():  # the past was ruled out by rounding: keep what it said itself
                back = np.where(total < 0.5, self.filtered[:, then], back)
                total = back.sum(axis=0)
            np.divide(back, total, out=self.smoothed[:, then])

    @property
    def log_likelihood(self) -> Floats:
        """By tree, in the order of the trees."""
        months = np.log(self.scale)[self.grid.places] + self.taken
        return np.asarray(np.add.reduceat(months, self.prepared.offsets[:-1]))
