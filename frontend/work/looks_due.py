"""The looks that will say whether an order worked, with their days."""

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from survey.science.seasons import leaf_on_season
from survey.workorders.followup import LOOK_DUE
from survey.workorders.models import WorkOrder


@dataclass(frozen=True, slots=True)
class Step:
    """One day on the line from the work to the last look; `over` when it lies behind."""

    day: date
    what: str
    over: bool


def looks_due(order: WorkOrder, today: date) -> list[Step]:
    """The work, the look four to six weeks later, and the look at the next leaf-on.

    Before anybody has planned a day there is nothing to count from: the list is empty.
    """
    work = order.done_on or order.planned_for
    if work is None or order.state == WorkOrder.State.DROPPED:
        return []
    first = order.look_due or work + LOOK_DUE
    opens = next(
        start
        for year in range(work.year - 1, work.year + 3)
        if (start := leaf_on_season(year, order.area.hemisphere)[0]) > first
    )
    # Leaves are out a month after the season opens; before that a bare tree is no news.
    leaf_on = date(opens.year, opens.month + 1, opens.day)
    days = [
        (work, _("the work")),
        (first, _("look again: photo, bark measured")),
        (leaf_on, _("in leaf: look again")),
    ]
    return [Step(day, what, day < today) for day, what in days]
