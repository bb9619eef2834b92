"""SI to the reader's units and back; bags, cans and buckets as they are sold."""

import math

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.care.records import Buy, Impossible, Step
from survey.science.units import (
    SOLD,
    UNITS,
    convert,
    from_reader,
    on_the_mark,
    reader_unit,
    shopping,
    shown,
    shown_step,
    to_nearest,
    up_to,
)

AMOUNTS = st.floats(1e-9, 1e9)
REFEREE = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("value", "unit", "to", "exact"),
    [
        # exact by definition: international yard and pound agreement of 1959, NIST Handbook 44
        (1, "in", "m", 0.0254),
        (1, "ft", "m", 0.3048),
        (1, "lb", "kg", 0.45359237),
        (1, "gal", "L", 3.785411784),
        (1, "yd3", "ft3", 27),
        (1, "gal", "fl_oz", 128),
        (1, "gal", "qt", 4),
        (1, "lb", "oz", 16),
        (212, "degF", "degC", 100),
        (-40, "degC", "degF", -40),
        (95, "degF", "degC", 35),
        (1, "year", "month", 12),
        (25, "percent", "share", 0.25),
    ],
)
def test_units_are_as_defined(value, unit, to, exact):
    assert convert(value, unit, to) == pytest.approx(exact, rel=1e-12)


def test_an_inch_of_water_on_a_square_foot():
    # handbook: 0.623 gal; the ordinance rounds to 0.62
    assert convert(1, "water", "gal/in/ft2") == pytest.approx(0.6234, abs=5e-5)


@settings(deadline=None)
@given(AMOUNTS, st.sampled_from(sorted(UNITS)), st.sampled_from(sorted(UNITS)))
def test_there_and_back_is_the_same(value, unit, to):
    alike = REFEREE.Quantity(UNITS[unit]).is_compatible_with(REFEREE.Quantity(UNITS[to]))
    if alike:
        there = convert(value, unit, to)
        # a reading near a temperature's zero keeps its digits after the point, not before it
        room = 1e-9 if unit.startswith("deg") and len(unit) == 4 else 0
        assert convert(there, to, unit) == pytest.approx(value, rel=1e-12, abs=room)
    else:
        with pytest.raises(Impossible, match="not one of the choices"):
            convert(value, unit, to)


@pytest.mark.parametrize("bad", [math.nan, math.inf, "3 ft", "", None, True])
def test_what_was_typed_is_a_number_or_is_named(bad):
    with pytest.raises(Impossible) as told:
        from_reader("radius", bad, "ft", "m")
    assert told.value.field == "radius"
    assert from_reader("radius", 3, "ft", "m") == pytest.approx(0.9144)


@settings(deadline=None)
@given(AMOUNTS, st.sampled_from(["m", "m2", "m3", "kg", "kg/m2", "m/week", "m3/year"]))
def test_both_systems_come_back_to_the_same_si(value, unit):
    us, metric = shown(value, unit, "us"), shown(value, unit, "metric")
    assert convert(us.value, us.unit, unit) == pytest.approx(
        convert(metric.value, metric.unit, unit), rel=1e-12
    )


def test_depths_are_read_in_inches_and_distances_in_feet():
    assert reader_unit("m", "us") == "ft"
    assert reader_unit("m", "us", name="depth") == "in"
    assert reader_unit("m", "metric", name="depth") == "cm"
    assert reader_unit("m3", "us", name="ring_volume") == "ft3"
    assert reader_unit("m3", "us", name="mix_volume") == "fl_oz"
    assert reader_unit("m2", "us", name="depth") == "ft2"  # a name of another kind changes nothing
    assert reader_unit("month", "us") == "month"


def test_a_pinch_that_is_a_pound_is_read_as_one():
    def read(kilograms, system):
        one = shown(kilograms, "kg", system, name="product")
        return round(one.value, 6), one.unit

    pound = convert(1, "lb", "kg")
    assert read(0.99 * pound, "us") == (15.84, "oz")
    assert read(pound, "us") == (1, "lb")
    assert read(0.4, "metric") == (400, "g")
    assert read(4, "metric") == (4, "kg")


def test_a_line_is_shown_with_all_its_operands():
    step = Step("ring_volume", 0.3048**3, "m3", (("ring_area", 1, "m2"), ("depth", 0.0254, "m")))
    read = shown_step(step, "us")
    assert (read.value, read.unit) == (pytest.approx(1), "ft3")
    assert read["depth"] == pytest.approx(1)
    with pytest.raises(KeyError):
        _ = read["width"]


@pytest.mark.parametrize(
    ("cubic_yards", "sold"),
    [(0.01, 0.1), (0.1, 0.1), (0.255, 0.3), (0.95, 1.0), (1.0, 1.0), (1.01, 1.5), (5.6, 6.0)],
)
def test_bulk_comes_by_the_tenth_and_past_a_yard_by_the_half(cubic_yards, sold):
    lines = shopping((Buy("chips", convert(cubic_yards, "yd3", "m3"), "m3"),), "us")
    assert {line.unit: line.value for line in lines}["yd3"] == pytest.approx(sold)


@pytest.mark.parametrize(
    ("liters", "bags"), [(0, 0), (1, 1), (50, 1), (50.001, 2), (100, 2), (389, 8)]
)
def test_bags_are_whole(liters, bags):
    lines = shopping((Buy("chips", liters / 1000, "m3"),), "metric")
    assert {line.unit: line.value for line in lines}["bag_50L"] == bags


def test_ties_are_counted_and_unknown_things_stay_exact():
    ties, rope = shopping((Buy("ties", 3.2, "count"), Buy("rope", 3.048, "m")), "us")
    assert (ties.value, ties.rounded_up_to) == (4, 1)
    assert (rope.value, rope.unit, rope.rounded_up_to) == (pytest.approx(10), "ft", 0)


@settings(deadline=None)
@given(AMOUNTS, st.sampled_from(sorted(SOLD)), st.sampled_from(["us", "metric"]))
def test_what_is_bought_is_enough_and_not_a_whole_package_too_much(amount, code, system):
    base = "kg" if code == "fertilizer" else "m3"
    for line, size in zip(
        shopping((Buy(code, amount, base),), system), SOLD[code][system], strict=True
    ):
        one = convert(size.holds, size.unit, base)
        bought = line.value * one
        assert bought >= amount * (1 - 1e-8) - 1e-9 * one * line.rounded_up_to
        assert bought - amount <= line.rounded_up_to * one * (1 + 1e-6)


@settings(deadline=None)
@given(st.floats(-1e6, 1e6), st.sampled_from([0.1, 0.25, 0.5, 1, 5]))
def test_rounding_never_misses_by_more_than_it_may(value, step):
    assert abs(to_nearest(value, step) - value) <= step / 2 + 1e-6
    assert -1e-6 <= up_to(value, step) - value <= step + 1e-6


@pytest.mark.parametrize(
    ("value", "unit", "read"),
    [
        (3.1, "in", 3.0),
        (3.13, "in", 3.25),
        (4.74, "gal", 4.5),
        (13.25, "gal", 13.5),
        (2.51, "fl_oz", 2.5),
        (2.7, "ft", 2.5),
        (7.49, "cm", 7),
        (17.9, "L", 18),
        (3, "day", 3),
        (0.123, "share", 0.123),
    ],
)
def test_tapes_buckets_and_scales_have_marks(value, unit, read):
    assert on_the_mark(value, unit) == pytest.approx(read)
