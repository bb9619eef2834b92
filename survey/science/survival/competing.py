"""Deaths of one cause where other causes compete, from events known to lie between two looks.

Never one minus a curve that treats the other causes as if those trees had merely gone unseen: such
curves add up to more than all the trees there were.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from survey.science.records import BadCount, Floats, Spell, Spells, Whole
from survey.science.survival.cells import gone_by, runs_among
from survey.science.survival.increments import summed_at
from survey.science.survival.limits import BadLevel, beta_limits, effective_trees
from survey.science.survival.shares import CausedRuns, most_likely_shares
from survey.science.survival.turnbull import Turnbull, turnbull

METHOD = (
    "cumulative incidence: the mass of the all-cause maximum likelihood estimate in each cell, "
    "split by cause by maximum likelihood; on exact ages the Aalen-Johansen estimate"
)


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

    def at_most(self, *causes: int, age: float, given: float | None = None) -> float:
        """Share of the trees alive at `given` gone of `causes` by `age`, if deaths fell early.

        In a cell of which nothing is known every tree that reaches it is counted.
        """
        possibly, _ = gone_by(age, self.fit.left, self.fit.right, given)
        of_cause = np.where(self.fit.unsettled, 1.0, self._of(causes))
        return self._mass(np.where(self.fit.unsettled, np.inf, self.fit.hazard), possibly, of_cause)

    def at_least(self, *causes: int, age: float, given: float | None = None) -> float:
        """The same if deaths fell late; a cell of which nothing is known counts nobody."""
        _, surely = gone_by(age, self.fit.left, self.fit.right, given)
        hazard = np.where(self.fit.unsettled, 0.0, self.fit.hazard)
        return self._mass(hazard, surely, self._of(causes))

    def _of(self, causes: tuple[int, ...]) -> Floats:
        return np.asarray(self.share[:, [cause - 1 for cause in causes]].sum(axis=1))

    def _mass(self, hazard: Floats, within: np.ndarray, of_cause: Floats) -> float:
        spent = np.where(within, hazard, 0.0)
        alive = np.exp(-np.concatenate([[0.0], np.cumsum(spent)]))
        return min(1.0, float((alive[:-1] - alive[1:]) @ of_cause))


@dataclass(frozen=True, slots=True)
class FreeOfCause:
    """The share not gone of some causes at `age`: bounds of the curve; limits that hold both."""

    age: float
    at_least: float
    at_most: float
    low: float
    high: float


def competing(spells: Sequence[Spell], causes: Sequence[int]) -> Competing:
    """Split the all-cause curve by cause; `causes` is 0 for trees last seen alive, else 1, 2, …

    The mass p_j of each cell is the maximum likelihood estimate for all causes together (Turnbull
    1976 J. R. Stat. Soc. B 38:290). Given p, an event of cause c known to the cells A has the
    probability sum over j in A of p_j q_jc; this is maximised in the shares q, a concave problem
    without false maxima (see `shares`). With exact ages each cell is one age, q_jc is the share of
    that age's events, and the result is the Aalen-Johansen (1978) estimate.

    Raises `BadCauses`, and what `turnbull` raises.
    """
    caused = caused_columns(spells, causes)
    return _split(caused, max(1, int(caused.cause.max(initial=1))))


def competing_of_columns(
    *,
    entry: ArrayLike,
    left: ArrayLike,
    right: ArrayLike,
    cause: ArrayLike,
    count: ArrayLike | None = None,
) -> Competing:
    """The same from columns, for many trees; an entry of -inf says "watched from before age 0"."""
    caused = _caused(entry, left, right, cause, count)
    return _split(caused, max(1, int(caused.cause.max(initial=1))))


def free_of_cause_at(
    split: Competing,
    ages: Sequence[float],
    *,
    causes: Sequence[int],
    given: float | None = None,
    level: float = 0.95,
) -> list[FreeOfCause]:
    """One minus the incidence of `causes` together at each age, with limits.

    The limits are Clopper & Pearson's (1934) for as many trees as would, with every fate known,
    tell as much of the all-cause curve as these do (`limits.effective_trees`).
    """
    if not 0 < level < 1:
        raise BadLevel(f"The level of a limit lies between 0 and 1, and {level} does not.")
    trees = effective_trees(split.fit, [(given, age) for age in ages])
    answers = []
    for age, many in zip(ages, trees, strict=True):
        at_least = 1 - split.at_most(*causes, age=age, given=given)
        at_most = 1 - split.at_least(*causes, age=age, given=given)
        answers.append(
            FreeOfCause(
                age=float(age),
                at_least=at_least,
                at_most=at_most,
                low=min(at_least, beta_limits(many * at_least, many, (1 - level) / 2)[0]),
                high=max(at_most, beta_limits(many * at_most, many, (1 - level) / 2)[1]),
            )
        )
    return answers


@dataclass(frozen=True, slots=True, eq=False)
class Caused:
    """Distinct spells with their cause (0: last seen alive), and how many trees share them."""

    spells: Spells  # sorted within each cause; `count` trees share spell and cause
    cause: Whole


def caused_columns(spells: Sequence[Spell], causes: Sequence[int]) -> Caused:
    """Collect spells with their causes. Raises `BadCauses` where they do not fit."""
    rows = list(spells)
    return _caused(
        np.array([-math.inf if row.entry is None else row.entry for row in rows], dtype=float),
        np.array([row.left for row in rows], dtype=float),
        np.array([row.right for row in rows], dtype=float),
        np.array(list(causes)),
        None,
    )


def _caused(
    entry: ArrayLike, left: ArrayLike, right: ArrayLike, cause: ArrayLike, count: ArrayLike | None
) -> Caused:
    entries, lefts, rights = (
        np.atleast_1d(np.asarray(column, dtype=np.float64)) for column in (entry, left, right)
    )
    given = np.atleast_1d(np.asarray(cause))
    whole = given.astype(np.int64) if given.size else np.zeros(0, dtype=np.int64)
    if not len(entries) == len(lefts) == len(rights) == len(whole):
        raise BadCauses("Spells and causes differ in number.")
    if (whole != given).any() or (whole < 0).any() or ((whole == 0) != np.isposinf(rights)).any():
        raise BadCauses("Every event, and only an event, has a cause numbered from 1.")
    trees = None if count is None else np.atleast_1d(np.asarray(count))
    if trees is not None and trees.shape != lefts.shape:
        raise BadCount("The columns of spells differ in length.")
    parts, numbers = [], []
    for number in np.unique(whole).tolist():
        mine = whole == number
        part = Spells.from_columns(
            entry=entries[mine],
            left=lefts[mine],
            right=rights[mine],
            count=None if trees is None else trees[mine],
        )
        parts.append(part)
        numbers.append(np.full(len(part.count), number))
    if not parts:
        return Caused(Spells.of([]), whole)
    return Caused(
        Spells(
            entry=np.concatenate([part.entry for part in parts]),
            left=np.concatenate([part.left for part in parts]),
            right=np.concatenate([part.right for part in parts]),
            count=np.concatenate([part.count for part in parts]),
        ),
        np.concatenate(numbers),
    )


def _split(caused: Caused, many: int) -> Competing:
    trees = caused.spells
    fit = turnbull(
        Spells.from_columns(
            entry=trees.entry, left=trees.left, right=trees.right, count=trees.count
        )
    )
    event = caused.cause > 0
    first, last = runs_among(fit.cells, trees.left[event], trees.right[event])
    cells = len(fit.hazard)
    key = ((caused.cause[event] - 1) * cells + first) * cells + last
    distinct, which = np.unique(key, return_inverse=True)
    rest, at_last = np.divmod(distinct, cells)
    at_cause, at_first = np.divmod(rest, cells)
    runs = CausedRuns(
        first=at_first,
        last=at_last,
        cause=at_cause,
        deaths=summed_at(which, trees.count[event].astype(np.float64), len(distinct)),
    )
    return Competing(fit=fit, share=most_likely_shares(fit.hazard, runs, many))
