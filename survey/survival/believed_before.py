"""How trees stood before a day by everything that was known by then, for the comparison of care.

The filtered belief rests on evidence up to its month and on nothing later. The belief taken is that
of the month before: a look in the month of the care may have been made after it.
"""

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np

from survey.condition.evidence import load, month_of
from survey.condition.learning import numbered_as
from survey.condition.models import Learning
from survey.science.condition.chain import blocks, posterior
from survey.science.condition.records import DEAD, FAILING, GONE
from survey.science.records import Whole
from survey.science.survival.care_sets import LOST, LastLooks, State, Watched
from survey.trees.models import Area

START = date(2000, 1, 1)
DAYS_A_MONTH = 30.4375
TREES_AT_ONCE = 20_000
LIKELIER_LOST = 0.5


class Beliefs:
    """The likeliest grade of every tree of an area in every month, by what was known up to it:
    0 thriving to 3 failing, or LOST where the tree is likelier lost than not."""

    def __init__(self, trees: Whole, first: Whole, offsets: Whole, grades: Whole) -> None:
        self.trees, self.first, self.offsets, self.grades = trees, first, offsets, grades

    def of(self, tree_ids: Sequence[int], watched: Sequence[Watched]) -> "BelievedBefore":
        """Of these trees, in this order, which is that of `watched`."""
        places = np.searchsorted(self.trees, np.array(tree_ids, dtype=np.int64))
        return BelievedBefore(self, places, LastLooks(watched))


class BelievedBefore:
    """The believed grade just before a time, and how long ago trained eyes last saw the tree.

    That a control was alive is known from trained looks alone, so the age of what is known stays
    that of the last of them.
    """

    def __init__(self, beliefs: Beliefs, places: Whole, looks: LastLooks) -> None:
        self._beliefs, self._places, self._looks = beliefs, places, looks

    def just_before(self, rows: Whole, time: float) -> State:
        """See `care_sets.Before`."""
        beliefs = self._beliefs
        place = self._places[rows]
        month = month_of(START + timedelta(days=round(time * DAYS_A_MONTH))) - 1
        step = month - beliefs.first[place]
        known = step >= 0
        end = beliefs.offsets[place + 1] - 1
        at = np.minimum(beliefs.offsets[place] + np.maximum(step, 0), end)
        seen = self._looks.just_before(rows, time)
        return State(np.where(known, beliefs.grades[at], np.nan), seen.age)


def beliefs_of(area: Area) -> Beliefs | None:
    """The beliefs of an area by its newest learning; None before anything was learnt."""
    learning = Learning.objects.newest_of(area)
    if learning is None:
        return None
    loaded = load(area)
    learnt = numbered_as(learning, loaded)
    evidence = loaded.evidence
    grades = np.empty(evidence.tree_months, dtype=np.int8)
    for places, part in blocks(evidence, TREES_AT_ONCE):
        if not len(places):
            continue
        filtered = posterior(part, learnt).filtered
        likeliest = filtered[:, : FAILING + 1].argmax(axis=1)
        lost = filtered[:, DEAD] + filtered[:, GONE] > LIKELIER_LOST
        months = slice(evidence.offsets[places[0]], evidence.offsets[places[-1] + 1])
        grades[months] = np.where(lost, LOST, likeliest)
    return Beliefs(loaded.trees, evidence.trees.first, evidence.offsets, grades)
