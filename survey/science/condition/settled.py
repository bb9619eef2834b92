"""How likely one look is to leave nothing in doubt about a tree."""

from collections.abc import Sequence
from dataclasses import fields

import numpy as np

from survey.science.condition.laws import USUAL, Law
from survey.science.condition.learnt import Learnt
from survey.science.condition.settling import (
    LOOK,
    NOTHING,
    SCRATCH,
    VOLUNTEER,
    BadQuestion,
    Doubtful,
    best_look,
    said_of,
)
from survey.science.records import Floats


def chance_settled(
    trees: Doubtful,
    looks: Sequence[str],
    learnt: Learnt,
    law: Law = USUAL,
    *,
    kind: int = VOLUNTEER,
) -> Floats:
    """For each tree the chance that after its look no further one would be worth the way.

    `looks` names for each tree a trained look this month, with a scratch test or without. Over
    everything that the observer might say: how likely it is, and whether a look would then still
    gain `LEAST_GAIN`.
    """
    if len(looks) != len(trees.shares) or not set(looks) <= {LOOK, SCRATCH}:
        raise BadQuestion("Each tree needs a look of this month, with a scratch test or without.")
    found = np.zeros(len(looks))
    named = np.array(looks, dtype=object)
    for name in (LOOK, SCRATCH):
        for off in (False, True):
            rows = np.flatnonzero((named == name) & (trees.is_bare == off))
            if not len(rows):
                continue
            said = said_of(name, off, kind, learnt, law)
            joint = trees.shares[rows, None, :] * said
            chance = joint.sum(axis=2)
            tree, answer = np.nonzero(chance > 0)
            after = _of_rows(trees, rows[tree], joint[tree, answer] / chance[tree, answer, None])
            done = best_look(after, learnt, law, kind=kind).best == NOTHING
            np.add.at(found, rows[tree], chance[tree, answer] * done)
    return found


def _of_rows(trees: Doubtful, rows: np.ndarray, shares: Floats) -> Doubtful:
    """Those trees, believed to be something else."""
    columns = {
        field.name: getattr(trees, field.name)[rows]
        for field in fields(Doubtful)
        if field.name not in ("shares", "month", "south")
    }
    return Doubtful(shares=shares, month=trees.month, south=trees.south, **columns)
