"""Distances on the ground between points given in degrees."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from survey.science.records import Floats

EARTH_RADIUS_METRES = 6_371_008.8  # mean radius R1 of GRS 80: Moritz (2000) J. Geodesy 74:128


class NotOnEarth(ValueError):
    """A latitude beyond the poles, a longitude beyond 180 degrees, or a radius below 0."""


@dataclass(frozen=True, slots=True)
class Box:
    """Bounds in degrees. Where `west` > `east` the box runs over the 180th meridian."""

    south: float
    west: float
    north: float
    east: float

    def holds(self, latitude: float, longitude: float) -> bool:
        """Whether a point lies within the bounds."""
        if not self.south <= latitude <= self.north:
            return False
        if self.west <= self.east:
            return self.west <= longitude <= self.east
        return longitude >= self.west or longitude <= self.east


def metres_between(
    latitude: float, longitude: float, other_latitude: float, other_longitude: float
) -> float:
    """Great-circle distance of two points in metres, by the haversine formula.

    On a round Earth; off by at most 0.6 % from the ellipsoid, which a street does not notice.
    """
    _refuse_impossible(latitude, longitude)
    _refuse_impossible(other_latitude, other_longitude)
    return float(metres_to_each(latitude, longitude, [other_latitude], [other_longitude])[0])


def metres_to_each(
    latitude: float, longitude: float, latitudes: ArrayLike, longitudes: ArrayLike
) -> Floats:
    """Distances in metres from one point to many, given as two columns of degrees."""
    here, there = math.radians(latitude), np.radians(np.asarray(latitudes, dtype=np.float64))
    across = np.radians(np.asarray(longitudes, dtype=np.float64) - longitude)
    up, aside = np.sin((there - here) / 2) ** 2, np.sin(across / 2) ** 2
    half = up + math.cos(here) * np.cos(there) * aside
    return np.asarray(2 * EARTH_RADIUS_METRES * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0))))


def box_around(latitude: float, longitude: float, radius_metres: float) -> Box:
    """The smallest bounds that hold every point within `radius_metres`.

    Near a pole that is every longitude. The box holds more than the circle: ask for the distance
    after it.
    """
    _refuse_impossible(latitude, longitude)
    if not (math.isfinite(radius_metres) and radius_metres >= 0):
        raise NotOnEarth(f"A radius of {radius_metres} m cannot be searched.")
    angle = radius_metres / EARTH_RADIUS_METRES
    south = latitude - math.degrees(angle)
    north = latitude + math.degrees(angle)
    if south <= -90 or north >= 90:
        return Box(south=max(-90.0, south), west=-180.0, north=min(90.0, north), east=180.0)
    # the widest meridians touch the circle poleward of its middle, hence the arcsine
    spread = math.degrees(math.asin(math.sin(angle) / math.cos(math.radians(latitude))))
    if spread >= 180:
        return Box(south=south, west=-180.0, north=north, east=180.0)
    west, east = longitude - spread, longitude + spread
    return Box(
        south=south,
        west=west + 360 if west < -180 else west,
        north=north,
        east=east - 360 if east > 180 else east,
    )


def _refuse_impossible(latitude: float, longitude: float) -> None:
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        raise NotOnEarth(f"{latitude}, {longitude} is no place on Earth.")
