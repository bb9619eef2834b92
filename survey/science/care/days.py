"""Days that lie whole months after another."""

import calendar
from datetime import date, datetime

from survey.science.care.records import Impossible


def months_after(day: date, months: int) -> date:
    """The same day of the month so many months later; the month's last day where it has none."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if not date.min.year <= year <= date.max.year:
        raise Impossible("day", "too_large")
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def a_day(field: str, day: date) -> date:
    """`day` if it is a plain day, or Impossible."""
    if not isinstance(day, date) or isinstance(day, datetime):
        raise Impossible(field, "no_day")
    return day
