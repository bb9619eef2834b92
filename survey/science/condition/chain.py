"""The hidden condition of every tree, month by month: forward filter and backward smoother.

States 0 to 3 are alive (thriving to failing), 4 is standing dead, 5 is gone. In a month a live tree
gets better by one state, worse by one, dies, is taken away alive, or stays; a dead tree is removed
or stays. A move into `gone` is seen with chance `logged` as a removal on record, and where a
removal is on record every other move is next to impossible (`unlogged_move`). A removal on record
in a tree's very first month, when there is no move, says the same of where it started.

`smoother` runs over many trees side by side, `compiled` over one after the other where a compiler
is there and the town is large; both do the same sums.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from survey.science.condition import compiled, smoother
from survey.science.condition.laws import USUAL, Law
from survey.science.condition.learnt import Learnt
from survey.science.condition.likelihood import tables_of
from survey.science.condition.moves import Grid, Moves
from survey.science.condition.prepared import part, prepare
from survey.science.condition.records import DEAD, GONE, Evidence
from survey.science.condition.smoother import Run, spans
from survey.science.records import Floats, Whole


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
    if compiled.is_worth_it(total):
        done = compiled.passed(prepared, learnt, tables, law, with_shares=True)
        return Posterior(evidence.offsets, done.filtered, done.smoothed, done.log_likelihood)
    filtered, smoothed = np.empty((total, 6)), np.empty((total, 6))
    log_likelihood = np.empty(evidence.trees.number)
    for begin, end in spans(prepared.offsets, smoother.AT_ONCE):
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


__all__ = ["Grid", "Moves", "Posterior", "blocks", "posterior"]
