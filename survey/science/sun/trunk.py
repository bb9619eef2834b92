"""What each side of an upright trunk gets from a clear sky, hour by hour. W/m2 and MJ/m2."""

from dataclasses import dataclass

import numpy as np

from survey.science.records import Floats
from survey.science.sun.position import SunPath, day_of_month, path

SIDES = (0, 45, 90, 135, 180, 225, 270, 315)  # bearings: north, north-east, … north-west
STEP_HOURS = 0.25
HOURS = np.arange(STEP_HOURS / 2, 24.0, STEP_HOURS)
GROUND = 0.2  # share of light that grass throws back: common value, from memory

# A clear sky with 23 km of sight at sea level: Hottel 1976, Solar Energy 18:129-134, as printed in
# Duffie & Beckman, section 2.8.
_A0 = 0.4237 - 0.00821 * 6.0**2
_A1 = 0.5055 + 0.00595 * 6.5**2
_K = 0.2711 + 0.01858 * 2.5**2


@dataclass(frozen=True, slots=True)
class Crown:
    """A tree's own crown as a round, level screen above the trunk, and how much light it lets by.

    `base_m` is the height of its underside, `radius_m` how far it reaches, `lets_by` the share of
    light that passes (0 to 1). `at_m` is the height on the trunk that is looked at.
    """

    base_m: float
    radius_m: float
    lets_by: float
    at_m: float = 0.6

    def __post_init__(self) -> None:
        if not (self.base_m >= 0 and self.radius_m >= 0 and self.at_m >= 0):
            raise ValueError("The heights and the reach of a crown are not below 0.")
        if not 0 <= self.lets_by <= 1:
            raise ValueError(f"A crown lets by a share from 0 to 1, not {self.lets_by}.")


@dataclass(frozen=True, slots=True)
class Load:
    """What the sides of a trunk get through one clear day: shape (sides, hours), W/m2.

    `direct` comes straight from the sun, `diffuse` from the sky and back from the ground.
    """

    sides: tuple[int, ...]
    hours: Floats
    direct: Floats
    diffuse: Floats

    @property
    def total(self) -> Floats:
        return self.direct + self.diffuse

    def of_day(self) -> Floats:
        """MJ/m2 through the day for each side, shape (sides,)."""
        return np.asarray(self.total.sum(axis=1) * STEP_HOURS * 3600 / 1e6)

    def direct_of_day(self) -> Floats:
        return np.asarray(self.direct.sum(axis=1) * STEP_HOURS * 3600 / 1e6)


def clear_sky(sun: SunPath) -> tuple[Floats, Floats]:
    """Direct load square to the rays and diffuse load on level ground, W/m2, at sea level.

    Direct by Hottel 1976, diffuse by Liu & Jordan 1960 (Solar Energy 4(3):1-19), both as printed in
    Duffie & Beckman, section 2.8. A clear day: what a trunk may get, not what it gets on average.
    """
    up = np.sin(np.radians(sun.elevation))
    shines = up > 0
    height = np.where(shines, up, 1.0)
    passes = np.where(shines, _A0 + _A1 * np.exp(-_K / height), 0.0)
    scattered = np.where(shines, 0.271 - 0.294 * passes, 0.0)
    return sun.normal_beyond_air * passes, sun.normal_beyond_air * scattered * np.where(
        shines, up, 0.0
    )


def load(sun: SunPath, *, crown: Crown | None = None, ground: float = GROUND) -> Load:
    """The load on upright bark of each side; under a crown, what the crown lets by."""
    normal, sky = clear_sky(sun)
    up = np.sin(np.radians(np.clip(sun.elevation, 0.0, None)))
    facing = np.cos(np.radians(sun.azimuth[None, :] - np.array(SIDES, dtype=np.float64)[:, None]))
    level = np.cos(np.radians(sun.elevation))
    direct = normal * level * np.clip(facing, 0.0, None)
    half_sky = np.broadcast_to(sky / 2, direct.shape)
    thrown_back = np.broadcast_to(ground * (sky + normal * up) / 2, direct.shape)
    if crown is not None:
        direct = direct * _passes_straight(sun, crown)
        half_sky = half_sky * _passes_sky(crown)
    return Load(SIDES, sun.hours, direct, half_sky + thrown_back)


def month_load(latitude: float, month: int, *, crown: Crown | None = None) -> Load:
    """The load of a clear day in the middle of a month. Raises NoSuchSun like `path`."""
    return load(path(latitude, day_of_month(month), HOURS), crown=crown)


def _passes_straight(sun: SunPath, crown: Crown) -> Floats:
    """Share of the direct light that reaches the spot: all of it where the rays come in below."""
    rise = crown.base_m - crown.at_m
    if rise <= 0:
        return np.full(sun.hours.shape, crown.lets_by)
    reach = rise / np.tan(np.radians(np.clip(sun.elevation, 0.01, 89.99)))
    return np.where(reach < crown.radius_m, crown.lets_by, 1.0)


def _passes_sky(crown: Crown) -> float:
    """Share of an even sky's light on an upright surface that gets past the crown.

    The crown fills the sky from its rim, at the height angle e, to the zenith. Of what an even sky
    gives an upright surface, the share 1 - (e + sin e cos e) / (pi / 2) comes from above e.
    """
    rise = crown.base_m - crown.at_m
    rim = np.pi / 2 if crown.radius_m == 0 else np.arctan2(max(rise, 0.0), crown.radius_m)
    above = 1.0 - (rim + np.sin(rim) * np.cos(rim)) / (np.pi / 2)
    return float(1.0 - above * (1.0 - crown.lets_by))
