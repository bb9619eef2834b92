"""When a sign began, as far as looks tell: after the last look without it, by the first with it.

A look bounds an onset and never dates it, so a tree whose two looks lie on both sides of a
happening says nothing about which came first. Nothing here claims more than those bounds allow.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import bdtrc

from survey.science.records import Floats, Truths, Whole

LEAST = 5
NEVER = -1
YEAR = 365.2425


class BadWatch(ValueError):
    """Days of a watch that are out of order."""


@dataclass(frozen=True, eq=False)
class Watch:
    """Trees that were seen without the sign at least once, one row a tree; days as whole numbers.

    `start` is the first look without it, `clean` the last one before it was seen (or of all), and
    `seen` the first look with it, NEVER where there was none.
    """

    start: Whole
    clean: Whole
    seen: Whole

    def __post_init__(self) -> None:
        begun = self.seen != NEVER
        if (self.clean < self.start).any() or (self.seen[begun] <= self.clean[begun]).any():
            raise BadWatch("A tree is first seen without the sign, and later with it.")

    @property
    def begun(self) -> int:
        return int((self.seen != NEVER).sum())


@dataclass(frozen=True, slots=True)
class Changed:
    """Onsets before and after a day.

    `straddling` trees were seen without the sign before that day and with it after: they may have
    begun on either side and are counted against the change. `p` is the chance of so many surely
    after it, if the sign began at the same pace all along.
    """

    before: int
    straddling: int
    after: int
    share_of_days: float
    p: float
    verdict: str  # more_after, not_shown, too_few


def sides_of(watch: Watch, day: int) -> tuple[Truths, Truths, Truths]:
    """Which trees surely began by a day, which may have begun on either side, and which after."""
    begun = watch.seen != NEVER
    after = begun & (watch.clean >= day)
    before = begun & (watch.seen <= day)
    return before, begun & ~after & ~before, after


def after_change(watch: Watch, day: int) -> Changed:
    """Whether a sign began more often after a day than the days watched would have it.

    Given how many began, those after the day are binomial with the share of tree-days after it
    (the exact comparison of two Poisson rates: Przyborowski & Wilenski 1940 Biometrika
    31:313-323). Days are shared out so as to make the chance larger, never smaller: a tree that
    straddles counts as begun before, and its days up to the later look as watched after.
    """
    begun = watch.seen != NEVER
    before, straddling, after = sides_of(watch, day)
    end = np.where(after | straddling, watch.seen, watch.clean)
    days_before = np.maximum(np.minimum(watch.clean, day) - watch.start, 0).sum()
    days_after = np.maximum(end - np.maximum(watch.start, day), 0).sum()
    total = float(days_before + days_after)
    number, later = int(begun.sum()), int(after.sum())
    share = float(days_after) / total if total else 1.0
    p = 1.0 if later == 0 else float(bdtrc(later - 1, number, share))
    if number < LEAST or not days_before or not days_after:
        verdict, p = "too_few", 1.0
    else:
        verdict = "more_after" if p <= 0.05 else "not_shown"
    return Changed(int(before.sum()), int(straddling.sum()), later, share, p, verdict)


@dataclass(frozen=True, slots=True)
class Cluster:
    """How much of the onsets could lie in the days after a happening.

    `within` is the number of trees that surely began in it, `weight` adds each tree's share of its
    own interval that lies in it, and `expected` is the mean weight over all places the window
    could have had. `p` is the share of those places with as much weight.
    """

    within: int
    weight: float
    expected: float
    p: float
    verdict: str  # gathers, not_shown, too_few


def after_happening(
    watch: Watch, day: int, *, days: int = 60, season: int | None = None
) -> Cluster:
    """Whether onsets gather in the `days` after a happening, against every other place for it.

    The window is slid over each day of the watch, so the answer is exact and takes the looks as
    they fell: where all looks were made on two days, every window between them is as good as any
    other, and the chance says so. With `season` it is slid only over days of the year no further
    than so many days from the happening's own: heat comes in summer, and so does much else.
    """
    begun = watch.seen != NEVER
    clean, seen = watch.clean[begun], watch.seen[begun]
    if len(seen) < LEAST:
        return Cluster(0, 0.0, 0.0, 1.0, "too_few")
    first, last = int(watch.start.min()), int(max(watch.clean.max(), seen.max()))
    places = np.arange(first, max(first, last - days) + 1)
    if not places[0] <= day <= places[-1]:
        return Cluster(0, 0.0, 0.0, 1.0, "too_few")
    if season is not None:
        apart = np.abs((places - day + YEAR / 2) % YEAR - YEAR / 2)
        places = places[apart <= season]
    weights = _weights(clean, seen, places, days)
    own = float(weights[int(np.searchsorted(places, day))])
    # equal weights may differ by a rounding of their sums
    p = float((weights >= own - 1e-9).mean())
    inside = int(((clean >= day) & (seen <= day + days)).sum())
    verdict = "gathers" if p <= 0.05 else "not_shown"
    return Cluster(inside, own, float(weights.mean()), p, verdict)


def _weights(clean: Whole, seen: Whole, places: Whole, days: int) -> Floats:
    """The weight of a window at each place. Trees with the same two looks are taken together."""
    pairs, count = np.unique(np.stack([clean, seen]), axis=1, return_counts=True)
    total = np.zeros(len(places))
    for (left, right), many in zip(pairs.T, count, strict=True):
        shared = np.minimum(places + days, right) - np.maximum(places, left)
        total += many * np.maximum(shared, 0) / (right - left)
    return total
