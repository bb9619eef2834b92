"""Survival when events are known only to lie between two looks, and trees entered late.

The non-parametric maximum likelihood estimate for interval-censored, left-truncated data (Turnbull
1976 J. R. Stat. Soc. B 38:290, with the cells of Frydman 1994). Exact ages and trees last seen
alive may be mixed in; on such data alone it is the product limit.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from survey.science.records import Floats, Spell, Spells, Truths, Whole
from survey.science.survival.cells import Cells, cells_of, gone_by
from survey.science.survival.hazard import most_likely_hazard
from survey.science.survival.increments import most_likely_increments, summed_at

_CENTRED = 300  # cells up to which a curve that is not unique is centred


class NoTrees(ValueError):
    """There is nothing to estimate from."""


@dataclass(frozen=True, slots=True)
class Support:
    """From which age to which the sample carries a curve.

    `given` is the age on whose survival the curve is conditioned; `None` when enough trees were
    watched from before age 0, so that it needs no condition.
    """

    given: float | None
    until: float


@dataclass(frozen=True, slots=True, eq=False)
class Turnbull:
    """The fitted curve.

    Cell j runs over (`left[j]`, `right[j]`], or is the single age where both are equal. Of the
    trees that reach it, the share 1 - exp(-hazard[j]) dies in it; when is not known. `unsettled`
    marks cells about which the data say nothing at all (a gap in the watch): `at_least` counts all
    who reach one as dead, `at_most` none.

    `certificate` is the largest directional derivative of the log-likelihood per tree, the
    first-order (Karush-Kuhn-Tucker) gap: how fast the fit could still be bettered. The likelihood
    is concave in the hazards, so 0 proves the global maximum. `is_unique` is false when other
    curves are exactly as likely.
    """

    spells: Spells
    cells: Cells
    left: Floats
    right: Floats
    hazard: Floats
    unsettled: Truths
    loglik: float
    certificate: float
    is_unique: bool
    steps: int

    @property
    def trees(self) -> int:
        """How many trees stand behind the curve."""
        return self.spells.trees

    def masses(self) -> Floats:
        """Share of all trees, from the first cell on, that dies in each cell; they sum to 1."""
        alive = np.exp(-np.concatenate([[0.0], np.cumsum(self.hazard)]))
        return np.asarray(alive[:-1] - alive[1:])

    def at_least(self, age: float, *, given: float | None = None) -> float:
        """The share alive after `age`, of those alive at `given`, if deaths fell early.

        Inside a cell the curve is not known: this counts the whole cell as dead already.
        """
        possibly, _ = gone_by(_known(age), self.left, self.right, given)
        return math.exp(-float(np.where(self.unsettled, np.inf, self.hazard)[possibly].sum()))

    def at_most(self, age: float, *, given: float | None = None) -> float:
        """The share alive after `age`, of those alive at `given`, if deaths fell late.

        Inside a cell the curve is not known: this counts the whole cell as still alive.
        """
        _, surely = gone_by(_known(age), self.left, self.right, given)
        return math.exp(-float(np.where(self.unsettled, 0.0, self.hazard)[surely].sum()))

    def at_risk(self, age: float) -> int:
        """Trees under watch and known alive just before `age`; see `Spells.at_risk`."""
        return self.spells.at_risk(_known(age))

    @property
    def emptied_at(self) -> float | None:
        """An age by which all then under watch had died although others came under watch later.

        From there on the curve is 0 whatever those others did, so it must not be shown: condition
        on a later age, as `support` does. `None` when there is no such age.
        """
        ages = self._emptied()
        return float(ages[0]) if len(ages) else None

    def _emptied(self) -> Floats:
        later = np.arange(len(self.hazard)) < self.cells.start.max()
        return np.asarray(self.right[np.isinf(self.hazard) & ~self.unsettled & later])

    def support(self, minimum: int) -> Support | None:
        """The ages that at least `minimum` trees carry; `None` when they carry none.

        With delayed entry the early curve may rest on one or two trees, fall to 0 there, and never
        rise again whatever the others did. So the curve starts at the first age (before 0, or an
        entry age) with `minimum` trees under watch and is conditioned on survival to it, and it
        ends where fewer are known alive, or where all died and others came later. Inside the
        support there is no gap in the watch.
        """
        least = max(minimum, 1)
        starts: list[float | None] = [None]
        starts += np.unique(self.spells.entry[np.isfinite(self.spells.entry)]).tolist()
        for given in starts:
            if self.spells.watched_from(given) >= least:
                return Support(given=given, until=self._carried_until(given, least))
        return None

    def _carried_until(self, given: float | None, minimum: int) -> float:
        since = 0.0 if given is None else given
        ages = np.unique(self.spells.left[self.spells.left > since])
        before = np.concatenate([[since], ages[:-1]])
        # the number falls just after somebody was last known alive and rises as others enter
        carried = self.spells.at_risk_at(ages) >= minimum
        carried &= self.spells.at_risk_at(before, after=True) >= minimum
        emptied = self._emptied()
        carried &= ages < emptied[emptied > since].min(initial=np.inf)
        far = int(np.argmin(carried)) if not carried.all() else len(ages)
        return float(ages[far - 1]) if far else since


def turnbull(spells: Iterable[Spell] | Spells) -> Turnbull:
    """Fit the curve. Raises `NoTrees` for an empty sample and `NoConvergence` when it fails.

    The maximum does not depend on the order of the trees, on the unit of age, or on a start.
    """
    watched = Spells.of(spells)
    if not watched.trees:
        raise NoTrees("A survival curve needs at least one tree.")
    cells = cells_of(watched)
    passed, deaths, first, last = passed_and_died(cells, watched.count[None, :].astype(np.float64))
    found = most_likely_hazard(
        passed=passed[0], deaths=deaths[0], first=first, last=last, trees=float(watched.trees)
    )
    hazard, gap = found.hazard, found.gap
    if not found.unique and len(cells) <= _CENTRED:
        # of equally likely curves the one in their middle, where the interior point method ends
        centred = most_likely_increments(
            passed=passed,
            deaths=deaths,
            first=first,
            last=last,
            trees=np.array([float(watched.trees)]),
        )
        hazard, gap = centred.hazard[0], float(centred.gap[0])
    return Turnbull(
        spells=watched,
        cells=cells,
        left=cells.left,
        right=cells.right,
        hazard=hazard,
        unsettled=found.unsettled,
        loglik=found.loglik,
        certificate=gap,
        is_unique=found.unique,
        steps=found.steps,
    )


def passed_and_died(cells: Cells, weights: Floats) -> tuple[Floats, Floats, Whole, Whole]:
    """What the likelihood needs to know of weighted trees, weights (B, distinct spells).

    Returns the trees that passed each cell alive (B, m), the trees that died in each distinct run
    of cells (B, P), and the first and last cell of each run.
    """
    draws, many = len(weights), len(cells)
    row = np.arange(draws)[:, None]
    size = draws * (many + 1)
    come = summed_at(row * (many + 1) + cells.start, weights, size)
    gone = summed_at(row * (many + 1) + cells.first, weights, size)
    passed = np.cumsum((come - gone).reshape(draws, many + 1), axis=1)[:, :-1]
    runs, which = np.unique(cells.first * many + cells.last, return_inverse=True)
    first, last = (np.asarray(part, dtype=np.int64) for part in np.divmod(runs, many))
    died = summed_at(row * len(runs) + which, weights, draws * len(runs))
    died = died.reshape(draws, len(runs))
    return np.asarray(passed), died, first, last


def _known(age: float) -> float:
    if math.isnan(age):
        raise ValueError("The age asked about is not a number.")
    return float(age)
