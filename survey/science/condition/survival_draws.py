"""Survival of groups of trees when all evidence is weighed, from drawn months of loss.

The counting and the step from "these trees" to "trees like these" are those of
`survey.science.survival.drawn`; here drawn months become ages, and every group gets its curve.
"""

from collections.abc import Sequence

import numpy as np

from survey.science.condition.draws import NEVER as NO_MONTH
from survey.science.condition.records import Evidence
from survey.science.records import Floats, Whole
from survey.science.survival.drawn import NEVER, Watched, curves, hazard_of, tally

REPEATS = 5
"""Curves drawn for each drawing of the losses."""


def ages_at_loss(evidence: Evidence, losses: Whole) -> Whole:
    """Drawn months of loss (draws by trees) as months since planting; NEVER stays NEVER."""
    age = np.minimum(losses - evidence.trees.planted, NEVER - 1)
    return np.asarray(np.where(losses == NO_MONTH, NEVER, age), dtype=np.int64)


def watched(evidence: Evidence) -> Watched:
    """From what age to what age each tree was under watch."""
    trees = evidence.trees
    return Watched(
        entry=trees.first - trees.planted,
        until=trees.last - trees.planted,
        other=np.full(trees.number, NEVER, dtype=np.int64),
    )


def survival_by_belief(
    evidence: Evidence,
    losses: Whole,
    group: Whole,
    groups: int,
    ages: Sequence[int],
    *,
    seed: int | Sequence[int],
    repeats: int = REPEATS,
) -> Floats:
    """By group, age and (share, low, high) at 95 %: the share of such trees still alive then.

    `group` numbers the trees from 0 (negative: in none); `losses` are those of `draw_losses`. A
    group of which no tree was ever under watch gets the town's curve, with wide limits.
    """
    longest = max(ages) + 1
    town = watched(evidence)
    lost = ages_at_loss(evidence, losses)
    hazard = hazard_of(tally(town, lost, longest))
    order = np.argsort(group, kind="stable")
    ends = np.searchsorted(group[order], np.arange(groups + 1))
    found = np.empty((groups, len(ages), 3))
    base = (seed,) if isinstance(seed, int) else tuple(seed)
    for number in range(groups):
        mine = order[ends[number] : ends[number + 1]]
        counted = tally(town.of(mine), lost[:, mine], longest)
        drawn = curves(counted, hazard, repeats=repeats, seed=(*base, number))
        for place, age in enumerate(ages):
            share = drawn.at("loss", age)
            found[number, place] = share.mean, share.low, share.high
    return found


__all__ = ["REPEATS", "ages_at_loss", "survival_by_belief", "watched"]
