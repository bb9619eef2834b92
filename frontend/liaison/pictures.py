"""A group's and a site's numbers, as the charts want them."""

from collections.abc import Sequence
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from frontend.drawings.accounted import per_mark
from frontend.drawings.marks import dot, stroke
from frontend.drawings.pen import num, wrap
from frontend.liaison.reading import Rate, Reading, Row
from frontend.liaison.said import (
    accounted_said,
    each_mark_said,
    forecast_end,
    hundred,
    month_short,
    town_said,
    years_said,
)
from survey.condition.models import SiteMonth
from survey.condition.trend import shares_of
from survey.survival.models import Group
from survey.trees.models import Condition

MONTHS_SHOWN = 30
SAME_SEASON = 3  # months by which the ages at the end of a summer may differ to share its shade


def survival_chart(reading: Reading, desc: str) -> dict | None:
    """What `drawings.survival.survival` draws; None when no curve can be told."""
    if len(reading.curve) < 2:
        return None
    until = reading.curve[-1][0]
    told, second = reading.forecast, reading.second
    path = told.path if told else ()
    mark = None
    if not second.withheld and second.age <= until:
        mark = (second.age, second.at_least, second.from_age, second.at_most)
    return {
        "curve": reading.curve,
        "band": reading.band,
        "death": reading.death,
        "town": reading.town,
        "under_watch": reading.under_watch,
        "seasons": _seasons(reading, max(until, path[-1][0] if path else 0.0)),
        "mark": mark,
        "weighed": reading.weighed.line if reading.weighed else (),
        "weighed_at": reading.weighed.uprights if reading.weighed else (),
        "forecast": path,
        "title": _("Still standing, by age"),
        "desc": desc,
        "words": {
            "curve": _("still standing"),
            "curve_more": _("(every loss counts)"),
            "death": _("not dead"),
            "town": town_said(reading),
            "weighed": _("all evidence weighed"),
            "under_watch": _("under watch"),
            "lost": _("known lost so far"),
            "planted": _("planted"),
            "years": "|".join(years_said(year) for year in range(1, 41)),
            "dates": _dates(reading.planted),
            "shares": "|".join([_("none"), *(_("%d in 10") % n for n in (2, 4, 6, 8)), _("all")]),
            "scale": _("The scale does not begin at none."),
            "seen_to": _("looks end here"),
            "seen_to_more": _("looks end here; beyond it, a forecast"),
            "starts": _("watched from here on"),
            "mark": _mark_said(reading),
            "end": forecast_end(told) if told else "",
        },
    }


def _mark_said(reading: Reading) -> str:
    least, most = (hundred(reading.second.at_least), reading.second.at_most)
    if most == reading.second.at_least:
        return _("second summer: %d") % (least or 0)
    return _("second summer: at least %d") % (least or 0)


def _dates(planted: date | None) -> str:
    """The month of each birthday of trees that were planted in one month."""
    if planted is None:
        return ""
    # Leap days have no birthday in most years; the month is all that is said.
    first = planted.replace(day=1)
    return "|".join(month_short(first.replace(year=first.year + n)) for n in range(41))


def _seasons(reading: Reading, until: float) -> list[tuple[float, float, str]]:
    """The two summers that count, shaded; and those of the forecast after them, without words."""
    if reading.second_ages is None:
        return []
    start, end = reading.second_ages
    if end - start > SAME_SEASON:
        return []
    summers = [(end - 17, end - 12, _("first summer")), (end - 5, end, _("second summer"))]
    later = end + 12
    while later - 5 < until:
        summers.append((later - 5, later, ""))
        later += 12
    return [summer for summer in summers if summer[1] > 0 and summer[0] < until]


KINDS = {
    "alive": ("alive",),
    "stale": ("stale",),
    "died": ("standing_dead", "gone"),
    "removed": ("removed_health", "removed_other"),
    "unknown": ("unseen", "lost"),
    "never": ("never_planted",),
}
"""Which trees share a mark. Together they are all that are on the list."""


def accounted(group: Group) -> dict | None:
    """One mark a tree, or one for every ten of a large group; None for a group without trees."""
    statuses = group.counts["statuses"]
    counts = {kind: sum(statuses[name] for name in names) for kind, names in KINDS.items()}
    trees = sum(counts.values())
    if not trees:
        return None
    each = each_mark_said(per_mark(trees))
    return {
        "counts": counts,
        "title": _("Every tree accounted for"),
        "desc": each,
        "words": accounted_said(counts) | {"each": each},
    }


def range_picture(figure: Row, name: str, weighed: Rate | None = None) -> str:
    """The estimate of one group and its range on a line from none to all; below it, thinner, those
    of the other reading."""
    wide, middle, lower = 220, 9, 19

    def x(share: float) -> float:
        return 4 + (wide - 8) * share

    title = _("%(name)s: at least %(n)d of 100, somewhere between %(low)d and %(high)d") % {
        "name": name,
        "n": hundred(figure.at_least),
        "low": hundred(figure.low),
        "high": hundred(figure.high, up=True),
    }
    low, high = num(x(figure.low)), num(x(figure.high))
    marks = [
        f'<path class="c-grid" d="M{num(x(0))} {middle}L{num(x(1))} {middle}"/>',
        f'<path class="c-grid" d="M{num(x(0.5))} {middle - 4}L{num(x(0.5))} {middle + 4}"/>',
        f'<path class="c-range" d="M{low} {middle}L{high} {middle}"/>',
        f'<circle class="c-point" cx="{num(x(figure.at_least))}" cy="{middle}" r="4"/>',
    ]
    if figure.at_most != figure.at_least:
        marks.append(
            f'<circle class="c-point-open" cx="{num(x(figure.at_most))}" cy="{middle}" r="3.4"/>'
        )
    if weighed is None or weighed.share is None:
        return wrap("".join(marks), wide, 18, title=title, desc=title, kind="chart-drawing")
    title = _("%(first)s; all evidence weighed: about %(n)d, between %(low)d and %(high)d") % {
        "first": title,
        "n": round(weighed.share * 100),
        "low": hundred(weighed.low),
        "high": hundred(weighed.high, up=True),
    }
    ends = [x(weighed.low), x(weighed.high)]
    marks.append(stroke("c-weighed-limit", ends[0], lower, ends[1], lower))
    marks += [stroke("c-weighed-end", end, lower - 3, end, lower + 3) for end in ends]
    marks.append(dot("c-weighed-dot", x(weighed.share), lower, 2.6))
    return wrap("".join(marks), wide, 26, title=title, desc=title, kind="chart-drawing")


def trend_chart(months: Sequence[SiteMonth], name: str) -> dict | None:
    """What `charts.shares` draws of the newest months of a site."""
    shown = list(months)[-MONTHS_SHOWN:]
    if not shown:
        return None
    rows = []
    for place, condition in enumerate(Condition):
        values: list[tuple[float, float, float] | None] = []
        for month in shown:
            share = shares_of(month)[place]
            values.append((share.share, share.limits.low, share.limits.high) if month.n else None)
        rows.append((condition.value, str(condition.label), values))
    return {
        "months": [date_format(month.month, "M y") for month in shown],
        "looked": [month.n for month in shown],
        "rows": rows,
        "title": _("Condition by month at %s") % name,
        "desc": _("The share of trees in each condition at the end of each month, with its range."),
        "words": {"looked": _("trees counted"), "half": _("half")},
    }
