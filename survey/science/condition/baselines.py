"""What people do without a model: the last report wins, or the majority of the last three.

They are here to be beaten. Each answers everything that the model answers, in the usual way: a
death is dated by the first report of the last run of "dead", survival is the share alive by their
last report at that age with Wilson's limits, and a site's band is that of a mean of its trees.
"""

import numpy as np

from survey.science.condition.judging import AGES, CLASSES, Answer
from survey.science.condition.records import DEAD, KINDS, NOT_SAID, Evidence
from survey.science.proportions import wilson
from survey.science.records import Floats, Whole

STAFF = KINDS.index("staff")
NEWER = 1e-3
"""By how much the newer of two reports counts more, so that a tie is broken by the newest."""

TWO_SIDED_95 = 1.96


def last_report(evidence: Evidence, weights: Floats) -> Answer:
    """The last report wins; in one month the better trained observer comes last.

    `weights` are the points of the outlook for each state.
    """
    return _answered(evidence, weights, newest=1)


def majority_of_three(evidence: Evidence, weights: Floats) -> Answer:
    """Shares among the last three reports; the newest breaks a tie."""
    return _answered(evidence, weights, newest=3)


def _answered(evidence: Evidence, weights: Floats, newest: int) -> Answer:
    tree, month, label = _reports(evidence)
    shares = _shares(tree, label, newest)
    row = _row_in_force(evidence, tree, month)
    known = row >= 0
    monthly = np.full((evidence.tree_months, CLASSES), np.nan)
    monthly[known] = shares[row[known]]
    last = monthly[evidence.offsets[1:] - 1]
    seen = ~np.isnan(last[:, 0])
    status = last.copy()
    # of a tree nobody reported on, what is said of the others
    status[~seen] = last[seen].mean(axis=0) if seen.any() else 1 / CLASSES
    first = int(evidence.trees.first.min()) if evidence.trees.number else 0
    return Answer(
        status=status,
        death=_dated(evidence, tree, month, shares[:, DEAD] > 0.5),
        survival=_survived(evidence, monthly),
        outlook=_outlook(evidence, monthly, weights, first),
        first_month=first,
        reliability=np.full(len(evidence.observers), 0.5),
    )


def _reports(evidence: Evidence) -> tuple[Whole, Whole, Whole]:
    """Tree, month and class of every report in order; a logged removal is a report of staff."""
    looks, removals = evidence.looks, evidence.removals
    said = looks.label != NOT_SAID
    tree = np.concatenate([looks.tree[said], removals[:, 0]])
    month = np.concatenate([looks.month[said], removals[:, 1]])
    label = np.concatenate([looks.label[said], np.full(len(removals), DEAD)])
    kind = np.concatenate([evidence.observers[looks.observer[said]], np.full(len(removals), STAFF)])
    observer = np.concatenate([looks.observer[said], np.zeros(len(removals), dtype=np.int64)])
    order = np.lexsort((observer, kind, month, tree))
    return tree[order], month[order], np.minimum(label[order], DEAD)


def _shares(tree: Whole, label: Whole, newest: int) -> Floats:
    """After each report, the share of each class among the tree's `newest` reports."""
    shares = np.zeros((len(tree), CLASSES))
    rows = np.arange(len(tree))
    for back in range(newest):
        before = rows - back
        same = (before >= 0) & (tree[np.maximum(before, 0)] == tree)
        shares[rows[same], label[before[same]]] += 1 - NEWER * back
    return np.asarray(shares / np.maximum(shares.sum(axis=1, keepdims=True), 1e-9))


def _row_in_force(evidence: Evidence, tree: Whole, month: Whole) -> Whole:
    """For every tree-month, the place of the newest report up to then; NOT_SAID before the first.

    Reports stand in order of tree and month, so the newest is the greatest place so far.
    """
    offsets = evidence.offsets
    place = np.full(evidence.tree_months, NOT_SAID, dtype=np.int64)
    place[offsets[tree] + month - evidence.trees.first[tree]] = np.arange(len(tree))
    lengths = np.diff(offsets)
    newest = np.maximum.accumulate(place) if len(place) else place
    owner = np.repeat(np.arange(evidence.trees.number), lengths)
    mine = (newest >= 0) & (tree[np.maximum(newest, 0)] == owner) if len(tree) else newest >= 0
    return np.where(mine, newest, NOT_SAID)


def _dated(evidence: Evidence, tree: Whole, month: Whole, dead: np.ndarray) -> Floats:
    """The first report of the last run that calls it dead, and the last before that did not."""
    death = np.full((evidence.trees.number, 3), np.nan)
    ends = np.searchsorted(tree, np.arange(evidence.trees.number), side="right")
    begins = np.searchsorted(tree, np.arange(evidence.trees.number), side="left")
    for one in range(evidence.trees.number):
        at = ends[one]
        while at > begins[one] and dead[at - 1]:
            at -= 1
        if at == ends[one]:
            continue
        alive = month[at - 1] + 1 if at > begins[one] else evidence.trees.first[one]
        death[one] = month[at], min(alive, month[at]), month[at]
    return death


def _survived(evidence: Evidence, monthly: Floats) -> Floats:
    """The share alive by their last report at each age, among those that had one by then."""
    trees = evidence.trees
    found = np.full((evidence.cohorts, len(AGES), 3), np.nan)
    for place, age in enumerate(AGES):
        month = trees.planted + age
        there = (month >= trees.first) & (month <= trees.last)
        row = np.where(there, evidence.offsets[:-1] + month - trees.first, 0)
        lost = np.where(there, monthly[row, DEAD], np.nan)
        for cohort in range(evidence.cohorts):
            mine = lost[trees.cohort == cohort]
            mine = mine[~np.isnan(mine)]
            if len(mine):
                alive = float((mine <= 0.5).sum())
                limits = wilson(alive, len(mine))
                found[cohort, place] = alive / len(mine), limits.low, limits.high
    return found


def _outlook(evidence: Evidence, monthly: Floats, weights: Floats, first: int) -> Floats:
    """The mean of the weights of a site's reports, with the band of a mean of that many trees."""
    trees = evidence.trees
    points = monthly @ weights[:CLASSES]
    length = int(trees.last.max()) - first + 1 if trees.number else 0
    lengths = np.diff(evidence.offsets)
    owner = np.repeat(np.arange(trees.number), lengths)
    since = np.arange(evidence.tree_months) - evidence.offsets[owner]
    cell = trees.site[owner] * length + trees.first[owner] + since - first
    seen = ~np.isnan(points)
    cells = evidence.sites * length
    number, total, squares = (
        np.bincount(cell[seen], weights=column, minlength=cells)
        for column in (np.ones(int(seen.sum())), points[seen], points[seen] ** 2)
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = total / number
        spread = np.maximum(squares - number * mean**2, 0) / np.maximum(number - 1, 1)
        half = TWO_SIDED_95 * np.sqrt(spread / number)
    return np.asarray(
        np.column_stack([mean, mean - half, mean + half]).reshape(evidence.sites, length, 3)
    )
