"""Where the sun stands: against printed tables and examples, and against a solar library."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib import solarposition

from survey.science.sun.position import NoSuchSun, day_of_month, declination, path

# Klein 1977, Solar Energy 19:325-329; table 1.6.1 of Duffie & Beckman, Solar Engineering of Thermal
# Processes. Figures from memory.
KLEIN = (-20.9, -13.0, -2.4, 9.4, 18.8, 23.1, 21.2, 13.5, 2.2, -9.6, -18.9, -23.0)


@pytest.mark.parametrize(("month", "degrees"), list(enumerate(KLEIN, start=1)))
def test_the_declination_of_the_average_days_is_the_printed_one(month, degrees):
    # the table takes Cooper's one-term formula, which is 1.0 degrees off in October
    assert declination(day_of_month(month)) == pytest.approx(degrees, abs=1.1)


@pytest.mark.parametrize(
    ("day", "hour", "zenith", "from_south"),
    [
        # Duffie & Beckman, example 1.6.2, latitude 43: 13 February 9:30 and 1 July 18:30 solar
        # time; figures from memory, printed with Cooper's declination
        (44, 9.5, 66.5, -40.0),
        (182, 18.5, 79.6, 112.0),
    ],
)
def test_the_sun_stands_where_the_printed_example_puts_it(day, hour, zenith, from_south):
    sun = path(43.0, day, [hour])
    assert 90 - sun.elevation[0] == pytest.approx(zenith, abs=0.8)
    assert sun.azimuth[0] - 180 == pytest.approx(from_south, abs=0.8)


@pytest.mark.parametrize("latitude", [-65.0, -37.0, -5.0, 0.0, 14.0, 36.6, 52.0, 70.0])
@pytest.mark.parametrize("date", ["2026-01-17", "2026-03-21", "2026-06-21", "2026-09-15"])
def test_the_sun_stands_where_the_solar_library_puts_it(latitude, date):
    moments = pd.date_range(f"{date} 00:15", periods=48, freq="30min", tz="UTC")
    told = solarposition.get_solarposition(moments, latitude, 0.0, pressure=0, temperature=0)
    turned = solarposition.hour_angle(moments, 0.0, told["equation_of_time"])
    ours = path(latitude, moments[0].dayofyear, 12.0 + np.asarray(turned) / 15.0)
    # ours holds the declination of noon; at the equinoxes it moves 0.2 degrees in half a day
    assert ours.elevation == pytest.approx(told["elevation"].to_numpy(), abs=0.3)
    # the bearing of a sun near the zenith or below the ground says nothing
    tell = (told["elevation"].to_numpy() > 0) & (told["elevation"].to_numpy() < 80)
    apart = (ours.azimuth - told["azimuth"].to_numpy() + 180) % 360 - 180
    assert (np.abs(apart[tell]) < 1.0).all()
    assert tell.any() or latitude > 66, "only a polar night has nothing to compare"


@given(st.floats(-66, 66), st.integers(1, 365), st.floats(0, 12))
def test_morning_and_afternoon_mirror_each_other(latitude, day, before_noon):
    sun = path(latitude, day, [12 - before_noon, 12 + before_noon])
    assert sun.elevation[0] == pytest.approx(sun.elevation[1], abs=1e-9)


@given(st.floats(-90, 90), st.integers(1, 365))
def test_the_noon_sun_is_never_higher_than_latitude_and_declination_allow(latitude, day):
    top = path(latitude, day, [12.0]).elevation[0]
    assert top == pytest.approx(90 - abs(latitude - declination(day)), abs=1e-6)


@pytest.mark.parametrize(
    ("latitude", "day"), [(91, 10), (-90.5, 10), (float("nan"), 10), (37, 0), (37, 367)]
)
def test_a_place_off_the_earth_and_a_day_outside_the_year_are_refused(latitude, day):
    with pytest.raises(NoSuchSun, match="not"):
        path(latitude, day, [12])


@pytest.mark.parametrize("month", [0, 13, -1])
def test_a_month_outside_the_calendar_is_refused(month):
    with pytest.raises(NoSuchSun, match="1 to 12"):
        day_of_month(month)
