"""Why an order may not be done on a day, each with what opens it again."""

from datetime import date

from survey.workorders.models import WorkOrder
from survey.workorders.problem import Problem
from survey.workorders.problems import problems_of


def refusals_of(order: WorkOrder, day: date) -> tuple[Problem, ...]:
    """What refuses this order on this day; empty when nothing does.

    Danger, hands, leave, tickets, season, and the facts that close a kind of care. Warnings that
    refuse nothing are not among them.
    """
    return tuple(problem for problem in problems_of(order, day=day) if problem.blocking)
