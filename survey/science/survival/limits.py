"""How sure a curve fitted to intervals is: limits by drawing the trees again."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from survey.science.records import Floats, Spells, Truths, Whole
from survey.science.survival.cells import Cells, gone_by
from survey.science.survival.increments import most_likely_increments, summed_at
from survey.science.survival.turnbull import Turnbull, passed_and_died

METHOD = (
    "Interval-censored, left-truncated maximum likelihood (Turnbull 1976; cells of Frydman 1994); "
    "limits by the percentile bootstrap of trees, never narrower than the exact binomial limits "
    "for nobody dead (at the smallest number at risk) and for nobody left"
)
_ROOM = 100_000  # numbers held at once in the widest array of a batch of draws


class BadBootstrap(ValueError):
    """Too few draws for the level asked for, or a level outside 0 to 1."""


@dataclass(frozen=True, slots=True)
class SurvivalAt:
    """Survival to `age`, of those alive at the age the curve is conditioned on.

    The curve lies between `at_least` and `at_most`; its limits `low` and `high` hold both.
    """

    age: float
    at_least: float
    at_most: float
    low: float
    high: float
    at_risk: int


def survival_at(
    fit: Turnbull,
    ages: Sequence[float],
    *,
    seed: int,
    draws: int = 400,
    given: float | None = None,
    level: float = 0.95,
) -> list[SurvivalAt]:
    """What the curve says at each age, with limits. Same trees, same seed: same numbers.

    Each draw takes as many trees as there are, with replacement, and fits them anew *with their own
    cells*, so that a draw without some tree does not know what only that tree told. The lower
    limit is the low percentile of the draws' `at_least`, the upper the high one of `at_most`.

    Where nobody died every draw agrees and the percentiles say 100-100. So no lower limit is
    above the one that *no death at all* would have left: if n is the smallest number at risk at
    any age from `given` to `age`, no death has probability at most S^n, whatever the shape of the
    curve, hence S >= tail^(1/n), which is the Clopper-Pearson limit of n alive out of n. Likewise
    no upper limit is below the one for *nobody left* among the k trees whose fate at `age` is
    known: 1 - tail^(1/k), the Clopper-Pearson limit of 0 out of k.
    """
    if not 0 < level < 1:
        raise BadBootstrap(f"The level of a limit lies between 0 and 1, and {level} does not.")
    tail = (1 - level) / 2
    if draws < 2 / tail:
        raise BadBootstrap(f"Limits at {level:.0%} need at least {math.ceil(2 / tail)} draws.")
    wanted = [float(age) for age in ages]
    if any(math.isnan(age) for age in wanted):
        raise ValueError("An age asked about is not a number.")
    lows, highs = _drawn_again(fit, wanted, seed, draws, given)
    answers = []
    for column, age in enumerate(wanted):
        at_least, at_most = fit.at_least(age, given=given), fit.at_most(age, given=given)
        floor = limit_without_deaths(fewest_at_risk(fit.spells, given, age), tail)
        roof = 1 - limit_without_deaths(fates_known(fit.spells, given, age), tail)
        answers.append(
            SurvivalAt(
                age=age,
                at_least=at_least,
                at_most=at_most,
                low=min(float(np.quantile(lows[:, column], tail)), at_least, floor),
                high=max(float(np.quantile(highs[:, column], 1 - tail)), at_most, roof),
                at_risk=fit.at_risk(age),
            )
        )
    return answers


def limit_without_deaths(trees: int, tail: float) -> float:
    """The survival at which seeing none of so many trees die has just the chance `tail`."""
    return float(tail ** (1 / trees)) if trees else 0.0


def fewest_at_risk(spells: Spells, given: float | None, age: float) -> int:
    """The smallest number at risk at any age after `given` and up to `age`.

    The number only falls just after somebody was last known alive, so those ages, the end and the
    first moment after the start are all that need asking. Age 0 itself is asked about only when a
    tree died there: nobody whose watch began at 0 could have been seen to.
    """
    since = -math.inf if given is None else given
    inside = np.unique(spells.left[(spells.left >= since) & (spells.left < age)])
    after = np.nextafter(inside, np.inf)
    if given is None and (spells.right == 0).any():
        start = 0.0
    else:
        start = float(np.nextafter(given or 0.0, np.inf))
    asked = np.concatenate([[min(start, age)], after, [age]])
    return int(_at_risk(spells, asked).min())


def _at_risk(spells: Spells, ages: Floats) -> Whole:
    by_entry, by_left = np.argsort(spells.entry), np.argsort(spells.left)
    come = np.concatenate([[0], np.cumsum(spells.count[by_entry])])
    gone = np.concatenate([[0], np.cumsum(spells.count[by_left])])
    entered = come[np.searchsorted(spells.entry[by_entry], ages, side="left")]
    lost = gone[np.searchsorted(spells.left[by_left], ages, side="left")]
    return np.asarray(entered - lost)


def fates_known(spells: Spells, given: float | None, age: float) -> int:
    """Trees alive and under watch at `given` or later that are known dead or alive at `age`.

    Each of them died by `age` with at most the chance 1 - S, so that all did has at most
    (1 - S)^k; a tree that may have died before `given` has no such bound and is left out.
    """
    since = -math.inf if given is None else given
    known = ((spells.right <= age) | (spells.left >= age)) & (spells.left >= since)
    known &= spells.right > since
    return int(spells.count[known & (spells.entry < age)].sum())


def _drawn_again(
    fit: Turnbull, ages: list[float], seed: int, draws: int, given: float | None
) -> tuple[Floats, Floats]:
    """`at_least` and `at_most` (draws, ages) of samples drawn again from the trees."""
    dice = np.random.default_rng(seed)
    spells, cells = fit.spells, fit.cells
    share = spells.count / spells.trees
    widest = max(len(cells) ** 2, len(spells.count), len(cells.ends), 1)
    batch = max(1, min(draws, _ROOM // widest))
    at_least = np.empty((draws, len(ages)))
    at_most = np.empty((draws, len(ages)))
    for begin in range(0, draws, batch):
        size = min(batch, draws - begin)
        weights = dice.multinomial(spells.trees, share, size=size).astype(np.float64)
        left, right, barred = _cells_of_draws(cells, weights)
        passed, deaths, first, last = passed_and_died(cells, weights)
        found = most_likely_increments(
            passed=passed,
            deaths=deaths,
            first=first,
            last=last,
            trees=np.full(size, float(spells.trees)),
            barred=barred,
            tolerance=1e-10,
            exactly=False,
        )
        early = np.where(found.unsettled, np.inf, found.hazard)
        late = np.where(found.unsettled, 0.0, found.hazard)
        for column, age in enumerate(ages):
            possibly, surely = gone_by(age, left, right, given)
            spent_early = np.where(possibly, early, 0.0).sum(axis=1)
            spent_late = np.where(surely, late, 0.0).sum(axis=1)
            at_least[begin : begin + size, column] = np.exp(-spent_early)
            at_most[begin : begin + size, column] = np.exp(-spent_late)
    return at_least, at_most


def _cells_of_draws(cells: Cells, weights: Floats) -> tuple[Floats, Floats, Truths]:
    """The cells of each draw, told on the cells of the whole sample.

    A draw has fewer ends, so its cells are wider or gone. Returns for each draw and each cell of
    the sample the ages between which the draw places that cell's deaths, and which cells are
    barred because they are no cell of the draw or lie in one that an earlier one stands for.
    """
    draws, ends = len(weights), len(cells.ends)
    row = np.arange(draws)[:, None] * (ends + 1)
    seen = np.zeros(draws * (ends + 1))
    entry_end = np.where(cells.entry_end < 0, ends, cells.entry_end)
    for end in (cells.left_end, cells.right_end, entry_end):
        seen += summed_at(row + end, weights, seen.size)
    present = seen.reshape(draws, ends + 1)[:, :ends] > 0
    place = np.arange(ends)
    before = np.maximum.accumulate(np.where(present, place, -1), axis=1)
    after = np.minimum.accumulate(np.where(present, place, ends)[:, ::-1], axis=1)[:, ::-1]
    opens, closes = before[:, cells.opens], after[:, cells.opens + 1]
    opening = np.append(cells.is_opening, False)  # so that place -1 reads as "no opening end"
    closing = np.append(~cells.is_opening, False)  # so that place `ends` reads as "no closing end"
    is_cell = opening[opens] & closing[closes]
    repeated = np.zeros_like(is_cell)
    repeated[:, 1:] = is_cell[:, :-1] & is_cell[:, 1:] & (opens[:, 1:] == opens[:, :-1])
    left = np.where(is_cell, cells.ages[opens], np.inf)
    right = np.where(is_cell, cells.ages[np.minimum(closes, ends - 1)], np.inf)
    return left, right, ~is_cell | repeated
