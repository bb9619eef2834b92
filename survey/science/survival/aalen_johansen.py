"""Cumulative incidence of competing outcomes where the age at every event is known."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from survey.science.records import Floats, Spell, Whole
from survey.science.survival.competing import caused_columns
from survey.science.survival.increments import summed_at
from survey.science.survival.product_limit import AgeUnsettled


@dataclass(frozen=True, slots=True, eq=False)
class AalenJohansen:
    """One row an event age. `incidence[t, c - 1]` is the share gone by outcome c up to `age[t]`.

    The incidences of all outcomes and the survival sum to 1 at every age. `emptied_at` is as in
    `product_limit.ProductLimit`: from there on no figure may be shown.
    """

    age: Floats
    at_risk: Whole
    survival: Floats
    incidence: Floats
    std_error: Floats
    given: float | None
    emptied_at: float | None

    def at(self, cause: int, age: float) -> float:
        """The estimated share gone by outcome `cause`, numbered from 1, up to `age`."""
        place = int(np.searchsorted(self.age, age, side="right"))
        return float(self.incidence[place - 1, cause - 1]) if place else 0.0


def aalen_johansen(
    spells: Sequence[Spell], causes: Sequence[int], *, given: float | None = None
) -> AalenJohansen:
    """Aalen & Johansen (1978) Scand. J. Stat. 5:141, among trees alive at `given`.

    `causes` is 0 for trees last seen alive, else the outcome, from 1. A tree is at risk at age t
    when entry < t <= exit. Standard errors by the delta method on the multinomial increments
    (Marubini & Valsecchi 1995, Analysing Survival Data, chapter 10), which is also the
    infinitesimal jackknife; for one outcome they are Greenwood's.

    Raises `AgeUnsettled` when an event is known only to an interval, `BadCauses` as `competing`.
    """
    caused = caused_columns(spells, causes)
    trees, cause = caused.spells, caused.cause
    if (~(trees.is_exact | trees.is_censored)).any():
        raise AgeUnsettled("Aalen-Johansen needs exact ages; some events lie between two.")
    many = max(1, int(cause.max(initial=1)))
    died = cause > 0
    if given is not None:
        died &= trees.left > given
    ages, which = np.unique(trees.left[died], return_inverse=True)
    place = which * many + cause[died] - 1
    deaths = summed_at(place, trees.count[died].astype(np.float64), len(ages) * many)
    deaths = deaths.reshape(len(ages), many)
    at_risk = trees.at_risk_at(ages)
    gone = deaths.sum(axis=1)
    alive = np.cumprod(1 - gone / at_risk)
    before = np.concatenate([[1.0], alive[:-1]])
    incidence = np.cumsum(before[:, None] * deaths / at_risk[:, None], axis=0)
    last_entry = float(trees.entry.max(initial=-np.inf))
    emptied = np.flatnonzero((gone == at_risk) & (ages <= last_entry))
    return AalenJohansen(
        age=ages,
        at_risk=at_risk,
        survival=np.asarray(alive, dtype=np.float64),
        incidence=np.asarray(incidence, dtype=np.float64),
        std_error=_std_error(before, at_risk, gone, deaths, incidence),
        given=given,
        emptied_at=float(ages[emptied[0]]) if len(emptied) else None,
    )


def _std_error(
    before: Floats, at_risk: Whole, gone: Floats, deaths: Floats, incidence: Floats
) -> Floats:
    """At each age t, from the sums over the ages s up to t of

    (F(t) - F(s))^2 d / (n (n - d)) + S^2 (n - d_c) d_c / n^3 - 2 (F(t) - F(s)) S d_c / n^2,

    multiplied out in F(t) so that running sums do. Where nobody is left F no longer rises and the
    first term is 0.
    """
    n = at_risk.astype(np.float64)[:, None]
    d = gone[:, None]
    still = before[:, None]
    of_all = d / (n * np.where(n > d, n - d, np.inf))
    of_cause = still * deaths / n**2
    own = still**2 * (n - deaths) * deaths / n**3
    level = incidence
    variance = (
        level**2 * np.cumsum(of_all, axis=0)
        - 2 * level * np.cumsum(of_all * level + of_cause, axis=0)
        + np.cumsum(of_all * level**2 + own + 2 * level * of_cause, axis=0)
    )
    return np.sqrt(np.maximum(variance, 0.0))
