"""Which lines of an order nobody was to do on a day, and why: what is written down as done on such
a line has its reason beside it."""

from collections.abc import Sequence
from datetime import date

from survey.workorders.doses import doses_of
from survey.workorders.facts import Known, known_of
from survey.workorders.holds import Holds
from survey.workorders.models import OrderLine, WorkOrder
from survey.workorders.problems import problems_of
from survey.workorders.wordings import reasons_said


def closed_lines(
    order: WorkOrder,
    lines: Sequence[OrderLine],
    day: date,
    *,
    holds: Holds | None = None,
    record: Known | None = None,
) -> dict[int, tuple[str, ...]]:
    """Why each closed or refused line was not to be done that day, by the line's primary key.

    `lines` come with tree, site and land manager. A refused dose that somebody trained has
    overruled is closed to nobody.
    """
    if record is None:
        record = known_of(order.area, [line.tree for line in lines])
    why: dict[int, dict[str, None]] = {}
    for problem in problems_of(order, lines=lines, day=day, holds=holds, record=record):
        for key in problem.lines if problem.blocking else ():
            why.setdefault(key, {})[problem.short or problem.text] = None
    for dose in doses_of(order, lines, record).values():
        for worked in dose.lines:
            line = worked.line
            if worked.refused and not line.overruled_because and line.pk not in why:
                why[line.pk] = {reasons_said(worked.refused.because): None}
    return {key: tuple(reasons) for key, reasons in why.items()}
