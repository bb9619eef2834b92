"""What a look at a tree would tell: by how much it would tighten a group's survival figure.

A tree that nobody has seen for a while may have died meanwhile. Given a curve (the town's, say) the
chance is known, and so is what a look would settle before anybody goes. Trees that can tell nothing
more are worth no walk.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from survey.science.records import Floats, Truths, Whole

Curve: TypeAlias = Callable[[Floats], Floats]

PRIOR_LOSSES = 4.0
"""How firmly a group is held to the curve it is given, in losses: as if so many had been seen at
just that pace. The paces of groups then differ by about half, 1 / sqrt(4) (common practice, no
source)."""


class BadWalk(ValueError):
    """Ages, minutes, a curve or places from which no walk can be planned."""


@dataclass(frozen=True, slots=True, eq=False)
class Trees:
    """Trees as columns, in walking order within a site.

    `site`: a whole number for each site. `entry`: age when it came under watch, 0 for planting.
    `seen`: age when last known alive. `lost`: age by which it is known lost, inf while it is not.
    `now`: its age today. `milestone`: the age asked about (today's, to ask how many stand now).
    `open`: whether anybody can still be sent to it (false for the dead, the gone, a danger near).
    `metres`: places east and north (n, 2), NaN where none is known. Ages in months.
    """

    site: Whole
    entry: Floats
    seen: Floats
    lost: Floats
    now: Floats
    milestone: Floats
    open: Truths
    metres: Floats

    @classmethod
    def of(
        cls,
        *,
        site: ArrayLike,
        seen: ArrayLike,
        now: ArrayLike,
        milestone: ArrayLike,
        entry: ArrayLike | None = None,
        lost: ArrayLike | None = None,
        open_: ArrayLike | None = None,
        metres: ArrayLike | None = None,
    ) -> "Trees":
        """Columns of equal length; without them, watched from planting, not lost, open, nowhere."""
        sites = np.atleast_1d(np.asarray(site, dtype=np.int64))
        many = len(sites)
        columns = [
            np.atleast_1d(np.asarray(value, dtype=np.float64))
            for value in (
                np.zeros(many) if entry is None else entry,
                seen,
                np.full(many, np.inf) if lost is None else lost,
                now,
                milestone,
            )
        ]
        may = np.ones(many, dtype=bool) if open_ is None else np.atleast_1d(np.asarray(open_))
        place = np.full((many, 2), np.nan) if metres is None else np.asarray(metres, dtype=float)
        place = place.reshape(-1, 2)
        if any(len(column) != many for column in (*columns, may, place)):
            raise BadWalk("The columns of trees differ in length.")
        came, last, gone, today, asked = columns
        known = np.isfinite(came) & np.isfinite(last) & np.isfinite(today) & np.isfinite(asked)
        fits = known & (came >= 0) & (came <= last) & (last <= today) & (gone > came) & (asked >= 0)
        if not fits.all():
            row = int(np.flatnonzero(~fits)[0])
            raise BadWalk(
                f"row {row}: entry {came[row]}, seen {last[row]}, lost {gone[row]}, "
                f"now {today[row]}, milestone {asked[row]} cannot be."
            )
        return cls(sites, came, last, gone, today, asked, may.astype(bool), place)

    def __len__(self) -> int:
        return len(self.site)


def curve_through(ages: Sequence[float], survival: Sequence[float]) -> Curve:
    """A curve through points, with a steady pace between them.

    Before the first and after the last point it goes on at the pace of the year next to it. Values
    that rise or reach 0 are held down to what was before, and up to 1 in 10,000. Raises `BadWalk`
    for fewer than two points, or ages that do not rise.
    """
    at = np.asarray(ages, dtype=np.float64)
    alive = np.asarray(survival, dtype=np.float64)
    if at.shape != alive.shape or at.ndim != 1 or len(at) < 2:
        raise BadWalk("A curve needs at least two points.")
    if not (
        np.isfinite(at).all() and (np.diff(at) > 0).all() and ((alive >= 0) & (alive <= 1)).all()
    ):
        raise BadWalk("The ages of a curve must rise, and its shares lie between 0 and 1.")
    spent = -np.log(np.maximum(np.minimum.accumulate(alive), 1e-4))
    at_end = float(np.interp(at[-1] - 12, at, spent))
    late = (spent[-1] - at_end) / min(12.0, at[-1] - at[0])
    at_start = float(np.interp(at[0] + 12, at, spent))
    early = (at_start - spent[0]) / min(12.0, at[-1] - at[0])

    def share(age: Floats) -> Floats:
        used = np.interp(age, at, spent)
        used = used + np.maximum(age - at[-1], 0) * late - np.maximum(at[0] - age, 0) * early
        return np.asarray(np.exp(-used))

    return share


@dataclass(frozen=True, slots=True, eq=False)
class Worth:
    """What is known of each tree, and what one look now would add.

    `chance`: of standing at its milestone. `doubt`: the variance of that yes or no now. `settled`:
    by how much a look is expected to bring it down. `told`: what a look adds to the rate, counted
    in losses (Fisher information on the pace at which this group loses trees).
    """

    chance: Floats
    doubt: Floats
    settled: Floats
    told: Floats
    pull: Floats  # how the chance moves with the logarithm of the pace
    pull_after: Floats  # the same after a look, expected
    pace: float  # of the curve's own, this group's
    known: float  # losses' worth of information there is already, the prior included


def worth_of_looks(trees: Trees, curve: Curve, *, prior: float = PRIOR_LOSSES) -> Worth:
    """What a look at each tree would tell.

    This group may lose trees faster or slower than the curve: its cumulative hazard is the curve's
    times a pace, found from the losses known against those expected so far (both with `prior` added
    to them). With a the chance that the tree still stands now and X whether it stands at its
    milestone, a look is worth Var(E[X | look]):

    * milestone passed and seen since, known lost, or closed to visitors: nothing;
    * milestone between the last look and now: found standing, it stood then too; found dead, it may
      have died before the milestone or after, and that doubt stays;
    * milestone to come: found dead settles it; found standing leaves the months to come.

    For the rate the tree's hazard H between the last look and the milestone (or now, if earlier)
    counts: the outcome is standing with chance a, whose derivative by the pace is -H a, so the look
    carries H^2 a / (1 - a), the Fisher information of one yes or no.
    """
    if not (math.isfinite(prior) and prior > 0):
        raise BadWalk("How firmly the curve is held to must be a number above 0.")

    def spent(age: Floats) -> Floats:
        return np.asarray(-np.log(curve(age)))

    lost = np.isfinite(trees.lost)
    until = np.where(lost, (trees.seen + np.minimum(trees.lost, trees.now)) / 2, trees.seen)
    watched = float((spent(until) - spent(trees.entry)).sum())
    pace = (float(lost.sum()) + prior) / (watched + prior)
    known = watched * pace + prior

    at_seen, at_now, at_asked = (
        pace * spent(age) for age in (trees.seen, trees.now, trees.milestone)
    )
    since, ahead = np.maximum(at_now - at_seen, 0), np.maximum(at_asked - at_now, 0)
    before = np.clip(at_asked - at_seen, 0, None)
    chance = np.where(lost, np.where(trees.seen >= trees.milestone, 1.0, 0.0), np.exp(-before))
    between = lost & (trees.seen < trees.milestone) & (trees.milestone < trees.lost)
    if between.any():
        # found lost after the milestone, last seen before it: no look can mend that any more
        used = pace * spent(np.minimum(trees.lost, trees.now))
        ran = -np.expm1(-np.maximum(used - at_seen, 1e-12))
        share = (np.exp(-before) - np.exp(-(used - at_seen))) / ran
        chance = np.where(between, np.clip(share, 0, 1), chance)
    doubt = chance * (1 - chance)

    stands = np.exp(-since)
    asks = trees.open & ~lost & (trees.seen < trees.milestone) & (since > 0)
    passed = trees.milestone <= trees.now
    later = np.exp(-ahead)
    dead = -np.expm1(-np.maximum(since, 1e-12))
    # passed: found dead, this is the chance that it stood at the milestone all the same
    stood = np.clip((np.exp(-before) - stands) / dead, 0, 1)
    left_over = np.where(passed, dead * stood * (1 - stood), stands * later * (1 - later))
    settled = np.where(asks, np.maximum(doubt - left_over, 0), 0.0)
    counted = np.minimum(before, since)
    told = np.where(asks, counted**2 * stands / dead, 0.0)
    pull = np.where(lost, 0.0, before * np.exp(-before))
    pull_after = np.where(asks, np.where(passed, 0.0, stands * ahead * later), pull)
    return Worth(chance, doubt, settled, told, pull, pull_after, pace, known)


@dataclass(frozen=True, slots=True)
class Band:
    """95 % limits of the number standing at the milestone, or of a share between 0 and 1."""

    low: float
    high: float


def count_band(worth: Worth, looked: Truths | None = None, *, level: float = 0.95) -> Band:
    """Between which whole numbers the trees standing at the milestone lie, now or after looks.

    After looks it is what may be expected before anybody has gone: the variance left on average.
    Both the fate of each tree and the group's pace are uncertain. Rounded outward.
    """
    seen = np.zeros(len(worth.doubt), dtype=bool) if looked is None else looked
    left_over = float((worth.doubt - np.where(seen, worth.settled, 0)).sum())
    pull = float(np.where(seen, worth.pull_after, worth.pull).sum())
    known = worth.known + float(worth.told[seen].sum())
    spread = _quantile(level) * math.sqrt(left_over + pull**2 / known)
    middle = float(worth.chance.sum())
    surely = int((worth.chance > 1 - 1e-12).sum())
    hardly = int((worth.chance > 1e-12).sum())
    # 1e-9: a whole number that is one but for rounding is not pushed to the next
    low = max(surely, math.floor(middle - spread + 1e-9))
    high = min(hardly, math.ceil(middle + spread - 1e-9))
    return Band(float(low), float(high))


def rate_band(
    worth: Worth, curve: Curve, age: float, looked: Truths | None = None, *, level: float = 0.95
) -> Band:
    """Limits of the share that such trees have standing at `age`, now or expected after looks.

    The curve raised to the group's pace; the logarithm of the pace is about normal with variance
    1 / losses' worth of information. They tell how much looks would tighten a figure; the figure
    itself, with its own limits, comes from the estimators.
    """
    seen = np.zeros(len(worth.told), dtype=bool) if looked is None else looked
    known = worth.known + float(worth.told[seen].sum())
    spread = _quantile(level) / math.sqrt(known)
    spent = -math.log(float(curve(np.array([age]))[0])) * worth.pace
    return Band(math.exp(-spent * math.exp(spread)), math.exp(-spent * math.exp(-spread)))


def _quantile(level: float) -> float:
    if not 0 < level < 1:
        raise BadWalk(f"The level of a limit lies between 0 and 1, and {level} does not.")
    return NormalDist().inv_cdf(0.5 + level / 2)
