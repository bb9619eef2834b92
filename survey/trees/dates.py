"""Dates that are known to the day, the month, the season or the year, as two days."""

from calendar import monthrange
from datetime import date, timedelta

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from survey.trees.models import Precision


def bounds_of(day: date, precision: str) -> tuple[date, date]:
    """The first and last possible day of something that was on about this day.

    A season is three months of weather: December to February, March to May, and so on.
    Raises ValueError for a precision that is not known.
    """
    match precision:
        case Precision.DAY:
            return day, day
        case Precision.MONTH:
            first = day.replace(day=1)
            return first, first + timedelta(days=monthrange(day.year, day.month)[1] - 1)
        case Precision.SEASON:
            start = day.month - day.month % 3
            year = day.year if start else day.year - 1
            first = date(year, start or 12, 1)
            after = date(first.year + (first.month + 3 > 12), (first.month + 2) % 12 + 1, 1)
            return first, after - timedelta(days=1)
        case Precision.YEAR:
            return date(day.year, 1, 1), date(day.year, 12, 31)
    raise ValueError(f"no such precision: {precision!r}")


def check_dates(
    prefix: str,
    start: date,
    end: date,
    precision: str,
    *,
    today: date,
    not_before: date | None = None,
) -> None:
    """Refuse two days that cannot bound one: keyed by the field `<prefix>_from` or `_to`."""
    first, last = f"{prefix}_from", f"{prefix}_to"
    if start > today:
        raise ValidationError({first: _("That day has not come yet.")})
    if end < start:
        raise ValidationError({last: _("The last day comes before the first.")})
    if precision not in Precision.values:
        raise ValidationError({f"{prefix}_precision": _("Say how well the date is known.")})
    if precision == Precision.DAY and end != start:
        raise ValidationError({last: _("A date known to the day has one day only.")})
    if not_before is not None and end < not_before:
        raise ValidationError({last: _("That is before the tree was planted.")})
