"""What one pass over a town counts, for learning: expected events, and months at risk of them."""

from dataclasses import dataclass, fields
from typing import Self

import numpy as np

from survey.science.condition.laws import ALIVE
from survey.science.condition.likelihood import Tables
from survey.science.condition.moves import factors
from survey.science.condition.prepared import CELLS
from survey.science.condition.records import DEAD, GONE
from survey.science.condition.smoother import Run
from survey.science.records import Floats, Whole


@dataclass(eq=False)
class Counts:
    """Sums over tree-months of what is believed; counts of parts of a town add up.

    `exposure` holds months at risk of worse and death, by live state and kind of month, weighed by
    the tree's own factor; `live` the same unweighed by state, season and care. `worsened`, `died`
    and `risen` are events by the same kinds. `silent` by state is expected complaints, were every
    state like thriving; `watched` by site is what the site's own rate multiplies.
    """

    start: Floats
    worse: Floats
    death: Floats
    better: Floats
    removed: float
    removal: float
    logged: float
    dead: float
    exposure: Floats
    live: Floats
    worsened: Floats
    died: Floats
    risen: Floats
    complaints: Floats
    silent: Floats
    watched: Floats
    right: Floats
    log_likelihood: float

    @classmethod
    def none(cls, sites: int, observers: int) -> Self:
        return cls(
            start=np.zeros((2, 6)),
            worse=np.zeros(3),
            death=np.zeros(ALIVE),
            better=np.zeros(3),
            removed=0.0,
            removal=0.0,
            logged=0.0,
            dead=0.0,
            exposure=np.zeros((ALIVE, CELLS)),
            live=np.zeros((ALIVE, 4)),
            worsened=np.zeros(CELLS),
            died=np.zeros(CELLS),
            risen=np.zeros(4),
            complaints=np.zeros(6),
            silent=np.zeros(6),
            watched=np.zeros(sites),
            right=np.zeros(observers),
            log_likelihood=0.0,
        )

    def add(self, other: Self) -> None:
        for field in fields(self):
            setattr(self, field.name, getattr(self, field.name) + getattr(other, field.name))


@dataclass(frozen=True, eq=False)
class Passed:
    """What one pass over a town leaves. By tree: events of getting worse or dying (`fallen`), and
    how many were `expected` with the factors of its own site and cohort left out."""

    counts: Counts
    fallen: Floats
    expected: Floats


def summed(which: Whole, weights: Floats, number: int) -> Floats:
    """Sums of weights by place, 0 to `number` - 1."""
    return np.asarray(np.bincount(which, weights, minlength=number), dtype=np.float64)


def count(run: Run, tables: Tables, fallen: Floats, expected: Floats) -> Counts:
    """The counts of one part. `fallen` and `expected`, one place a tree, are filled in: events of
    getting worse or dying, and how many were expected with the tree's own factor left out."""
    grid, moves, prepared, learnt = run.grid, run.moves, run.prepared, run.learnt
    sums = Counts.none(len(learnt.site), len(learnt.rho))
    sums.log_likelihood = float(run.log_likelihood.sum())
    many = len(grid.order)
    later = prepared.later[grid.order].astype(np.int64)
    for state in range(6):
        sums.start[:, state] = summed(later, run.smoothed[state, :many], 2)

    ratio, before = run.ratio[:, grid.moved], grid.before
    was = np.take(run.filtered, before, axis=1)
    held = np.take(run.smoothed, before, axis=1)
    worse = was[:3] * moves.worse[:, grid.moved] * ratio[1:4]
    death = was[:ALIVE] * moves.death[:, grid.moved] * ratio[DEAD]
    better = was[1:4] * moves.better[:, grid.moved] * ratio[:3]
    gone = was[:GONE] * moves.gone[:, grid.moved] * ratio[GONE]
    sums.worse, sums.death, sums.better = worse.sum(1), death.sum(1), better.sum(1)
    sums.removed, sums.removal = float(gone[:ALIVE].sum()), float(gone[DEAD].sum())
    logged = moves.logged[moves.logged >= many] - many
    sums.logged = float(gone[:, logged].sum())
    sums.dead = float(held[DEAD].sum())

    cell, tree = moves.cell[grid.moved], grid.tree[grid.moved]
    own = moves.own[grid.moved]
    for state in range(ALIVE):
        sums.exposure[state] = summed(cell, held[state] * own, CELLS)
        sums.live[state] = summed(cell & 3, held[state], 4)
    worsened, died = worse.sum(0), death.sum(0)
    sums.worsened = summed(cell, worsened, CELLS)
    sums.died = summed(cell, died, CELLS)
    sums.risen = summed(cell & 3, better.sum(0), 4)
    falling, dying, _ = factors(learnt, run.law)
    awaited = (learnt.worse @ held[:3]) * falling[cell] + (learnt.death @ held[:ALIVE]) * dying[
        cell
    ]
    fallen[:] = summed(tree, worsened + died, many)
    expected[:] = summed(tree, awaited, many)

    exposed = tables.exposed[moves.site, moves.warm]
    sums.silent = run.smoothed @ exposed
    visited = tables.visits[moves.warm] * (learnt.complaints @ run.smoothed)
    sums.watched = summed(moves.site, visited, len(learnt.site))
    if prepared.look_at.size:
        seen = np.take(run.smoothed, grid.places[prepared.look_at], axis=1).T
        sums.complaints = seen[prepared.look_complaint].sum(0)
        meant = (seen * (run.looks.by_table / run.looks.factor)).sum(1)
        meant[prepared.look_sure] = 0.0
        sums.right = summed(prepared.look_observer, meant, len(learnt.rho))
    return sums


__all__ = ["Counts", "Passed", "count", "summed"]
