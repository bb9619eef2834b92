"""Age, planting, species and site effects on the hazard of loss, fitted together.

The engine under `pooling`, which says in words what the model is. Here is its arithmetic.

A *cell* c is one planting, species and site. In piece k of a tree's age its hazard per month is
exp(theta_k + f_planting + f_species + f_site), the same through the piece. With E_ck the months
that trees of the cell are known to have lived under watch in piece k, and D_jk the months of death
interval j in piece k, the log-likelihood is

    - sum_ck E_ck exp(theta_k + eta_c)
    + sum over deaths of log(1 - exp(-exp(eta_c) * sum_k D_jk exp(theta_k))),

exact for interval-censored and left-truncated lives. Effects are normal around 0 with a standard
deviation per factor; theta is a random walk from piece to piece.

For given standard deviations the mode is found by Newton's method. Of the factors the one with
most levels (20,000 plantings) never meets itself: its block of the information is diagonal, and it
is eliminated, so that only a matrix as wide as the other two factors is ever factored. The standard
deviations maximise Laplace's approximation of their posterior (Breslow & Clayton 1993 J. Am. Stat.
Assoc. 88:9; Tierney & Kadane 1986 J. Am. Stat. Assoc. 81:82), and what is not known of them is
carried on by a few points around that maximum, as in Rue, Martino & Chopin (2009) J. R. Stat. Soc.
B 71:319, section 6.5.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.linalg import cho_solve, solve_triangular
from scipy.sparse import csr_matrix
from scipy.special import ndtri

from survey.science.records import Floats, Whole

PIECES = (0.0, 3.0, 6.0, 12.0, 18.0, 24.0, 36.0, 60.0, 120.0)
"""The ages in months at which the pieces of constant hazard open; the last never closes."""

FIRST_HAZARD, FIRST_SPREAD = 0.01, 2.0
"""Prior of the hazard in the first months: around 1 % a month, log standard deviation 2."""

SPREADS = (0.7, 0.7, 0.7, 0.5)
"""Scales of the half-normal priors of the four standard deviations: planting, species, site, and
step of the hazard from piece to piece."""

_LEAST, _MOST = math.log(0.02), math.log(3.0)
_STEPS = 200
_DOUBT_DRAWS = 200
_WIDER = 1.15
"""Draws lie this much further out than the nearest normal says. That normal is known to be too
narrow, and a few points do not span all that is unknown of the standard deviations; the figure was
measured on invented towns, where the limits of small plantings held in 91 of 100 without it."""
_POINTS = 11
_LATTICE = (1, 3, 5, 4)  # steps of each coordinate from point to point, modulo the points


class NoMode(ArithmeticError):
    """The most likely effects were not found."""


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """All that the likelihood needs of the trees of a town."""

    exposure: Floats  # (cells, pieces) months known alive under watch
    levels: tuple[Whole, Whole, Whole]  # (cells,) planting, species and site of each cell
    sizes: tuple[int, int, int]  # how many plantings, species and sites there are
    interval: Floats  # (intervals, pieces) months of each distinct death interval
    cell: Whole  # (deaths,) where each row of deaths fell, in ascending order
    which: Whole  # (deaths,) in which interval
    deaths: Floats  # (deaths,) how many
    shift: Floats  # (deaths,) added to the log hazard of that row; 0 for what was seen


@dataclass(frozen=True, slots=True, eq=False)
class Mode:
    """The most likely effects under given standard deviations, and how well they are known.

    `dense` are the effects that are factored together (the pieces, then the smaller factors);
    `single` those of the eliminated factor, of which `own` is the information about each one alone,
    and `cross` what it shares with the dense ones.
    """

    sds: Floats
    dense: Floats
    single: Floats
    factor: Floats  # lower Cholesky factor of the information about `dense`, `single` integrated
    own: Floats
    cross: csr_matrix
    told: tuple[Floats, Floats, Floats]  # information of the data alone on each level
    evidence: float  # Laplace's log posterior of the standard deviations


@dataclass(frozen=True, slots=True, eq=False)
class Effects:
    """Draws from the posterior, (levels, draws); every column is one joint draw.

    `weight` says for each level of a factor how much of what is known of its own effect comes from
    its own trees, 0 to 1, the rest being the prior that the other levels taught. `sds` are the
    standard deviations at the maximum: planting, species, site, step between pieces.
    """

    pieces: Floats
    planting: Floats
    species: Floats
    site: Floats
    weight: tuple[Floats, Floats, Floats]
    sds: Floats


def months_in_pieces(since: Floats, until: Floats) -> Floats:
    """How many months of (`since`, `until`] fall into each piece, (.., pieces)."""
    opens = np.array(PIECES)
    closes = np.append(opens[1:], np.inf)
    shared = np.minimum(until[..., None], closes) - np.maximum(since[..., None], opens)
    return np.asarray(np.maximum(shared, 0.0))


def _summed(effects: Sequence[Floats], levels: tuple[Whole, ...]) -> Floats:
    """The effects of the three factors together, at each cell's levels."""
    first, second, third = (effect[level] for effect, level in zip(effects, levels, strict=True))
    return np.asarray(first + second + third)


def sampled_effects(watched: Watched, *, draws: int, seed: int) -> Effects:
    """Fit, and draw from the posterior. The same trees and seed give the same draws."""
    problem = _Problem.of(watched)
    best, spread, free = _likely_spreads(problem)
    modes, shares = _around(problem, best, spread, free)
    counts = _apportioned(shares, draws)
    dice = np.random.default_rng(seed)
    parts = [
        _draw(problem.centred(mode, dice), count, dice, wider=_WIDER)
        for mode, count in zip(modes, counts, strict=True)
        if count
    ]
    dense = np.concatenate([part[0] for part in parts], axis=1)
    single = np.concatenate([part[1] for part in parts], axis=1)
    blocks = problem.split(dense, single)
    weight = [np.zeros(size) for size in watched.sizes]
    for mode, share in zip(modes, shares, strict=True):
        for factor, told in enumerate(mode.told):
            weight[factor] += share * told / (told + mode.sds[factor] ** -2)
    return Effects(
        pieces=blocks[0],
        planting=blocks[1],
        species=blocks[2],
        site=blocks[3],
        weight=(weight[0], weight[1], weight[2]),
        sds=best.sds,
    )


@dataclass(slots=True, eq=False)
class _Problem:
    """The data with the places of each sum worked out once."""

    data: Watched
    out: int  # the factor that is eliminated
    kept: tuple[int, int]
    starts: tuple[int, int]  # where the kept factors start among the dense effects
    width: int  # how many dense effects there are
    slots: Whole = field(repr=False)  # place in the cross block of each of its contributions
    indices: Whole = field(repr=False)
    indptr: Whole = field(repr=False)
    deaths_of: Whole = field(repr=False)  # where the deaths of each cell start

    @classmethod
    def of(cls, data: Watched) -> "_Problem":
        out = int(np.argmax(data.sizes))
        one, two = (factor for factor in range(3) if factor != out)
        pieces = data.exposure.shape[1]
        starts = (pieces, pieces + data.sizes[one])
        width = starts[1] + data.sizes[two]
        row = data.levels[out]
        columns = [np.broadcast_to(np.arange(pieces), data.exposure.shape).ravel()]
        rows = [np.repeat(row, pieces)]
        for factor, start in zip((one, two), starts, strict=True):
            columns.append(data.levels[factor] + start)
            rows.append(row)
        keys, slots = np.unique(
            np.concatenate(rows) * width + np.concatenate(columns), return_inverse=True
        )
        at_row, indices = np.divmod(keys, width)
        indptr = np.searchsorted(at_row, np.arange(data.sizes[out] + 1))
        deaths_of = np.searchsorted(data.cell, np.arange(len(row) + 1))
        return cls(data, out, (one, two), starts, width, slots, indices, indptr, deaths_of)

    def split(self, dense: Floats, single: Floats) -> list[Floats]:
        """Pieces, planting, species and site effects out of the two blocks."""
        parts: list[Floats] = [single, single, single]
        for factor, start in zip(self.kept, self.starts, strict=True):
            parts[factor] = dense[start : start + self.data.sizes[factor]]
        return [dense[: self.starts[0]], *parts]

    def prior(self, sds: Floats) -> Floats:
        """Precision (pieces, pieces) of the walk of the hazard."""
        pieces = self.starts[0]
        steps = np.diff(np.eye(pieces), axis=0)
        precision: Floats = steps.T @ steps / sds[3] ** 2
        precision[0, 0] += FIRST_SPREAD**-2
        return precision

    def height(self, dense: Floats, single: Floats, sds: Floats) -> float:
        """Log posterior of the effects, but for constants of the standard deviations."""
        data = self.data
        theta, *effects = self.split(dense, single)
        with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
            rate = np.exp(theta)
            risk = np.exp(_summed(effects, data.levels))
            spent = float(risk @ (data.exposure @ rate))
            x = (risk[data.cell] * np.exp(data.shift)) * (data.interval @ rate)[data.which]
            died = float(data.deaths @ np.log(-np.expm1(-x)))
        away = theta - math.log(FIRST_HAZARD)
        pull = float(away @ self.prior(sds) @ away)
        pull += sum(float(e @ e) / s**2 for e, s in zip(effects, sds, strict=False))
        height = died - spent - pull / 2
        return height if math.isfinite(height) else -math.inf

    def mode(self, sds: Floats, start: Mode | None) -> Mode:
        """Newton's method, each step halved until it climbs."""
        size = self.data.sizes[self.out]
        if start is None:
            dense, single = np.zeros(self.width), np.zeros(size)
            dense[: self.starts[0]] = math.log(FIRST_HAZARD)
        else:
            dense, single = start.dense, start.single
        height = self.height(dense, single, sds)
        for _ in range(_STEPS):
            here = _Curve(self, dense, single, sds)
            up, up_single = here.step()
            rise = float(here.slope @ up + here.slope_single @ up_single)
            length = 1.0
            while length > 1e-9:
                ahead, ahead_single = dense + length * up, single + length * up_single
                higher = self.height(ahead, ahead_single, sds)
                if higher >= height - 1e-12 * abs(height):
                    break
                length /= 2
            else:
                ahead, ahead_single, higher = dense, single, height
            dense, single, height = ahead, ahead_single, higher
            if here.exact and (rise < 1e-5 or length <= 1e-9):
                return here.as_mode(dense, single, height)
        raise NoMode("The effects of age, planting, species and site did not settle.")

    def centred(self, mode: Mode, dice: np.random.Generator) -> Mode:
        """The normal distribution nearest to the posterior, where the mode only touches it.

        Few losses leave a log hazard skewed: low values are less unlikely than high ones, and the
        mode lies above the mean. Of all normal distributions the one nearest in Kullback-Leibler
        divergence is centred where the slope is 0 *on average* over it (Opper & Archambeau 2009
        Neural Comput. 21:786), and that average only inflates the months by exp(variance / 2) and
        spreads each death over three values of its log hazard (Gauss-Hermite). The variances are
        those around the mode.
        """
        data = self.data
        theta, *effects = self.split(*_draw(mode, _DOUBT_DRAWS, dice, wider=_WIDER))
        theta -= theta.mean(axis=1, keepdims=True)
        months = np.log(data.interval @ np.exp(theta + mode.dense[: len(theta), None]))
        months -= months.mean(axis=1, keepdims=True)
        exposure, spread = np.empty_like(data.exposure), np.empty_like(data.deaths)
        at_once = 10_000
        for begin in range(0, len(data.exposure), at_once):
            cells = slice(begin, begin + at_once)
            eta = _summed(effects, tuple(level[cells] for level in data.levels))
            eta -= eta.mean(axis=1, keepdims=True)
            variance = (
                (theta**2).mean(axis=1)
                + (eta**2).mean(axis=1)[:, None]
                + 2 * (eta @ theta.T) / _DOUBT_DRAWS
            )
            exposure[cells] = data.exposure[cells] * np.exp(np.minimum(variance, 4.0) / 2)
            end = min(begin + at_once, len(data.exposure))
            for first in range(self.deaths_of[begin], self.deaths_of[end], at_once):
                rows = slice(first, min(first + at_once, self.deaths_of[end]))
                log_hazard = eta[data.cell[rows] - begin] + months[data.which[rows]]
                spread[rows] = np.sqrt((log_hazard**2).mean(axis=1))
        nodes = np.array([-math.sqrt(3), 0.0, math.sqrt(3)])
        doubted = replace(
            data,
            exposure=exposure,
            cell=np.repeat(data.cell, 3),
            which=np.repeat(data.which, 3),
            deaths=np.outer(data.deaths, [1 / 6, 2 / 3, 1 / 6]).ravel(),
            shift=np.outer(spread, nodes).ravel(),
        )
        other = replace(self, data=doubted, deaths_of=3 * self.deaths_of)
        return other.mode(mode.sds, mode)


class _Curve:
    """Slope and information of the log posterior at one point."""

    def __init__(self, problem: _Problem, dense: Floats, single: Floats, sds: Floats):
        data, pieces = problem.data, problem.starts[0]
        theta, *effects = problem.split(dense, single)
        rate = np.exp(theta)
        risk = np.exp(_summed(effects, data.levels))
        cells = len(risk)
        spent = data.exposure * rate * risk[:, None]
        months = data.interval * rate
        total = months.sum(axis=1)
        share = months / total[:, None]
        x = risk[data.cell] * np.exp(data.shift) * total[data.which]
        with np.errstate(over="ignore"):
            pull = np.where(x < 1e-8, 1.0 - x / 2, x / np.expm1(x))
        bend = pull * (1.0 - x - pull)  # second derivative of log(1 - exp(-e^y)), below 0
        pull, bend = data.deaths * pull, data.deaths * bend
        many = len(total)
        pull_in = np.bincount(data.which, pull, many)
        bend_in = np.bincount(data.which, bend, many)
        # information on (cell, cell), (cell, piece) and (piece, piece)
        of_cell = spent.sum(axis=1) - np.bincount(data.cell, bend, cells)
        shared = spent.copy()  # deaths are sorted by cell
        shared -= csr_matrix((bend, data.which, problem.deaths_of), shape=(cells, many)) @ share
        whole = np.diag(spent.sum(axis=0)) - (share.T * bend_in) @ share
        # a death known to an interval does not say in which piece it fell
        unsaid = np.diag(pull_in @ share) - (share.T * pull_in) @ share
        prior = problem.prior(sds)
        slope_of_cell = np.bincount(data.cell, pull, cells) - spent.sum(axis=1)
        self.problem, self.sds = problem, sds
        self.slope = np.zeros(problem.width)
        self.slope[:pieces] = (
            pull_in @ share - spent.sum(axis=0) - prior @ (theta - math.log(FIRST_HAZARD))
        )
        self.told = tuple(
            np.bincount(level, of_cell, size).astype(np.float64)
            for level, size in zip(data.levels, data.sizes, strict=True)
        )
        out = problem.out
        self.slope_single = (
            np.bincount(data.levels[out], slope_of_cell, data.sizes[out]) - single / sds[out] ** 2
        )
        self.own = self.told[out] + sds[out] ** -2
        values = np.concatenate([shared.ravel(), of_cell, of_cell])
        self.cross = csr_matrix(
            (
                np.bincount(problem.slots, values, len(problem.indices)),
                problem.indices,
                problem.indptr,
            ),
            shape=(data.sizes[out], problem.width),
        )
        block = np.zeros((problem.width, problem.width))
        block[:pieces, :pieces] = whole + prior
        for factor, start in zip(problem.kept, problem.starts, strict=True):
            size, level = data.sizes[factor], data.levels[factor]
            here = slice(start, start + size)
            self.slope[here] = (
                np.bincount(level, slope_of_cell, size) - effects[factor] / sds[factor] ** 2
            )
            among = np.arange(start, start + size)
            block[among, among] = self.told[factor] + sds[factor] ** -2
            for piece in range(pieces):
                block[piece, here] = block[here, piece] = np.bincount(level, shared[:, piece], size)
        one, two = problem.kept
        size_one, size_two = data.sizes[one], data.sizes[two]
        met = np.bincount(
            data.levels[one] * size_two + data.levels[two], of_cell, size_one * size_two
        ).reshape(size_one, size_two)
        first, second = problem.starts
        block[first:second, second:] = met
        block[second:, first:second] = met.T
        scaled = csr_matrix(self.cross)
        scaled.data = self.cross.data / np.repeat(self.own, np.diff(self.cross.indptr))
        block -= (self.cross.T @ scaled).toarray()
        exact = block.copy()
        exact[:pieces, :pieces] -= unsaid
        self.exact = True
        try:
            self.factor: Floats = np.asarray(np.linalg.cholesky(exact))
        except np.linalg.LinAlgError:
            # far from the mode the exact one may not be positive; the one of known months is
            self.exact = False
            self.factor = np.asarray(np.linalg.cholesky(block))

    def step(self) -> tuple[Floats, Floats]:
        """Newton's step for the dense and the single effects."""
        reduced = self.slope - self.cross.T @ (self.slope_single / self.own)
        dense = cho_solve((self.factor, True), reduced)
        return dense, (self.slope_single - self.cross @ dense) / self.own

    def as_mode(self, dense: Floats, single: Floats, height: float) -> Mode:
        sds, sizes = self.sds, self.problem.data.sizes
        logdet = 2 * float(np.log(np.diag(self.factor)).sum()) + float(np.log(self.own).sum())
        evidence = height - logdet / 2 - (self.problem.starts[0] - 1) * math.log(sds[3])
        evidence -= sum(size * math.log(sd) for size, sd in zip(sizes, sds, strict=False))
        # half-normal priors, on the log scale on which the maximum is sought
        evidence += float(np.sum(np.log(sds) - (sds / np.array(SPREADS)) ** 2 / 2))
        told = (self.told[0], self.told[1], self.told[2])
        return Mode(sds, dense, single, self.factor, self.own, self.cross, told, evidence)


def _likely_spreads(problem: _Problem) -> tuple[Mode, Floats, list[int]]:
    """The maximum in the log standard deviations, one at a time by parabolas.

    Also how far below and above it the posterior goes, (2, 4), as standard deviations of the two
    halves of a normal.
    """
    # a factor with one level says nothing that the hazard of the pieces does not say already
    free = [factor for factor in range(3) if problem.data.sizes[factor] > 1] + [3]
    sds = np.array([0.4 if factor in free else 0.05 for factor in range(4)])
    best = problem.mode(sds, None)
    spread = np.full((2, 4), 0.5)
    for _ in range(8):
        moved = 0.0
        for factor in free:
            width = float(spread[:, factor].mean())
            below, above = (
                problem.mode(_scaled(best.sds, factor, step), best) for step in (-width, width)
            )
            slope = (above.evidence - below.evidence) / (2 * width)
            curve = (above.evidence + below.evidence - 2 * best.evidence) / width**2
            move = -slope / curve if curve < -0.05 else math.copysign(1.0, slope)
            move = max(-1.0, min(1.0, move))
            drops = best.evidence - np.array([below.evidence, above.evidence])
            spread[:, factor] = np.clip(width / np.sqrt(np.maximum(2 * drops, 1e-9)), 0.02, 1.0)
            if abs(move) > 0.1 * width:
                there = problem.mode(_scaled(best.sds, factor, move), best)
                there = max((best, below, above, there), key=lambda mode: mode.evidence)
                moved = max(moved, abs(math.log(there.sds[factor] / best.sds[factor])) / width)
                best = there
        if moved < 0.3:
            break
    return best, spread, free


def _scaled(sds: Floats, factor: int, step: float) -> Floats:
    moved = sds.copy()
    moved[factor] = math.exp(max(_LEAST, min(_MOST, math.log(sds[factor]) + step)))
    return moved


def _around(
    problem: _Problem, best: Mode, spread: Floats, free: list[int]
) -> tuple[list[Mode], Floats]:
    """Points spread evenly over the posterior of the standard deviations, and their shares.

    A lattice of points whose every coordinate runs through evenly spaced quantiles of a normal with
    two halves; the shares are then corrected by the posterior itself.
    """
    modes: list[Mode] = []
    logs: list[float] = []
    for point in range(_POINTS):
        place = (point * np.array(_LATTICE) % _POINTS + 0.5) / _POINTS
        score = ndtri(place)
        sds = best.sds.copy()
        for factor in free:
            step = score[factor] * spread[int(score[factor] > 0), factor]
            sds = _scaled(sds, factor, step)
        mode = problem.mode(sds, modes[-1] if modes else best)
        modes.append(mode)
        logs.append(mode.evidence - best.evidence + float(score[free] @ score[free]) / 2)
    shares = np.exp(np.array(logs) - max(logs))
    return modes, np.asarray(shares / shares.sum())


def _apportioned(shares: Floats, draws: int) -> list[int]:
    """Whole numbers of draws in pairs, largest remainders first."""
    pairs = draws // 2
    wanted = shares * pairs
    counts = np.floor(wanted).astype(int)
    rest = np.argsort(counts - wanted, kind="stable")[: pairs - int(counts.sum())]
    counts[rest] += 1
    return [2 * int(count) for count in counts]


def _draw(
    mode: Mode, count: int, dice: np.random.Generator, *, wider: float = 1.0
) -> tuple[Floats, Floats]:
    """Joint draws in mirrored pairs, so that their mean is the mode."""
    half = wider * dice.standard_normal((len(mode.dense), count // 2))
    away = solve_triangular(mode.factor, np.concatenate([half, -half], axis=1), lower=True, trans=1)
    single = wider * dice.standard_normal((len(mode.single), count // 2))
    single = np.concatenate([single, -single], axis=1)
    apart = (single * np.sqrt(mode.own)[:, None] - mode.cross @ away) / mode.own[:, None]
    return mode.dense[:, None] + away, mode.single[:, None] + apart
