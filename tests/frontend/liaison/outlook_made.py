"""Outlooks as they are stored, made by hand."""

from datetime import date

from survey.trees.models import Planting, Site
from tests.survey import belief_rows

SHARES = [0.4, 0.3, 0.2, 0.05, 0.04, 0.01]


def month(year, at, outlook=84.0, *, low=None, high=None, looks=3, surveyed=True, trees=14):
    low = outlook - 6 if low is None else low
    high = outlook + 6 if high is None else high
    day = date(year, at, 1).isoformat()
    return [day, outlook, low, high, trees - 1, trees, looks, surveyed, SHARES]


def a_year_down(**more):
    """June 2025 to June 2026: 90, then 84 until March, 80 in April, 77, 75."""
    months = [month(2025, 6, 90.0, **more)]
    months += [month(2025, at, 84.0, **more) for at in range(7, 13)]
    months += [month(2026, at, 84.0, **more) for at in range(1, 4)]
    return months + [month(2026, at, n, **more) for at, n in ((4, 80.0), (5, 77.0), (6, 75.0))]


def outlook_of(place, months=None, rounds=(), **more):
    """The stored outlook of a site, a planting, or (by its code) a species of the home town."""
    months = a_year_down() if months is None else months
    last = months[-1]
    kind = {Site: "site", Planting: "planting"}.get(type(place), "species")
    named = {"by": kind, "key": place, "label": place}
    if kind != "species":
        named |= {"key": place.ref, "label": place.name, "area": place.area}
    figures = {"outlook": last[1], "low": last[2], "high": last[3], "trees": last[5]}
    return belief_rows.outlook(
        **named
        | figures
        | {"standing": last[4], "surveyed": last[7], "month": date.fromisoformat(last[0])}
        | {"months": months, "rounds": list(rounds)}
        | more
    )
