"""Wounds over time: how old the rim looks, whether the gap closes, when to measure again."""

import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, TypeAlias

from survey.science.seasons import Hemisphere, leaf_on_season
from survey.science.wounds.face import BadWound

Rim: TypeAlias = Literal["fresh", "dry", "rounded", "stacked", "unseen"]
Age: TypeAlias = Literal["days", "weeks", "a_season_or_more", "several_seasons", "not_known"]
Way: TypeAlias = Literal["one_measure", "too_soon", "closing", "steady", "widening"]

INCH_M = 0.0254
ONE_SEASON_M = {"strong": 11 / 16 * INCH_M, "moderate": 1 / 2 * INCH_M, "modest": 3 / 8 * INCH_M}
"""Widths that closed in one season by the growth of the tree. Neely 1979, J. Arboric. 5(6):135."""

TAPE_M = 0.005  # two readings of a tape differ by this much (memory, to be verified)
REMEASURE_AFTER = (timedelta(weeks=4), timedelta(weeks=8))
FIRST_FLUSH = timedelta(weeks=6)  # into the leaf-on season (own rule of this project)

_AGES: dict[Rim, Age] = {
    "fresh": "days",
    "dry": "weeks",
    "rounded": "a_season_or_more",
    "stacked": "several_seasons",
    "unseen": "not_known",
}


def age_from_rim(rim: Rim) -> Age:
    """How old a wound looks by its rim: a guide (memory, to be verified; common practice)."""
    return _AGES[rim]


def is_repeated(rims: Collection[Rim]) -> bool:
    """Whether fresh or dry cuts stand on a stem beside old rims: the cause may go on."""
    return bool({"fresh", "dry"} & set(rims)) and bool({"rounded", "stacked"} & set(rims))


@dataclass(frozen=True, slots=True)
class Closing:
    """One wound's width over time: `per_year_m` is the least-squares slope, below 0 as it closes.

    `seasons` is how many growing seasons the last width would take by Neely's one-season widths,
    from strong to modest growth; `days_left` the same by the wound's own slope. Both draw a
    straight line and are crude: wounds slow down, and years differ.
    """

    way: Way
    first_on: date
    last_on: date
    width_m: float
    change_m: float
    per_year_m: float | None
    seasons: tuple[float, float]
    days_left: int | None


def closing(measures: Iterable[tuple[date, float]]) -> Closing:
    """How a wound goes on, from (day, width in meters). Order does not matter.

    Under four weeks apart nothing is said of speed; a change within the reading of a tape (5 mm) is
    steady. A rising width after an injury is mostly the rim dying back. Raises `BadWound`.
    """
    rows = sorted(measures)
    if not rows:
        raise BadWound("width", "nothing_measured")
    for _day, width in rows:
        if not math.isfinite(width):
            raise BadWound("width", "not_a_number")
        if width < 0:
            raise BadWound("width", "not_above_zero")
    (first_on, _), (last_on, last) = rows[0], rows[-1]
    days = [(day - first_on).days for day, _width in rows]
    slope = _slope([float(day) for day in days], [width for _day, width in rows])
    # the change along the line, so that two readings of one day do not depend on their order
    change = 0.0 if slope is None else slope * days[-1]
    way: Way
    if slope is None:
        way = "one_measure"
    elif days[-1] < REMEASURE_AFTER[0].days:
        way, slope = "too_soon", None
    elif abs(change) <= TAPE_M:
        way = "steady"
    else:
        way = "closing" if change < 0 else "widening"
    left = None
    if way == "closing" and slope is not None:
        left = math.ceil(last / -slope)
    return Closing(
        way=way,
        first_on=first_on,
        last_on=last_on,
        width_m=last,
        change_m=change,
        per_year_m=None if slope is None else slope * 365.25,
        seasons=seasons_to_close(last),
        days_left=left,
    )


def seasons_to_close(width_m: float) -> tuple[float, float]:
    """Seasons by a straight line, from strong to modest growth (own rule of this project; crude).

    A 3 in wound: 4.4 to 8.
    """
    return width_m / ONE_SEASON_M["strong"], width_m / ONE_SEASON_M["modest"]


def measure_again(measured_on: date, hemisphere: Hemisphere) -> tuple[date, date, date]:
    """When to measure next: from four to eight weeks on, and once after the next first flush.

    Rims die back after an injury. Own rule of this project and standard practice.
    """
    year = measured_on.year - 1
    flush = leaf_on_season(year, hemisphere)[0] + FIRST_FLUSH
    while flush <= measured_on:
        year += 1
        flush = leaf_on_season(year, hemisphere)[0] + FIRST_FLUSH
    return measured_on + REMEASURE_AFTER[0], measured_on + REMEASURE_AFTER[1], flush


def _slope(days: list[float], widths: list[float]) -> float | None:
    """Least squares, in meters a day; None when all measures are of one day."""
    middle = math.fsum(days) / len(days)
    spread = math.fsum((day - middle) ** 2 for day in days)
    if spread == 0:
        return None
    level = math.fsum(widths) / len(widths)
    return (
        math.fsum((day - middle) * (w - level) for day, w in zip(days, widths, strict=True))
        / spread
    )
