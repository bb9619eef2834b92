"""Filter and smoother over trees side by side.

The filter is the forward recursion scaled by the likelihood of each month (Rabiner 1989,
Proceedings of the IEEE 77:257); the smoother runs backward over the filtered shares (Kitagawa 1987,
J. Am. Stat. Assoc. 82:1032), which keeps every number between 0 and 1. Trees are taken side by side
in order of length, so that every step is arithmetic on whole columns.
"""

from collections.abc import Iterator

import numpy as np

from survey.science.condition.laws import ALIVE, Law
from survey.science.condition.learnt import Learnt
from survey.science.condition.likelihood import LookFactors, Tables, look_factors, month_factors
from survey.science.condition.moves import Grid, Moves
from survey.science.condition.prepared import Prepared
from survey.science.condition.records import DEAD, GONE
from survey.science.records import Floats, Whole

AT_ONCE = 40_000  # tree-months that fit a processor's own memory
_NOTHING = 1e-290  # shares below this cannot be divided by


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


def spans(offsets: Whole, tree_months: int) -> Iterator[tuple[int, int]]:
    """Runs of whole trees of about that many months each; at least one tree a run."""
    begin, last = 0, len(offsets) - 1
    while begin < last:
        end = int(np.searchsorted(offsets, offsets[begin] + tree_months, side="right")) - 1
        end = min(max(end, begin + 1), last)
        yield begin, end
        begin = end
