"""How a figure that was worked out is kept, whichever reading it belongs to."""

from survey.survival.figures import Told
from survey.survival.models import Figure, Group


def figure_of(group: Group, told: Told) -> Figure:
    """The row of one figure, not yet written."""
    return Figure(
        group=group,
        curve=told.curve,
        milestone=told.milestone,
        age_months=told.age,
        at_risk=told.at_risk,
        events=told.events,
        at_least=told.at_least,
        at_most=told.at_most,
        low=told.low,
        high=told.high,
        count_alive=told.alive,
        count_lost=told.lost,
        count_unknown=told.unknown,
        withheld=told.withheld,
    )
