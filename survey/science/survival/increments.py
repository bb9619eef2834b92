"""The most likely hazard of every cell, for many weightings of one sample at a time.

Write u_j >= 0 for the cumulative hazard spent in cell j. A tree that entered before cell c, was
alive until cell a, and died in one of the cells a..b has the conditional probability

    exp(-(u_c + .. + u_{a-1})) * (1 - exp(-(u_a + .. + u_b))),

so the log-likelihood is a linear term minus a sum of convex functions of sums of u: it is
*concave*, although in the masses, with entry ages, it is not. Hence whatever satisfies the
first-order conditions is the global maximum, there are no false ones, and the trees need be known
only through (i) how many passed each cell alive and (ii) how many died within each run of cells.

Why an interior point method and not EM: EM creeps (thousands of rounds at the accuracy wanted) and
a mass that once is zero stays zero, so it can stop at a point that is not the maximum
(Gentleman & Geyer 1994 Biometrika 81:618 give one). A primal-dual Newton method (Boyd &
Vandenberghe 2004, Convex Optimization, section 11.7) keeps every u_j above zero on the way and
takes a few dozen steps whatever the size, also where the maximum is flat.
"""

from dataclasses import dataclass

import numpy as np

from survey.science.records import Floats, Truths, Whole

_STEPS = 500


class NoConvergence(ArithmeticError):
    """The maximum was not reached to the accuracy asked for."""


@dataclass(frozen=True, slots=True, eq=False)
class Increments:
    """The solution for each of B weightings of a sample with m cells."""

    hazard: Floats  # (B, m) cumulative hazard spent in each cell, 0 to inf
    unsettled: Truths  # (B, m) nothing in the data speaks for or against deaths here
    gap: Floats  # (B,) largest directional derivative of the log-likelihood, per tree
    unique: Truths  # (B,) false when other hazards are as likely, asked only when `exactly`
    steps: int


def most_likely_increments(
    *,
    passed: Floats,
    deaths: Floats,
    first: Whole,
    last: Whole,
    trees: Floats,
    barred: Truths | None = None,
    tolerance: float = 1e-11,
    exactly: bool = True,
) -> Increments:
    """Maximise the log-likelihood in the cumulative hazard of every cell.

    `passed` (B, m): trees that passed each cell alive. `deaths` (B, P): trees that died in the run
    of cells `first[p]`..`last[p]`; runs may repeat. `trees` (B,): trees in all. `barred` (B, m):
    cells held at 0. `exactly` finishes with exact zeros and asks whether the maximum is unique.

    Of the trees that reach a cell which nobody passes alive, all die there (u = inf), the last cell
    included. When no death needs such a cell (a gap in the watch: those before it were lost from
    sight, those after it entered later) it is marked unsettled: any hazard there is as likely.
    """
    draws, cells = passed.shape
    held = np.zeros((draws, cells), dtype=bool) if barred is None else barred
    fatal = ~held & (passed <= 0)
    before = np.concatenate([np.zeros((draws, 1)), np.cumsum(fatal, axis=1)], axis=1)
    fatal_in_run = before[:, last + 1] - before[:, first]
    open_deaths = np.where(fatal_in_run > 0, 0.0, deaths)
    needed = _cover(np.where(fatal_in_run == 1, deaths, 0.0), first, last, cells) > 0
    unsettled = fatal & ~needed
    unsettled[:, -1] = False
    runs = np.flatnonzero(open_deaths.any(axis=0))
    live = ~held & ~fatal & (_cover(open_deaths, first, last, cells) > 0)
    kept = np.flatnonzero(live.any(axis=0))
    hazard = np.where(fatal, np.inf, 0.0)
    gap = np.zeros(draws)
    unique: Truths = ~np.asarray(unsettled.any(axis=1))
    steps = 0
    if len(runs):
        # runs keep at least one live cell each in the draws that hold them; elsewhere they weigh 0
        low = np.searchsorted(kept, first[runs], side="left")
        high = np.searchsorted(kept, last[runs], side="right") - 1
        scale = 1.0 / trees[:, None]
        problem = _Problem(
            passed=passed[:, kept] * scale,
            deaths=open_deaths[:, runs] * scale,
            first=np.minimum(low, len(kept) - 1),
            last=np.maximum(high, 0),
            live=live[:, kept],
        )
        inner, steps = problem.solve(tolerance)
        if exactly:
            inner = problem.polished(inner)
            unique = np.asarray(unique & problem.is_unique(inner))
        gap = problem.gap(inner)
        hazard[:, kept] = np.where(live[:, kept], inner, hazard[:, kept])
    return Increments(hazard=hazard, unsettled=unsettled, gap=gap, unique=unique, steps=steps)


def summed_at(places: Whole, weights: Floats, size: int) -> Floats:
    """For each place from 0 to `size` - 1 the sum of the weights that fall there."""
    sums = np.bincount(places.ravel(), weights=weights.ravel(), minlength=size)
    return np.asarray(sums, dtype=np.float64)


def _cover(weights: Floats, first: Whole, last: Whole, cells: int) -> Floats:
    """For each cell the sum of the weights (B, P) of the runs that cover it, (B, m)."""
    draws = len(weights)
    row = np.arange(draws)[:, None] * (cells + 1)
    size = draws * (cells + 1)
    opening = summed_at(row + first, weights, size)
    closing = summed_at(row + last + 1, weights, size)
    # opened and closed sums are kept apart: their difference at the end is exact for whole counts
    change = (opening - closing).reshape(draws, cells + 1)
    return np.asarray(np.cumsum(change, axis=1)[:, :-1])


@dataclass(frozen=True, slots=True, eq=False)
class _Problem:
    """The part of the problem with finite hazards, in trees per tree of the sample."""

    passed: Floats
    deaths: Floats
    first: Whole
    last: Whole
    live: Truths

    def rows(self, which: Whole) -> "_Problem":
        return _Problem(
            passed=self.passed[which],
            deaths=self.deaths[which],
            first=self.first,
            last=self.last,
            live=self.live[which],
        )

    def _odds(self, u: Floats) -> Floats:
        """1 / (e^x - 1) for the hazard x of each run; 0 for runs that carry no death."""
        total = np.concatenate([np.zeros((len(u), 1)), np.cumsum(u, axis=1)], axis=1)
        x = total[:, self.last + 1] - total[:, self.first]
        odds: Floats = np.zeros(x.shape)
        with np.errstate(over="ignore", divide="ignore"):
            np.divide(1.0, np.expm1(x), out=odds, where=self.deaths > 0)
        return odds

    def slope(self, u: Floats) -> Floats:
        """Derivative of the log-likelihood per tree in each u_j; 0 where the draw has no cell."""
        pull = _cover(self.deaths * self._odds(u), self.first, self.last, u.shape[1])
        return np.where(self.live, pull - self.passed, 0.0)

    def _slope_and_curvature(self, u: Floats) -> tuple[Floats, Floats]:
        draws, cells = u.shape
        odds = self._odds(u)
        weight = self.deaths * odds
        slope = np.where(self.live, _cover(weight, self.first, self.last, cells) - self.passed, 0.0)
        # curvature[j, k], j <= k, sums the runs with first <= j and last >= k
        row = np.arange(draws)[:, None] * (cells * cells)
        run = row + self.first * cells + self.last
        spread = summed_at(run, weight * (1 + odds), draws * cells * cells)
        spread = spread.reshape(draws, cells, cells)
        np.cumsum(spread, axis=1, out=spread)
        curvature = np.cumsum(spread[:, :, ::-1], axis=2)[:, :, ::-1]
        upper = np.triu(curvature)
        curvature = upper + np.triu(upper, 1).transpose(0, 2, 1)
        curvature *= self.live[:, :, None] & self.live[:, None, :]
        return slope, curvature

    def solve(self, tolerance: float) -> tuple[Floats, int]:
        """The primal-dual iteration; draws that have arrived are left alone."""
        draws, cells = self.passed.shape
        lives = np.maximum(self.live.sum(axis=1), 1)
        width = _cover(np.ones((1, len(self.first))), self.first, self.last, cells)
        share = self.deaths / (self.last - self.first + 1)
        guess = _cover(share, self.first, self.last, cells) + 1e-3 / np.maximum(width, 1)
        u = np.where(self.live, np.log1p(guess / np.where(self.live, self.passed, 1.0)), 0.0)
        z = np.where(self.live, self.passed, 0.0)
        waiting = np.arange(draws)
        for step in range(_STEPS):
            part = self.rows(waiting)
            here, dual, live = u[waiting], z[waiting], part.live
            slope, curvature = part._slope_and_curvature(here)
            drift = np.where(live, -slope - dual, 0.0)
            product = np.where(live, here * dual, 0.0)
            off = np.maximum(np.abs(drift).max(axis=1), product.max(axis=1))
            if (done := off <= tolerance).all():
                return u, step
            if done.any():
                waiting, keep = waiting[~done], ~done
                part = self.rows(waiting)
                here, dual, live = here[keep], dual[keep], part.live
                slope, curvature = slope[keep], curvature[keep]
                drift, product, off = drift[keep], product[keep], off[keep]
            mean = product.sum(axis=1) / lives[waiting]
            # aim at a tenth of the mean product, and lower once the dual residual is out of the way
            aim: Floats = np.where(np.abs(drift).max(axis=1) < mean, 0.03, 0.2) * mean
            above = np.where(live, here, 1.0)
            centre = np.where(live, aim[:, None] / above, 0.0)
            diagonal = np.where(live, dual / above, 1.0)
            index = np.arange(cells)
            curvature[:, index, index] += diagonal
            right_side = np.where(live, slope + centre, 0.0)
            du = _solved(curvature, right_side)
            dz = np.where(live, centre - dual - diagonal * du, 0.0)
            length = _to_boundary(here, du, dual, dz)
            before = _residual(drift, product - aim[:, None], live)
            trying = np.ones(len(waiting), dtype=bool)
            for _ in range(30):
                new_u, new_z = here + length[:, None] * du, dual + length[:, None] * dz
                new_slope = part.slope(new_u)
                new_drift = np.where(live, -new_slope - new_z, 0.0)
                after = _residual(new_drift, new_u * new_z - aim[:, None], live)
                trying = ~(after <= (1 - 0.01 * length) * before)
                if not trying.any():
                    break
                length = np.where(trying, 0.5 * length, length)
            moved = ~trying
            u[waiting[moved]], z[waiting[moved]] = new_u[moved], new_z[moved]
            if not moved.any():
                # rounding, not distance, stands in the way: what is left is judged by the gap
                if (off <= 1e3 * tolerance).all():
                    return u, step
                raise NoConvergence(f"The fit stopped at {float(off.max()):.1e} per tree.")
        raise NoConvergence(f"The fit did not settle within {_STEPS} steps.")

    def polished(self, u: Floats) -> Floats:
        """Set to exactly 0 what is on its way there and finish with plain Newton steps.

        Kept for a draw only where it does not make the first-order conditions worse.
        """
        cells = u.shape[1]
        index = np.arange(cells)
        free = self.live & (u * self.passed > -self.slope(u))
        best = np.where(free, u, 0.0)
        trial = best
        for _ in range(4):
            slope, curvature = self._slope_and_curvature(trial)
            curvature *= free[:, :, None] & free[:, None, :]
            size = curvature[:, index, index].max(axis=1, initial=1.0)
            curvature[:, index, index] += np.where(free, 1e-14 * size[:, None], 1.0)
            step = _solved(curvature, np.where(free, slope, 0.0))
            trial = np.where(free, np.maximum(trial + step, 0.5 * trial), 0.0)
            better = self.gap(trial) <= self.gap(best)
            best = np.where(better[:, None], trial, best)
        return np.where((self.gap(best) <= np.maximum(self.gap(u), 1e-9))[:, None], best, u)

    def gap(self, u: Floats) -> Floats:
        """How far the first-order conditions are missed: the best rate of ascent, per tree.

        The rate of raising one cell's hazard, or of taking away all a cell has.
        """
        with np.errstate(invalid="ignore"):
            slope = self.slope(u)
            rate = np.where(self.live, np.maximum(slope, np.abs(slope) * u), 0.0)
        return np.asarray(np.nan_to_num(rate, nan=np.inf).max(axis=1, initial=0.0))

    def is_unique(self, u: Floats) -> Truths:
        """Whether the log-likelihood bends in every direction that the maximum leaves open.

        Open are the cells with hazard and those whose slope is as good as 0.
        """
        slope, curvature = self._slope_and_curvature(u)
        answers = np.ones(len(u), dtype=bool)
        for row in range(len(u)):
            open_ = np.flatnonzero(self.live[row] & ((u[row] > 0) | (slope[row] > -1e-9)))
            if not len(open_):
                continue
            bend = curvature[row][np.ix_(open_, open_)]
            size = np.sqrt(np.diag(bend))
            if (size <= 0).any():
                answers[row] = False
                continue
            try:
                pivots = np.diag(np.linalg.cholesky(bend / np.outer(size, size)))
                answers[row] = bool(pivots.min() > 1e-6)
            except np.linalg.LinAlgError:
                answers[row] = False
        return answers


def _to_boundary(u: Floats, du: Floats, z: Floats, dz: Floats) -> Floats:
    """The step, at most 1, that stays 1 % away from the boundary in every coordinate."""
    with np.errstate(divide="ignore", invalid="ignore"):
        primal = np.where(du < 0, -u / du, np.inf).min(axis=1)
        dual = np.where(dz < 0, -z / dz, np.inf).min(axis=1)
    return np.asarray(np.minimum(1.0, 0.99 * np.minimum(primal, dual)))


def _solved(matrices: Floats, right_sides: Floats) -> Floats:
    answers = np.linalg.solve(matrices, right_sides[:, :, None])
    return np.asarray(answers[:, :, 0], dtype=np.float64)


def _residual(drift: Floats, product: Floats, live: Truths) -> Floats:
    return np.asarray(np.sqrt((np.where(live, drift**2 + product**2, 0.0)).sum(axis=1)))
