"""Ages in whole months, and the summers a planting has come through."""

from dataclasses import dataclass
from datetime import date
from typing import Literal, TypeAlias

Hemisphere: TypeAlias = Literal["north", "south"]

_OPENS: dict[Hemisphere, int] = {"north": 4, "south": 10}  # month in which the leaf-on season opens


class DatesBackwards(ValueError):
    """A later day was given as the earlier one."""


@dataclass(frozen=True, slots=True)
class AgeRange:
    """The ages, in whole months, that a tree may have had."""

    least: float
    most: float


def months_between(earlier: date, later: date) -> float:
    """Whole calendar months from the month of one day to the month of the other.

    Days within the month do not count, because planting days are mostly known to the month: from
    any day in March to any day in June is 3 months. Negative when `later` lies in an earlier month.
    """
    return float(12 * (later.year - earlier.year) + later.month - earlier.month)


def age_range(planted_from: date, planted_to: date, on: date) -> AgeRange:
    """The ages a tree may have had `on` a day, if it was planted on some day of a range.

    A planting known to a season or a year only is given by its first and last day, and both ends of
    every age widen with it. A tree cannot be looked at before it stands, so the least age is never
    below 0. Raises `DatesBackwards` if the range is upside down or the day lies before all of it.
    """
    if planted_to < planted_from:
        raise DatesBackwards(f"Planted from {planted_from} to {planted_to} is upside down.")
    if on < planted_from:
        raise DatesBackwards(f"{on} lies before the first planting day {planted_from}.")
    return AgeRange(
        least=max(0.0, months_between(planted_to, on)), most=months_between(planted_from, on)
    )


def leaf_on_season(year: int, hemisphere: Hemisphere) -> tuple[date, date]:
    """First and last day of the leaf-on season that opens in `year`.

    1 April to 30 September in the north, 1 October to 31 March of the next year in the south
    (common practice, no source).
    """
    if hemisphere == "north":
        return date(year, 4, 1), date(year, 9, 30)
    return date(year, 10, 1), date(year + 1, 3, 31)


def second_summer_end(planted: date, hemisphere: Hemisphere) -> date:
    """Last day of the second leaf-on season that a tree planted on `planted` comes through.

    A season counts as the first if at least half of it, three of its six calendar months, is still
    to come on the planting day: planted by 30 June (31 December in the south). The trees' first
    trial is the hot and dry half, which a tree set later has partly missed; counting it would call
    a tree of fourteen months a veteran of two summers. So a tree planted in November 2023 or in
    March 2024 in the north reaches its second summer's end on 30 September 2025, one planted in
    July 2024 a year later.
    """
    opens = _OPENS[hemisphere]
    last_month = opens + 2  # the last month of planting for which the running season still counts
    if hemisphere == "north":
        first = planted.year if planted.month <= last_month else planted.year + 1
    else:
        # the southern season runs over New Year: from January on, the running one is half gone
        first = planted.year
    return leaf_on_season(first + 1, hemisphere)[1]
