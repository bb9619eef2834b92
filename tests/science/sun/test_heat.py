"""Which sides the sun burns and when a coat is due: against what the trade prints."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.science.sun.heat import (
    coat_window,
    faces_the_sun,
    hottest,
    hottest_side,
    opened,
    sunny_sides,
    warmth,
)
from survey.science.sun.position import NoSuchSun
from survey.science.sun.trunk import SIDES, Crown, month_load

SOUTH, SOUTH_WEST, WEST, NORTH_WEST, NORTH = 180, 225, 270, 315, 0


def test_in_california_the_sunny_sides_are_south_and_west():
    """UC IPM, sunburn: the south and west sides. The north side never."""
    assert sunny_sides(37.0) == (SOUTH, SOUTH_WEST, WEST)


@pytest.mark.parametrize("latitude", [38.6, 42.0, 45.0])
def test_in_winter_the_south_to_south_west_side_is_the_hottest(latitude):
    """Missouri Botanical Garden and USU NR/FF/021: winter sunscald on the south to southwest."""
    for month in (12, 1, 2):
        assert hottest_side(latitude, month) in (SOUTH, SOUTH_WEST)


@given(st.floats(0, 89))
def test_the_sunny_sides_mirror_across_the_equator(latitude):
    mirrored = {(180 - side) % 360 for side in sunny_sides(latitude)}
    assert set(sunny_sides(-latitude)) == (mirrored if latitude else set(sunny_sides(0.0)))


def test_in_the_south_the_sides_are_north_and_west():
    """Mirrored, as the handbook has it from memory."""
    assert sunny_sides(-37.0) == (NORTH, WEST, NORTH_WEST)


@pytest.mark.parametrize("latitude", [-20.0, -10.0, 0.0, 10.0, 20.0])
def test_in_the_tropics_the_west_side_is_always_among_them(latitude):
    """Within 23 degrees the west side dominates (from memory)."""
    assert WEST in sunny_sides(latitude)
    assert 90 not in sunny_sides(latitude)


@given(st.floats(24, 66))
def test_no_side_that_never_sees_the_noon_sun_is_called_sunny(latitude):
    assert NORTH not in sunny_sides(latitude)
    assert SOUTH not in sunny_sides(-latitude)
    assert {90, 45} & set(sunny_sides(latitude)) == set()
    assert {90, 135} & set(sunny_sides(-latitude)) == set()


def test_the_window_for_a_coat_in_california_is_the_printed_one():
    """UC Master Gardeners Santa Clara: April to July (37.3 N)."""
    window = coat_window(37.3)
    assert window.months == (4, 5, 6, 7)
    assert not window.steady


@given(st.floats(25, 65))
def test_the_window_ends_by_the_hottest_month_and_mirrors_in_the_south(latitude):
    north, south = coat_window(latitude).months, coat_window(-latitude).months
    assert north[-1] in (6, 7, 8)
    assert south[-1] in (12, 1, 2)
    assert not {10, 11, 12, 1} & set(north)
    assert not {4, 5, 6, 7} & set(south)


def test_a_coat_waits_for_the_last_frost():
    assert coat_window(45.0).months[0] < 5
    assert coat_window(45.0, last_frost_month=5).months[0] == 5


def test_where_the_sun_hardly_changes_any_dry_month_will_do():
    window = coat_window(3.0)
    assert window.steady
    assert window.months == tuple(range(1, 13))


def test_the_air_of_the_place_moves_the_window():
    late = [5.0, 5, 6, 7, 8, 10, 14, 20, 21, 14, 8, 6]
    assert coat_window(37.0, air_c=late).months[-1] in (8, 9)
    with pytest.raises(ValueError, match="Twelve"):
        coat_window(37.0, air_c=late[:11])
    with pytest.raises(ValueError, match="Twelve"):
        coat_window(37.0, air_c=[float("nan")] * 12)


@given(st.floats(-66, 66), st.integers(1, 12))
def test_a_white_coat_keeps_every_side_cooler_while_the_sun_is_on_it(latitude, month):
    sun = month_load(latitude, month)
    cooler = warmth(sun) - warmth(sun, takes_in=0.25)
    assert (cooler >= 0).all()
    assert (cooler[sun.total > 0] > 0).all()


def test_opening_a_wide_crown_makes_sides_hot_that_were_not():
    shade = Crown(base_m=1.2, radius_m=3.0, lets_by=0.1)
    told = opened(36.6, 7, shade, None)
    assert (told.times > 1).all()
    assert set(told.newly_hot) <= set(sunny_sides(36.6))
    assert told.newly_hot
    assert opened(36.6, 7, shade, shade).newly_hot == ()


@pytest.mark.parametrize(
    ("bearing", "sunny"), [(200, True), (270, True), (-90, True), (0, False), (720, False)]
)
def test_a_bearing_is_taken_to_the_nearest_of_eight_sides(bearing, sunny):
    assert faces_the_sun(bearing, 37.0) is sunny


@pytest.mark.parametrize("latitude", [91, -100, float("nan")])
def test_a_latitude_off_the_earth_is_refused(latitude):
    with pytest.raises(NoSuchSun):
        sunny_sides(latitude)
    with pytest.raises(NoSuchSun):
        coat_window(latitude)


def test_a_bearing_that_is_no_number_is_refused():
    with pytest.raises(NoSuchSun, match="bearing"):
        faces_the_sun(float("inf"), 37.0)


@given(st.floats(-66, 66), st.integers(1, 12))
def test_the_hottest_moment_is_one_of_the_day(latitude, month):
    peaks = hottest(latitude, month)
    assert peaks.shape == (len(SIDES),)
    assert peaks == pytest.approx(np.max(warmth(month_load(latitude, month)), axis=1))
