"""When a tree died, as far as the evidence can tell."""

from dataclasses import dataclass

import numpy as np

from survey.science.condition.chain import Posterior
from survey.science.condition.records import Evidence
from survey.science.records import Floats, Whole

TOO_UNLIKELY = 0.05
"""Below this chance of being lost a date of death means nothing and should not be shown."""


@dataclass(frozen=True, slots=True, eq=False)
class Died:
    """By tree: the chance that it is lost, and the month of death given that it is.

    From `low` to `high`, both included, is where the death lies with the chance asked for; whole
    months make that a little more. A month of death is the first in which the tree is not alive.
    """

    p_lost: Floats
    low: Whole
    median: Whole
    high: Whole


def when_died(posterior: Posterior, evidence: Evidence, level: float = 0.9) -> Died:
    """Quantiles of the chance of being dead or gone by each month, over that in the last month.

    Raises `ValueError` for a level that is not between 0 and 1.
    """
    if not 0 < level < 1:
        raise ValueError("The level of an interval lies between 0 and 1.")
    offsets = posterior.offsets
    if len(offsets) == 1:
        nothing = np.zeros(0, dtype=np.int64)
        return Died(np.zeros(0), nothing, nothing, nothing)
    lost = posterior.lost
    p_lost = lost[offsets[1:] - 1]
    bound = np.repeat(p_lost, np.diff(offsets))

    def month(share: float) -> Whole:
        # the last month counts as reached, whatever rounding says
        short = np.add.reduceat((lost < share * bound).astype(np.int64), offsets[:-1])
        return np.asarray(np.minimum(evidence.trees.first + short, evidence.trees.last))

    tail = (1 - level) / 2
    return Died(np.minimum(p_lost, 1.0), month(tail), month(0.5), month(1 - tail))


__all__ = ["TOO_UNLIKELY", "Died", "when_died"]
