"""Which look would settle what is not known of each tree, as it is kept with the belief."""

from typing import NamedTuple

import numpy as np

from survey.condition.evidence import Loaded, bare_months
from survey.science.condition.chain import Posterior
from survey.science.condition.laws import USUAL
from survey.science.condition.learnt import Learnt
from survey.science.condition.records import GONE
from survey.science.condition.settling import Doubtful, best_look


class Telling(NamedTuple):
    """The look that would tell most of one tree, and the month to make it in; "" and None: none.

    `gain` is the part of the doubt it is expected to take; see `settling`.
    """

    look: str
    month: int | None
    gain: float


NOTHING = Telling("", None, 0.0)


def what_would_settle(loaded: Loaded, found: Posterior, learnt: Learnt) -> list[Telling]:
    """For each tree of the evidence, in its order. A tree on record as taken away is no question.

    All trees of one area stand in the same month: today's.
    """
    trees = loaded.evidence.trees
    if not trees.number:
        return []
    settling = best_look(
        Doubtful(
            shares=found.now,
            month=int(trees.last.max()),
            leaf_off=bare_months(loaded.area, loaded.species),
            planted=trees.planted,
            site=trees.site,
            cohort=trees.cohort,
            south=loaded.evidence.south,
        ),
        learnt,
        USUAL,
    )
    taken = np.zeros(trees.number, dtype=bool)
    taken[loaded.evidence.removals[:, 0]] = True
    taken &= found.now[:, GONE] > 0.5
    return [
        NOTHING
        if taken[place] or not (look := settling.name(place))
        else Telling(look, int(settling.month[place]), float(settling.gain[place]))
        for place in range(trees.number)
    ]
