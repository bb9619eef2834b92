"""Whether a sign keeps to one side of the trunk: the street's, the sun's, or any at all.

Bearings are degrees clockwise from north. A side in words is the street's or the one away from it.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import bdtr, bdtrc

from survey.science.findings.exact import Odds, Table, chances
from survey.science.proportions import Limits, clopper_pearson
from survey.science.records import Floats, Truths

LEAST = 5
NEAR = 60.0  # degrees to either side within which a street counts as facing the sun, or away
SHUFFLES = 9999


class BadBearing(ValueError):
    """A bearing outside 0 to 360."""


@dataclass(frozen=True, slots=True)
class Street:
    """So many signs on the street side, of those seen on one of the two sides."""

    street: int
    of: int
    share: Limits
    p: float
    verdict: Literal["street", "away", "not_shown", "too_few"]


def by_the_street(street: int, away: int) -> Street:
    """Whether a sign keeps to the street side or to the one away from it.

    If it took no notice, either side would be as likely: the exact sign test, both ways (Conover
    1999, Practical Nonparametric Statistics, 3rd ed., section 3.4; from memory).
    """
    of = street + away
    limits = clopper_pearson(street, of)
    if of < LEAST:
        return Street(street, of, limits, 1.0, "too_few")
    low, high = float(bdtr(street, of, 0.5)), float(bdtrc(street - 1, of, 0.5)) if street else 1.0
    p = min(1.0, 2 * min(low, high))
    verdict: Literal["street", "away", "not_shown"] = "not_shown"
    if p <= 0.05:
        verdict = "street" if street * 2 > of else "away"
    return Street(street, of, limits, p, verdict)


@dataclass(frozen=True, slots=True)
class Sunny:
    """Trees whose street faces the sun against trees whose street faces away from it.

    In `table` the counted ones have the sign on the street side: more of them where the street is
    sunny, whatever the street itself does, speak for the sun.
    """

    table: Table
    odds: Odds
    p: float
    verdict: Literal["sunny", "not_shown", "too_few", "no_contrast"]


def by_the_sun(on_street: Truths, street_bearing: Floats, sun: float) -> Sunny:
    """Whether a sign keeps to the sunny side, apart from keeping to the street.

    `on_street` says of each tree whether the sign was on the street side (else away from it);
    `sun` is the bearing of the sunny side, 180 in the north. Where all streets face alike, the sun
    and the street cannot be told apart.
    """
    _refuse(street_bearing)
    apart = np.abs((street_bearing - sun + 180) % 360 - 180)
    sunny, shady = apart <= NEAR, apart >= 180 - NEAR
    table = Table(
        int((on_street & sunny).sum()),
        int(sunny.sum()),
        int((on_street & shady).sum()),
        int(shady.sum()),
    )
    if not (table.of_here and table.of_there):
        return Sunny(table, Odds(math.nan, 0.0, math.inf), 1.0, "no_contrast")
    if min(table.of_here, table.of_there) < LEAST:
        return Sunny(table, Odds(math.nan, 0.0, math.inf), 1.0, "too_few")
    known = chances([table])
    p = known.at_least
    return Sunny(table, known.odds(), p, "sunny" if p <= 0.05 else "not_shown")


@dataclass(frozen=True, slots=True)
class Gathered:
    """Measured bearings: their mean, how close they lie (0 to 1), and the chance of as close."""

    number: int
    mean: float
    length: float
    p: float
    verdict: Literal["gathers", "not_shown", "too_few"]


def gathered(bearings: Floats, *, seed: int, shuffles: int = SHUFFLES) -> Gathered:
    """Whether bearings lie closer together than bearings thrown at random would.

    The length of the mean vector (Rayleigh's test: Mardia & Jupp 2000, Directional Statistics,
    section 6.3; from memory) against `shuffles` seeded throws, with (b + 1)/(n + 1) as the chance:
    Phipson & Smyth 2010 Stat. Appl. Genet. Mol. Biol. 9:39.
    """
    _refuse(bearings)
    number = len(bearings)
    turned = np.deg2rad(bearings)
    mean = complex(np.exp(1j * turned).mean()) if number else 0j
    direction = math.degrees(math.atan2(mean.imag, mean.real)) % 360
    if number < LEAST:
        return Gathered(number, direction, abs(mean), 1.0, "too_few")
    dice = np.random.default_rng(seed)
    thrown = dice.uniform(0, 2 * math.pi, (shuffles, number))
    lengths = np.abs(np.exp(1j * thrown).mean(axis=1))
    as_close = int((lengths >= abs(mean) - 1e-12).sum())
    p = (as_close + 1) / (shuffles + 1)
    return Gathered(number, direction, abs(mean), p, "gathers" if p <= 0.05 else "not_shown")


def _refuse(bearings: Floats) -> None:
    if not ((bearings >= 0) & (bearings <= 360)).all():
        raise BadBearing("A bearing lies between 0 and 360 degrees.")
