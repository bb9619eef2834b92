"""Deaths of one cause where other causes compete, from events known to lie between two looks.

Never one minus a curve that treats the other causes as if those trees had merely gone unseen: such
curves add up to more than all the trees there were.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from survey.science.records import Floats, Spell, Spells, Whole
from survey.science.survival.cells import gone_by
from survey.science.survival.limits import (
    BadBootstrap,
    fates_known,
    fewest_at_risk,
    limit_without_deaths,
)
from survey.science.survival.turnbull import Turnbull, turnbull

METHOD = (
    "cumulative incidence: the mass of the all-cause maximum likelihood estimate in each cell, "
    "split by cause by self-consistency; on exact ages the Aalen-Johansen estimate"
)
_ROUNDS = 20_000
_STILL = 1e-12


class BadCauses(ValueError):
    """An event without a cause, a cause without an event, or columns that differ in length."""


@dataclass(frozen=True, slots=True, eq=False)
class Competing:
    """An all-cause curve whose deaths are split by cause.

    `share[j, c - 1]` of the deaths in cell j are of cause c. The shares of a cell sum to 1, so that
    the incidences of all causes and the survival sum to 1 at every age.
    """

    fit: Turnbull
    share: Floats

    def at_most(self, cause: int, age: float, *, given: float | None = None) -> float:
        """Share of the trees alive at `given` dead of `cause` by `age`, if deaths fell early.

        In a cell of which nothing is known every tree that reaches it is counted.
        """
        possibly, _ = gone_by(age, self.fit.left, self.fit.right, given)
        of_cause = np.where(self.fit.unsettled, 1.0, self.share[:, cause - 1])
        return self._mass(np.where(self.fit.unsettled, np.inf, self.fit.hazard), possibly, of_cause)

    def at_least(self, cause: int, age: float, *, given: float | None = None) -> float:
        """The same if deaths fell late; a cell of which nothing is known counts nobody."""
        _, surely = gone_by(age, self.fit.left, self.fit.right, given)
        hazard = np.where(self.fit.unsettled, 0.0, self.fit.hazard)
        return self._mass(hazard, surely, self.share[:, cause - 1])

    def _mass(self, hazard: Floats, within: np.ndarray, of_cause: Floats) -> float:
        spent = np.where(within, hazard, 0.0)
        alive = np.exp(-np.concatenate([[0.0], np.cumsum(spent)]))
        return min(1.0, float((alive[:-1] - alive[1:]) @ of_cause))


@dataclass(frozen=True, slots=True)
class FreeOfCause:
    """The share not dead of one cause by `age`: bounds of the curve, and limits that hold both."""

    age: float
    at_least: float
    at_most: float
    low: float
    high: float


def competing(spells: Sequence[Spell], causes: Sequence[int]) -> Competing:
    """Split the all-cause curve by cause; `causes` is 0 for trees last seen alive, else 1, 2, …

    The mass p_j of each cell is the maximum likelihood estimate for all causes together (Turnbull
    1976 J. R. Stat. Soc. B 38:290). Given p, an event of cause c known to the cells A has the
    probability sum over j in A of p_j q_jc; this is maximised in the shares q by self-consistency
    (expectation-maximisation: Dempster, Laird & Rubin 1977 J. R. Stat. Soc. B 39:1), a concave
    problem that cannot stop at a false maximum. With exact ages each cell is one age, q_jc is
    the share of that age's events, and the result is the Aalen-Johansen (1978) estimate.

    Raises `BadCauses`, and what `turnbull` raises.
    """
    rows, cause = list(spells), np.asarray(list(causes), dtype=np.int64)
    if len(rows) != len(cause):
        raise BadCauses("Spells and causes differ in number.")
    censored = np.array([spell.is_censored for spell in rows], dtype=bool)
    if (cause < 0).any() or ((cause == 0) != censored).any():
        raise BadCauses("Every event, and only an event, has a cause numbered from 1.")
    return _split(Spells.of(rows), _caused(rows, cause), max(1, int(cause.max(initial=1))))


def free_of_cause_at(
    spells: Sequence[Spell],
    causes: Sequence[int],
    ages: Sequence[float],
    *,
    cause: int,
    seed: int,
    draws: int = 200,
    given: float | None = None,
    level: float = 0.95,
) -> list[FreeOfCause]:
    """One minus the incidence of `cause` at each age, with limits by drawing the trees again.

    The limits are made as those of `limits.survival_at`: percentiles of the draws, each with cells
    of its own, and never narrower than the exact limits for nobody dead and for nobody left.
    """
    tail = (1 - level) / 2
    if not 0 < level < 1 or draws < 2 / tail:
        raise BadBootstrap("The level lies between 0 and 1, and the draws must be enough for it.")
    whole = competing(spells, causes)
    distinct = sorted(_caused(list(spells), np.asarray(list(causes), dtype=np.int64)))
    count = np.array([trees for *_, trees in distinct], dtype=np.float64)
    dice = np.random.default_rng(seed)
    lows, highs = np.empty((draws, len(ages))), np.empty((draws, len(ages)))
    for draw in range(draws):
        weights = dice.multinomial(int(count.sum()), count / count.sum())
        again = [(*row[:4], int(n)) for row, n in zip(distinct, weights, strict=True) if n]
        drawn = Spells.from_columns(
            entry=[row[0] for row in again],
            left=[row[1] for row in again],
            right=[row[2] for row in again],
            count=[row[4] for row in again],
        )
        split = _split(drawn, again, whole.share.shape[1])
        for column, age in enumerate(ages):
            lows[draw, column] = 1 - split.at_most(cause, age, given=given)
            highs[draw, column] = 1 - split.at_least(cause, age, given=given)
    answers = []
    for column, age in enumerate(ages):
        at_least = 1 - whole.at_most(cause, age, given=given)
        at_most = 1 - whole.at_least(cause, age, given=given)
        watched = whole.fit.spells
        floor = limit_without_deaths(fewest_at_risk(watched, given, age), tail)
        roof = 1 - limit_without_deaths(fates_known(watched, given, age), tail)
        answers.append(
            FreeOfCause(
                age=float(age),
                at_least=at_least,
                at_most=at_most,
                low=min(float(np.quantile(lows[:, column], tail)), at_least, floor),
                high=max(float(np.quantile(highs[:, column], 1 - tail)), at_most, roof),
            )
        )
    return answers


_Caused = tuple[float, float, float, int, int]  # entry, left, right, cause, trees


def _caused(spells: Sequence[Spell], causes: Whole) -> list[_Caused]:
    """Distinct spells with their cause, and how many trees share them."""
    counted: dict[tuple[float, float, float, int], int] = {}
    for spell, cause in zip(spells, causes.tolist(), strict=True):
        entry = -math.inf if spell.entry is None else float(spell.entry)
        key = (entry, float(spell.left), float(spell.right), cause)
        counted[key] = counted.get(key, 0) + 1
    return [(*key, trees) for key, trees in counted.items()]


def _split(spells: Spells, rows: Sequence[_Caused], many: int) -> Competing:
    fit = turnbull(spells)
    place = {
        key: at
        for at, key in enumerate(
            zip(spells.entry.tolist(), spells.left.tolist(), spells.right.tolist(), strict=True)
        )
    }
    events: dict[tuple[int, int, int], int] = {}
    for entry, left, right, cause, trees in rows:
        if cause:
            at = place[entry, left, right]
            run = (int(fit.cells.first[at]), int(fit.cells.last[at]), cause - 1)
            events[run] = events.get(run, 0) + trees
    total = np.zeros(many)
    for (_, _, cause), trees in events.items():
        total[cause] += trees
    start = total / total.sum() if total.sum() else np.full(many, 1 / many)
    share = np.tile(start, (len(fit.hazard), 1))
    runs = [
        (first, last, cause, trees, _within_run(fit.hazard[first : last + 1]))
        for (first, last, cause), trees in sorted(events.items())
    ]
    for _ in range(_ROUNDS):
        expected = np.zeros_like(share)
        for first, last, cause, trees, mass in runs:
            likely = mass * share[first : last + 1, cause]
            if likely.sum() > 0:
                expected[first : last + 1, cause] += trees * likely / likely.sum()
        in_cell = expected.sum(axis=1, keepdims=True)
        better = np.where(in_cell > 0, expected / np.where(in_cell > 0, in_cell, 1.0), start)
        moved = float(np.abs(better - share).max(initial=0.0))
        share = better
        if moved < _STILL:
            break
    return Competing(fit=fit, share=share)


def _within_run(hazard: Floats) -> Floats:
    """How the deaths of a tree known to have died in these cells are spread over them."""
    alive = np.exp(-np.concatenate([[0.0], np.cumsum(hazard)]))
    return np.asarray(alive[:-1] - alive[1:])
