"""A group's and a site's numbers, as the charts want them."""

from collections.abc import Sequence

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.drawings.pen import num, wrap
from frontend.liaison.said import hundred
from survey.condition.models import SiteMonth
from survey.condition.trend import shares_of
from survey.survival.models import Figure, Group
from survey.trees.models import Condition

MONTHS_SHOWN = 30
SAME_SEASON = 3  # months by which the ages at the end of a summer may differ to share its shade
MARKS_SHOWN = 240  # trees: more than this are counted, not drawn one by one


def survival_chart(group: Group, second: Figure, desc: str) -> dict | None:
    """What `charts.survival` draws; None when no curve can be told."""
    rows = group.curves.get("loss")
    if not rows or len(rows) < 2:
        return None
    least = [(age, low) for age, low, *_ in rows]
    most = [(age, high) for age, _, high, *_ in rows]
    other = [(age, low) for age, low, *_ in group.curves.get("death", [])]
    until = rows[-1][0]
    start, end = group.curves["second_summer"]
    seasons = []
    if end - start <= SAME_SEASON:
        seasons = [
            (end - 17, end - 12, _("first summer")),
            (end - 5, end, _("second summer")),
        ]
    points = []
    if not second.withheld and second.age_months <= until:
        words = _("second summer: %d") % hundred(second.at_least)
        points = [(second.age_months, second.at_least, words)]
    watched = group.curves["under_watch"]
    return {
        "at_least": least,
        "at_most": most if most != least else (),
        "compare": other,
        "band": [(age, low, high) for age, _, _, low, high in rows],
        "at_risk": [(age, trees) for age, trees, _ in watched],
        "lost": [(age, lost) for age, _, lost in watched],
        "seasons": [season for season in seasons if season[1] > 0 and season[0] < until],
        "points": points,
        "seen_to": until,
        "title": _("Still standing, by age"),
        "desc": desc,
        "words": {
            "at_least": _("still standing, at least") if most != least else _("still standing"),
            "at_most": _("at most"),
            "compare": _("not dead, at least"),
            "at_risk": _("under watch"),
            "lost": _("known lost so far"),
            "planted": _("planted"),
            "years": "|".join(
                ngettext("%d year", "%d years", year) % year for year in range(1, 21)
            ),
            "shares": "|".join([_("none"), *(_("%d in 10") % n for n in (2, 4, 6, 8)), _("all")]),
            "seen_to": _("watched up to here"),
        },
    }


def accounted(group: Group) -> dict | None:
    """One mark a tree, for groups small enough to draw; None for the others."""
    statuses = group.counts["statuses"]
    if not 0 < group.counts["registered"] <= MARKS_SHOWN:
        return None
    alive = statuses["alive"]
    died = statuses["standing_dead"] + statuses["gone"]
    removed = statuses["removed_health"] + statuses["removed_other"]
    unknown = statuses["stale"] + statuses["unseen"] + statuses["lost"]
    desc = _("One mark for each tree on the list.")
    return {
        "alive": alive,
        "died": died,
        "removed": removed,
        "unknown": unknown,
        "title": _("Every tree accounted for"),
        "desc": desc,
        "words": {
            "alive": _("%d alive") % alive,
            "died": _("%d died") % died,
            "removed": _("%d removed alive") % removed,
            "unknown": _("%d not seen for a year, or not found") % unknown,
        },
    }


def range_picture(figure: Figure, name: str) -> str:
    """The estimate of one group and its range on a line from none to all."""
    wide, middle = 220, 9

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
    return wrap("".join(marks), wide, 18, title=title, desc=title, kind="chart-drawing")


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
