"""A guard of wire cloth against teeth: how long a piece, how high, clear of the bark."""

import math

from survey.science.care.facts import si
from survey.science.care.records import Buy, Dose, Step, number, whole


def trunk_guard(*, trunk_diameter_m: float, snow_m: float = 0.0, trees: int = 1) -> Dose:
    """Wire cloth round a trunk, from below the soil to above the snow (sources: guards).

    Holes of 1/4 in or less, 3 in into the soil, 24 in above the snow; 2 in clear of the bark all
    round and 2 in of overlap are our own rule.
    """
    trunk = number("trunk_diameter", trunk_diameter_m, above=0, at_most=1, unit="m")
    snow = number("snow", snow_m, at_most=3, unit="m")
    count = whole("trees", trees, at_least=1, at_most=100_000)
    clear, overlap = si("guard_clear"), si("guard_overlap")
    below, above = si("guard_in_soil"), si("guard_above_snow")
    across = trunk + 2 * clear
    length = math.pi * across + overlap
    height = below + snow + above
    return Dose(
        "trunk_guard",
        (
            Step(
                "guard_diameter",
                across,
                "m",
                (("trunk_diameter", trunk, "m"), ("guard_clear", clear, "m")),
            ),
            Step(
                "guard_length",
                length,
                "m",
                (("guard_diameter", across, "m"), ("guard_overlap", overlap, "m")),
            ),
            Step(
                "guard_height",
                height,
                "m",
                (
                    ("guard_in_soil", below, "m"),
                    ("snow", snow, "m"),
                    ("guard_above_snow", above, "m"),
                ),
            ),
            Step(
                "work_day_length",
                count * length,
                "m",
                (("trees", count, "count"), ("guard_length", length, "m")),
            ),
        ),
        (Buy("wire_cloth", count * length, "m"),),
        notes=("clear_of_the_bark", "look_twice_a_year", "clear_mulch_away"),
    )
