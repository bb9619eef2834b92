"""Watering while a tree grows in: what each source says, side by side. They disagree on purpose.

Volumes and frequencies as stated (gallons, caliper in inches), kept as data and read in SI. None of
them is the truth; `watering.py` takes one of them, or the demand worked out, whichever is more.
"""

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from survey.science.care.facts import FACTS, OWN, si
from survey.science.care.records import Step, among, chosen, number
from survey.science.units import convert

Climate = Literal["cold", "temperate", "dry_summer", "warm"]
CLIMATES = ("cold", "temperate", "dry_summer", "warm")
_INCH = convert(1, "in", "m")
_GAL = convert(1, "gal", "m3")
_WEEK, _MONTH, _YEAR = 7.0, convert(1, "month", "day"), convert(1, "year", "day")
_NO_END = math.inf


@dataclass(frozen=True, slots=True)
class Phase:
    """So often a week, low to high, up to a day after planting; None: until grown in."""

    until_day: float | None
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Preset:
    """One source's rule for calipers over `over_in` and up to `up_to_in` inches.

    `gallons` (low, high) are of one watering, or of a week where `weekly`; for an inch of caliper
    where `per_inch`. `inches_deep` instead: that much water over the root zone in a week. `lasts`:
    for how many days after planting it holds, low to high.
    """

    code: str
    source: str
    phases: tuple[Phase, ...]
    gallons: tuple[float, float] = (0.0, 0.0)
    per_inch: bool = False
    weekly: bool = False
    inches_deep: float = 0.0
    over_in: float = 0.0
    up_to_in: float = _NO_END
    drought: tuple[Phase, ...] = ()
    lasts: tuple[float, float] | None = None
    mark: str | None = None


def _daily_then_alternate(daily: float, alternate: float) -> tuple[Phase, ...]:
    return (Phase(daily, 7, 7), Phase(daily + alternate, 3.5, 3.5), Phase(None, 1, 1))


def _by_size(code: str, source: str, gallons: tuple[float, float]) -> tuple[Preset, ...]:
    return tuple(
        Preset(code, source, phases, gallons, per_inch=True, over_in=over, up_to_in=up_to)
        for phases, over, up_to in (
            (_SMALL, 0, 2 - _HAIR),
            (_MIDDLE, 2 - _HAIR, 4),
            (_LARGE, 4, _NO_END),
        )
    )


_MINNESOTA = (Phase(2 * _WEEK, 7, 7), Phase(12 * _WEEK, 3, 3), Phase(None, 1, 1))
_SMALL = _daily_then_alternate(2 * _WEEK, 2 * _MONTH)
_MIDDLE = _daily_then_alternate(_MONTH, 3 * _MONTH)
_LARGE = _daily_then_alternate(6 * _WEEK, 5 * _MONTH)

_HAIR = 1e-6  # "under 2" ends a hair before "2 to 4" begins

PRESETS: tuple[Preset, ...] = (
    Preset("minnesota", "minnesota_water", _MINNESOTA, (3, 5), over_in=0.5 - _HAIR, up_to_in=1),
    # between its classes the source says nothing: the larger class, our own rule
    Preset(
        "minnesota",
        "minnesota_water",
        _MINNESOTA,
        (6, 10),
        over_in=1,
        up_to_in=1.5 - _HAIR,
        mark=OWN,
    ),
    Preset("minnesota", "minnesota_water", _MINNESOTA, (6, 10), over_in=1.5 - _HAIR, up_to_in=2),
    Preset("minnesota", "minnesota_water", _MINNESOTA, (12, 20), over_in=2, up_to_in=3),
    Preset("energy", "energy_water", _SMALL, (1.5, 1.5), per_inch=True),
    *_by_size("florida", "florida_water", (2, 3)),
    *_by_size("florida_copy", "florida_copy", (4, 4)),
    *(
        Preset(
            "florida_survival",
            "florida_water",
            (Phase(None, 2, 2),),
            (2, 3),
            per_inch=True,
            over_in=over,
            up_to_in=up_to,
            lasts=(months_low * _MONTH, months_high * _MONTH),
        )
        for over, up_to, months_low, months_high in (
            (0, 2 - _HAIR, 2, 3),
            (2 - _HAIR, 4, 3, 4),
            (4, _NO_END, 4, 5),
        )
    ),
    Preset(
        "georgia",
        "georgia_water",
        (Phase(None, 1, 1),),
        (5, 7.5),
        per_inch=True,
        weekly=True,
        drought=(Phase(None, 2, 2),),
        lasts=(2 * _YEAR, 3 * _YEAR),
    ),
    Preset("california", "california_outreach", (Phase(None, 2, 4),), (5, 5), lasts=(0, 3 * _YEAR)),
    Preset(
        "sacramento",
        "sacramento_trees",
        (Phase(None, 2, 3),),
        (10, 15),
        weekly=True,
        lasts=(1 * _YEAR, 5 * _YEAR),
    ),
    Preset("missouri", "mobot_sunscald", (Phase(None, 1, 1),), inches_deep=1),
)
# UF/IFAS: the largest caliper to plant (low, high, in inches) where water can be given for so many
# months, by hardiness zone.
LARGEST_TO_PLANT: dict[int, dict[int, tuple[float, float]]] = {
    12: {4: (1, 1), 6: (1.5, 2), 8: (2.5, 3), 10: (3.5, 4)},
    24: {4: (1.5, 2), 6: (2.5, 2.5), 8: (4, 5), 10: (6, 8)},
}


@dataclass(frozen=True, slots=True)
class Watering:
    """What one source says for this tree in this week. Volumes in cubic meters, low to high."""

    code: str
    source: str
    mark: str | None
    times_low: float
    times_high: float
    each_low_m3: float
    each_high_m3: float
    week_low_m3: float
    week_high_m3: float


def establishment(
    caliper_m: float,
    days_planted: float,
    *,
    area_m2: float | None = None,
    drought: bool = False,
    codes: Collection[str] | None = None,
) -> tuple[Watering, ...]:
    """All sources that speak of a tree of this caliper so long after planting, side by side.

    The rule of an inch of water needs the area it falls on. Sources that end after some years are
    left out after them. Nothing is said of calipers a source does not name.
    """
    caliper = round(number("caliper", caliper_m, above=0, at_most=0.5, unit="m") / _INCH, 9)
    day = number("days_planted", days_planted, at_most=36_600, unit="day")
    area = None if area_m2 is None else number("area", area_m2, at_most=10_000, unit="m2")
    known = tuple(dict.fromkeys(preset.code for preset in PRESETS))
    wanted = known if codes is None else among("presets", codes, known)
    return tuple(
        _for_this_week(preset, caliper, day, area, drought)
        for preset in PRESETS
        if preset.code in wanted
        and preset.over_in < caliper <= preset.up_to_in
        and (not preset.inches_deep or area is not None)
        and (preset.lasts is None or day <= preset.lasts[1])
    )


def _for_this_week(
    preset: Preset, caliper: float, day: float, area: float | None, drought: bool
) -> Watering:
    phases = preset.drought if drought and preset.drought else preset.phases
    phase = next(one for one in phases if one.until_day is None or day < one.until_day)
    inches = caliper if preset.per_inch else 1.0
    if preset.inches_deep:
        low = high = preset.inches_deep * _INCH * (area or 0.0)
        weekly = True
    else:
        low, high = (gallons * inches * _GAL for gallons in preset.gallons)
        weekly = preset.weekly
    if not weekly:
        each, week = (low, high), (low * phase.low, high * phase.high)
    elif phase.low == phase.high:
        each, week = (low / phase.low, high / phase.low), (low, high)
    else:  # the small week in few doses, the large one in many
        each, week = (low / phase.low, high / phase.high), (low, high)
    return Watering(
        preset.code,
        preset.source,
        preset.mark,
        phase.low,
        phase.high,
        min(each),
        max(each),
        *week,
    )


@dataclass(frozen=True, slots=True)
class GrowsIn:
    """How long one source says a tree takes to grow in, in months."""

    code: str
    months: float
    source: str | None
    mark: str | None


def months_to_grow_in(caliper_m: float) -> tuple[GrowsIn, ...]:
    """What the sources say, side by side: so many months for each inch of caliper."""
    caliper = number("caliper", caliper_m, above=0, at_most=0.5, unit="m")
    return tuple(
        GrowsIn(code, caliper * si(code), FACTS[code].source, FACTS[code].mark)
        for code in (
            "establish_florida",
            "establish_florida_north",
            "establish_trial",
            "establish_cold",
        )
    )


def months_to_water(caliper_m: float, climate: Climate) -> Step:
    """Months to water for, our own rule: two years, or a year for each inch of caliper in the cold
    if that is longer, or three years where summers are dry."""
    caliper = number("caliper", caliper_m, above=0, at_most=0.5, unit="m")
    chosen("climate", climate, CLIMATES)
    least = si("water_months_dry_summer" if climate == "dry_summer" else "water_months_least")
    by_size = si("establish_cold") if climate == "cold" else 0.0
    return Step(
        "months_to_water",
        max(least, by_size * caliper),
        "month",
        (("least", least, "month"), ("by_size", by_size, "month/m"), ("caliper", caliper, "m")),
    )
