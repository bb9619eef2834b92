"""Proportional hazards for groups of trees whose deaths fall between two looks.

Every group g lives under the hazard exp(b_g) * u, with one unknown cumulative hazard u_j in each
cell of the pooled sample (Finkelstein 1986 Biometrics 42:845). At a fixed b the log-likelihood is
concave in u (see `hazard`), so u is maximised out exactly and what is left is the *profile*
log-likelihood of b (Huang & Wellner 1995 for its limits). Trees may enter late; exact ages are
treated as deaths in a cell of no width (Prentice & Gloeckler 1978 Biometrics 34:57).

Trees may be compared within *strata* (species, say): each stratum then has a u of its own, and only
the ratio is shared. It needs no model of how the strata differ.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import chdtrc, chdtri, fdtrc, fdtri

from survey.science.records import Floats, Spell, Spells, Whole
from survey.science.survival.cells import Cells, cells_of
from survey.science.survival.hazard import LikelyHazard, most_likely_hazard
from survey.science.survival.turnbull import NoTrees, passed_and_died

FARTHEST = 9.0
"""A log ratio beyond which (1 : 8103) the data are said to set no limit."""

Group = Iterable[Spell] | Spells
Stratum = Sequence[Group]


class GroupsDiffer(ValueError):
    """The strata do not all have the same groups, or there are fewer than two."""


@dataclass(frozen=True, slots=True)
class ScoreTest:
    """A test of "all groups die alike".

    `score` is what each group has in deaths more than its share; the scores sum to 0. `freedom` is
    the number of directions in which the groups could differ and that the data speak about: 0, with
    p = 1, when they speak about none.
    """

    score: tuple[float, ...]
    chi_square: float
    freedom: int
    p: float


@dataclass(frozen=True, slots=True)
class Ratio:
    """How many times the hazard of the first group the second one's is, with its limits.

    0 or inf where the data set no limit on that side: nobody of one group died, for instance.
    `log_error` is the standard error of log(ratio), None when the ratio is 0 or inf.
    """

    ratio: float
    low: float
    high: float
    log_error: float | None
    p: float  # of a ratio of 1, by the likelihood ratio
    rise: float  # twice the log-likelihood above a ratio of 1


@dataclass(frozen=True, slots=True, eq=False)
class Pooled:
    """The groups of one stratum, told on the cells of all its trees together."""

    spells: Spells  # rows of all groups one below the other, not merged
    group: Whole  # (rows,) the group of each row
    groups: int
    cells: Cells
    passed: Floats  # (groups, cells) trees of each group that passed each cell alive
    deaths: Floats  # (groups, runs) trees of each group that died in each run of cells
    first: Whole
    last: Whole

    @classmethod
    def of(cls, groups: Stratum) -> "Pooled":
        """Pool the groups. Raises `NoTrees` when all of them are empty."""
        columns = [Spells.of(group) for group in groups]
        if not sum(column.trees for column in columns):
            raise NoTrees("A comparison needs trees.")
        spells = Spells(
            entry=np.concatenate([column.entry for column in columns]),
            left=np.concatenate([column.left for column in columns]),
            right=np.concatenate([column.right for column in columns]),
            count=np.concatenate([column.count for column in columns]),
        )
        group = np.repeat(np.arange(len(columns)), [len(column.count) for column in columns])
        cells = cells_of(spells)
        member = (group == np.arange(len(columns))[:, None]).astype(np.float64)
        passed, deaths, first, last = passed_and_died(cells, member * spells.count)
        return cls(spells, group, len(columns), cells, passed, deaths, first, last)

    def fit(self, log_pace: Floats, start: Floats | None = None) -> LikelyHazard:
        """The most likely hazard when group g lives at the pace exp(log_pace[g])."""
        pace = np.exp(log_pace)
        many = len(self.first)
        return most_likely_hazard(
            passed=pace @ self.passed,
            deaths=self.deaths.ravel(),
            first=np.tile(self.first, self.groups),
            last=np.tile(self.last, self.groups),
            trees=float(self.spells.trees),
            pace=np.repeat(pace, many),
            start=start,
        )

    def score(self, log_pace: Floats, hazard: Floats) -> Floats:
        """(groups,) derivative of the log-likelihood in each group's log pace."""
        pace = np.exp(log_pace)[:, None]
        y = pace * _spent(hazard, self.first, self.last)
        drawn = (self.deaths * _times_odds(y)).sum(axis=1)
        return np.asarray(drawn - pace[:, 0] * (self.passed @ _finite(hazard)))

    def information(self, log_pace: Floats, hazard: Floats) -> Floats:
        """(groups, groups) minus the second derivatives of the *profile* log-likelihood.

        What the unknown hazard could explain is taken off. Cells at which the hazard is 0 stay
        there, as in the score test of Fay & Shaw 2010 J. Stat. Softw. 36(2).
        """
        pace = np.exp(log_pace)[:, None]
        y = pace * _spent(hazard, self.first, self.last)
        with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
            odds = np.where(y > 0, 1.0 / np.expm1(y), 0.0)
            bent = np.where(np.isfinite(y), odds * (1.0 + odds), 0.0)
            known = np.where(np.isfinite(y), y, 0.0)
        open_ = np.flatnonzero((hazard > 0) & np.isfinite(hazard))
        covers = (self.first[:, None] <= open_) & (open_ <= self.last[:, None])
        reach = covers.astype(np.float64)
        own = (self.deaths * (known**2 * bent - known * odds)).sum(axis=1)
        own += pace[:, 0] * (self.passed @ _finite(hazard))
        cross = (self.deaths * pace * (known * bent - odds)) @ reach + pace * self.passed[:, open_]
        inner = reach.T @ ((self.deaths * pace**2 * bent).sum(axis=0)[:, None] * reach)
        return np.asarray(np.diag(own) - cross @ np.linalg.pinv(inner, hermitian=True) @ cross.T)


def score_test(strata: Sequence[Stratum]) -> ScoreTest:
    """The score test of proportional hazards, with observed information.

    At a ratio of 1 the score is Finkelstein's log-rank statistic; its variance is the information
    of the likelihood that was observed, not that of permuted labels, so it stays right when the
    groups are looked at at different times, enter at different ages or are lost from sight
    unequally, as long as looking does not depend on the tree's fate. Scores of strata are added.
    """
    parts = _pooled(strata)
    groups = parts[0].groups
    score, variance = np.zeros(groups), np.zeros((groups, groups))
    for part in parts:
        alike = np.zeros(groups)
        hazard = part.fit(alike).hazard
        score += part.score(alike, hazard)
        variance += part.information(alike, hazard)
    return quadratic_test(score, variance)


def quadratic_test(score: Floats, variance: Floats) -> ScoreTest:
    """The chi-square test of scores that sum to 0, with their variance matrix."""
    values, vectors = np.linalg.eigh((variance + variance.T) / 2)
    told = values > 1e-9 * max(float(values.max(initial=0.0)), 1e-6)
    freedom = min(int(told.sum()), len(score) - 1)
    if not freedom:
        return ScoreTest(tuple(float(u) for u in score), 0.0, 0, 1.0)
    told &= values >= np.sort(values)[-freedom]
    along = vectors[:, told].T @ score
    chi_square = float((along**2 / values[told]).sum())
    p = float(chdtrc(freedom, chi_square))
    return ScoreTest(tuple(float(u) for u in score), chi_square, freedom, p)


def hazard_ratio(
    strata: Sequence[Stratum], *, level: float = 0.95, second_freedom: float | None = None
) -> Ratio:
    """The hazard of the second group as a multiple of the first's; limits from the profile.

    The limits are the ratios at which twice the log-likelihood lies the quantile of chi-square (or
    of F with 1 and `second_freedom` degrees of freedom, for small samples) below its maximum. So a
    limit passes 1 just when p passes 1 - level. Raises `GroupsDiffer` unless there are two groups.
    """
    parts = _pooled(strata)
    if parts[0].groups != 2:
        raise GroupsDiffer("A ratio stands between two groups.")
    if not 0 < level < 1:
        raise ValueError(f"The level of a limit lies between 0 and 1, and {level} does not.")
    profile = _Profile(parts)
    best = profile.best()
    top = profile.height(best)
    small = second_freedom
    drop = float(chdtri(1, 1 - level) if small is None else fdtri(1, small, level))
    rise = max(0.0, 2 * (top - profile.height(0.0)))

    def short(b: float) -> float:
        return 2 * (top - profile.height(b)) - drop

    known = abs(best) < FARTHEST
    information = profile.information(best) if known else 0.0
    return Ratio(
        ratio=_as_ratio(best),
        low=_as_ratio(_crossing(short, best, -1.0)),
        high=_as_ratio(_crossing(short, best, 1.0)),
        log_error=information**-0.5 if information > 0 else None,
        p=float(chdtrc(1, rise) if small is None else fdtrc(1, small, rise)),
        rise=rise,
    )


class _Profile:
    """The profile log-likelihood of two groups' log ratio; what was asked is remembered."""

    def __init__(self, parts: list[Pooled]) -> None:
        self._parts = parts
        self._fits: dict[float, list[LikelyHazard]] = {}
        self._last: list[LikelyHazard] | None = None

    def _fitted(self, b: float) -> list[LikelyHazard]:
        if b not in self._fits:
            starts = [None] * len(self._parts) if self._last is None else self._last
            self._last = self._fits[b] = [
                part.fit(_paces(b), start.hazard if start else None)
                for part, start in zip(self._parts, starts, strict=True)
            ]
        return self._fits[b]

    def height(self, b: float) -> float:
        return sum(found.loglik for found in self._fitted(b))

    def slope(self, b: float) -> float:
        slopes = 0.0
        for part, found in zip(self._parts, self._fitted(b), strict=True):
            score = part.score(_paces(b), found.hazard)
            slopes += float(score[1] - score[0]) / 2
        return slopes

    def information(self, b: float) -> float:
        half = np.array([-0.5, 0.5])
        return sum(
            float(half @ part.information(_paces(b), found.hazard) @ half)
            for part, found in zip(self._parts, self._fitted(b), strict=True)
        )

    def best(self) -> float:
        """The most likely log ratio, or the farthest one asked about when it has no maximum."""
        here = self.slope(0.0)
        if abs(here) < 1e-10:
            return 0.0
        way = math.copysign(1.0, here)
        inner, outer = 0.0, way
        while self.slope(outer) * way > 0:
            if abs(outer) >= FARTHEST:
                return outer
            inner, outer = outer, way * min(2 * abs(outer), FARTHEST)
        return float(brentq(self.slope, inner, outer, xtol=1e-9))


def _paces(b: float) -> Floats:
    return np.array([-b / 2, b / 2])


def _as_ratio(b: float) -> float:
    if abs(b) >= FARTHEST:
        return math.inf if b > 0 else 0.0
    return math.exp(b)


def _crossing(short: Callable[[float], float], best: float, way: float) -> float:
    """Where the profile has fallen far enough, looking up or down from its top."""
    inner, stride = best, 0.5
    while way * inner < FARTHEST:
        outer = way * min(way * inner + stride, FARTHEST)
        if short(outer) > 0:
            return float(brentq(short, inner, outer, xtol=1e-7))
        inner, stride = outer, 2 * stride
    return way * FARTHEST


def _pooled(strata: Sequence[Stratum]) -> list[Pooled]:
    if not strata or len({len(stratum) for stratum in strata}) != 1 or len(strata[0]) < 2:
        raise GroupsDiffer("Every stratum has the same groups, at least two.")
    collected = [[Spells.of(group) for group in stratum] for stratum in strata]
    full = [stratum for stratum in collected if any(group.trees for group in stratum)]
    if not full:
        raise NoTrees("A comparison needs trees.")
    return [Pooled.of(stratum) for stratum in full]


def _finite(hazard: Floats) -> Floats:
    return np.where(np.isinf(hazard), 0.0, hazard)


def _spent(hazard: Floats, first: Whole, last: Whole) -> Floats:
    """The hazard in each run of cells; inf where it holds a cell that nobody survives."""
    total = np.concatenate([[0.0], np.cumsum(_finite(hazard))])
    fatal = np.concatenate([[0], np.cumsum(np.isinf(hazard))])
    spent = np.where(first == last, _finite(hazard)[first], total[last + 1] - total[first])
    return np.where(fatal[last + 1] > fatal[first], np.inf, spent)


def _times_odds(y: Floats) -> Floats:
    """y / (e^y - 1), which is 1 at 0 and 0 at inf."""
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        return np.where(y <= 0, 1.0, np.where(np.isinf(y), 0.0, y / np.expm1(y)))
