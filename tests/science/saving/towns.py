"""Calendars and looks that the tests of the decision share."""

from datetime import date

from survey.science.saving.facts import Facts, Seen
from survey.science.saving.growing import Calendar

LINDEN = Calendar("north", frozenset({11, 12, 1, 2, 3, 4}), frozenset({10, 5}))
LINDEN_SOUTH = Calendar("south", frozenset({5, 6, 7, 8, 9, 10}), frozenset({4, 11}))
JACARANDA = Calendar("north", frozenset({2, 3, 4, 5}), frozenset({6}))
BUCKEYE = Calendar("north", frozenset({7, 8, 9, 10, 11, 12, 1, 2}), frozenset({6, 3}), True)
LIVE_OAK = Calendar("north")
PALO_VERDE = Calendar("north", bare_in_drought=True)

DAY = date(2026, 9, 1)


def seen(day, **what):
    return Seen(date.fromisoformat(day), **what)


def dead_visit(day, **what):
    """A visit that went over the whole tree and found nothing alive."""
    found = {"leaf": "bare", "scratch": "brown", "condition": "dead", "trained": True} | what
    return seen(day, **found)


def facts(*looks, day=DAY, calendar=LINDEN, **more):
    return Facts(day=day, calendar=calendar, looks=looks, **more)
