"""How warm the sun makes bark, which sides it burns, and when a coat is due.

Bark warms above the air in proportion to its load. The factors are round figures without a source;
only comparisons between sides, months and crowns are drawn from them, never a temperature.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from survey.science.records import Floats
from survey.science.sun.position import NoSuchSun
from survey.science.sun.trunk import SIDES, Crown, Load, month_load

TAKES_IN_BARE = 0.7  # share of sunlight that gray or brown bark takes in
TAKES_IN_WHITE = 0.25  # and a white coat
LOSES = 20.0  # W/m2 that bark gives to the air for each degree above it
DAY_SWING_C = 6.0  # half of the air's daily range, warmest at three in the afternoon
YEAR_SWING_C = 0.25  # half of the air's yearly range for each degree of latitude
NEAR_THE_HOTTEST_C = 4.0  # own choice: with it the sides are the south and west of UC IPM at 37 N
STEADY_C = 4.0  # a year whose hottest bark varies less has no season for a coat
TROPIC = 23.44


@dataclass(frozen=True, slots=True)
class CoatWindow:
    """The months (1 to 12, in order) in which a coat is put on before the heat.

    `steady` when the sun hardly changes through the year: then any dry month will do.
    """

    months: tuple[int, ...]
    steady: bool


@dataclass(frozen=True, slots=True)
class Opened:
    """What opening a crown does to the trunk on a clear day of one month.

    `times` is the day's load after over before for each side, shape (sides,); `newly_hot` are the
    bearings whose bark now comes near the hottest side of a trunk with no crown at all, and did
    not before.
    """

    before: Load
    after: Load
    times: Floats
    newly_hot: tuple[int, ...]


def warmth(of: Load, *, takes_in: float = TAKES_IN_BARE) -> Floats:
    """Degrees by which bark is above the day's mean air, shape (sides, hours)."""
    air = DAY_SWING_C * np.cos(2 * np.pi * (of.hours - 15.0) / 24.0)
    return np.asarray(air + takes_in * of.total / LOSES)


def hottest(latitude: float, month: int, *, crown: Crown | None = None) -> Floats:
    """The hottest moment of each side on a clear day of the month, in degrees as `warmth`."""
    return np.asarray(warmth(month_load(latitude, month, crown=crown)).max(axis=1))


def hottest_side(latitude: float, month: int) -> int:
    """The bearing of the side whose bark gets hottest in a month."""
    return SIDES[int(np.argmax(hottest(latitude, month)))]


def sunny_sides(latitude: float) -> tuple[int, ...]:
    """The bearings where sun damage is looked for at this latitude.

    Those that come near the hottest side in the warm half of the year and, outside the tropics,
    in the cold half, when low sun warms bark before a night of frost. Worked out for the nearest
    half degree, and for the south as the mirror of the north. Raises NoSuchSun.
    """
    if not -90 <= latitude <= 90:
        raise NoSuchSun(f"A latitude lies between -90 and 90 degrees, not at {latitude}.")
    sides = _sunny_in_the_north(round(abs(latitude) * 2) / 2)
    return sides if latitude >= 0 else tuple(sorted((180 - side) % 360 for side in sides))


@lru_cache(maxsize=256)
def _sunny_in_the_north(latitude: float) -> tuple[int, ...]:
    summer = _warm_half(latitude)
    halves = [summer]
    if latitude > TROPIC:
        halves.append(tuple(month for month in range(1, 13) if month not in summer))
    found = set()
    for months in halves:
        peak = np.max([hottest(latitude, month) for month in months], axis=0)
        found |= {
            side
            for side, warm in zip(SIDES, peak, strict=True)
            if warm > peak.max() - NEAR_THE_HOTTEST_C
        }
    return tuple(side for side in SIDES if side in found)


def faces_the_sun(bearing: float, latitude: float) -> bool:
    """Whether the side of this bearing (degrees from north) is one of the sunny ones.

    Raises NoSuchSun for a bearing that is not a finite number.
    """
    if not np.isfinite(bearing):
        raise NoSuchSun(f"A bearing is a number of degrees, not {bearing}.")
    return SIDES[round((bearing % 360) / 45) % 8] in sunny_sides(latitude)


def coat_window(
    latitude: float,
    *,
    air_c: Sequence[float] | None = None,
    last_frost_month: int | None = None,
) -> CoatWindow:
    """When to coat a trunk: from the month before its hottest bark passes the middle of the
    year's range, and not before the last frost, to the month in which it is hottest.

    `air_c` are twelve monthly means of the air; without them a plain yearly wave by latitude is
    taken. Raises NoSuchSun for a latitude off the Earth, ValueError for other than 12 means.
    """
    sunny_sides(latitude)  # refuses a latitude off the Earth
    air = _air(latitude) if air_c is None else np.asarray(air_c, dtype=np.float64)
    if air.shape != (12,) or not np.isfinite(air).all():
        raise ValueError("Twelve monthly means of the air are needed.")
    bark = air + np.array([hottest(latitude, month).max() for month in range(1, 13)])
    if bark.max() - bark.min() < STEADY_C:
        return CoatWindow(tuple(range(1, 13)), steady=True)
    peak = int(np.argmax(bark))
    opens = peak
    while bark[opens - 1] > (bark.max() + bark.min()) / 2 and (opens - 1) % 12 != peak:
        opens -= 1
    months = [month % 12 + 1 for month in range(opens - 1, peak + 1)]
    if last_frost_month in months:
        months = months[months.index(last_frost_month) :]
    return CoatWindow(tuple(months), steady=False)


def opened(latitude: float, month: int, before: Crown | None, after: Crown | None) -> Opened:
    """The trunk's load before and after a crown was lifted, thinned or taken away (None)."""
    was, now = (month_load(latitude, month, crown=crown) for crown in (before, after))
    line = hottest(latitude, month).max() - NEAR_THE_HOTTEST_C
    was_hot, now_hot = (warmth(load).max(axis=1) > line for load in (was, now))
    return Opened(
        before=was,
        after=now,
        times=np.asarray(now.of_day() / np.where(was.of_day() > 0, was.of_day(), np.nan)),
        newly_hot=tuple(
            side for side, a, b in zip(SIDES, was_hot, now_hot, strict=True) if b and not a
        ),
    )


def _warm_half(latitude: float) -> tuple[int, ...]:
    """The warm months of the north; in the tropics all of them."""
    return tuple(range(1, 13)) if latitude <= TROPIC else (4, 5, 6, 7, 8, 9)


def _air(latitude: float) -> Floats:
    """A yearly wave about 0, warmest a month after the longest day."""
    months = np.arange(12)
    swing = YEAR_SWING_C * abs(latitude)
    warmest = 6 if latitude >= 0 else 0
    return np.asarray(swing * np.cos(2 * np.pi * (months - warmest) / 12))
