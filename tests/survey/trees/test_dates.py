"""Dates known to the day, the month, the season or the year."""

from datetime import date

import pytest

from survey.trees.dates import bounds_of


@pytest.mark.parametrize(
    ("day", "precision", "first", "last"),
    [
        (date(2024, 2, 10), "day", date(2024, 2, 10), date(2024, 2, 10)),
        (date(2024, 2, 10), "month", date(2024, 2, 1), date(2024, 2, 29)),
        (date(2023, 2, 10), "month", date(2023, 2, 1), date(2023, 2, 28)),
        (date(2024, 1, 10), "season", date(2023, 12, 1), date(2024, 2, 29)),
        (date(2023, 12, 10), "season", date(2023, 12, 1), date(2024, 2, 29)),
        (date(2024, 3, 1), "season", date(2024, 3, 1), date(2024, 5, 31)),
        (date(2024, 11, 30), "season", date(2024, 9, 1), date(2024, 11, 30)),
        (date(2024, 7, 4), "year", date(2024, 1, 1), date(2024, 12, 31)),
    ],
)
def test_a_date_is_bounded_by_its_first_and_last_possible_day(day, precision, first, last):
    assert bounds_of(day, precision) == (first, last)


def test_a_precision_that_nobody_knows_is_refused():
    with pytest.raises(ValueError, match="no such precision"):
        bounds_of(date(2024, 1, 1), "decade")
