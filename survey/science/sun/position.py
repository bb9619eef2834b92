"""Where the sun stands, by day of the year and solar time. Angles in degrees."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from survey.science.records import Floats

SOLAR_CONSTANT = 1367.0  # W/m2: World Radiation Center, in Duffie & Beckman, section 1.2
OBLIQUITY = 23.436  # degrees between the Earth's axis and its path, in 2026
NEW_YEAR_2026 = 9497  # days from noon on 1 January 2000 to noon on 1 January 2026

# The day of each month whose declination is nearest its mean: Klein 1977, Solar Energy 19:325-329,
# the table repeated as table 1.6.1 of Duffie & Beckman (figures from memory).
AVERAGE_DAYS = (17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344)


class NoSuchSun(ValueError):
    """A latitude beyond the poles, a day outside the year or a month outside the calendar."""


@dataclass(frozen=True, slots=True)
class SunPath:
    """The sun through one day at one latitude, at each of `hours` of apparent solar time.

    `elevation` above the horizon and `azimuth` clockwise from north in degrees; below the horizon
    the elevation is negative. `normal_beyond_air` is the load in W/m2 square to the rays above the
    air.
    """

    latitude: float
    day: int
    hours: Floats
    elevation: Floats
    azimuth: Floats
    normal_beyond_air: float


def declination(day: int) -> float:
    """The sun's declination in degrees at noon on a day of the year (1 to 366).

    The low-precision formulas of the Astronomical Almanac (section C), for the year 2026; other
    years differ by up to a quarter degree at the equinoxes, because of leap days. Raises NoSuchSun
    for another day.
    """
    _refuse_day(day)
    since_2000 = NEW_YEAR_2026 + day - 1
    anomaly = math.radians(357.529 + 0.98560028 * since_2000)
    longitude = math.radians(
        280.459
        + 0.98564736 * since_2000
        + 1.915 * math.sin(anomaly)
        + 0.020 * math.sin(2 * anomaly)
    )
    return math.degrees(math.asin(math.sin(math.radians(OBLIQUITY)) * math.sin(longitude)))


def day_of_month(month: int) -> int:
    """The day of the year that stands for a month (1 to 12). Raises NoSuchSun for another."""
    if not 1 <= month <= 12:
        raise NoSuchSun(f"A month is a number from 1 to 12, not {month}.")
    return AVERAGE_DAYS[month - 1]


def path(latitude: float, day: int, hours: ArrayLike) -> SunPath:
    """The sun at the given hours (0 to 24) of apparent solar time: at 12 it crosses the meridian.

    Raises NoSuchSun for a latitude outside -90 to 90 or a day outside 1 to 366.
    """
    if not -90 <= latitude <= 90:
        raise NoSuchSun(f"A latitude lies between -90 and 90 degrees, not at {latitude}.")
    tilt, here = math.radians(declination(day)), math.radians(latitude)
    at = np.asarray(hours, dtype=np.float64)
    turned = np.radians(15.0 * (at - 12.0))
    height = np.arcsin(
        np.clip(
            math.sin(here) * math.sin(tilt) + math.cos(here) * math.cos(tilt) * np.cos(turned),
            -1.0,
            1.0,
        )
    )
    east = -math.cos(tilt) * np.sin(turned)
    north = math.cos(here) * math.sin(tilt) - math.sin(here) * math.cos(tilt) * np.cos(turned)
    return SunPath(
        latitude=latitude,
        day=day,
        hours=at,
        elevation=np.degrees(height),
        azimuth=np.degrees(np.arctan2(east, north)) % 360.0,
        normal_beyond_air=SOLAR_CONSTANT * (1 + 0.033 * math.cos(2 * math.pi * day / 365)),
    )


def _refuse_day(day: int) -> None:
    if not 1 <= day <= 366:
        raise NoSuchSun(f"A day of the year is a number from 1 to 366, not {day}.")
