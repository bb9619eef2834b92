"""Months of loss drawn as the evidence weighs them.

A tree is dead or gone for good, so the chance of being lost by each month is all there is to know
about the month of loss, and drawing from it is the same as drawing whole paths through the states.
"""

from collections.abc import Sequence

import numpy as np

from survey.science.condition.chain import Posterior
from survey.science.condition.records import Evidence
from survey.science.records import Whole

NEVER = np.iinfo(np.int32).max
"""The month of loss of a tree that is drawn as standing to the end."""


def draw_losses(
    evidence: Evidence, posterior: Posterior, *, draws: int, seed: int | Sequence[int]
) -> Whole:
    """Rows are draws, columns trees: the first month in which the tree is lost, or NEVER.

    Each row is one exact draw. Over the rows the draws of one tree are spread evenly (one in each
    n-th of its chances), so that means over rows are closer to what they estimate.
    """
    trees = evidence.trees.number
    dice = np.random.default_rng(seed)
    within = dice.permuted(np.tile(np.arange(draws), (trees, 1)), axis=1)
    chance = ((within + dice.random((trees, draws))) / draws).T
    # one rising line of all trees: tree number plus the chance of being lost by each month
    place = np.arange(trees)
    line = np.repeat(place, np.diff(posterior.offsets)) + np.clip(posterior.lost, 0.0, 1.0 - 1e-12)
    line = np.maximum.accumulate(line)
    reached = np.searchsorted(line, place + chance, side="right")
    month = evidence.trees.first + reached - posterior.offsets[:-1]
    return np.asarray(np.where(reached < posterior.offsets[1:], month, NEVER), dtype=np.int64)


__all__ = ["NEVER", "draw_losses"]
