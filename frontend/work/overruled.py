"""Who set a refusal or a dose of an order aside, when, and what was set aside."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from survey.audit.models import Entry
from survey.people.models import Person
from survey.workorders.models import OrderLine, WorkOrder
from survey.workorders.orders import subject_of
from survey.workorders.problem import Problem


@dataclass(slots=True)
class Overruled:
    """One reason that stands on an order. `what` is empty where nothing is refused today."""

    care: str
    because: str
    who: str
    when: datetime | None
    what: list[str] = field(default_factory=list)


def overruled_of(
    order: WorkOrder, lines: Iterable[OrderLine], problems: Sequence[Problem]
) -> list[Overruled]:
    """The reasons that stand on an order, each with its name and day. Two questions, or none."""
    standing: dict[tuple[str, str], tuple[str, list[int]]] = {}
    for line in lines:
        if line.overruled_because:
            key = line.care, line.overruled_because
            standing.setdefault(key, (line.overruled_by, []))[1].append(line.pk)
    if not standing:
        return []
    rows = Entry.objects.filter(subject=subject_of(order), act="order.dose_overruled")
    days = {(row.detail.get("care"), row.detail.get("because")): row.at for row in rows}
    keys = {who.partition(":")[2] for who, _lines in standing.values()}
    names = dict(Person.objects.filter(key__in=keys).values_list("key", "name"))
    return [
        Overruled(
            care=care,
            because=because,
            who=names.get(who.partition(":")[2], ""),
            when=days.get((care, because)),
            what=[
                problem.text
                for problem in problems
                if problem.care == care and set(problem.lines) & set(of)
            ],
        )
        for (care, because), (who, of) in standing.items()
    ]
