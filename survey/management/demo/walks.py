"""When people came by: survey walks, second looks at trees found dead, and crew days."""

from datetime import date, timedelta

from survey.management.demo.plan import Plan

WALKS = ((5, 16), (7, 11), (9, 19), (1, 17))  # months of the north; January is the leaf-off walk
CREW = ((2, 18), (5, 20), (8, 12), (11, 19))
SECOND_LOOK = timedelta(days=33)  # a death is believed when two looks a month apart agree
SATURDAY = 5


def _shifted(month: int, south: bool) -> int:
    return (month + 5) % 12 + 1 if south else month


def _on_saturday(day: date) -> date:
    return day + timedelta(days=(SATURDAY - day.weekday()) % 7)


def walk_days(plan: Plan, site: str) -> list[date]:
    """The Saturdays on which this site was walked; the sites take turns by week."""
    turn = list(plan.sites).index(site) % 3
    days = []
    for year in range(plan.watched_since.year, plan.today.year + 1):
        for month, day in WALKS:
            if month == 1 and turn == 2:
                continue  # the far sites are not walked in the cold
            first = date(year, _shifted(month, plan.south), day)
            walk = _on_saturday(first) + timedelta(days=7 * turn)
            if plan.watched_since <= walk < plan.today:
                days.append(walk)
    return sorted(days)


def crew_days(plan: Plan) -> list[date]:
    """The days on which the crew takes dead trees away."""
    days = []
    for year in range(plan.watched_since.year, plan.today.year + 1):
        for month, day in CREW:
            moment = date(year, _shifted(month, plan.south), day)
            if plan.watched_since <= moment < plan.today:
                days.append(moment)
    return sorted(days)


def found_dead_on(plan: Plan, site: str, died_on: date) -> date | None:
    """The first walk that could see a death."""
    return next((day for day in walk_days(plan, site) if day >= died_on), None)
