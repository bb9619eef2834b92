"""Thickness of a trunk: caliper and girth, and one diameter for a tree of several stems."""

import math
from collections.abc import Sequence

from survey.science.care.facts import si
from survey.science.care.records import Impossible, Step, number

THICKEST = 15.0


def diameter_of_girth(girth_m: float) -> Step:
    """Diameter of a round trunk from the tape round it."""
    girth = number("girth", girth_m, above=0, at_most=math.pi * THICKEST, unit="m")
    return Step("diameter", girth / math.pi, "m", (("girth", girth, "m"),))


def girth_of_diameter(diameter_m: float) -> Step:
    """Way round a round trunk from its diameter."""
    diameter = number("diameter", diameter_m, above=0, at_most=THICKEST, unit="m")
    return Step("girth", math.pi * diameter, "m", (("diameter", diameter, "m"),))


def caliper_height(caliper_at_six_inches_m: float) -> float:
    """Height above the soil at which caliper is measured: 6 in, or 12 in past 4 in of caliper."""
    low = number("caliper", caliper_at_six_inches_m, above=0, at_most=1, unit="m")
    thick = low > si("caliper_thick_over") + 1e-9
    return si("caliper_height_thick" if thick else "caliper_height")


def together(diameters_m: Sequence[float]) -> Step:
    """One diameter for a tree of several stems: √(Σ d²) over up to six thickest stems.

    Magarik, Roman and Henning 2020 for the six; the sum from a page on measuring. Disputed: a
    single measure below the fork predicted as well.
    """
    if not diameters_m:
        raise Impossible("stems", "too_few")
    stems = sorted(
        (number("stem", stem, above=0, at_most=THICKEST, unit="m") for stem in diameters_m),
        reverse=True,
    )[: round(si("dbh_stems"))]
    return Step("dbh", math.hypot(*stems), "m", tuple(("stem", stem, "m") for stem in stems))
