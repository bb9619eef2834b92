"""Distances on the ground."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.science.distance import (
    EARTH_RADIUS_METRES,
    NotOnEarth,
    box_around,
    metres_between,
    metres_to_each,
)

latitudes = st.floats(-89, 89)
longitudes = st.floats(-180, 180)


def test_a_degree_of_latitude():
    # by hand: pi / 180 of the mean radius, 111.195 km
    assert metres_between(40, -75, 41, -75) == pytest.approx(111_195.08, abs=0.01)


def test_a_quarter_of_the_globe():
    quarter = math.pi / 2 * EARTH_RADIUS_METRES
    assert metres_between(0, 0, 90, 0) == pytest.approx(quarter)
    assert metres_between(0, 179.5, 0, -179.5) == pytest.approx(quarter / 90)
    assert metres_between(30, 20, -30, -160) == pytest.approx(2 * quarter)


def test_two_trees_on_one_street_keep_their_centimetres():
    # 0.0001 degrees of longitude at 40 degrees north: cos 40 x 11.1195 m
    assert metres_between(40, -75, 40, -75.0001) == pytest.approx(8.5180, abs=0.001)
    assert metres_between(40, -75, 40, -75) == 0


def test_many_at_once_are_the_same_as_one_by_one():
    lat, lon = np.array([40.1, 39.9, 41.0]), np.array([-75.2, -74.0, -75.0])
    many = metres_to_each(40, -75, lat, lon)
    assert many.tolist() == [
        metres_between(40, -75, a, b) for a, b in zip(lat.tolist(), lon.tolist(), strict=True)
    ]


@given(latitudes, longitudes, st.floats(0, 360), st.floats(0, 200_000))
def test_the_box_holds_everything_within_the_radius(latitude, longitude, bearing, metres):
    angle, course, here = (
        metres / EARTH_RADIUS_METRES,
        math.radians(bearing),
        math.radians(latitude),
    )
    there = math.asin(
        math.sin(here) * math.cos(angle) + math.cos(here) * math.sin(angle) * math.cos(course)
    )
    across = math.atan2(
        math.sin(course) * math.sin(angle) * math.cos(here),
        math.cos(angle) - math.sin(here) * math.sin(there),
    )
    lon = (longitude + math.degrees(across) + 540) % 360 - 180
    box = box_around(latitude, longitude, metres + 0.01)
    assert box.holds(math.degrees(there), lon)


@given(st.floats(-80, 80), longitudes, st.floats(1, 50_000))
def test_the_box_is_no_wider_than_it_must_be(latitude, longitude, metres):
    box = box_around(latitude, longitude, metres)
    assert metres_between(latitude, longitude, box.north, longitude) == pytest.approx(metres)
    width = (box.east - box.west) % 360
    assert width < 2.5 * math.degrees(metres / EARTH_RADIUS_METRES) / math.cos(
        math.radians(abs(latitude))
    )


def test_the_box_runs_over_the_180th_meridian():
    box = box_around(-17, 179.99, 5_000)
    assert box.west > box.east
    assert box.holds(-17, -179.98)
    assert not box.holds(-17, 0)


def test_near_a_pole_every_longitude_is_near():
    box = box_around(89.999, 10, 5_000)
    assert (box.west, box.east, box.north) == (-180, 180, 90)


@pytest.mark.parametrize(
    ("latitude", "longitude"),
    [(91, 0), (-91, 0), (0, 181), (0, -181), (math.nan, 0), (0, math.inf)],
)
def test_places_off_the_earth_are_refused(latitude, longitude):
    with pytest.raises(NotOnEarth):
        metres_between(latitude, longitude, 0, 0)
    with pytest.raises(NotOnEarth):
        metres_between(0, 0, latitude, longitude)
    with pytest.raises(NotOnEarth):
        box_around(latitude, longitude, 10)


@pytest.mark.parametrize("radius", [-1, math.nan, math.inf])
def test_a_radius_that_is_no_length_is_refused(radius):
    with pytest.raises(NotOnEarth):
        box_around(0, 0, radius)
