"""A row of months along the foot of a chart: a letter each where there is room, and the years."""

import math
from datetime import date

from django.utils.formats import date_format

from frontend.drawings.marks import stroke, written

LETTER = 12.0  # px a month needs for its letter
YEAR = 38.0  # px a year needs for its number


def month_of(start: date, months: int) -> date:
    """The first day of the month so many months later."""
    year, month = divmod(start.year * 12 + start.month - 1 + months, 12)
    return date(year, month + 1, 1)


def month_axis(
    start: date, months: int, left: float, right: float, y: float
) -> tuple[list[str], float]:
    """Words for `months` months from `start` on, evenly between left and right, from height y
    down; and the height where they end. Months too narrow for letters have ticks at their years.
    """
    step = (right - left) / max(1, months)
    out: list[str] = []

    def middle(i: int) -> float:
        return left + (i + 0.5) * step

    first = -(start.month - 1) % 12  # the first January
    januaries = list(range(first, months, 12))
    every = max(1, math.ceil(YEAR / (12 * step)))
    if step >= LETTER:
        for i in range(months):
            letter = date_format(month_of(start, i), "M")[:1].upper()
            out.append(written(middle(i), y + 14, letter, "c-mid c-soft"))
        y += 16
    else:
        out += [stroke("c-axis", left + i * step, y, left + i * step, y + 4) for i in januaries]
        y += 4
    named = [i for i in januaries if month_of(start, i).year % every == 0] or januaries[:1]
    named = sorted({0, *named})
    # The words of the first and the last year stay within the axis.
    places = {i: max(left + 14, min(middle(i), max(right - 14, left + 14))) for i in named}
    kept: list[float] = []
    for i in [*named[1:], 0]:  # the first year only where it leaves room for the others
        if all(abs(places[i] - x) >= YEAR - 2 for x in kept):
            kept.append(places[i])
        else:
            del places[i]
    for i, x in places.items():
        out.append(written(x, y + 14, month_of(start, i).year, "c-mid c-bold"))
    return out, y + 20
