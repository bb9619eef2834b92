"""How many of these trees will still stand, if nothing changes.

From the draws of a pooled fit. In each draw a tree last seen alive at age L stands at age T with
the probability exp(-(its cumulative hazard from L to T)), which also covers the months up to today
in which nobody looked. Trees of one draw fall independently, so that their number has a
Poisson-binomial distribution; averaged over the draws it carries what is not known of the planting
too. The sum is exact, by its characteristic function (Hong 2013 Comput. Stat. Data Anal. 59:41).

Years differ, in drought and in storms, and no record of a few years says by how much. So each draw
multiplies the hazard to come by exp(UNREST * z), z standard normal and the same for all trees:
trees that will live through one and the same year are not independent evidence of it. UNREST is
an assumption, common practice, no source; 0 leaves it out.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln, ndtri

from survey.science.records import Floats
from survey.science.survival.effects import months_in_pieces
from survey.science.survival.pooling import BadPool, Pooled

UNREST = 0.2
_EXACTLY = 300  # trees up to which the distribution is summed exactly


class NobodyToForecast(BadPool):
    """There are no trees alive whose future could be told."""


@dataclass(frozen=True, slots=True)
class Standing:
    """So many trees of one kind, last seen alive at age `seen`; asked about at age `until`.

    A tree seen alive at or after `until` stands then for sure.
    """

    planting: str
    species: str
    site: str
    seen: float
    until: float
    count: int = 1


@dataclass(frozen=True, slots=True)
class Forecast:
    """Of `trees`, how many stand when asked: the median and the limits, whole trees.

    With the probability of the level, at least, the number lies from `low` to `high`, both
    included. `lost_low` to `lost_high` are to be replaced if every place is to have its tree.
    """

    trees: int
    expected: float
    median: int
    low: int
    high: int

    @property
    def lost_low(self) -> int:
        return self.trees - self.high

    @property
    def lost_high(self) -> int:
        return self.trees - self.low


@dataclass(frozen=True, slots=True)
class Ahead:
    """The share of the trees that stands so many months ahead: median and limits."""

    months: float
    median: float
    low: float
    high: float


def forecast(
    pooled: Pooled, standing: Sequence[Standing], *, level: float = 0.95, unrest: float = UNREST
) -> Forecast:
    """How many of these trees stand at the age each is asked about.

    Raises `NobodyToForecast` without trees, `NotPooled` for one of a planting, species or site that
    the fit does not know. The same fit and trees give the same numbers.
    """
    _refuse(standing, level, unrest)
    counts = np.array([kind.count for kind in standing], dtype=np.float64)
    alive = _alive(pooled, standing, unrest)
    trees = int(counts.sum())
    cumulated = _exactly(alive, counts) if trees <= _EXACTLY else _nearly(alive, counts)
    low, median, high = _told(cumulated, level, trees)
    expected = float(counts @ alive.mean(axis=1))
    return Forecast(trees, expected, int(median), int(low), int(high))


def path(
    pooled: Pooled,
    standing: Sequence[Standing],
    months: Sequence[float],
    *,
    level: float = 0.95,
    unrest: float = UNREST,
) -> list[Ahead]:
    """The share still standing so many months after each tree's `until`, for a dotted line.

    In each draw the trees count as equal, each with their mean chance: never narrower than the
    truth (Hoeffding 1956 Ann. Math. Stat. 27:713). The line never rises.
    """
    _refuse(standing, level, unrest)
    counts = np.array([kind.count for kind in standing], dtype=np.float64)
    trees = int(counts.sum())
    found = []
    lowest = np.ones(3)
    for ahead in sorted(float(month) for month in months):
        if not (math.isfinite(ahead) and ahead >= 0):
            raise BadPool(f"Nothing is forecast {ahead} months ahead.")
        mean = counts @ _alive(pooled, standing, unrest, ahead) / trees
        if trees <= _EXACTLY:
            cumulated = _alike(mean, trees)
        else:
            cumulated = _nearly(mean[None, :], np.array([float(trees)]))
        low, median, high = _told(cumulated, level, trees) / trees
        lowest = np.minimum(lowest, [median, low, high])
        found.append(Ahead(ahead, *(float(share) for share in lowest)))
    return found


def _refuse(standing: Sequence[Standing], level: float, unrest: float) -> None:
    if not 0 < level < 1:
        raise BadPool(f"The level of a limit lies between 0 and 1, and {level} does not.")
    if not (math.isfinite(unrest) and unrest >= 0):
        raise BadPool(f"Years cannot differ by {unrest}.")
    for kind in standing:
        if kind.count < 1:
            raise BadPool(f"{kind.count} trees cannot be forecast.")
        if not (0 <= kind.seen < math.inf and 0 <= kind.until < math.inf):
            raise BadPool("The ages of a forecast are known numbers from 0 on.")
    if not standing:
        raise NobodyToForecast("No tree is known alive, so there is nothing to forecast.")


def _alive(
    pooled: Pooled, standing: Sequence[Standing], unrest: float, ahead: float = 0.0
) -> Floats:
    """The chance of each kind of tree to stand when asked, (kinds, draws)."""
    seen = np.array([kind.seen for kind in standing], dtype=np.float64)
    until = np.array([kind.until + ahead for kind in standing], dtype=np.float64)
    months = months_in_pieces(seen, np.maximum(seen, until))
    scores = ndtri((np.arange(pooled.draws) + 0.5) / pooled.draws)
    years = np.exp(unrest * np.random.default_rng(pooled.seed).permutation(scores))
    hazards: dict[tuple[str, str, str], Floats] = {}
    spent = np.empty((len(standing), pooled.draws))
    for place, kind in enumerate(standing):
        key = (kind.planting, kind.species, kind.site)
        if key not in hazards:
            hazards[key] = np.exp(pooled.log_hazard(*key)) * years
        spent[place] = months[place] @ hazards[key]
    return np.asarray(np.exp(-spent))


def _exactly(alive: Floats, counts: Floats) -> Floats:
    """P(number <= k) for k = 0 .. trees: Poisson-binomial in each draw, averaged over draws."""
    trees = int(counts.sum())
    turn = np.exp(2j * np.pi * np.arange((trees + 1) // 2 + 1) / (trees + 1)) - 1.0
    # every factor is a power of 1 + p (e^it - 1), and they are multiplied one kind at a time
    wave = np.ones((alive.shape[1], len(turn)), dtype=np.complex128)
    for chance, count in zip(alive, counts.astype(int), strict=True):
        wave *= (1.0 + chance[:, None] * turn) ** count
    share = np.fft.irfft(np.conj(wave.mean(axis=0)), trees + 1)
    return np.asarray(np.cumsum(np.maximum(share, 0.0)))


def _alike(mean: Floats, trees: int) -> Floats:
    """The same for trees that are all alike: binomial in each draw."""
    k = np.arange(trees + 1.0)
    ways = gammaln(trees + 1.0) - gammaln(k + 1.0) - gammaln(trees - k + 1.0)
    sure = np.clip(mean, 1e-300, 1 - 1e-16)[:, None]
    share = np.exp(ways + k * np.log(sure) + (trees - k) * np.log1p(-sure)).mean(axis=0)
    return np.asarray(np.cumsum(share))


def _nearly(alive: Floats, counts: Floats) -> Floats:
    """The same for many trees: a normal in each draw, with half a tree's correction."""
    mean = counts @ alive
    spread = np.sqrt(np.maximum(counts @ (alive * (1 - alive)), 1e-12))
    # the normals are mixed by the quantiles of their sums: a draw's centre plus its own scatter
    scores = ndtri((np.arange(15) + 0.5) / 15)
    numbers = np.rint(mean[:, None] + spread[:, None] * scores).astype(int)
    trees = int(counts.sum())
    numbers = np.clip(numbers, 0, trees)
    share = np.bincount(numbers.ravel(), minlength=trees + 1) / numbers.size
    return np.asarray(np.cumsum(share))


def _told(cumulated: Floats, level: float, trees: int) -> Floats:
    """Low limit, median and high limit of a number, by its distribution from 0 on.

    The limits are the fewest whole numbers that hold the level: tails of 2.5 % each would hold far
    more than 95 % of so few possible numbers. Among many trees the tails are equal.
    """
    tail = (1 - level) / 2
    # a hair's breadth for the rounding of the sums
    wanted = np.array([tail, 0.5, 1 - tail]) - 1e-10
    low, median, high = np.minimum(np.searchsorted(cumulated, wanted), len(cumulated) - 1)
    if trees <= _EXACTLY:
        share = np.diff(cumulated, prepend=0.0)
        order = np.argsort(-share, kind="stable")
        many = int(np.searchsorted(np.cumsum(share[order]), level - 1e-10)) + 1
        low, high = order[:many].min(), order[:many].max()
    return np.array([low, median, high], dtype=np.float64)
