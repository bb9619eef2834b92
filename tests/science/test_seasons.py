"""Whole months and second summers."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.science.seasons import (
    AgeRange,
    DatesBackwards,
    age_range,
    leaf_on_season,
    months_between,
    second_summer_end,
)


@pytest.mark.parametrize(
    ("planted", "north"),
    [
        (date(2023, 11, 5), date(2025, 9, 30)),
        (date(2024, 3, 20), date(2025, 9, 30)),
        (date(2024, 4, 1), date(2025, 9, 30)),
        (date(2024, 6, 30), date(2025, 9, 30)),  # three of the six months still to come: it counts
        (date(2024, 7, 1), date(2026, 9, 30)),  # fewer: it does not
        (date(2024, 7, 15), date(2026, 9, 30)),
        (date(2024, 9, 30), date(2026, 9, 30)),
        (date(2024, 10, 1), date(2026, 9, 30)),
        (date(2024, 12, 31), date(2026, 9, 30)),
        (date(2025, 1, 1), date(2026, 9, 30)),
        (date(2024, 2, 29), date(2025, 9, 30)),
    ],
)
def test_second_summer_in_the_north(planted, north):
    assert second_summer_end(planted, "north") == north


@pytest.mark.parametrize(
    ("planted", "south"),
    [
        (date(2023, 5, 10), date(2025, 3, 31)),
        (date(2023, 9, 30), date(2025, 3, 31)),
        (date(2023, 10, 1), date(2025, 3, 31)),
        (date(2023, 12, 31), date(2025, 3, 31)),
        (date(2024, 1, 1), date(2026, 3, 31)),
        (date(2024, 3, 31), date(2026, 3, 31)),
        (date(2024, 4, 1), date(2026, 3, 31)),
        (date(2024, 6, 15), date(2026, 3, 31)),
    ],
)
def test_second_summer_in_the_south(planted, south):
    assert second_summer_end(planted, "south") == south


@given(st.dates(date(1950, 1, 1), date(2100, 12, 31)), st.sampled_from(["north", "south"]))
def test_a_second_summer_ends_15_to_26_months_after_planting(planted, hemisphere):
    end = second_summer_end(planted, hemisphere)
    # planted in the last month that counts: 15 months; in the month after it: 26
    assert 15 <= months_between(planted, end) <= 26


@given(st.dates(date(1950, 1, 1), date(2100, 1, 1)))
def test_the_south_is_the_north_half_a_year_on(planted):
    first = planted.replace(day=1)
    later = date(first.year + (first.month + 5) // 12, (first.month + 5) % 12 + 1, 1)
    north, south = second_summer_end(first, "north"), second_summer_end(later, "south")
    assert months_between(north, south) == 6


def test_a_southern_season_runs_over_new_year():
    assert leaf_on_season(2024, "south") == (date(2024, 10, 1), date(2025, 3, 31))
    assert leaf_on_season(2024, "north") == (date(2024, 4, 1), date(2024, 9, 30))


@pytest.mark.parametrize(
    ("earlier", "later", "months"),
    [
        (date(2024, 3, 1), date(2024, 3, 31), 0),
        (date(2024, 3, 31), date(2024, 4, 1), 1),
        (date(2023, 11, 15), date(2025, 9, 30), 22),
        (date(2024, 2, 29), date(2025, 2, 28), 12),
        (date(2025, 1, 1), date(2024, 12, 31), -1),
    ],
)
def test_months_are_counted_from_month_to_month(earlier, later, months):
    found = months_between(earlier, later)
    assert found == months
    assert isinstance(found, float)


def test_a_planting_known_to_a_season_widens_the_age_at_both_ends():
    found = age_range(date(2023, 10, 1), date(2024, 3, 31), date(2025, 6, 10))
    assert found == AgeRange(least=15, most=20)


def test_a_planting_known_to_the_year_widens_by_eleven_months():
    found = age_range(date(2023, 1, 1), date(2023, 12, 31), date(2025, 6, 10))
    assert found == AgeRange(least=18, most=29)


def test_a_planting_known_to_the_month_has_one_age():
    assert age_range(date(2024, 3, 1), date(2024, 3, 31), date(2024, 9, 9)) == AgeRange(6, 6)


def test_a_look_while_the_planting_still_ran_is_at_least_age_zero():
    assert age_range(date(2023, 10, 1), date(2024, 3, 31), date(2023, 12, 1)) == AgeRange(0, 2)


@pytest.mark.parametrize(
    ("start", "end", "on"),
    [
        (date(2024, 3, 2), date(2024, 3, 1), date(2025, 1, 1)),
        (date(2024, 3, 1), date(2024, 3, 31), date(2024, 2, 29)),
    ],
)
def test_days_in_the_wrong_order_are_refused(start, end, on):
    with pytest.raises(DatesBackwards):
        age_range(start, end, on)
