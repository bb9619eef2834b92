"""Water for one tree in a week, and how it is split so that the root ball can hold each dose."""

import math
from collections.abc import Collection
from typing import Literal

from survey.science.care.facts import si
from survey.science.care.presets import Watering
from survey.science.care.records import (
    Buy,
    Dose,
    NotGiven,
    Step,
    among,
    chosen,
    number,
    whole,
)

By = Literal["drip", "hand", "overhead"]
WAYS = ("drip", "hand", "overhead")
REFUSED_FOR = ("wet_ball", "frozen_soil", "waterlogged_soil", "root_rot", "local_rule_today")


ADVICE_WITHHELD_FOR = (
    "three_years_or_older",
    "ball_not_probed",
    "ball_not_dry",
    "wet_soil_sign",
)
BALLS = ("dry", "moist", "wet", "not_probed")


def advice_withheld(
    *, years_planted: float, ball: str, wet_soil_sign: bool = False
) -> tuple[str, ...]:
    """Why a neighbor is not told to water this tree; empty when water may be advised.

    Own rule: only trees under three years, whose ball is dry 6 in down, with no sign of wet soil.
    """
    years = number("years_planted", years_planted, at_most=500, unit="year")
    reasons = []
    if years >= si("advice_under_years"):
        reasons.append("three_years_or_older")
    if chosen("ball", ball, BALLS) != "dry":
        reasons.append("ball_not_probed" if ball == "not_probed" else "ball_not_dry")
    if wet_soil_sign:
        reasons.append("wet_soil_sign")
    return tuple(reasons)


def weekly_need(
    *,
    eto_m_per_week: float,
    plant_factor: float,
    canopy_diameter_m: float,
    by: By | None = None,
    efficiency: float | None = None,
    rain_m_per_week: float = 0.0,
) -> Dose:
    """Demand of a crown in a week: ETo × plant factor × canopy area / efficiency, less the rain.

    `rain_m_per_week` is effective rain, what reaches the roots; rain past the need gives zero.
    Water for a depth on an area by the ordinance's rounded factor (0.62 gal for an inch on a square
    foot, half a percent under the exact one), so that a week and a year agree with its formula.
    Holds for grown-in trees (plant factors are for those); a new tree's ball holds less than that.
    The formula is our own reading of the ordinance's for one tree.
    """
    eto = number("eto", eto_m_per_week, at_most=0.2, unit="m/week")
    factor = number("plant_factor", plant_factor, at_most=1)
    canopy = number("canopy_diameter", canopy_diameter_m, at_most=40, unit="m")
    rain = number("rain", rain_m_per_week, at_most=2, unit="m/week")
    if efficiency is None:
        efficiency = si(f"efficiency_{chosen('by', by or 'drip', WAYS)}")
    share = number("efficiency", efficiency, above=0, at_most=1)
    area = math.pi * canopy**2 / 4
    rounded = si("regulation_factor")
    asked = eto * rounded * factor * area / share
    rained = min(asked, rain * rounded * area)
    return Dose(
        "water",
        (
            Step("canopy_area", area, "m2", (("canopy_diameter", canopy, "m"),)),
            Step(
                "asked_water",
                asked,
                "m3/week",
                (
                    ("eto", eto, "m/week"),
                    ("regulation_factor", rounded, "water"),
                    ("plant_factor", factor, "1"),
                    ("canopy_area", area, "m2"),
                    ("efficiency", share, "1"),
                ),
            ),
            Step(
                "rain_water",
                rained,
                "m3/week",
                (
                    ("asked_water", asked, "m3/week"),
                    ("rain", rain, "m/week"),
                    ("regulation_factor", rounded, "water"),
                    ("canopy_area", area, "m2"),
                ),
            ),
            Step(
                "weekly_need",
                asked - rained,
                "m3/week",
                (("asked_water", asked, "m3/week"), ("rain_water", rained, "m3/week")),
            ),
        ),
    )


def water(
    *,
    caliper_m: float,
    need_m3_per_week: float,
    preset: Watering | None = None,
    preset_m3_per_week: float | None = None,
    by: By = "hand",
    emitters: int = 2,
    emitter_m3_per_h: float | None = None,
    trees: int = 1,
    found: Collection[str] = (),
) -> Dose | NotGiven:
    """A new tree's week: the larger of demand and preset, in doses that its root ball can hold.

    The ball holds 2 to 3 gal for each inch of caliper (from memory); at least two doses a week, as
    many as the preset says, and as many as make each fit. Drip with a flow gives the hours a dose
    runs; by hand gives five-gallon buckets.
    """
    if reasons := among("found", found, REFUSED_FOR):
        return NotGiven("water", reasons)
    caliper = number("caliper", caliper_m, above=0, at_most=0.5, unit="m")
    need = number("need", need_m3_per_week, at_most=50, unit="m3/week")
    from_source = preset.week_high_m3 if preset is not None else 0.0
    if preset_m3_per_week is not None:
        from_source = number("preset", preset_m3_per_week, at_most=50, unit="m3/week")
    chosen("by", by, WAYS)
    count = whole("trees", trees, at_least=1, at_most=100_000)
    week = max(need, from_source)
    holds = si("ball_holds_high") * caliper
    surely = si("ball_holds_low") * caliper
    least = max(si("doses_a_week_least"), preset.times_low if preset is not None else 0.0)
    doses = max(math.ceil(least - 1e-9), math.ceil(week / holds - 1e-9)) if week else 0
    each = week / doses if doses else 0.0
    steps = [
        Step(
            "week_water",
            week,
            "m3/week",
            (("need", need, "m3/week"), ("preset", from_source, "m3/week")),
        ),
        Step(
            "ball_holds",
            holds,
            "m3",
            (("ball_holds_high", si("ball_holds_high"), "m3/m"), ("caliper", caliper, "m")),
        ),
        Step(
            "ball_surely_holds",
            surely,
            "m3",
            (("ball_holds_low", si("ball_holds_low"), "m3/m"), ("caliper", caliper, "m")),
        ),
        Step(
            "doses_a_week",
            doses,
            "count",
            (
                ("least", least, "count"),
                ("week_water", week, "m3/week"),
                ("ball_holds", holds, "m3"),
            )
            if doses
            else (),
        ),
        Step(
            "each_dose",
            each,
            "m3",
            (("week_water", week, "m3/week"), ("doses_a_week", doses, "count")) if doses else (),
        ),
    ]
    if by == "hand":
        steps.append(
            Step("buckets", each / si("bucket"), "count", _uses(each, "bucket", si("bucket"), "m3"))
        )
    elif emitter_m3_per_h is not None:
        flow = number("emitter_flow", emitter_m3_per_h, above=0, at_most=1, unit="m3/h")
        flow *= whole("emitters", emitters, at_least=1, at_most=1000)
        steps.append(Step("run_time", each / flow, "h", _uses(each, "flow", flow, "m3/h")))
    steps.append(
        Step(
            "work_day_water",
            count * each,
            "m3",
            (("trees", count, "count"), ("each_dose", each, "m3")),
        )
    )
    notes = [] if doses else ["none_this_week"]
    notes += ["probe_the_ball_first", "onto_the_ball", "not_on_the_bark"]
    if each > surely * (1 + 1e-9):
        notes.append("more_doses_if_it_runs_off")
    if need > from_source and preset is not None:
        notes.append("demand_above_preset")
    return Dose("water", tuple(steps), (Buy("water", count * each, "m3"),), notes=tuple(notes))


def _uses(each: float, name: str, value: float, unit: str) -> tuple[tuple[str, float, str], ...]:
    return (("each_dose", each, "m3"), (name, value, unit))
