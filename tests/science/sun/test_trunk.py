"""What each side of a trunk gets: against a solar library, and by what must hold."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib import clearsky, irradiance

from survey.science.sun.position import path
from survey.science.sun.trunk import (
    GROUND,
    HOURS,
    SIDES,
    Crown,
    clear_sky,
    load,
    month_load,
)

LATITUDES = (-45.0, -23.0, 0.0, 12.0, 36.6, 52.0)


@pytest.mark.parametrize("latitude", LATITUDES)
@pytest.mark.parametrize("day", [17, 80, 172, 258])
def test_every_side_gets_what_the_solar_library_gives_an_upright_surface(latitude, day):
    sun = path(latitude, day, HOURS)
    normal, sky = clear_sky(sun)
    level = sky + normal * np.sin(np.radians(np.clip(sun.elevation, 0, None)))
    ours = load(sun)
    for number, side in enumerate(SIDES):
        theirs = irradiance.get_total_irradiance(
            90, side, 90 - sun.elevation, sun.azimuth, normal, level, sky, albedo=GROUND
        )
        assert ours.direct[number] == pytest.approx(theirs["poa_direct"], abs=1e-6)
        assert ours.diffuse[number] == pytest.approx(theirs["poa_diffuse"], abs=1e-6)


@pytest.mark.parametrize("elevation", [15, 25, 40, 60, 85])
def test_the_clear_sky_is_near_what_the_solar_library_has_for_clear_air(elevation):
    """Bird's model (the library's) with air as hazy as 23 km of sight (optical depth 0.3)."""
    sun = path(40.0, 172, [12.0])
    sun = type(sun)(40.0, 172, sun.hours, np.array([float(elevation)]), sun.azimuth, 1367.0)
    normal, sky = clear_sky(sun)
    air = 1 / np.sin(np.radians(elevation))
    theirs = clearsky.bird(90 - elevation, air, 0.3, 0.3, 1.5, dni_extra=1367.0)
    assert normal[0] == pytest.approx(theirs["dni"], rel=0.05)
    assert normal[0] * np.sin(np.radians(elevation)) + sky[0] == pytest.approx(
        theirs["ghi"], rel=0.2
    )


@given(st.floats(-66, 66), st.integers(1, 12))
def test_east_and_west_get_the_same_through_a_clear_day(latitude, month):
    day = dict(zip(SIDES, month_load(latitude, month).of_day(), strict=True))
    for east, west in ((90, 270), (45, 315), (135, 225)):
        assert day[east] == pytest.approx(day[west], rel=1e-9)


@given(st.floats(0, 66), st.integers(1, 365))
def test_the_hemispheres_mirror(latitude, day):
    """Same height of the sun, north and south exchanged; its distance is taken out."""
    north, south = path(latitude, day, HOURS), path(-latitude, day, HOURS)
    mirrored = (180 - south.azimuth) % 360
    opposite = type(north)(latitude, day, HOURS, south.elevation, mirrored, north.normal_beyond_air)
    here = dict(zip(SIDES, load(opposite).of_day(), strict=True))
    there = dict(zip(SIDES, load(south).of_day(), strict=True))
    for side in SIDES:
        assert here[(180 - side) % 360] == pytest.approx(there[side], rel=1e-9, abs=1e-9)


def test_in_a_northern_winter_the_south_side_gets_most_and_the_north_side_no_direct_sun():
    winter = month_load(42.0, 1)
    assert SIDES[int(np.argmax(winter.of_day()))] == 180
    assert winter.direct[SIDES.index(0)].max() == 0


def test_in_a_polar_night_nothing_arrives():
    assert month_load(80.0, 12).of_day() == pytest.approx(np.zeros(8))


@given(
    st.floats(-60, 60),
    st.integers(1, 12),
    st.floats(0.7, 4),
    st.floats(0, 5),
    st.floats(0, 1),
)
def test_a_crown_never_adds_light_and_a_clear_one_takes_none(latitude, month, base, reach, by):
    bare = month_load(latitude, month)
    shaded = month_load(latitude, month, crown=Crown(base, reach, by))
    assert (shaded.total <= bare.total + 1e-9).all()
    clear = month_load(latitude, month, crown=Crown(base, reach, 1.0))
    assert clear.total == pytest.approx(bare.total)
    none = month_load(latitude, month, crown=Crown(base, 0.0, 0.0))
    assert none.total == pytest.approx(bare.total)


@given(st.floats(0.7, 3), st.floats(0.1, 2), st.floats(0.5, 4), st.floats(0, 0.9))
def test_lifting_or_thinning_a_crown_lets_more_in(base, lift, reach, by):
    low = month_load(36.6, 6, crown=Crown(base, reach, by)).of_day()
    lifted = month_load(36.6, 6, crown=Crown(base + lift, reach, by)).of_day()
    thinned = month_load(36.6, 6, crown=Crown(base, reach, min(1.0, by + 0.1))).of_day()
    assert (lifted >= low - 1e-9).all()
    assert (thinned >= low - 1e-9).all()


@pytest.mark.parametrize(
    ("base", "reach", "by"), [(-1, 1, 0.5), (1, -1, 0.5), (1, 1, 1.5), (1, 1, -0.1)]
)
def test_an_impossible_crown_is_refused(base, reach, by):
    with pytest.raises(ValueError, match="crown"):
        Crown(base, reach, by)
