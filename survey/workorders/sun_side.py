"""Where and when the sun hurts a trunk at a place: the one call to `survey.science.sun`."""

from survey.science.care.coat import SIDES
from survey.science.sun import heat

NEAREST = 0.5
"""Degrees of latitude that share an answer: the sun does not change within them, and a town of
many trees is worked out once."""


def sides_at_risk(latitude: float) -> tuple[str, ...]:
    """The sides of a trunk that the sun burns at this latitude, as eighths of the compass."""
    return tuple(SIDES[bearing // 45] for bearing in heat.sunny_sides(_near(latitude)))


def coat_months(latitude: float, last_frost_month: int | None = None) -> tuple[int, ...]:
    """The months in which a coat does most there, in the order in which they come."""
    return heat.coat_window(_near(latitude), last_frost_month=last_frost_month).months


def _near(latitude: float) -> float:
    return round(latitude / NEAREST) * NEAREST
