"""What each walk found of a site by its own looks alone, for tests that ask whether it changed."""

from itertools import pairwise

import numpy as np

from survey.condition.evidence import Loaded
from survey.science.condition.learnt import is_warm
from survey.science.condition.outlook import WEIGHTS
from survey.science.condition.records import GONE, KINDS
from survey.science.records import Whole
from survey.science.trend.rounds import Rounds, round_estimates

STAFF = KINDS.index("staff")
NOBODY = -1


def rounds_by_site(loaded: Loaded) -> list[Rounds]:
    """The rounds of each site of a town."""
    return rounds_by(loaded, loaded.evidence.trees.site, loaded.evidence.sites)


def seasons_of(months: Whole, *, south: bool) -> Whole:
    """1 for the warm half of the year, 0 for the cool: only rounds of one season are compared."""
    return is_warm(months, south=south)


def rounds_by(loaded: Loaded, place: Whole, places: int) -> list[Rounds]:
    """The rounds of each place, for trees numbered by `place`. A logged removal tells of a loss."""
    looks, removals = loaded.evidence.looks, loaded.evidence.removals
    logs = np.ones(len(removals), dtype=np.int64)
    tree = np.concatenate([looks.tree, removals[:, 0]])
    columns = (
        tree,
        np.concatenate([looks.month, removals[:, 1]]),
        np.concatenate([looks.label, GONE * logs]),
        np.concatenate([loaded.evidence.observers[looks.observer], STAFF * logs]),
        np.concatenate([looks.observer, NOBODY * logs]),
        np.concatenate([loaded.walked, logs == 0]),
    )
    order = np.argsort(place[tree], kind="stable")
    ends = np.searchsorted(place[tree][order], np.arange(places + 1))
    found = []
    for begin, end in pairwise(ends):
        rows = order[begin:end]
        *said, observer, walked = (column[rows] for column in columns)
        found.append(round_estimates(*said, observer=observer, walked=walked, weights=WEIGHTS))
    return found
