"""What each walk found of a site by its own looks alone, for tests that ask whether it changed."""

from collections.abc import Iterator

import numpy as np

from survey.science.condition.learnt import is_warm
from survey.science.condition.outlook import WEIGHTS
from survey.science.condition.records import GONE, KINDS, Evidence
from survey.science.records import Whole
from survey.science.trend.rounds import Rounds, round_estimates

STAFF = KINDS.index("staff")
NOBODY = -1


def rounds_of(evidence: Evidence) -> Rounds:
    """The rounds of all these trees taken as one place. A logged removal tells of a loss."""
    looks, removals = evidence.looks, evidence.removals
    logs = np.ones(len(removals), dtype=np.int64)
    return round_estimates(
        np.concatenate([looks.tree, removals[:, 0]]),
        np.concatenate([looks.month, removals[:, 1]]),
        np.concatenate([looks.label, GONE * logs]),
        np.concatenate([evidence.observers[looks.observer], STAFF * logs]),
        observer=np.concatenate([looks.observer, NOBODY * logs]),
        walked=np.concatenate([~looks.complaint & ~looks.sure, logs == 0]),
        weights=WEIGHTS,
    )


def rounds_by_site(evidence: Evidence) -> list[Rounds]:
    """The rounds of each site of a town."""
    return [rounds_of(part) for part in by_site(evidence)]


def by_site(evidence: Evidence) -> Iterator[Evidence]:
    order = np.argsort(evidence.trees.site, kind="stable")
    ends = np.searchsorted(evidence.trees.site[order], np.arange(evidence.sites + 1))
    for site in range(evidence.sites):
        yield evidence.of_trees(order[ends[site] : ends[site + 1]])


def seasons_of(months: Whole, *, south: bool) -> Whole:
    """1 for the warm half of the year, 0 for the cool: only rounds of one season are compared."""
    return is_warm(months, south=south)
