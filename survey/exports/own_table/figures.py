"""The figures of one group of an own table: over which ages it carries a curve, and what that says.

No figure is given where no tree was watched: with late entries the curve may fall to nothing while
one or two trees are watched and never rise again, whatever the others did (a property of the
product limit and its kin under delayed entry). Such a curve is told from the age on at which enough
trees are watched, and the answer says so.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from survey.science.records import Spells
from survey.science.survival.limits import SurvivalAt, survival_at
from survey.science.survival.turnbull import Turnbull
from survey.survival.figures import FEW, START_WITH

MONTHS_ASKED = [12.0, 24.0, 36.0, 60.0]
MOST_ASKED = 40
NO_MASS = 1e-9  # a share this small is less than a tree in any table that can be read

NOT_WATCHED, EMPTIED, NOT_SEEN, TOO_FEW = "not_watched", "emptied", "not_seen", "too_few"

Mass = tuple[float, float, float]  # left, right, share
Turn = tuple[float, float, float, float, float]  # age, at least, at most, low, high


@dataclass(frozen=True, slots=True)
class Row:
    """Survival to one age, and the count of these very trees beside it.

    `why` says why the figures are not there, or (`not_seen`, `too_few`) why they are not to be
    quoted.
    """

    age: float
    at_least: float | None
    at_most: float | None
    low: float | None
    high: float | None
    at_risk: int
    alive: int
    lost: int
    unknown: int
    why: str

    @property
    def can_be_quoted(self) -> bool:
        return not self.why


@dataclass(frozen=True, slots=True)
class Carried:
    """The ages over which a group carries a curve.

    It begins at `given` (None: at the start) and is about trees alive then; it ends before `until`,
    where nobody is left under watch (inf: it runs to the end).
    """

    given: float | None
    until: float


def carried(fit: Turnbull) -> Carried | None:
    """The stretch of ages, free of any at which nobody is left under watch, with the most trees.

    It begins where ten trees of it are watched (five, where there are not ten); None when there is
    no such stretch.
    """
    breaks = np.isinf(fit.hazard) | fit.unsettled
    breaks[-1:] = False
    if not breaks.any():
        return Carried(None, math.inf)
    spells = fit.spells
    begins = [-math.inf, *fit.right[breaks].tolist()]
    stops = [*fit.left[breaks].tolist(), math.inf]
    entries = np.unique(spells.entry[np.isfinite(spells.entry)]).tolist()
    best, most = None, 0
    for begin, stop in zip(begins, stops, strict=True):
        starts: list[float | None] = [None] if math.isinf(begin) else []
        starts += [age for age in entries if begin <= age <= stop]
        watched = [(start, spells.watched_from(start)) for start in starts]
        for enough in (START_WITH, FEW):
            found = next((pair for pair in watched if pair[1] >= enough), None)
            if found:
                break
        if found and max(count for _start, count in watched) > most:
            best, most = Carried(found[0], stop), max(count for _start, count in watched)
    return best


def last_known(spells: Spells) -> float:
    """The greatest age of which anything is known."""
    known = spells.right[np.isfinite(spells.right)]
    return float(max(spells.left.max(), known.max(initial=0.0)))


def ages_asked(fit: Turnbull, where: Carried | None, in_months: bool) -> list[float]:
    last = last_known(fit.spells)
    if in_months and (asked := [age for age in MONTHS_ASKED if age <= last]):
        return asked
    turns = [right for _left, right, _mass in masses_of(fit, where) if math.isfinite(right)]
    return _thinned(turns or [last])


def _thinned(ages: list[float]) -> list[float]:
    """At most forty of these ages, evenly taken, the first and the last among them."""
    if len(ages) <= MOST_ASKED:
        return ages
    step = (len(ages) - 1) / (MOST_ASKED - 1)
    return [ages[round(step * place)] for place in range(MOST_ASKED)]


def masses_of(fit: Turnbull, where: Carried | None) -> tuple[Mass, ...]:
    """Share that ended in each cell, of those alive where the curve begins; they sum to 1."""
    if where is None:
        return ()
    since = -math.inf if where.given is None else where.given
    inside = (fit.right > since) & (fit.left <= where.until)
    hazard = np.where(inside, fit.hazard, 0.0)
    alive = np.exp(-np.concatenate([[0.0], np.cumsum(hazard)]))
    mass = alive[:-1] - alive[1:]
    return tuple(
        (left, math.inf if unsettled else right, round(share, 12))
        for left, right, share, unsettled in zip(
            fit.left.tolist(), fit.right.tolist(), mass.tolist(), fit.unsettled, strict=True
        )
        if share > NO_MASS
    )


def limits_at(
    fit: Turnbull, where: Carried | None, ages: Iterable[float]
) -> dict[float, SurvivalAt]:
    """The curve with its limits at those of these ages at which there is one."""
    if where is None:
        return {}
    inside = sorted({age for age in ages if not _why_not(where, age)})
    found = survival_at(fit, inside, given=where.given)
    return {at.age: at for at in found}


def rows_of(
    fit: Turnbull,
    where: Carried | None,
    ages: Sequence[float],
    limits: Mapping[float, SurvivalAt],
) -> tuple[Row, ...]:
    """What is said at each age; `limits` are those of `limits_at`."""
    rows = []
    for age in ages:
        at, why = limits.get(age), EMPTIED if where is None else _why_not(where, age)
        alive, lost, unknown = _known(fit.spells, age)
        rows.append(
            Row(
                age=age,
                at_least=None if at is None else _share(at.at_least),
                at_most=None if at is None else _share(max(at.at_most, at.at_least)),
                low=None if at is None else _share(at.low),
                high=None if at is None else _share(at.high),
                at_risk=fit.at_risk(age),
                alive=alive,
                lost=lost,
                unknown=unknown,
                why=why or _why_unquoted(fit.spells, age),
            )
        )
    return tuple(rows)


def _why_not(where: Carried, age: float) -> str:
    if where.given is not None and age < where.given:
        return NOT_WATCHED
    return EMPTIED if age > where.until or age == where.until < math.inf else ""


def _why_unquoted(spells: Spells, age: float) -> str:
    """Why a figure that can be worked out is still not to be quoted."""
    if spells.trees < FEW:
        return TOO_FEW
    if not spells.is_censored.any():
        return ""
    if not (spells.left >= age).any():
        return NOT_SEEN
    return TOO_FEW if age > 0 and spells.at_risk(age) < FEW else ""


def _known(spells: Spells, age: float) -> tuple[int, int, int]:
    """Trees known alive at an age, known to have ended by then, and neither."""
    lost = int(spells.count[spells.right <= age].sum())
    alive = int(spells.count[(spells.left >= age) & (spells.right > age)].sum())
    return alive, lost, spells.trees - alive - lost


def _share(value: float) -> float:
    return round(min(1.0, max(0.0, value)), 12)


def curve_ages(fit: Turnbull, where: Carried | None) -> list[float]:
    """The ages at which the curve turns, as far as five trees are watched; none where it is not
    told.
    """
    spells = fit.spells
    if where is None or spells.trees < FEW:
        return []
    start = where.given or 0.0
    if spells.is_censored.any():
        known = np.unique(spells.left)[::-1].tolist()
        until = next((age for age in known if spells.at_risk(age) >= FEW), start)
    else:
        until = float(spells.right.max())
    turns = {start, until}
    for left, right, _mass in masses_of(fit, where):
        turns |= {left, right}
    inside = sorted(age for age in turns if start <= age <= until and not _why_not(where, age))
    return _thinned(inside)


def curve_of(ages: Sequence[float], limits: Mapping[float, SurvivalAt]) -> tuple[Turn, ...]:
    """The curve at these ages; `limits` are those of `limits_at`."""
    told = [limits[age] for age in ages]
    return tuple(
        (at.age, *(_share(x) for x in (at.at_least, max(at.at_least, at.at_most), at.low, at.high)))
        for at in told
    )
