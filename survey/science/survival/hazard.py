"""The most likely hazard of one sample, fast for large ones, with a pace for every run of deaths.

The likelihood is that of `increments`: concave in the cumulative hazard u_j >= 0 of each cell. A
tree of pace r lives under the hazard r * u (proportional hazards), which leaves it concave: the
trees that passed a cell alive are counted r times, and a death in a run of cells contributes
log(1 - exp(-r * (sum of u over the run))).

Why a working set: the maximum puts hazard on few cells (a hundred of 1,300 for 10,000 trees seen on
any day), so a dense method pays for the others what nothing needs. Newton steps are made on the
cells with hazard alone, each step a quadratic problem with u >= 0 solved exactly by exchanging
blocks of cells (Kim & Park 2011 SIAM J. Sci. Comput. 33:3261); before each step the cell that pulls
most between every two neighbouring ones joins (the constrained Newton method of Wang 2007 J. R.
Stat. Soc. B 69:185, there for masses without late entry). It ends when no cell, in or out, pulls:
the first-order conditions of a concave problem, so the start does not matter.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import lapack

from survey.science.records import Floats, Truths, Whole
from survey.science.survival.increments import NoConvergence

_STEPS = 400
_HELD = 1e-10  # of its curvature, added to each cell's
_FEW = 80  # so few cells are cheaper to carry than to choose from
_SURE = 1e-7  # no fit is handed out that misses the first-order conditions by more, per tree


@dataclass(frozen=True, slots=True, eq=False)
class LikelyHazard:
    """The most likely hazard of m cells."""

    hazard: Floats  # (m,) cumulative hazard spent in each cell, 0 to inf
    unsettled: Truths  # (m,) nothing in the data speaks for or against deaths here
    loglik: float
    gap: float  # largest directional derivative of the log-likelihood, per tree
    unique: bool  # false when other hazards are exactly as likely
    steps: int


def most_likely_hazard(
    *,
    passed: Floats,
    deaths: Floats,
    first: Whole,
    last: Whole,
    trees: float,
    pace: Floats | None = None,
    start: Floats | None = None,
    tolerance: float = 1e-12,
) -> LikelyHazard:
    """Maximise the log-likelihood in the cumulative hazard of every cell.

    `passed` (m,): trees that passed each cell alive, each counted as often as its pace says.
    `deaths` (P,): trees that died in the run of cells `first[p]`..`last[p]`, all of the pace
    `pace[p]` (1 where not given); runs may repeat. `trees`: all trees, the unit of `gap`. `start`
    (m,): a hazard from which to set out, such as the answer to a question asked just before.

    Of the trees that reach a cell which nobody passes alive, all die there (u = inf), the last cell
    included. When no death needs such a cell (a gap in the watch) it is marked unsettled: any
    hazard there is as likely. Sums of paces may miss 0 by rounding: what is below 1e-12 of the
    largest counts as nobody.

    Raises `NoConvergence` when the first-order conditions cannot be met to 1e-7 per tree.
    """
    cells = len(passed)
    fatal = passed <= 1e-12 * passed.max(initial=0.0)
    before = np.concatenate([[0], np.cumsum(fatal)])
    fatal_in_run = before[last + 1] - before[first]
    dying = deaths > 0
    needed = _covered(first[dying & (fatal_in_run == 1)], last[dying & (fatal_in_run == 1)], cells)
    unsettled = fatal & ~needed
    unsettled[-1:] = False
    open_ = np.flatnonzero(dying & (fatal_in_run == 0))
    hazard: Floats = np.where(fatal, np.inf, 0.0)
    gap, steps, loglik, unique = 0.0, 0, 0.0, not bool(unsettled.any())
    if pace is None:
        wide = open_[last[open_] > first[open_]]
        shared = _covered(first[wide], last[wide], cells)
        alone = open_[(last[open_] == first[open_]) & ~shared[first[open_]]]
        if len(alone):
            loglik += _settled_alone(hazard, passed, deaths[alone], first[alone])
            open_ = open_[(last[open_] > first[open_]) | shared[first[open_]]]
    if len(open_):
        kept = np.flatnonzero(~fatal & _covered(first[open_], last[open_], cells))
        place = np.zeros(cells, dtype=np.int64)
        place[kept] = np.arange(len(kept))
        problem = _Problem(
            passed=passed[kept] / trees,
            deaths=deaths[open_] / trees,
            first=place[first[open_]],
            last=place[last[open_]],
            pace=None if pace is None else pace[open_],
        )
        found = problem.solve(None if start is None else start[kept], tolerance)
        hazard[kept] = found.hazard
        gap, steps = found.gap, found.steps
        loglik += found.height * trees
        unique = unique and problem.is_unique(found.hazard)
    return LikelyHazard(
        hazard=hazard, unsettled=unsettled, loglik=loglik, gap=gap, unique=unique, steps=steps
    )


def _settled_alone(hazard: Floats, passed: Floats, deaths: Floats, cell: Whole) -> float:
    """Fill in cells that hold deaths of their own and share none: the product limit.

    Returns what they add to the log-likelihood.
    """
    died = np.bincount(cell, weights=deaths, minlength=len(passed))
    at = np.flatnonzero(died)
    hazard[at] = np.log1p(died[at] / passed[at])
    return float(-died[at] @ np.log1p(passed[at] / died[at]) - passed[at] @ hazard[at])


def _covered(first: Whole, last: Whole, cells: int) -> Truths:
    """Which cells some run covers."""
    change = np.bincount(first, minlength=cells + 1) - np.bincount(last + 1, minlength=cells + 1)
    return np.asarray(np.cumsum(change)[:cells] > 0)


@dataclass(frozen=True, slots=True)
class _Found:
    hazard: Floats
    height: float
    gap: float
    steps: int


@dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """The part with finite hazards, in trees per tree of the sample; every cell is in some run."""

    passed: Floats
    deaths: Floats
    first: Whole
    last: Whole
    pace: Floats | None

    def spent(self, u: Floats) -> Floats:
        """The hazard each run's trees went through."""
        total = np.empty(len(u) + 1)
        total[0] = 0.0
        np.cumsum(u, out=total[1:])
        x = total[self.last + 1]
        x -= total[self.first]
        return x if self.pace is None else x * self.pace

    def height(self, u: Floats, gone: Floats) -> float:
        """The log-likelihood per tree; `gone` is the share of each run's trees that died in it."""
        with np.errstate(divide="ignore"):
            return float(self.deaths @ np.log(gone) - self.passed @ u)

    def pull(self, gone: Floats) -> tuple[Floats, Floats]:
        """First derivative in the hazard of each run, and minus the second."""
        odds = (1.0 - gone) / gone
        weight = self.deaths * odds
        if self.pace is None:
            return weight, weight + weight * odds
        weight = weight * self.pace
        return weight, weight * self.pace * (1.0 + odds)

    def slope(self, weight: Floats) -> Floats:
        """Derivative of the log-likelihood per tree in each u_j."""
        many = len(self.passed)
        opening = np.bincount(self.first, weights=weight, minlength=many)
        closing = np.bincount(self.last, weights=weight, minlength=many)
        pulled = np.cumsum(opening)
        pulled[1:] -= np.cumsum(closing[:-1])
        return np.asarray(pulled - self.passed)

    def bend(self, at: Whole, bends: Floats) -> Floats:
        """Minus the second derivatives among the cells `at`, which are sorted."""
        many, k = len(self.passed), len(at)
        upto = np.zeros(many + 1, dtype=np.int64)
        upto[at + 1] = 1
        np.cumsum(upto, out=upto)
        first, last = upto[self.first], upto[self.last + 1] - 1
        # a run adds to each pair of cells it holds; spread by sums from its upper right corner
        inside = first <= last
        if not inside.all():
            first, last, bends = first[inside], last[inside], bends[inside]
        spread = np.bincount(first * k + last, weights=bends, minlength=k * k).reshape(k, k)
        np.cumsum(spread, axis=0, out=spread)
        spread = np.cumsum(spread[:, ::-1], axis=1)[:, ::-1]
        row = np.arange(k)
        return np.where(row[:, None] <= row, spread, spread.T)

    def guess(self) -> Floats:
        """Each death spread evenly over its run, against the trees that passed."""
        share = self.slope(self.deaths / (self.last - self.first + 1)) + self.passed
        pace = 1.0 if self.pace is None else float(self.pace.mean())
        return np.asarray(np.log1p(np.maximum(share, 0.0) * pace / self.passed) / pace)

    def _gathered(self, u: Floats) -> Floats:
        """The same hazard, gathered on the fewest cells of which every run holds one."""
        many = len(u)
        soonest = np.full(many + 1, many, dtype=np.int64)
        order = np.argsort(-self.last, kind="stable")
        soonest[self.first[order]] = self.last[order]
        soonest = np.minimum.accumulate(soonest[::-1])[::-1]
        picked = []
        at = int(soonest[0])
        while at < many:
            picked.append(at)
            at = int(soonest[at + 1])
        begin = np.concatenate([[0], np.array(picked[:-1], dtype=np.int64) + 1])
        gathered = np.zeros(many)
        gathered[picked] = np.add.reduceat(u, begin)
        return gathered

    def solve(self, start: Floats | None, tolerance: float) -> _Found:
        u = self.guess()
        if len(u) > _FEW:
            u = self._gathered(u)
        if start is not None:
            known = np.isfinite(start) & (start >= 0)
            begun = np.where(known, start, u)
            if (self.spent(begun) > 1e-9).all():
                u = begun
        x = self.spent(u)
        gone = -np.expm1(-x)
        height = self.height(u, gone)
        best = _Found(u, height, np.inf, 0)
        idle = 0  # steps since the gap last shrank in earnest
        for step in range(_STEPS):
            weight, bends = self.pull(gone)
            slope = self.slope(weight)
            gap = float(np.maximum(slope, np.abs(slope) * u).max())
            idle = idle + 1 if gap > 0.5 * best.gap else 0
            if gap < best.gap:
                best = _Found(u, height, gap, step)
            if gap <= tolerance or (idle > 2 and best.gap < 1e-9):
                return best
            at = _working_set(u, slope)
            bend = self.bend(at, bends)
            # held back a hair from where it stands, so that a flat direction has an answer too
            ridge = np.diagonal(bend) * _HELD + 1e-300
            bend.ravel()[:: len(at) + 1] += ridge
            here = u[at]
            aim = _best_above_zero(bend, slope[at] + bend @ here, (here > 0) | (slope[at] > 0))
            move = np.zeros(len(u))
            move[at] = aim - here
            rise = float(slope[at] @ (aim - here))
            drift = self.spent(move)
            falling = drift < 0
            # never spend the last of what a run needs: its deaths would become impossible
            length = min(1.0, float((0.9 * x[falling] / -drift[falling]).min(initial=np.inf)))
            for _ in range(40):
                new = np.maximum(u + length * move, 0.0)
                new_x = self.spent(new)
                new_gone = -np.expm1(-new_x)
                new_height = self.height(new, new_gone)
                # where the rise drowns in rounding the full step is right
                if new_height >= height + 1e-4 * length * rise - 1e-14 * (1 + abs(height)):
                    break
                length *= 0.5
            else:
                break
            u, x, gone, height = new, new_x, new_gone, new_height
        if best.gap > _SURE:
            raise NoConvergence(f"The fit stopped at {best.gap:.1e} per tree.")
        return best

    def is_unique(self, u: Floats) -> bool:
        """Whether the log-likelihood bends in every direction that the maximum leaves open.

        Open are the cells with hazard and those whose slope is as good as 0.
        """
        weight, bends = self.pull(-np.expm1(-self.spent(u)))
        open_ = np.flatnonzero((u > 0) | (self.slope(weight) > -1e-9))
        bend = self.bend(open_, bends)
        size = np.sqrt(np.diag(bend))
        if (size <= 0).any():
            return False
        try:
            pivots = np.diag(np.linalg.cholesky(bend / np.outer(size, size)))
        except np.linalg.LinAlgError:
            return False
        return bool(pivots.min(initial=1.0) > 1e-6)


def _working_set(u: Floats, slope: Floats) -> Whole:
    """The cells with hazard, and between every two of them the one that pulls most, if any does."""
    held = u > 0
    begin = np.concatenate([[0], np.flatnonzero(held) + 1])
    begin = begin[begin < len(u)]
    free = np.where(held, 0.0, slope)
    most = np.maximum.reduceat(free, begin)
    size = np.diff(np.append(begin, len(u)))
    joins = (free > 0) & (free == np.repeat(most, size))
    return np.flatnonzero(held | joins)


def _best_above_zero(bend: Floats, pull: Floats, free: Truths) -> Floats:
    """Minimise v'Bv/2 - pull'v over v >= 0, from a guess at which v are above 0.

    Blocks of cells change sides while that helps, single ones when it no longer does.
    """
    tiny = 1e-14 * np.abs(pull).max(initial=0.0)
    fewest, chances = len(pull) + 1, 3
    v = np.zeros(len(pull))
    for _ in range(5 * len(pull) + 20):
        inside = np.flatnonzero(free)
        v = np.zeros(len(pull))
        if len(inside):
            part = bend if len(inside) == len(v) else bend[inside][:, inside]
            _, answer, failed = lapack.dposv(part, pull[inside])
            v[inside] = np.linalg.lstsq(part, pull[inside])[0] if failed else answer
        wrong = np.where(free, v < 0, pull - bend @ v > tiny)
        count = int(wrong.sum())
        if not count:
            return v
        if count < fewest:
            fewest, chances = count, 3
        elif chances:
            chances -= 1
        else:
            wrong[: np.flatnonzero(wrong)[-1]] = False
        free = free ^ wrong
    return np.maximum(v, 0.0)
