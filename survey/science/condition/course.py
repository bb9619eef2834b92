"""One tree's months as the filter goes through them, taken apart into plain factors by cause."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from survey.science.condition.chain import Grid, Moves
from survey.science.condition.laws import ALIVE, USUAL, Law
from survey.science.condition.learnt import Learnt, is_warm
from survey.science.condition.likelihood import Tables, look_factors, tables_of
from survey.science.condition.prepared import Prepared, prepare
from survey.science.condition.records import DEAD, GONE, NOT_SAID, Evidence, Looks
from survey.science.condition.tables import codes_of
from survey.science.records import Floats, Whole

WORRY, LABEL, SCRATCHED, IN_LEAF, SIGNS = "worry", "label", "scratch", "leaf", "signs"
LOOK_PARTS = (WORRY, LABEL, SCRATCHED, IN_LEAF, SIGNS)
"""The parts of a look, in the order in which they are told: each added to those before it."""


@dataclass(frozen=True, slots=True, eq=False)
class Factors:
    """One look: its place, the month (from 0, of the course), and the factors of its parts.

    `parts` are pairs of a name and six positive factors; their product is the look's weight for
    each state. What multiplies all six by one number changes nothing.
    """

    look: int
    month: int
    parts: tuple[tuple[str, Floats], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """What each month does to what is believed of one tree.

    `first` is the month of the first row, `start[6]` the shares before anything was seen,
    `start_removals[6]` what a removal on record in the first month multiplies them with,
    `moves[months - 1, 6, 6]` the chances of going from a state (row) to a state (column),
    `removals[months - 1, 6, 6]` what the record of removals multiplies them with,
    `quiet[months, 6]` what it multiplies each state with that nobody (else) complained, `looks` in
    order of month. `logged` holds the months (from 0) in which a removal was put on record.
    """

    first: int
    start: Floats
    start_removals: Floats
    moves: Floats
    removals: Floats
    quiet: Floats
    looks: tuple[Factors, ...]
    logged: frozenset[int] = frozenset()

    @property
    def months(self) -> int:
        return len(self.quiet)


def course_of(evidence: Evidence, learnt: Learnt, tree: int = 0, law: Law = USUAL) -> Course:
    """The course of one tree (its place in the evidence). `learnt` is numbered as the evidence.

    `Factors.look` is a place in `evidence.looks`. Looks of one month come in a fixed order: by kind
    of observer (residents, volunteers, staff, what was laid down for sure), then alike by alike, by
    what they said.
    """
    learnt = learnt.reaching(evidence, law)
    mine = np.flatnonzero(evidence.looks.tree == tree)
    alone = evidence.of_trees([tree])
    prepared, tables = prepare(alone), tables_of(learnt, law)
    none = prepared.logged_at[:0]
    plain = _matrices(replace(prepared, logged_at=none), replace(learnt, logged=0.0), law)
    actual = _matrices(prepared, learnt, law)
    months = np.arange(alone.tree_months) + int(alone.trees.first[0])
    warm = is_warm(months, south=evidence.south)
    start_removals = np.ones(6)
    if 0 in prepared.logged_at:
        start_removals[:GONE] = law.unlogged_move
        start_removals[GONE] = learnt.logged
    return Course(
        first=int(months[0]),
        start=learnt.start[int(prepared.later[0])],
        start_removals=start_removals,
        moves=plain,
        removals=np.divide(actual, plain, out=np.ones_like(plain), where=plain > 0),
        quiet=np.exp(tables.silence[int(prepared.site[0]), warm]),
        looks=tuple(_factors(alone, mine, prepared, tables)),
        logged=frozenset(prepared.logged_at.tolist()),
    )


def _matrices(prepared: Prepared, learnt: Learnt, law: Law) -> Floats:
    """[months - 1, 6, 6]: the chances of every move into each month after the first."""
    moves = Moves(prepared, Grid(prepared.offsets), learnt, law)
    into = np.zeros((moves.stay.shape[1], 6, 6))
    live = np.arange(ALIVE)
    into[:, live[1:], live[:-1]] = moves.better.T
    into[:, live[:-1], live[1:]] = moves.worse.T
    into[:, :ALIVE, DEAD] = moves.death.T
    into[:, :GONE, GONE] = moves.gone.T
    every = np.arange(6)
    into[:, every, every] = moves.stay.T
    return into[1:]


def _factors(alone: Evidence, mine: Whole, prepared: Prepared, tables: Tables) -> Iterator[Factors]:
    looks = alone.looks
    factors = [
        look_factors(
            replace(prepared, look_code=codes_of(_told_only(looks, parts), alone.observers)), tables
        ).factor
        for parts in range(len(LOOK_PARTS))
    ]
    said = (looks.signs, looks.leaf, looks.scratch, looks.complaint, looks.label)
    kind = np.where(looks.sure, len(alone.observers) + 9, alone.observers[looks.observer])
    worried = np.exp(tables.complaints)
    for place in np.lexsort((*said, kind, looks.month)):
        given = (
            bool(looks.complaint[place]),
            True,
            bool(looks.scratch[place]),
            bool(looks.leaf[place]),
            looks.signs[place] != NOT_SAID,
        )
        parts = [
            (name, worried if name == WORRY else factors[n][place] / factors[n - 1][place])
            for n, name in enumerate(LOOK_PARTS)
            if given[n]
        ]
        month = int(looks.month[place] - alone.trees.first[0])
        yield Factors(int(mine[place]), month, tuple(parts))


def _told_only(looks: Looks, parts: int) -> Looks:
    """The looks as if only their first parts had been told: 0 nothing, 1 the label, and so on."""
    nothing = np.zeros_like(looks.label)
    return replace(
        looks,
        label=looks.label if parts >= 1 else nothing + NOT_SAID,
        scratch=looks.scratch if parts >= 2 else nothing,
        leaf=looks.leaf if parts >= 3 else nothing,
        signs=looks.signs if parts >= 4 else nothing + NOT_SAID,
    )
