"""When a trunk is coated at a place."""

from survey.science.sun import heat

NEAREST = 0.5
"""Degrees of latitude that share an answer: the sun does not change within them, and a town of
many trees is worked out once."""


def coat_months(latitude: float, last_frost_month: int | None = None) -> tuple[int, ...]:
    """The months in which a coat does most there, in the order in which they come."""
    near = round(latitude / NEAREST) * NEAREST
    return heat.coat_window(near, last_frost_month=last_frost_month).months
