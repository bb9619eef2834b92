"""One call of every care action, each with amounts that are not zero."""

from collections.abc import Callable
from datetime import date

from survey.science.care.coat import Wound, trunk_coat
from survey.science.care.feeding import feed, in_the_bag, judge_feed, label
from survey.science.care.ground import berm, compost, mulch_ring, mulch_top_up, turf_ring
from survey.science.care.guard import trunk_guard
from survey.science.care.presets import months_to_water
from survey.science.care.records import Dose, NotGiven
from survey.science.care.shoots import low_shoots, pruning, shoots_counted, trim_loose_bark
from survey.science.care.stakes import stake_days, tie_heights
from survey.science.care.stems import diameter_of_girth, girth_of_diameter, together
from survey.science.care.water_budget import Zone, water_budget
from survey.science.care.watering import water, weekly_need

OLD = {"years_planted": 5, "seasons_grown": 5}
BAG = label(12, 4, 8)
RING = {"outer_radius_m": 0.9, "trunk_radius_m": 0.04}

EVERY: dict[str, Callable[[], Dose | NotGiven]] = {
    "mulch_ring": lambda: mulch_ring(**RING, depth_m=0.08, trees=12),
    "mulch_top_up": lambda: mulch_top_up(**RING, depth_m=0.08, trees=3),
    "mulch_top_up_measured": lambda: mulch_top_up(**RING, depth_m=0.08, found_depth_m=0.03),
    "turf_ring": lambda: turf_ring(**RING, trees=4),
    "compost": lambda: compost(**RING, depth_m=0.02, trees=3),
    "berm": lambda: berm(radius_m=0.45, height_m=0.08, trees=2, built=date(2026, 3, 1)),
    "coat": lambda: trunk_coat(
        base_diameter_m=0.08,
        top_diameter_m=0.05,
        to_height_m=1.6,
        latitude_deg=-34,
        wounds=[Wound(0.03, 0.1, 0.3)],
        newly_planted=True,
        coats=2,
        trees=7,
        on=date(2026, 4, 2),
    ),
    "feed": lambda: feed(bag=BAG, rate_kg_m2=0.012, root_zone_radius_m=2, trees=9, **OLD),
    "feed_measured": lambda: feed(bag=BAG, rate_kg_m2=0.012, area_m2=12, **OLD),
    "in_the_bag": lambda: in_the_bag(BAG, 10, used_share=0.4),
    "judge_feed": lambda: (
        judge_feed(
            bag=BAG, mass_kg=2, root_zone_radius_m=2, earlier_this_year_kg_m2=0.001, **OLD
        ).dose
    ),
    "weekly_need": lambda: weekly_need(
        eto_m_per_week=0.04, plant_factor=0.5, canopy_diameter_m=3, by="drip", rain_m_per_week=0.01
    ),
    "water_by_hand": lambda: water(caliper_m=0.05, need_m3_per_week=0.08, trees=20),
    "water_by_drip": lambda: water(
        caliper_m=0.05,
        need_m3_per_week=0.08,
        preset_m3_per_week=0.05,
        by="drip",
        emitters=4,
        emitter_m3_per_h=0.004,
    ),
    "water_budget": lambda: (
        water_budget(
            1.1, [Zone("trees", 30, 0.6), Zone("food", 12, 1, special=True)], residential=True
        ).dose
    ),
    "months_to_water": lambda: Dose("water", (months_to_water(0.08, "cold"),)),
    "stake_days": lambda: stake_days(date(2026, 3, 1), "north"),
    "tie_heights": lambda: tie_heights(3, springs_upright_at_m=1.2),
    "low_shoots": lambda: low_shoots(
        shoots_counted(from_base=6), bark_lost_share=0.6, grafted=False
    ),
    "pruning": lambda: pruning(years_planted=4, cut_this_season_share=0.05),
    "trim_loose_bark": lambda: trim_loose_bark(
        who="arborist", lost_width_m=0.05, girth_m=0.2, width_after_m=0.06
    ),
    "trunk_guard": lambda: trunk_guard(trunk_diameter_m=0.05, snow_m=0.3, trees=5),
    "girth": lambda: Dose("measure", (diameter_of_girth(0.2),)),
    "diameter": lambda: Dose("measure", (girth_of_diameter(0.06),)),
    "stems": lambda: Dose("measure", (together([0.1, 0.2]),)),
}
