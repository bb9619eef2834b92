"""What each round of trained looks found of a site, so that rounds can be compared.

A round is a month in which trained people walked past enough of a site's trees. Each round stands
on its own looks: a smoothed belief would carry one round's finding into the months around it, and a
test of trend would take that for many rounds that agree.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from survey.science.condition.outlook import WEIGHTS
from survey.science.condition.records import FAILING, NOT_SAID, Truths
from survey.science.records import Floats, Whole
from survey.science.trend.kendall import BadSeries, theil_sen

USUAL_SPREAD = 15.0
_SPREAD_COUNTS = 10.0
_BETWEEN_TREES = 1.0  # trees differ from each other by so many times the variance of one's looks
USUAL_TAU = 2.5
LEAST_TAU = 2.0
_TAU_COUNTS = 10.0
USUAL_DYING = 0.003
_DYING_COUNTS = 5.0
MOST_DYING = 0.071 / 12
"""A month: in three of four published planting cohorts fewer trees die than 7.1 to 9.3 % a year
(Hilbert et al. 2019 Arboriculture & Urban Forestry 45:167). More is usual in no town."""
_MEAN_WEIGHT = 85.0  # what a site loses with one of its trees, times how many it has
_NEXT = 18  # months: rounds further apart tell more of change than of observers


@dataclass(frozen=True, slots=True, eq=False)
class Rounds:
    """A site's rounds, in order of time.

    `estimates`: mean outlook of the same trees in each round, out of 100. `covariance` of these,
    the part that all rounds share left out, without what one observer does to a whole round.
    `trees` counted in each, `lost` of them, `looks` behind it; `observers`: who made most of them.
    """

    months: Whole
    estimates: Floats
    covariance: Floats
    trees: Whole
    lost: Whole
    looks: Whole
    observers: Whole

    @property
    def number(self) -> int:
        return len(self.months)

    @property
    def errors(self) -> Floats:
        """The standard error of each round, from labels alone."""
        return np.sqrt(np.diag(self.covariance))


def round_estimates(
    tree: ArrayLike,
    month: ArrayLike,
    label: ArrayLike,
    kind: ArrayLike,
    *,
    observer: ArrayLike | None = None,
    walked: ArrayLike | None = None,
    least: int = 5,
    weights: Sequence[float] = WEIGHTS,
) -> Rounds:
    """Comparable rounds from the looks at one site, as columns of one length.

    `label` is a place in STATES or NOT_SAID, `kind` one in KINDS: residents' looks do not count.
    `walked` says which looks were made on a walk, whatever state the tree was in; others only tell
    of losses. A month with `least` walked looks or more is a round; against the truth of simulated
    towns, rounds of three or four looks were off by twice as much as those of five or more.

    Rounds cover different trees, so a round is compared with others through the trees they share:
    value = tree + round, by least squares, the trees' own levels taken as drawn from one
    population, as wide as the looks at one tree. A tree found dead or gone counts as
    lost in each later round unless a trained person finds it alive again; several looks at a tree
    in one round count as their mean.
    """
    columns = [np.asarray(c, dtype=np.int64) for c in (tree, month, label, kind)]
    who = np.full(len(columns[0]), -1) if observer is None else np.asarray(observer, np.int64)
    on_walk = (
        np.ones(len(columns[0]), dtype=bool) if walked is None else np.asarray(walked, dtype=bool)
    )
    if len({c.shape for c in (*columns, who, on_walk)}) > 1 or columns[0].ndim != 1:
        raise BadSeries("The columns of looks differ in length.")
    if least < 1:
        raise BadSeries("A round takes at least one look.")
    counts = (columns[3] > 0) & (columns[2] != NOT_SAID)
    trees, months, labels = (c[counts] for c in columns[:3])
    who, on_walk = who[counts], on_walk[counts]
    if len(labels) and not (labels.min() >= 0 and labels.max() < len(weights)):
        raise BadSeries("A look says what no condition is called.")
    when, looks = np.unique(months[on_walk], return_counts=True)
    when, looks = when[looks >= least], looks[looks >= least]
    if not len(when):
        nothing = np.zeros(0, dtype=np.int64)
        return Rounds(nothing, np.zeros(0), np.zeros((0, 0)), nothing, nothing, nothing, nothing)
    grid = _values(trees, months, labels, on_walk, when, np.asarray(weights, dtype=np.float64))
    estimates, covariance = _compared(grid)
    return Rounds(
        when,
        estimates,
        covariance,
        (~np.isnan(grid)).sum(axis=0),
        (grid == 0).sum(axis=0),
        looks,
        np.array([_most(who[on_walk & (months == one)]) for one in when], dtype=np.int64),
    )


def _values(
    trees: Whole, months: Whole, labels: Whole, on_walk: Truths, when: Whole, weights: Floats
) -> Floats:
    """Trees by rounds: what was found, 0 for what had been lost, NaN where nobody looked."""
    names, row = np.unique(trees, return_inverse=True)
    totals = np.zeros((len(names), len(when)))
    number = np.zeros_like(totals)
    column = np.searchsorted(when, months)
    here = (column < len(when)) & (when[np.minimum(column, len(when) - 1)] == months)
    lost = labels > FAILING
    # who is called for a sick tree tells of that tree only: its loss is a fact, its grade no sample
    counted = here & (on_walk | lost)
    np.add.at(totals, (row[counted], column[counted]), weights[labels[counted]])
    np.add.at(number, (row[counted], column[counted]), 1)
    grid = np.where(number > 0, totals / np.maximum(number, 1), np.nan)
    # the last trained look up to each round
    order = np.lexsort((lost, months, row))
    last = np.full((len(names), len(when) + 1), -1)
    np.maximum.at(last, (row[order], np.searchsorted(when, months[order])), np.arange(len(order)))
    last = np.maximum.accumulate(last, axis=1)[:, : len(when)]
    gone = (last >= 0) & lost[order][np.maximum(last, 0)]
    return np.where(np.isnan(grid) & gone, 0.0, grid)


def _compared(grid: Floats) -> tuple[Floats, Floats]:
    """The level of each round and the covariance of the levels, by value = tree + round."""
    there = ~np.isnan(grid)
    each = there.sum(axis=1)
    value = np.nan_to_num(grid)
    # the tree's own level, drawn towards the mean of all by about one look
    share = there / (each + 1 / _BETWEEN_TREES)[:, None]
    normal = np.diag(there.sum(axis=0)) - there.T @ share
    right = value.sum(axis=0) - share.T @ value.sum(axis=1)
    inverse = np.linalg.inv(normal)
    levels = inverse @ right
    own = (share * np.where(there, value - levels, 0)).sum(axis=1)
    left = np.where(there, value - levels - own[:, None], 0.0)
    freedom = max(int(there.sum()) - len(grid) - grid.shape[1] + 1, 0)
    spread = (float((left**2).sum()) + _SPREAD_COUNTS * USUAL_SPREAD**2) / (
        freedom + _SPREAD_COUNTS
    )
    # what all rounds share, which trees there happen to be, is no error of change
    number = grid.shape[1]
    middle = np.eye(number) - 1 / number
    covariance = spread * (middle @ inverse @ middle + 1 / float(there.sum()))
    return levels, (covariance + covariance.T) / 2


def _most(who: Whole) -> int:
    names, often = np.unique(who, return_counts=True)
    return int(names[np.argmax(often)])


@dataclass(frozen=True, slots=True)
class Usual:
    """How a town's rounds go.

    `tau`: how far a round is off because of who walked it and when, beyond what its labels
    explain (standard deviation, points). `drift`: points a month that sites of this town usually
    lose (0 or below). `dying`: the share of trees found lost a month. `pairs` of neighboring rounds
    told it.
    """

    tau: float
    drift: float
    dying: float
    pairs: int

    def luck(self, trees: float) -> float:
        """The variance that a site of so many trees gains in a month because a few die anyway."""
        return self.dying * _MEAN_WEIGHT**2 / max(trees, 1.0)


def usual_of(sites: Sequence[Rounds]) -> Usual:
    """What is usual between rounds, from all sites of a town.

    Trees die everywhere at some pace; what a turn is measured against is the pace that is usual
    there: the mean slope of the sites, a fifth of them left out at either end. The spread comes
    from neighboring rounds, not more than 18 months apart, and is drawn towards `USUAL_TAU` with
    the weight of ten pairs: a town with few rounds gets about that. So is the share of trees dying,
    towards `USUAL_DYING`, by five losses. No town is so used to losses that more than `MOST_DYING`
    of its trees, and the points that go with them, pass for usual.
    """
    slopes = np.sort(
        [
            slope.value
            for site in sites
            if site.number >= 3 and (slope := theil_sen(site.months, site.estimates)) is not None
        ]
    )
    outer = len(slopes) // 5
    middle = slopes[outer : len(slopes) - outer]
    drift = min(0.0, float(middle.mean())) if len(middle) else 0.0
    losses = sum(float(site.lost[-1] - site.lost[0]) for site in sites if site.number > 1)
    watched = sum(
        float(((site.trees - site.lost)[:-1] * np.diff(site.months)).sum()) for site in sites
    )
    dying = (max(losses, 0.0) + _DYING_COUNTS) / (watched + _DYING_COUNTS / USUAL_DYING)
    excess, weight, pairs = 0.0, 0.0, 0
    for site in sites:
        gaps = np.diff(site.months)
        change = np.diff(site.estimates) - drift * gaps
        spread = np.diag(site.covariance)
        noise = spread[1:] + spread[:-1] - 2 * np.diag(site.covariance, 1)
        noise = noise + gaps * dying * _MEAN_WEIGHT**2 / np.maximum(site.trees[1:], 1)
        near = gaps <= _NEXT
        # half of the variance goes with the observer and cancels where both rounds are one's own
        same = (site.observers[1:] == site.observers[:-1]) & (site.observers[1:] >= 0)
        excess += float((change**2 - noise)[near].sum())
        weight += float(np.where(same, 1.0, 2.0)[near].sum())
        pairs += int(near.sum())
    prior = 2 * _TAU_COUNTS
    variance = (max(excess, 0.0) + prior * USUAL_TAU**2) / (weight + prior)
    return Usual(
        max(LEAST_TAU, float(np.sqrt(variance))),
        max(drift, -MOST_DYING * _MEAN_WEIGHT),
        min(dying, MOST_DYING),
        pairs,
    )
