"""How likely one look is to make sure whether a tree lives."""

from collections.abc import Sequence

import numpy as np

from survey.science.condition.laws import USUAL, Law
from survey.science.condition.learnt import Learnt
from survey.science.condition.records import DEAD, Truths
from survey.science.condition.settling import (
    LOOK,
    SCRATCH,
    VOLUNTEER,
    BadQuestion,
    Doubtful,
    said_of,
)
from survey.science.records import Floats

SURE = 0.95
"""So likely must a tree be alive, or lost, for anybody to be sure of it (our choice)."""


def is_sure(shares: Floats) -> Truths:
    """Whether it is sure that a tree lives, or that it is lost, by its shares (.., 6)."""
    lost = shares[..., DEAD:].sum(axis=-1)
    return np.asarray((lost <= 1 - SURE) | (lost >= SURE))


def chance_sure(
    trees: Doubtful,
    looks: Sequence[str],
    learnt: Learnt,
    law: Law = USUAL,
    *,
    kind: int = VOLUNTEER,
) -> Floats:
    """For each tree the chance that after its look it is sure whether it lives.

    `looks` names for each tree a trained look this month, with a scratch test or without. Over
    everything that the observer might say: how likely that is, and what would then be believed.
    """
    if len(looks) != len(trees.shares) or not set(looks) <= {LOOK, SCRATCH}:
        raise BadQuestion("Each tree needs a look of this month, with a scratch test or without.")
    found = np.zeros(len(looks))
    named = np.array(looks, dtype=object)
    for name in (LOOK, SCRATCH):
        for off in (False, True):
            rows = np.flatnonzero((named == name) & (trees.is_bare == off))
            joint = trees.shares[rows, None, :] * said_of(name, off, kind, learnt, law)
            chance = joint.sum(axis=2, keepdims=True)
            after = np.divide(joint, chance, out=np.zeros_like(joint), where=chance > 0)
            found[rows] = (chance[..., 0] * is_sure(after)).sum(axis=1)
    return found
