"""A white coat on the sunny side of a trunk: which sides, how much bark, how much mix, when again.

A wounded tree is not refused: the coat goes on the sound bark round it, and the wound with its
living rim is left out of the area. A coat does not mend a wound.
"""

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import date

from survey.science.care.days import a_day, months_after
from survey.science.care.facts import si
from survey.science.care.records import (
    Buy,
    Dose,
    Due,
    Impossible,
    NotGiven,
    Step,
    among,
    chosen,
    number,
    whole,
)
from survey.science.sun import heat

SIDES = ("n", "ne", "e", "se", "s", "sw", "w", "nw")
PRODUCTS = (
    "interior_latex",
    "exterior_latex",
    "oil_paint",
    "enamel",
    "old_paint",
    "pest_repellent",
)
REFUSED_PRODUCTS = {
    "oil_paint": "oil_paint",
    "enamel": "enamel",
    "old_paint": "old_paint_of_unknown_date",
    "pest_repellent": "pesticide_by_law",
}
REFUSED_FOR = (
    "wet_bark",
    "frost",
    "too_hot",
    "green_bark",
    "peeling_bark",
    "owner_objects",
    "marks_felling_here",
)
# When a coat is due, besides the months of the sun: common practice, no source.
OCCASIONS = ("at_planting", "crown_opened", "bark_shows_through")
SidesByLatitude = Callable[[float], Collection[str]]


@dataclass(frozen=True, slots=True)
class Wound:
    """Lost or dead bark, in meters: its widest arc, how high it is, its lower edge above the soil.

    `sunny` is whether it lies on the sides to be coated; otherwise nothing is left out for it.
    """

    width_m: float
    length_m: float
    low_edge_m: float = 0.0
    sunny: bool = True


def sunny_sides(latitude_deg: float) -> tuple[str, ...]:
    """The sides that the sun burns at a latitude, worked out from its path (`science.sun`)."""
    latitude = number("latitude", latitude_deg, at_least=-90, at_most=90, unit="degree")
    return tuple(SIDES[bearing // 45] for bearing in heat.sunny_sides(latitude))


def trunk_coat(
    *,
    base_diameter_m: float,
    to_height_m: float,
    from_height_m: float = 0.0,
    top_diameter_m: float | None = None,
    latitude_deg: float | None = None,
    sides: Collection[str] | None = None,
    sides_by_latitude: SidesByLatitude = sunny_sides,
    wounds: Sequence[Wound] = (),
    newly_planted: bool = False,
    coats: int = 1,
    trees: int = 1,
    product: str = "interior_latex",
    paint_parts: float | None = None,
    water_parts: float | None = None,
    coverage_m2_m3: float | None = None,
    air_c: float | None = None,
    bark_damaged: bool = False,
    on: date | None = None,
    found: Collection[str] = (),
) -> Dose | NotGiven:
    """Mix and paint for the sides to be coated, from one height to another, or why not.

    The trunk is a cylinder, or a cone cut off at the top if `top_diameter_m` is given. `sides` are
    eighths of the compass; without them and without a latitude the coat goes all round. A newly
    planted tree is coated from below the soil. `coverage_m2_m3` is the area that a cubic meter of
    mix covers. Paint is let down with water, one part to one, as thin as UC IPM says.
    """
    chosen("product", product, PRODUCTS)
    if reasons := _reasons(product, air_c, bark_damaged, found):
        return NotGiven("whitewash", reasons)
    base = number("base_diameter", base_diameter_m, above=0, at_most=3, unit="m")
    top = base if top_diameter_m is None else number("top_diameter", top_diameter_m, at_most=base)
    low = number("from_height", from_height_m, at_most=15, unit="m")
    high = number("to_height", to_height_m, at_least=low, at_most=15, unit="m")
    below = si("coat_below_soil") if newly_planted and low == 0 else 0.0
    count = whole("trees", trees, at_least=1, at_most=100_000)
    times = whole("coats", coats, at_least=1, at_most=round(si("coat_coats_most")))
    paint = number("paint_parts", _or(paint_parts, "coat_parts_paint"), above=0, at_most=100)
    water = number("water_parts", _or(water_parts, "coat_parts_water"), at_most=100)
    coverage = number("coverage", _or(coverage_m2_m3, "coat_coverage"), above=0, unit="m2/m3")
    arc = _share_of_sides(sides, latitude_deg, sides_by_latitude)

    height = high - low + below
    top = top if height else base  # no height, no taper
    slant = math.hypot(height, (base - top) / 2)
    bark = math.pi * (base + top) / 2 * slant
    girth = math.pi * base
    left_out = min(bark * arc, _left_out(wounds, girth, arc, low - below, high))
    area = bark * arc - left_out
    mix = area / coverage
    whole_mix = count * times * mix
    steps = (
        Step(
            "coat_height",
            height,
            "m",
            (("to_height", high, "m"), ("from_height", low, "m"), ("below_soil", below, "m")),
        ),
        Step(
            "slant",
            slant,
            "m",
            (
                ("coat_height", height, "m"),
                ("base_diameter", base, "m"),
                ("top_diameter", top, "m"),
            ),
        ),
        Step(
            "bark_area",
            bark,
            "m2",
            (("base_diameter", base, "m"), ("top_diameter", top, "m"), ("slant", slant, "m")),
        ),
        Step(
            "coat_area",
            area,
            "m2",
            (("bark_area", bark, "m2"), ("arc", arc, "share"), ("left_out", left_out, "m2")),
        ),
        Step(
            "mix_volume",
            mix,
            "m3",
            (("coat_area", area, "m2"), ("coverage", coverage, "m2/m3")),
        ),
        Step(
            "work_day_mix",
            whole_mix,
            "m3",
            (("trees", count, "count"), ("coats", times, "count"), ("mix_volume", mix, "m3")),
        ),
        Step(
            "paint_volume",
            whole_mix * paint / (paint + water),
            "m3",
            (("work_day_mix", whole_mix, "m3"), ("paint", paint, "1"), ("water", water, "1")),
        ),
        Step(
            "water_in_mix",
            whole_mix * water / (paint + water),
            "m3",
            (("work_day_mix", whole_mix, "m3"), ("paint", paint, "1"), ("water", water, "1")),
        ),
    )
    notes = ["leave_wound_and_rim_bare"] if wounds else []
    notes += ["keep_low_branches", "does_not_mend_wounds"]
    if product == "exterior_latex":
        notes.append("exterior_latex_is_disputed")
    return Dose(
        "whitewash",
        steps,
        (Buy("paint", whole_mix * paint / (paint + water), "m3"),),
        coat_again(on) if on is not None else (),
        tuple(notes),
    )


def coat_again(on: date) -> tuple[Due, ...]:
    """One coat a year, until the crown shades the trunk: the days on which to look and renew.

    Common practice, no source: about two to three years.
    """
    first = a_day("on", on)
    return tuple(
        Due("coat_again_unless_shaded", months_after(first, 12 * year))
        for year in range(1, round(si("coat_years")))
    )


def trees_from(mix_m3: float, dose: Dose) -> int:
    """How many such trees a volume of mix coats once. A coat on no bark is Impossible."""
    mix = number("mix", mix_m3, at_most=10, unit="m3")
    each = dose["mix_volume"].value
    if each <= 0:
        raise Impossible("mix_volume", "not_positive")
    return int(mix / each + 1e-9)


def _reasons(
    product: str, air_c: float | None, bark_damaged: bool, found: Collection[str]
) -> tuple[str, ...]:
    seen = set(among("found", found, REFUSED_FOR))
    if air_c is not None:
        air = number("air", air_c, at_least=-60, at_most=60, unit="degC")
        if air < si("coat_coldest_c"):
            seen.add("frost")
        if air > si("coat_hottest_c") + 1e-9:
            seen.add("too_hot")
    if bark_damaged:
        seen.discard("green_bark")  # sunburnt green bark is better shaded than left to burn on
    reasons = among("found", seen, REFUSED_FOR)
    return reasons + ((REFUSED_PRODUCTS[product],) if product in REFUSED_PRODUCTS else ())


def _share_of_sides(
    sides: Collection[str] | None, latitude: float | None, by_latitude: SidesByLatitude
) -> float:
    if sides is None:
        if latitude is None:
            return 1.0
        number("latitude", latitude, at_least=-90, at_most=90, unit="degree")
        sides = by_latitude(latitude)
    named = among("sides", sides, SIDES)
    if not named:
        raise Impossible("sides", "too_few")
    return len(named) / len(SIDES)


def _left_out(wounds: Sequence[Wound], girth: float, arc: float, low: float, high: float) -> float:
    """The wounds with their rims, as far as they lie in the band; never wider than the band."""
    rim = si("coat_rim")
    area = 0.0
    for wound in wounds:
        width = number("wound_width", wound.width_m, above=0, unit="m")
        if width > girth + 1e-9:
            raise Impossible("wound_width", "wider_than_girth", limit=girth, unit="m")
        length = number("wound_length", wound.length_m, above=0, at_most=15, unit="m")
        edge = number("wound_low_edge", wound.low_edge_m, at_most=15, unit="m")
        if wound.sunny:
            tall = min(high, edge + length + rim) - max(low, edge - rim)
            area += max(0.0, tall) * min(width + 2 * rim, girth * arc)
    return area


def _or(given: float | None, fact: str) -> float:
    return si(fact) if given is None else given
