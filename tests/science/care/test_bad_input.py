"""What cannot be is refused with the field and the reason, and no number comes out."""

import inspect
import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.care.coat import Wound, sunny_sides, trunk_coat
from survey.science.care.feeding import feed, in_the_bag, judge_feed, label
from survey.science.care.ground import berm, compost, mulch_ring, mulch_top_up, turf_ring
from survey.science.care.guard import trunk_guard
from survey.science.care.presets import establishment, months_to_grow_in, months_to_water
from survey.science.care.records import PROBLEMS, Dose, Impossible, NotGiven, number, whole
from survey.science.care.shoots import low_shoots, pruning, trim_loose_bark
from survey.science.care.stakes import stake_days, tie_heights
from survey.science.care.stems import diameter_of_girth, together
from survey.science.care.trials import reach
from survey.science.care.water_budget import Zone, etaf, water_budget
from survey.science.care.watering import water, weekly_need

BAG = label(10, 10, 10)
CALLS = {
    "mulch": (mulch_ring, {"outer_radius_m": 1, "trunk_radius_m": 0.03, "depth_m": 0.08}),
    "top_up": (mulch_top_up, {"outer_radius_m": 1, "trunk_radius_m": 0.03, "depth_m": 0.08}),
    "turf": (turf_ring, {"outer_radius_m": 1, "trunk_radius_m": 0.03}),
    "compost": (compost, {"outer_radius_m": 1, "trunk_radius_m": 0.03, "depth_m": 0.02}),
    "berm": (berm, {"radius_m": 0.4, "height_m": 0.08}),
    "coat": (trunk_coat, {"base_diameter_m": 0.08, "to_height_m": 1.5}),
    "bag": (lambda mass_kg: in_the_bag(BAG, mass_kg), {"mass_kg": 10}),
    "feed": (
        lambda rate_kg_m2, area_m2: feed(bag=BAG, rate_kg_m2=rate_kg_m2, area_m2=area_m2),
        {"rate_kg_m2": 0.01, "area_m2": 3},
    ),
    "judge": (
        lambda mass_kg, area_m2: judge_feed(bag=BAG, mass_kg=mass_kg, area_m2=area_m2),
        {"mass_kg": 1, "area_m2": 3},
    ),
    "need": (
        weekly_need,
        {"eto_m_per_week": 0.04, "plant_factor": 0.5, "canopy_diameter_m": 3},
    ),
    "water": (water, {"caliper_m": 0.05, "need_m3_per_week": 0.05}),
    "presets": (establishment, {"caliper_m": 0.05, "days_planted": 10}),
    "grows_in": (months_to_grow_in, {"caliper_m": 0.05}),
    "months": (lambda caliper_m: months_to_water(caliper_m, "cold"), {"caliper_m": 0.05}),
    "etaf": (etaf, {"plant_factor": 0.5, "efficiency": 0.81}),
    "budget": (
        lambda eto, area: water_budget(eto, [Zone("a", area, 0.5)], residential=True),
        {"eto": 1, "area": 30},
    ),
    "ties": (tie_heights, {"height_m": 3}),
    "pruning": (pruning, {"years_planted": 3}),
    "bark": (
        lambda lost_width_m, girth_m: trim_loose_bark(
            who="arborist", lost_width_m=lost_width_m, girth_m=girth_m
        ),
        {"lost_width_m": 0.05, "girth_m": 0.2},
    ),
    "guard": (trunk_guard, {"trunk_diameter_m": 0.05}),
    "girth": (diameter_of_girth, {"girth_m": 0.2}),
    "stems": (lambda stem: together([0.1, stem]), {"stem": 0.2}),
    "reach": (reach, {"treated": 20, "others": 20, "expected": 0.6}),
    "label": (label, {"nitrogen": 4, "phosphate": 6, "potash": 3}),
}
ARGUMENTS = [(name, argument) for name, (_, usual) in CALLS.items() for argument in usual]
NO_NUMBERS = [
    math.nan,
    math.inf,
    -math.inf,
    -1,
    -1e-9,
    "3",
    "three",
    "",
    None,
    True,
    [1],
    1j,
    Decimal("sNaN"),
    np.nan,
    10**400,
]


@pytest.mark.parametrize(("name", "argument"), ARGUMENTS)
@pytest.mark.parametrize("bad", NO_NUMBERS, ids=lambda bad: str(bad)[:9])
def test_no_dose_comes_of_what_is_no_measure(name, argument, bad):
    call, usual = CALLS[name]
    call(**usual)  # the call itself is sound
    with pytest.raises(Impossible) as told:
        call(**{**usual, argument: bad})
    assert told.value.field
    assert told.value.code in PROBLEMS
    assert str(told.value) == f"{told.value.field} {PROBLEMS[told.value.code]}"


ABSURD = [
    (mulch_ring, {"outer_radius_m": 500, "trunk_radius_m": 0, "depth_m": 0.08}, "outer_radius"),
    (mulch_ring, {"outer_radius_m": 1, "trunk_radius_m": 0, "depth_m": 8}, "depth"),
    (mulch_ring, {"outer_radius_m": 0, "trunk_radius_m": 0, "depth_m": 0.1}, "outer_radius"),
    (mulch_ring, {"outer_radius_m": 0.1, "trunk_radius_m": 0.05, "depth_m": 0.1}, "outer_radius"),
    (
        mulch_ring,
        {"outer_radius_m": 1, "trunk_radius_m": 0, "depth_m": 0.1, "trees": 2.5},
        "trees",
    ),
    (mulch_ring, {"outer_radius_m": 1, "trunk_radius_m": 0, "depth_m": 0.1, "trees": 0}, "trees"),
    (compost, {"outer_radius_m": 1, "trunk_radius_m": 0, "depth_m": 0.06}, "depth"),
    (berm, {"radius_m": 0, "height_m": 0.1}, "radius"),
    (berm, {"radius_m": 20, "height_m": 0.1}, "radius"),
    (trunk_coat, {"base_diameter_m": 0, "to_height_m": 1}, "base_diameter"),
    (trunk_coat, {"base_diameter_m": 0.1, "to_height_m": 1, "from_height_m": 2}, "to_height"),
    (trunk_coat, {"base_diameter_m": 0.1, "to_height_m": 1, "top_diameter_m": 0.2}, "top_diameter"),
    (trunk_coat, {"base_diameter_m": 0.1, "to_height_m": 1, "coats": 9}, "coats"),
    (trunk_coat, {"base_diameter_m": 0.1, "to_height_m": 1, "paint_parts": 0}, "paint_parts"),
    (trunk_coat, {"base_diameter_m": 0.1, "to_height_m": 1, "sides": []}, "sides"),
    (trunk_coat, {"base_diameter_m": 0.1, "to_height_m": 1, "sides": ["up"]}, "sides"),
    (trunk_coat, {"base_diameter_m": 0.1, "to_height_m": 1, "sides": "sw"}, "sides"),
    (trunk_coat, {"base_diameter_m": 0.1, "to_height_m": 1, "latitude_deg": 91}, "latitude"),
    (trunk_coat, {"base_diameter_m": 0.1, "to_height_m": 1, "product": "tar"}, "product"),
    (
        trunk_coat,
        {"base_diameter_m": 0.1, "to_height_m": 1, "wounds": [Wound(0, 0.1)]},
        "wound_width",
    ),
    (water, {"caliper_m": 0, "need_m3_per_week": 0.1}, "caliper"),
    (water, {"caliper_m": 0.05, "need_m3_per_week": 0.1, "by": "helicopter"}, "by"),
    (
        weekly_need,
        {"eto_m_per_week": 1.75, "plant_factor": 0.5, "canopy_diameter_m": 3},
        "eto",
    ),  # inches typed as meters
    (
        weekly_need,
        {"eto_m_per_week": 0.04, "plant_factor": 50, "canopy_diameter_m": 3},
        "plant_factor",
    ),
    (low_shoots, {"shoots": ["twig"]}, "shoots"),
    (low_shoots, {"shoots": [], "bark_lost_share": 50}, "bark_lost"),
    (together, {"diameters_m": []}, "stems"),
    (reach, {"treated": 10**6, "others": 5, "expected": 0.5}, "treated"),
    (stake_days, {"staked": "2026-01-01", "hemisphere": "north"}, "staked"),
    (sunny_sides, {"latitude_deg": -100}, "latitude"),
]


@pytest.mark.parametrize(("call", "given_", "field"), ABSURD, ids=str)
def test_sizes_that_no_tree_has_are_told_by_field(call, given_, field):
    with pytest.raises(Impossible) as told:
        call(**given_)
    assert told.value.field == field


def test_a_bound_that_was_passed_is_named_in_si():
    with pytest.raises(Impossible) as told:
        compost(outer_radius_m=1, trunk_radius_m=0, depth_m=0.2)
    assert told.value.code == "too_large"
    assert told.value.limit == pytest.approx(2 * 0.0254)
    assert told.value.unit == "m"


def test_reasons_nobody_knows_are_impossible_and_a_word_is_no_list():
    for found in (["too green"], "root_rot"):
        with pytest.raises(Impossible):
            berm(radius_m=0.4, height_m=0.1, found=found)


def test_a_refusal_without_a_reason_cannot_be_made():
    with pytest.raises(ValueError, match="refuses nothing"):
        NotGiven("water", ())


def test_numbers_of_other_kinds_are_read():
    assert number("x", Decimal("1.5")) == 1.5
    assert number("x", np.float32(0.5)) == 0.5
    assert whole("x", np.int64(7)) == 7
    assert whole("x", 7.0) == 7
    assert str(number("x", -0.0)) == "0.0"


@settings(deadline=None)
@given(st.one_of(st.floats(), st.integers(), st.text(), st.none(), st.booleans()))
def test_whatever_is_typed_gives_a_dose_or_a_clear_refusal(typed):
    ring = {"outer_radius_m": typed, "trunk_radius_m": 0.03, "depth_m": 0.08}
    if type(typed) in (int, float) and 0.1316 <= typed <= 15:
        dose = mulch_ring(**ring)
        assert isinstance(dose, Dose)
        assert all(math.isfinite(step.value) for step in dose.steps)
    else:
        with pytest.raises(Impossible, match="outer_radius"):
            mulch_ring(**ring)


def test_every_amount_is_named_when_it_is_given():
    for call in (mulch_ring, mulch_top_up, turf_ring, compost, berm, trunk_coat, feed, water):
        kinds = {parameter.kind for parameter in inspect.signature(call).parameters.values()}
        assert kinds == {inspect.Parameter.KEYWORD_ONLY}, call
