"""What goes on the ground round a tree: mulch ring, turf back, compost, and the watering basin."""

import math
from collections.abc import Collection
from datetime import date

from survey.science.care.days import months_after
from survey.science.care.facts import si
from survey.science.care.records import (
    Buy,
    Dose,
    Due,
    Impossible,
    NotGiven,
    Step,
    among,
    number,
    whole,
)

WIDEST = 15.0
DEEPEST = 0.5
MULCH_REFUSED_FOR = ("frozen_soil", "waterlogged_soil", "crown_rot", "dry_ball")
TURF_REFUSED_FOR = (
    "utilities_unmarked",
    "heat_wave",
    "frozen_soil",
    "waterlogged_soil",
    "lawn_was_only_water",
)
COMPOST_REFUSED_FOR = ("root_rot", "salty_compost", "fresh_manure", "dry_ball")
BERM_REFUSED_FOR = ("standing_water", "clay", "root_rot", "wet_season", "utilities_unmarked")


def mulch_ring(
    *,
    outer_radius_m: float,
    trunk_radius_m: float,
    depth_m: float,
    gap_m: float | None = None,
    trees: int = 1,
    settling: float | None = None,
    found: Collection[str] = (),
) -> Dose | NotGiven:
    """Chips for a ring with a bare gap round the trunk, for one tree and for a work day of `trees`.

    V = π (R² − r²) × depth, with r the trunk's radius and the gap. `settling` is bought on top, for
    the heap sinks before it is spread. The ring sinks by about a third in its first season; see
    `mulch_top_up`. A ring that is all gap takes nothing.
    """
    if reasons := among("found", found, MULCH_REFUSED_FOR):
        return NotGiven("mulch_ring", reasons)
    inner, area = _ring(outer_radius_m, trunk_radius_m, _gap(gap_m))
    depth = number("depth", depth_m, at_most=DEEPEST, unit="m")
    count = whole("trees", trees, at_least=1, at_most=100_000)
    extra = number("settling", si("mulch_settling") if settling is None else settling, at_most=1)
    volume = area.value * depth
    buys = [Buy("chips", count * volume * (1 + extra), "m3")]
    if count > 1:
        buys.append(Buy("chips_each", volume * (1 + extra), "m3"))
    notes = ["leave_gap", "keep_flare_in_sight", "little_on_the_ball", "onto_wet_soil"]
    if depth > si("mulch_deep") + 1e-9:
        notes.append("roots_grow_into_deep_mulch")
    if depth > si("mulch_deepest") + 1e-9:
        notes.append("deeper_than_any_source")
    if area["outer_radius"] < si("mulch_radius_least") - 1e-9:
        notes.append("narrower_than_usual")
    return Dose(
        "mulch_ring",
        (
            inner,
            area,
            Step(
                "ring_volume",
                volume,
                "m3",
                (("ring_area", area.value, "m2"), ("depth", depth, "m")),
            ),
            Step(
                "work_day_volume",
                count * volume,
                "m3",
                (("trees", count, "count"), ("ring_volume", volume, "m3")),
            ),
            Step(
                "volume_with_settling",
                count * volume * (1 + extra),
                "m3",
                (("work_day_volume", count * volume, "m3"), ("settling", extra, "share")),
            ),
        ),
        tuple(buys),
        notes=tuple(notes),
    )


def mulch_top_up(
    *,
    outer_radius_m: float,
    trunk_radius_m: float,
    depth_m: float,
    found_depth_m: float | None = None,
    gap_m: float | None = None,
    trees: int = 1,
    found: Collection[str] = (),
) -> Dose | NotGiven:
    """Chips that bring a ring back to its depth; a ring that is deep enough gets none.

    Without a measured `found_depth_m` the ring is taken to have sunk by a third.
    """
    if reasons := among("found", found, MULCH_REFUSED_FOR):
        return NotGiven("mulch_ring", reasons)
    inner, area = _ring(outer_radius_m, trunk_radius_m, _gap(gap_m))
    depth = number("depth", depth_m, at_most=DEEPEST, unit="m")
    count = whole("trees", trees, at_least=1, at_most=100_000)
    steps = [inner, area]
    if found_depth_m is None:
        left = depth * (1 - si("mulch_settles_by"))
        steps.append(
            Step(
                "settled_depth",
                left,
                "m",
                (("depth", depth, "m"), ("settles_by", si("mulch_settles_by"), "share")),
            )
        )
    else:
        left = number("found_depth", found_depth_m, at_most=DEEPEST, unit="m")
    missing = max(0.0, depth - left)
    volume = count * area.value * missing
    steps += [
        Step("missing_depth", missing, "m", (("depth", depth, "m"), ("settled_depth", left, "m"))),
        Step(
            "top_up_volume",
            volume,
            "m3",
            (
                ("trees", count, "count"),
                ("ring_area", area.value, "m2"),
                ("missing_depth", missing, "m"),
            ),
        ),
    ]
    notes = ("top_up_not_stack", "leave_gap") if missing else ("deep_enough",)
    return Dose("mulch_ring", tuple(steps), (Buy("chips", volume, "m3"),), notes=notes)


def turf_ring(
    *, outer_radius_m: float, trunk_radius_m: float, trees: int = 1, found: Collection[str] = ()
) -> Dose | NotGiven:
    """The turf to peel back by hand, from the trunk out to a radius."""
    if reasons := among("found", found, TURF_REFUSED_FOR):
        return NotGiven("turf_back", reasons)
    inner, area = _ring(outer_radius_m, trunk_radius_m, 0.0)
    count = whole("trees", trees, at_least=1, at_most=100_000)
    narrow = area["outer_radius"] < si("turf_radius_least") - 1e-9
    return Dose(
        "turf_back",
        (
            inner,
            area,
            Step(
                "work_day_area",
                count * area.value,
                "m2",
                (("trees", count, "count"), ("ring_area", area.value, "m2")),
            ),
        ),
        notes=(
            "by_hand_no_tiller",
            "no_weed_killer",
            "replace_lawn_water",
            *(("narrower_than_usual",) if narrow else ()),
        ),
    )


def compost(
    *,
    outer_radius_m: float,
    trunk_radius_m: float,
    depth_m: float,
    gap_m: float | None = None,
    trees: int = 1,
    found: Collection[str] = (),
) -> Dose | NotGiven:
    """Ripe compost as a thin layer under the mulch; deeper than 2 in is Impossible."""
    if reasons := among("found", found, COMPOST_REFUSED_FOR):
        return NotGiven("compost", reasons)
    inner, area = _ring(outer_radius_m, trunk_radius_m, _gap(gap_m))
    depth = number("depth", depth_m, at_most=si("compost_depth_most") + 1e-9, unit="m")
    count = whole("trees", trees, at_least=1, at_most=100_000)
    volume = area.value * depth
    thin = 0 < depth < si("compost_depth_least") - 1e-9
    return Dose(
        "compost",
        (
            inner,
            area,
            Step(
                "ring_volume",
                volume,
                "m3",
                (("ring_area", area.value, "m2"), ("depth", depth, "m")),
            ),
            Step(
                "work_day_volume",
                count * volume,
                "m3",
                (("trees", count, "count"), ("ring_volume", volume, "m3")),
            ),
        ),
        (Buy("compost", count * volume, "m3"),),
        notes=(
            "under_the_mulch",
            "off_the_trunk",
            "do_not_dig_in",
            *(("thinner_than_usual",) if thin else ()),
        ),
    )


def berm(
    *,
    radius_m: float,
    height_m: float,
    trees: int = 1,
    built: date | None = None,
    found: Collection[str] = (),
) -> Dose | NotGiven:
    """A ring of soil just outside the root ball: the water it holds, and the soil to bring.

    Holds π r² × height over a flat floor. The wall is a triangle whose foot is three times its
    height, so that it stands by itself, with its inner foot at the radius; a ring of that shape has
    the triangle's area times the way of its middle round the tree (Pappus). Our own rule.
    """
    if reasons := among("found", found, BERM_REFUSED_FOR):
        return NotGiven("berm", reasons)
    radius = number("radius", radius_m, above=0, at_most=3, unit="m")
    height = number("berm_height", height_m, at_most=DEEPEST, unit="m")
    count = whole("trees", trees, at_least=1, at_most=100_000)
    floor = math.pi * radius**2
    width = si("berm_foot") * height
    soil = math.pi * (2 * radius + width) * (width * height / 2)
    dates: tuple[Due, ...] = ()
    if built is not None:
        dates = (Due("take_berm_away_by", months_after(built, round(si("berm_months")))),)
    return Dose(
        "berm",
        (
            Step("basin_floor", floor, "m2", (("radius", radius, "m"),)),
            Step(
                "basin_holds",
                floor * height,
                "m3",
                (("basin_floor", floor, "m2"), ("berm_height", height, "m")),
            ),
            Step(
                "berm_width",
                width,
                "m",
                (("berm_foot", si("berm_foot"), "1"), ("berm_height", height, "m")),
            ),
            Step(
                "soil_volume",
                soil,
                "m3",
                (("radius", radius, "m"), ("berm_width", width, "m"), ("berm_height", height, "m")),
            ),
            Step(
                "work_day_volume",
                count * soil,
                "m3",
                (("trees", count, "count"), ("soil_volume", soil, "m3")),
            ),
        ),
        (Buy("soil", count * soil, "m3"),),
        dates,
        notes=("no_soil_on_trunk", "open_in_wet_season"),
    )


def _gap(gap_m: float | None) -> float:
    return number("gap", si("mulch_gap") if gap_m is None else gap_m, at_most=1, unit="m")


def _ring(outer_radius_m: float, trunk_radius_m: float, gap: float) -> tuple[Step, Step]:
    outer = number("outer_radius", outer_radius_m, above=0, at_most=WIDEST, unit="m")
    trunk = number("trunk_radius", trunk_radius_m, at_most=3, unit="m")
    inner = trunk + gap
    if outer < inner - 1e-12:
        raise Impossible("outer_radius", "not_above_inner", limit=inner, unit="m")
    area = max(0.0, math.pi * (outer**2 - inner**2))
    return (
        Step("inner_radius", inner, "m", (("trunk_radius", trunk, "m"), ("gap", gap, "m"))),
        Step("ring_area", area, "m2", (("outer_radius", outer, "m"), ("inner_radius", inner, "m"))),
    )
