"""Mulch, turf, compost and basins against worked figures (fixtures/care/ground.toml)."""

import math
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.care.ground import berm, compost, mulch_ring, mulch_top_up, turf_ring
from survey.science.care.records import NotGiven
from survey.science.units import convert, shopping, shown_dose
from tests.science.care.checks import checks, m

GROUND = checks("ground")
RADII = st.floats(0.5, 10)
DEPTHS = st.floats(0, 0.2)


def ring(row, inner_ft=0.5, **more):
    # the fixture's inner radius is trunk and gap together
    return mulch_ring(
        outer_radius_m=m(row["outer_ft"], "ft"),
        trunk_radius_m=0,
        gap_m=m(inner_ft, "ft"),
        depth_m=m(row["depth_in"], "in"),
        **more,
    )


@pytest.mark.parametrize("row", GROUND["rings"]["rows"], ids=str)
def test_the_table_of_rings(row):
    # ground.toml [rings]: own arithmetic of the formula
    dose = ring(row)
    assert convert(dose["ring_area"].value, "m2", "ft2") == pytest.approx(
        row["area_ft2"], abs=0.051
    )
    assert convert(dose["ring_volume"].value, "m3", "ft3") == pytest.approx(row["ft3"], abs=0.0051)
    assert convert(dose["ring_volume"].value, "m3", "yd3") == pytest.approx(row["yd3"], abs=5.1e-4)


def test_a_work_day_of_twenty_rings_and_what_to_order_for_it():
    # ground.toml [work_day]: own arithmetic
    day = GROUND["work_day"]
    dose = ring(day, trees=day["trees"])
    total, settled = dose["work_day_volume"].value, dose["volume_with_settling"].value
    assert convert(total, "m3", "yd3") == pytest.approx(day["yd3"], abs=0.005)
    assert convert(settled, "m3", "yd3") == pytest.approx(day["yd3_with_settling"], abs=0.005)
    each = convert(dose["ring_volume"].value, "m3", "ft3") / 2
    assert each == pytest.approx(day["bags_2ft3_a_tree_exact"], abs=0.05)
    lines = {(line.code, line.unit): line for line in shopping(dose.buys, "us")}
    assert lines["chips_each", "bag_2ft3"].value == day["bags_2ft3_a_tree"]
    assert lines["chips", "yd3"].value == 6.0  # bulk past a yard comes by the half
    assert lines["chips", "bag_2ft3"].value == 76  # 75.6 bags
    metric = {(line.code, line.unit): line.value for line in shopping(dose.buys, "metric")}
    assert metric["chips", "bag_50L"] == math.ceil(settled * 1000 / 50)


@pytest.mark.parametrize("row", GROUND["cover"]["rows"], ids=str)
def test_what_a_cubic_yard_covers(row):
    # ground.toml [cover]: own arithmetic; the same table circulates widely
    radius = math.sqrt(convert(row["ft2"], "ft2", "m2") / math.pi)
    dose = mulch_ring(
        outer_radius_m=radius, trunk_radius_m=0, gap_m=0, depth_m=m(row["depth_in"], "in")
    )
    assert convert(dose["ring_volume"].value, "m3", "yd3") == pytest.approx(1, rel=1e-9)


def test_a_ring_sinks_by_a_third_and_is_topped_up_by_what_is_missing():
    # ground.toml [settles]: common practice, no source
    assert GROUND["settles"]["by"] == "1/3"
    common = {"outer_radius_m": 0.9, "trunk_radius_m": 0.03, "depth_m": 0.09}
    new = mulch_ring(**common)
    expected = mulch_top_up(**common)
    assert expected["settled_depth"].value == pytest.approx(0.06)
    assert expected["top_up_volume"].value == pytest.approx(new["ring_volume"].value / 3)
    measured = mulch_top_up(**common, found_depth_m=0.04)
    assert measured["missing_depth"].value == pytest.approx(0.05)
    deep = mulch_top_up(**common, found_depth_m=0.12)
    assert deep["top_up_volume"].value == 0
    assert deep.notes == ("deep_enough",)


@pytest.mark.parametrize("row", GROUND["berm"]["rows"], ids=str)
def test_what_a_basin_holds_and_the_soil_it_needs(row):
    # ground.toml [berm]: own arithmetic
    dose = berm(radius_m=m(row["radius_ft"], "ft"), height_m=m(row["height_in"], "in"))
    assert convert(dose["basin_holds"].value, "m3", "gal") == pytest.approx(row["gal"], abs=0.5)


def test_the_soil_of_a_basin_is_about_what_the_card_says():
    # ground.toml [berm] soil_ft3: own rule, for a radius of 15 to 18 in and a height of 3 to 4 in
    small = berm(radius_m=m(18, "in"), height_m=m(3, "in"))["soil_volume"].value
    large = berm(radius_m=m(15, "in"), height_m=m(4, "in"))["soil_volume"].value
    assert convert(small, "m3", "ft3") < GROUND["berm"]["soil_ft3"] < convert(large, "m3", "ft3")
    assert convert((small + large) / 2, "m3", "ft3") == pytest.approx(1.3, abs=0.2)


def test_a_basin_is_on_its_way_out_after_two_years():
    # months: common practice, no source
    dose = berm(radius_m=0.45, height_m=0.08, built=date(2026, 2, 28))
    assert [(due.code, due.on) for due in dose.dates] == [("take_berm_away_by", date(2028, 2, 28))]


def test_compost_for_the_usual_ring():
    # ground.toml [compost]: own arithmetic
    row = GROUND["compost"]

    def layer(depth_in):
        return compost(
            outer_radius_m=m(row["outer_ft"], "ft"),
            trunk_radius_m=0,
            gap_m=m(row["inner_ft"], "ft"),
            depth_m=m(depth_in, "in"),
        )["ring_volume"].value

    assert convert(layer(row["depth_in"]), "m3", "ft3") == pytest.approx(row["ft3"], abs=0.05)
    assert convert(layer(row["depth_in"]), "m3", "yd3") == pytest.approx(row["yd3"], abs=5e-4)
    for depth, ft3 in zip(row["card_depths_in"], row["card_ft3"], strict=True):
        assert convert(layer(depth), "m3", "ft3") == pytest.approx(ft3, abs=0.06)


def test_turf_goes_from_the_trunk_out():
    dose = turf_ring(outer_radius_m=m(3, "ft"), trunk_radius_m=m(1, "in"), trees=5)
    exact = math.pi * (3**2 - (1 / 12) ** 2)
    assert convert(dose["ring_area"].value, "m2", "ft2") == pytest.approx(exact, rel=1e-12)
    assert dose["work_day_area"].value == pytest.approx(5 * dose["ring_area"].value)
    assert "narrower_than_usual" in turf_ring(outer_radius_m=0.5, trunk_radius_m=0.02).notes


def test_depths_past_what_a_source_says_are_told():
    def deep(inches):
        return mulch_ring(outer_radius_m=1, trunk_radius_m=0.03, depth_m=m(inches, "in")).notes

    assert "roots_grow_into_deep_mulch" not in deep(4)
    assert "roots_grow_into_deep_mulch" in deep(5)
    assert "deeper_than_any_source" not in deep(6)
    assert "deeper_than_any_source" in deep(7)


@pytest.mark.parametrize(
    ("care", "reason"),
    [
        (mulch_ring, "crown_rot"),
        (mulch_top_up, "frozen_soil"),
        (turf_ring, "lawn_was_only_water"),
        (compost, "salty_compost"),
    ],
)
def test_a_refusal_takes_the_place_of_the_dose(care, reason):
    more = {} if care is turf_ring else {"depth_m": 0.02}
    refused = care(outer_radius_m=1, trunk_radius_m=0.02, found={reason}, **more)
    assert isinstance(refused, NotGiven)
    assert refused.because == (reason,)


def test_no_basin_where_water_stands_and_every_reason_is_named():
    refused = berm(radius_m=0.4, height_m=0.08, found=["root_rot", "clay"])
    assert refused == NotGiven("berm", ("clay", "root_rot"))


@settings(deadline=None)
@given(RADII, RADII, DEPTHS, DEPTHS)
def test_a_dose_grows_with_radius_and_depth(first, second, shallow, deep):
    def volume(radius, depth):
        dose = mulch_ring(outer_radius_m=radius, trunk_radius_m=0.03, depth_m=depth)
        return dose["volume_with_settling"].value

    assert volume(min(first, second), min(shallow, deep)) <= volume(
        max(first, second), max(shallow, deep)
    )


@settings(deadline=None)
@given(RADII)
def test_no_depth_and_no_area_give_zero(radius):
    flat = mulch_ring(outer_radius_m=radius, trunk_radius_m=0.03, depth_m=0)
    assert flat["volume_with_settling"].value == 0
    assert all(line.value == 0 for line in shopping(flat.buys, "us"))
    bare = mulch_ring(outer_radius_m=radius / 4, trunk_radius_m=radius / 4, gap_m=0, depth_m=0.08)
    assert bare["ring_area"].value == 0
    assert bare["volume_with_settling"].value == 0
    assert berm(radius_m=radius / 4, height_m=0)["soil_volume"].value == 0


@settings(deadline=None)
@given(st.floats(1, 30), st.floats(0, 6))
def test_feet_and_meters_give_the_same_ring(feet, inches):
    in_feet = mulch_ring(
        outer_radius_m=m(feet, "ft"), trunk_radius_m=0, gap_m=m(6, "in"), depth_m=m(inches, "in")
    )
    in_meters = mulch_ring(
        outer_radius_m=feet * 0.3048, trunk_radius_m=0, gap_m=0.1524, depth_m=inches * 0.0254
    )
    assert in_feet["ring_volume"].value == pytest.approx(in_meters["ring_volume"].value, rel=1e-12)


def test_a_reader_sees_feet_inches_and_cubic_feet_or_meters():
    dose = ring({"outer_ft": 3, "depth_in": 3})
    us = shown_dose(dose, "us")["ring_volume"]
    assert us.unit == "ft3"
    assert us.value == pytest.approx(6.87, abs=0.005)
    assert us["depth"] == pytest.approx(3)
    assert shown_dose(dose, "us")["ring_area"]["outer_radius"] == pytest.approx(3)
    assert shown_dose(dose, "metric")["ring_volume"].unit == "m3"
