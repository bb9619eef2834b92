"""How the deaths of each cell divide among causes, once the all-cause curve is known.

A death of cause c known to a run of cells has, given that curve, the probability
sum over j of m_j q_jc, where m_j is the share of the run's deaths that fall in cell j and q_jc the
share of cell j's deaths that are of cause c. The log-likelihood is concave in q, over one simplex
per cell, so there is no false maximum.

Expectation-maximisation creeps here (tens of thousands of rounds where a share wanes to 0). A
primal-dual Newton method (Boyd & Vandenberghe 2004, Convex Optimization, section 11.7) takes some
twenty steps, and its matrices fall apart by cause but for one that holds the simplices together.
"""

from dataclasses import dataclass

import numpy as np

from survey.science.records import Floats, Whole
from survey.science.survival.increments import NoConvergence

_STEPS = 200
_STILL = 1e-12
_SURE = 1e-7
_HELD = 1e-10  # of its curvature, added to each share's
_ALL = 60.0  # a hazard after which e^-60 are left stands for "everybody died"


@dataclass(frozen=True, slots=True, eq=False)
class CausedRuns:
    """Deaths by cause: `deaths[p]` trees died of `cause[p]` (from 0) in `first[p]`..`last[p]`."""

    first: Whole
    last: Whole
    cause: Whole
    deaths: Floats


def most_likely_shares(hazard: Floats, runs: CausedRuns, causes: int) -> Floats:
    """Share (m, causes) of each cell's deaths that are of each cause; every row sums to 1.

    A cell about which the causes say nothing (nobody can have died there) has the shares of all
    deaths together.
    """
    total = np.bincount(runs.cause, weights=runs.deaths, minlength=causes)
    overall = total / total.sum() if total.sum() else np.full(causes, 1 / causes)
    shares = np.tile(overall, (len(hazard), 1))
    spent = np.minimum(hazard, _ALL)
    deadly = np.flatnonzero(spent > 0)
    low = np.searchsorted(deadly, runs.first, side="left")
    high = np.searchsorted(deadly, runs.last, side="right") - 1
    # deaths that only one cell can hold settle that cell where no wider run reaches it
    single = low == high
    sure = np.zeros((len(deadly), causes))
    np.add.at(sure, (low[single], runs.cause[single]), runs.deaths[single])
    wide = np.flatnonzero(low < high)
    reached = np.zeros(len(deadly) + 1)
    np.add.at(reached, low[wide], 1)
    np.add.at(reached, high[wide] + 1, -1)
    shared = np.cumsum(reached)[:-1] > 0
    settled = ~shared & (sure.sum(axis=1) > 0)
    shares[deadly[settled]] = sure[settled] / sure[settled].sum(axis=1, keepdims=True)
    if len(wide):
        open_ = np.flatnonzero(shared)
        place = np.cumsum(shared) - 1
        scale = 1.0 / runs.deaths.sum()
        before = np.concatenate([[0.0], np.cumsum(spent)[:-1]])[deadly[open_]]
        died = -np.expm1(-spent[deadly[open_]])
        mass, deaths = [], []
        for cause in range(causes):
            mine = wide[runs.cause[wide] == cause]
            mass.append(_within(before, died, place[low[mine]], place[high[mine]]))
            deaths.append(runs.deaths[mine] * scale)
        problem = _Split(mass=mass, deaths=deaths, sure=sure[open_] * scale)
        shares[deadly[open_]] = problem.solve(overall)
    return shares


def _within(before: Floats, died: Floats, low: Whole, high: Whole) -> Floats:
    """For each run, the share of its deaths in each cell, (runs, cells)."""
    cell = np.arange(len(before))
    inside = (cell >= low[:, None]) & (cell <= high[:, None])
    since = np.where(inside, before - before[low][:, None], np.inf)
    mass = np.exp(-since) * died
    return np.asarray(mass / mass.sum(axis=1, keepdims=True))


@dataclass(frozen=True, slots=True, eq=False)
class _Split:
    """The cells that wide runs reach. Deaths are in shares of all deaths."""

    mass: list[Floats]  # for each cause, (runs, cells)
    deaths: list[Floats]
    sure: Floats  # (cells, causes)

    def slope_and_curvature(self, q: Floats) -> tuple[Floats, list[Floats]]:
        slope = self.sure / q
        curvature = []
        for cause, (mass, deaths) in enumerate(zip(self.mass, self.deaths, strict=True)):
            likely = mass @ q[:, cause]
            slope[:, cause] += (deaths / likely) @ mass
            bend = mass.T @ (mass * (deaths / likely**2)[:, None])
            bend.ravel()[:: len(q) + 1] += self.sure[:, cause] / q[:, cause] ** 2
            curvature.append(bend)
        return slope, curvature

    def solve(self, overall: Floats) -> Floats:
        causes = self.sure.shape[1]
        q = np.tile(0.9 * overall + 0.1 / causes, (len(self.sure), 1))
        slope, curvature = self.slope_and_curvature(q)
        z = np.maximum((slope * q).sum(axis=1, keepdims=True) - slope, 1e-3 / len(q))
        best, least = q, self.missed(q, slope)
        for _ in range(_STEPS):
            if least <= _STILL:
                break
            aim = 0.1 * float((q * z).mean())
            # all causes of a cell pull alike in the end: what they share is left out beforehand
            pull = slope + aim / q - (q * slope).sum(axis=1, keepdims=True)
            inverse = []
            for cause, bend in enumerate(curvature):
                # held back a hair, so that a flat direction has an answer too
                diagonal = bend.ravel()[:: len(q) + 1]
                diagonal += z[:, cause] / q[:, cause] + _HELD * (1.0 + diagonal)
                inverse.append(np.linalg.inv(bend))
            answer = np.stack([inverse[c] @ pull[:, c] for c in range(causes)], axis=1)
            # the price at which what the causes ask for is just the whole of each cell
            together = np.sum(inverse, axis=0)
            price = np.linalg.solve(together, answer.sum(axis=1))
            move = np.stack([answer[:, c] - inverse[c] @ price for c in range(causes)], axis=1)
            turn = aim / q - z - z / q * move
            new = q + _within_bounds(q, move) * move
            q = new / new.sum(axis=1, keepdims=True)
            z = z + _within_bounds(z, turn) * turn
            slope, curvature = self.slope_and_curvature(q)
            missed = self.missed(q, slope)
            if missed < least:
                best, least = q, missed
            elif least < 1e-9:
                break
        if least > _SURE:
            raise NoConvergence(f"The causes stopped at {least:.1e} per death.")
        slope, _ = self.slope_and_curvature(best)
        # a round of expectation-maximisation, which can only better it
        expected = best * slope
        return np.asarray(expected / expected.sum(axis=1, keepdims=True))

    @staticmethod
    def missed(q: Floats, slope: Floats) -> float:
        """The best rate at which the log-likelihood still rises, per death."""
        mean = (q * slope).sum(axis=1, keepdims=True)
        return float(np.maximum(slope - mean, q * (mean - slope)).max())


def _within_bounds(value: Floats, move: Floats) -> float:
    """The step, at most 1, that keeps all above 0."""
    falling = move < 0
    return min(1.0, 0.99 * float((-value[falling] / move[falling]).min(initial=np.inf)))
