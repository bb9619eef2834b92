"""The numbers of a site by month, as charts take them: plain, and fit to be told in words."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from frontend.drawings.drawn import is_known, month_said, months_from

USUAL_FLOOR = 50.0  # the scale begins here unless something lies lower
YEAR = 12  # months without a look after which the line is drawn lighter


@dataclass(frozen=True, slots=True)
class OutlookMonth:
    """A site in one month: its outlook of 100 with band, the trees that stand of all that were
    planted, the looks made, and whether there was a walk survey. What is not a number is a gap.
    """

    month: date
    outlook: float
    low: float
    high: float
    standing: int
    trees: int
    looks: int
    surveyed: bool = False

    @property
    def is_known(self) -> bool:
        return all(is_known(value) for value in (self.outlook, self.low, self.high))


@dataclass(frozen=True, slots=True)
class Turning:
    """Since when the outlook has gone down, or up."""

    since: date
    down: bool = True

    def said(self, *, year: bool = True) -> str:
        """ "turned down since April 2026", or without the year."""
        words = _("turned down since %s") if self.down else _("turned up since %s")
        return words % (month_said(self.since) if year else date_format(self.since, "F"))


def floor_of(months: Sequence[OutlookMonth], levels: Mapping[str, float]) -> float:
    """Where the scale begins: at 50, or at the ten below the lowest of what is drawn."""
    lowest = min((m.low for m in months if m.is_known), default=100.0)
    named = sorted(levels.values(), reverse=True)[:3]
    lowest = min([lowest - 2, *(level - 2 for level in named)])
    return min(USUAL_FLOOR, max(0.0, math.floor(lowest / 10) * 10.0))


def unseen(months: Sequence[OutlookMonth]) -> list[bool]:
    """For each month, whether nobody had looked in the twelve months that end with it.

    Before the first month nothing is known, so the first eleven are never called that.
    """
    out, last = [], months[0].month if months else None
    for m in months:
        if m.looks > 0:
            last = m.month
            out.append(False)
        else:
            first = last == months[0].month and months[0].looks <= 0
            since = months_from(last, m.month) + (1 if first else 0)
            out.append(since >= YEAR)
    return out


def limits(m: OutlookMonth) -> tuple[int, int]:
    """The ends of the band as whole trees of 100, rounded outwards."""
    low, high = min(m.low, m.outlook), max(m.high, m.outlook)
    return max(0, math.floor(low + 1e-9)), min(100, math.ceil(high - 1e-9))


def range_said(m: OutlookMonth) -> str:
    """ "69 to 81"."""
    low, high = limits(m)
    return _("%(low)d to %(high)d") % {"low": low, "high": high}
