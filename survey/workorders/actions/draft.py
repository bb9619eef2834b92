"""Orders are drafted, changed, planned and dropped."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.handbook.book import book
from survey.people.models import Person
from survey.people.policy import may_plan_work
from survey.reports.actions.triage import mark_ordered, unmark_ordered
from survey.reports.models import Report
from survey.trees.models import Area, Tree
from survey.workorders.models import OrderLine, WorkOrder
from survey.workorders.orders import locked, subject_of
from survey.workorders.problem import Problem
from survey.workorders.problems import problems_of

Line = tuple[Tree, str, str]
"""A tree, a care code of the handbook, and a dose in words ("" = as the handbook says)."""

FIND_OUT, TAKE_DOWN, PLANT = "find_cause", "remove_dead_tree", "replace"
AFTER_TREES = {FIND_OUT, PLANT}
"""Care that still makes sense where a tree has left."""


def _check_lines(area: Area, lines: Sequence[Line], kept: Collection = ()) -> None:
    """Refuse lines that make no sense; `kept` are those that stood on the order before."""
    if not lines:
        raise ValidationError({"lines": _("An order needs a tree and a kind of care.")})
    seen = set()
    for tree, care, dose in lines:
        if tree.area_id != area.pk:
            raise ValidationError({"lines": _("%s is in another town.") % tree})
        if care not in book().care:
            raise ValidationError({"lines": _("Choose a kind of care from the list.")})
        if tree.left and care not in AFTER_TREES and (tree.pk, care) not in kept:
            raise ValidationError(
                {"lines": _("%s is not there any more: no such care can be given.") % tree}
            )
        if (tree.pk, care) in seen:
            raise ValidationError(
                {
                    "lines": _("“%(care)s” is on the order twice for %(tree)s.")
                    % {"care": _(book().care[care].label), "tree": tree}
                }
            )
        if len(dose) > 160:
            raise ValidationError({"lines": _("A dose has at most 160 letters.")})
        seen.add((tree.pk, care))


def _check_frame(why: str, who: str, window_from: date, window_to: date) -> None:
    if not why.strip():
        raise ValidationError({"why": _("Say why the work is needed.")})
    if who not in WorkOrder.Who.values:
        raise ValidationError({"who": _("Say who may do it.")})
    if window_to < window_from:
        raise ValidationError({"window_to": _("The last day comes before the first.")})


@transaction.atomic
def draft_order(
    *,
    area: Area,
    why: str,
    who: str,
    window_from: date,
    window_to: date,
    lines: Sequence[Line],
    by: Person,
    at: datetime,
    reports: Sequence[Report] = (),
    message: str = "",
    versions: Mapping[int, int] | None = None,
) -> WorkOrder:
    """Write a new order, and close the reports it answers with `message` to their neighbors.

    Orders of an area are numbered one after another. `versions` says, by the report's primary
    key, which version of each report was on the desk; a report that was decided meanwhile makes
    the whole draft fail with that room's error. A report that has an order already gets this one
    too. Raises ValidationError keyed by field, PermissionDenied.
    """
    if not may_plan_work(by):
        raise PermissionDenied
    _check_frame(why, who, window_from, window_to)
    if window_to < at.astimezone(ZoneInfo(area.time_zone)).date():
        raise ValidationError({"window_to": _("That window is over already.")})
    _check_lines(area, lines)
    Area.objects.select_for_update(no_key=True).get(pk=area.pk)
    last = WorkOrder.objects.filter(area=area).aggregate(n=Max("number"))["n"]
    order = WorkOrder(
        area=area,
        number=(last or 0) + 1,
        why=why.strip(),
        who=who,
        window_from=window_from,
        window_to=window_to,
        created_at=at,
        created_by=f"person:{by.key}",
    )
    order.full_clean()
    order.save()
    _put_lines(order, lines)
    for report in reports:
        _take_report(order, report, message, versions or {}, by, at)
    record(
        "order.drafted",
        subject=subject_of(order),
        by=by,
        at=at,
        lines=len(lines),
        reports=[str(report.client_ref) for report in reports],
    )
    return order


def _put_lines(order: WorkOrder, lines: Sequence[Line]) -> None:
    OrderLine.objects.bulk_create(
        OrderLine(order=order, tree=tree, care=care, dose=dose.strip())
        for tree, care, dose in lines
    )


def _take_report(
    order: WorkOrder,
    report: Report,
    message: str,
    versions: Mapping[int, int],
    by: Person,
    at: datetime,
) -> None:
    if report.area_id != order.area_id:
        raise ValidationError({"reports": _("That report is from another town.")})
    fresh = Report.objects.get(pk=report.pk)
    if fresh.state != Report.State.ORDERED:
        mark_ordered(
            report=fresh,
            version=versions.get(report.pk, fresh.version),
            reason=order.why,
            message=message,
            by=by,
            at=at,
        )
    order.reports.add(fresh)


def draft_dead_tree_orders(
    *,
    tree: Tree,
    why: str,
    window_from: date,
    window_to: date,
    by: Person,
    at: datetime,
    reports: Sequence[Report] = (),
    message: str = "",
    versions: Mapping[int, int] | None = None,
) -> tuple[WorkOrder, WorkOrder, WorkOrder]:
    """The three orders that a dead tree gets: find out why, take it down, plant another.

    Each has the people whom the handbook lets do it, and its own window and leave.
    """
    with transaction.atomic():
        return tuple(
            draft_order(
                area=tree.area,
                why=why,
                who=who,
                window_from=window_from,
                window_to=window_to,
                lines=[(tree, care, "")],
                reports=reports,
                message=message,
                versions=versions,
                by=by,
                at=at,
            )
            for care, who in (
                (FIND_OUT, WorkOrder.Who.VOLUNTEER),
                (TAKE_DOWN, WorkOrder.Who.CREW),
                (PLANT, WorkOrder.Who.CREW),
            )
        )


@transaction.atomic
def change_order(
    *,
    order: WorkOrder,
    version: int,
    why: str,
    who: str,
    window_from: date,
    window_to: date,
    lines: Sequence[Line],
    by: Person,
    at: datetime,
) -> WorkOrder:
    """Change an order that is not done. A planned one becomes a draft: its plan must be checked
    again. Raises Outdated when somebody else changed it first."""
    if not may_plan_work(by):
        raise PermissionDenied
    order = locked(order, version, WorkOrder.State.DRAFTED, WorkOrder.State.PLANNED)
    _check_frame(why, who, window_from, window_to)
    wanted = {(tree.pk, care): (tree, care, dose) for tree, care, dose in lines}
    kept = {(line.tree_id, line.care): line for line in order.lines.all()}
    _check_lines(order.area, lines, kept)
    for key, line in kept.items():
        if key not in wanted:
            line.delete()
        elif line.dose != wanted[key][2].strip():
            line.dose = wanted[key][2].strip()
            line.save(update_fields=["dose"])
    _put_lines(order, [line for key, line in wanted.items() if key not in kept])
    order.why, order.who = why.strip(), who
    order.window_from, order.window_to = window_from, window_to
    order.state = WorkOrder.State.DRAFTED
    order.version += 1
    order.full_clean()
    order.save()
    record("order.changed", subject=subject_of(order), by=by, at=at, lines=len(wanted))
    return order


class StandsInTheWay(ValidationError):
    """An order cannot be planned for that day. `problems` are all that were found, the worst
    first; the blocking ones are the messages of `planned_for`."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(
            {"planned_for": [problem.whole for problem in problems if problem.blocking]}
        )


@transaction.atomic
def plan_order(
    *,
    order: WorkOrder,
    version: int,
    planned_for: date,
    team: str,
    by: Person,
    at: datetime,
    utility_ticket: str = "",
    utility_ticket_until: date | None = None,
) -> WorkOrder:
    """Set the day and the people. Refused, with every reason, while something blocking stands in
    the way: open danger, missing leave, an unanswered utility ticket, the wrong people."""
    if not may_plan_work(by):
        raise PermissionDenied
    order = locked(order, version, WorkOrder.State.DRAFTED, WorkOrder.State.PLANNED)
    if not order.window_from <= planned_for <= order.window_to:
        raise ValidationError({"planned_for": _("Choose a day inside the window of the order.")})
    if planned_for < at.astimezone(ZoneInfo(order.area.time_zone)).date():
        raise ValidationError({"planned_for": _("That day is over already.")})
    if bool(utility_ticket.strip()) != bool(utility_ticket_until):
        raise ValidationError(
            {"utility_ticket": _("A ticket needs its number and its last day, both.")}
        )
    order.planned_for, order.team = planned_for, team.strip()
    order.utility_ticket = utility_ticket.strip()
    order.utility_ticket_until = utility_ticket_until
    problems = problems_of(order)
    if any(problem.blocking for problem in problems):
        raise StandsInTheWay(problems)
    order.state = WorkOrder.State.PLANNED
    order.version += 1
    order.full_clean()
    order.save()
    record("order.planned", subject=subject_of(order), by=by, at=at, day=planned_for.isoformat())
    return order


@transaction.atomic
def drop_order(
    *, order: WorkOrder, version: int, reason: str, by: Person, at: datetime
) -> WorkOrder:
    """Give an order up before it is done; the reports that only it answered are open again."""
    if not may_plan_work(by):
        raise PermissionDenied
    order = locked(order, version, WorkOrder.State.DRAFTED, WorkOrder.State.PLANNED)
    if not reason.strip():
        raise ValidationError({"reason": _("Say why, in a few words: the next person will ask.")})
    order.state = WorkOrder.State.DROPPED
    order.dropped_at, order.dropped_because = at, reason.strip()
    order.version += 1
    order.full_clean()
    order.save()
    for report in order.reports.all():
        others = report.orders.exclude(pk=order.pk).exclude(state=WorkOrder.State.DROPPED)
        if not others.exists():
            unmark_ordered(report=report, by=by, at=at)
    record("order.dropped", subject=subject_of(order), by=by, at=at, reason=reason.strip())
    return order
