"""Coats on trunks against worked figures (fixtures/care/coat.toml)."""

import math
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.care.coat import Wound, sunny_sides, trees_from, trunk_coat
from survey.science.care.records import Dose, Impossible, NotGiven
from survey.science.units import convert, shopping
from tests.science.care.checks import checks, m

COAT = checks("coat")
TRUNK = {"base_diameter_m": m(3, "in"), "to_height_m": m(5, "ft")}


def test_a_trunk_of_three_inches_by_five_feet():
    # coat.toml [trunk]: own arithmetic, coverage from memory
    row = COAT["trunk"]
    dose = trunk_coat(
        base_diameter_m=m(row["diameter_in"], "in"), to_height_m=m(row["height_ft"], "ft")
    )
    assert convert(dose["coat_area"].value, "m2", "ft2") == pytest.approx(row["area_ft2"], abs=0.05)
    assert convert(dose["mix_volume"].value, "m3", "fl_oz") == pytest.approx(
        row["mix_fl_oz"], abs=0.05
    )
    assert trees_from(convert(1, "gal", "m3"), dose) == row["trees_a_gallon"]


def test_the_mix_is_half_paint_and_half_water():
    # coat.toml [mix]: UC IPM
    assert (COAT["mix"]["paint_parts"], COAT["mix"]["water_parts"]) == (1, 1)
    dose = trunk_coat(**TRUNK, trees=50)
    assert dose["paint_volume"].value == pytest.approx(dose["work_day_mix"].value / 2)
    assert dose["water_in_mix"].value == pytest.approx(dose["work_day_mix"].value / 2)
    cans = {line.unit: line.value for line in shopping(dose.buys, "us")}
    assert cans == {"quart_can": 2, "gallon_can": 1}
    assert {line.unit: line.value for line in shopping(dose.buys, "metric")} == {
        "can_1L": 2,
        "can_5L": 1,
    }


def test_parts_and_coverage_may_be_those_of_another_label():
    thick = trunk_coat(**TRUNK, paint_parts=2, water_parts=1, coverage_m2_m3=2500)
    assert thick["paint_volume"].value == pytest.approx(thick["work_day_mix"].value * 2 / 3)
    assert thick["mix_volume"].value == pytest.approx(thick["coat_area"].value / 2500)
    twice = trunk_coat(**TRUNK, coats=2)
    assert twice["work_day_mix"].value == pytest.approx(2 * twice["mix_volume"].value)


@pytest.mark.parametrize("row", COAT["sides"]["rows"], ids=str)
def test_the_sunny_sides_by_latitude(row):
    # coat.toml [sides]: UC IPM for the north; the mirror and the tropics from memory
    assert sorted(sunny_sides(row["latitude"])) == sorted(row["sides"])


@pytest.mark.parametrize("latitude", COAT["sides"]["tropics"]["latitudes"])
def test_in_the_tropics_the_west_is_always_among_them(latitude):
    assert COAT["sides"]["tropics"]["among_them"] in sunny_sides(latitude)


@settings(deadline=None)
@given(st.floats(23.5, 66))
def test_the_hemispheres_mirror(latitude):
    mirrored = {"s": "n", "sw": "nw", "w": "w", "se": "ne", "nw": "sw"}
    north = {mirrored[side] for side in sunny_sides(latitude)}
    assert north == set(sunny_sides(-latitude))


def test_only_the_sides_to_be_coated_are_counted():
    whole = trunk_coat(**TRUNK)
    sunny = trunk_coat(**TRUNK, latitude_deg=34)
    assert sunny["coat_area"].value == pytest.approx(whole["coat_area"].value * 3 / 8)
    named = trunk_coat(**TRUNK, sides=["w"])
    assert named["coat_area"].value == pytest.approx(whole["coat_area"].value / 8)
    worked_out = trunk_coat(**TRUNK, latitude_deg=34, sides_by_latitude=lambda _: {"s", "sw"})
    assert worked_out["coat_area"].value == pytest.approx(whole["coat_area"].value / 4)


def test_a_tapering_trunk_is_a_cone_cut_off():
    # the side of a cone: half the sum of both ways round, times the slant
    dose = trunk_coat(base_diameter_m=0.10, top_diameter_m=0.04, to_height_m=0.4)
    slant = math.sqrt(0.4**2 + 0.03**2)
    assert dose["bark_area"].value == pytest.approx(math.pi * 0.07 * slant, rel=1e-12)
    even = trunk_coat(base_diameter_m=0.1, top_diameter_m=0.1, to_height_m=1)
    assert even["bark_area"].value == pytest.approx(math.pi * 0.1)


def test_a_newly_planted_tree_is_coated_from_below_the_soil():
    # UC Master Gardeners of Santa Clara County: 2 in below the surface
    new = trunk_coat(**TRUNK, newly_planted=True)
    assert convert(new["coat_height"].value, "m", "in") == pytest.approx(62)
    upper = trunk_coat(**TRUNK, from_height_m=m(1, "ft"))
    assert convert(upper["coat_height"].value, "m", "in") == pytest.approx(48)


def test_a_wounded_tree_is_coated_round_its_wound_and_rim():
    # own rule: a rim of 1 in stays bare all round
    wound = Wound(m(2, "in"), m(6, "in"), m(10, "in"))
    dose = trunk_coat(**TRUNK, wounds=[wound])
    assert isinstance(dose, Dose)
    assert convert(dose["coat_area"]["left_out"], "m2", "in2") == pytest.approx(4 * 8)
    assert dose["coat_area"].value < trunk_coat(**TRUNK)["coat_area"].value
    assert "leave_wound_and_rim_bare" in dose.notes
    low = Wound(m(2, "in"), m(6, "in"), 0.0)  # its lower rim would lie under the soil
    assert convert(
        trunk_coat(**TRUNK, wounds=[low])["coat_area"]["left_out"], "m2", "in2"
    ) == pytest.approx(4 * 7)


def test_a_wound_on_the_shady_side_or_above_the_coat_takes_nothing_away():
    shady = Wound(0.05, 0.1, 0.2, sunny=False)
    above = Wound(0.05, 0.1, 2.0)
    dose = trunk_coat(**TRUNK, latitude_deg=34, wounds=[shady, above])
    assert dose["coat_area"]["left_out"] == 0


def test_a_wound_never_takes_more_than_the_coat():
    all_of_it = Wound(math.pi * m(3, "in"), 5, 0)
    dose = trunk_coat(**TRUNK, latitude_deg=34, wounds=[all_of_it, all_of_it])
    assert dose["coat_area"].value == 0
    assert dose["mix_volume"].value == 0


def test_a_wound_wider_than_the_girth_is_impossible():
    with pytest.raises(Impossible) as told:
        trunk_coat(**TRUNK, wounds=[Wound(m(9.5, "in"), 0.1)])
    assert (told.value.field, told.value.code) == ("wound_width", "wider_than_girth")


@pytest.mark.parametrize(
    ("more", "reason"),
    [
        ({"found": ["wet_bark"]}, "wet_bark"),
        ({"air_c": -0.5}, "frost"),
        ({"air_c": 35.6}, "too_hot"),
        ({"found": ["green_bark"]}, "green_bark"),
        ({"found": ["peeling_bark"]}, "peeling_bark"),
        ({"found": ["owner_objects"]}, "owner_objects"),
        ({"found": ["marks_felling_here"]}, "marks_felling_here"),
        ({"product": "oil_paint"}, "oil_paint"),
        ({"product": "enamel"}, "enamel"),
        ({"product": "old_paint"}, "old_paint_of_unknown_date"),
        ({"product": "pest_repellent"}, "pesticide_by_law"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_refuses_a_coat(more, reason):
    assert trunk_coat(**TRUNK, **more) == NotGiven("whitewash", (reason,))


def test_the_limits_of_the_weather_themselves_are_allowed():
    # coat.toml [weather]: own rule
    hottest = convert(COAT["weather"]["hottest_f"], "degF", "degC")
    assert isinstance(trunk_coat(**TRUNK, air_c=hottest), Dose)
    assert isinstance(trunk_coat(**TRUNK, air_c=0), Dose)


def test_damaged_green_bark_may_be_coated():
    assert isinstance(trunk_coat(**TRUNK, found=["green_bark"], bark_damaged=True), Dose)


def test_exterior_latex_is_marked_as_disputed_and_not_refused():
    assert "exterior_latex_is_disputed" in trunk_coat(**TRUNK, product="exterior_latex").notes


def test_one_coat_a_year_for_the_first_years():
    dose = trunk_coat(**TRUNK, on=date(2024, 4, 30))
    assert [due.on for due in dose.dates] == [date(2025, 4, 30), date(2026, 4, 30)]


@settings(deadline=None)
@given(st.floats(0.01, 1), st.floats(0.01, 1), st.floats(0, 3), st.floats(0, 3))
def test_the_coat_grows_with_trunk_and_height(thin, thick, low, high):
    def area(diameter, height):
        return trunk_coat(base_diameter_m=diameter, to_height_m=height)["coat_area"].value

    assert area(min(thin, thick), min(low, high)) <= area(max(thin, thick), max(low, high))
    assert area(thin, 0) == 0


def test_no_bark_asks_for_no_number_of_trees():
    nothing = trunk_coat(base_diameter_m=0.1, to_height_m=0)
    with pytest.raises(Impossible):
        trees_from(0.004, nothing)
