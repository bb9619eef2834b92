"""What speaks against an order: leave, tickets, season, the right people, open danger."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from survey.handbook.book import book
from survey.reports.reference import report_name
from survey.trees.models import LandManager, Permission, Site, Tree
from survey.workorders.holds import Holds, holds_in
from survey.workorders.models import OrderLine, WorkOrder

PROFESSIONALS = {WorkOrder.Who.ARBORIST, WorkOrder.Who.UTILITY}
"""Whom an open danger does not keep away: somebody has to go and end it."""

WORKERS = {
    WorkOrder.Who.VOLUNTEER: "volunteer",
    WorkOrder.Who.CREW: "crew",
    WorkOrder.Who.ARBORIST: "crew",
}
"""Which of a land manager's permissions covers whom; the utility comes by its own right."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is not in order. A blocking one must be settled before the work is planned."""

    code: str
    blocking: bool
    text: str


def _day(day: date) -> str:
    return date_format(day, "F j, Y")


def _tags(trees: Iterable[Tree]) -> str:
    return ", ".join(str(tree) for tree in trees)


def problems_of(
    order: WorkOrder,
    *,
    lines: Iterable[OrderLine] | None = None,
    day: date | None = None,
    holds: Holds | None = None,
    leaves: Sequence[Permission] | None = None,
) -> tuple[Problem, ...]:
    """What stands in the way of an order, the worst first.

    `day` is the day it is to be done, by default the planned one; without any, the whole window
    is judged. Pass `lines` (with tree, site and land manager), `holds` and `leaves` (by their first
    day) where they are at hand, as on a list of orders.
    """
    if lines is None:
        lines = order.lines.select_related("tree__site__land_manager")
    lines = [line for line in lines if line.outcome != OrderLine.Outcome.NOT_DONE]
    day = day or order.planned_for
    found = [
        *_held(order, lines, holds or holds_in(order.area)),
        *_not_for_them(order, lines),
        *_leave(order, lines, day, leaves),
        *_ticket(order, lines, day),
        *_season(order, lines, day),
    ]
    return tuple(sorted(found, key=lambda problem: not problem.blocking))


def _held(order: WorkOrder, lines: list[OrderLine], holds: Holds) -> Iterable[Problem]:
    held: dict[int, tuple] = {}
    for line in lines:
        if report := holds.on_tree(line.tree):
            held.setdefault(report.pk, (report, {}))[1][line.tree_id] = line.tree
    blocking = order.who not in PROFESSIONALS
    for report, trees in held.values():
        words = {
            "note": report_name(report),
            "danger": str(book().dangers[report.danger].label)
            if report.danger in book().dangers
            else report.danger,
            "tags": _tags(trees.values()),
        }
        text = (
            _(
                "Open danger (%(note)s: %(danger)s). Nobody goes to %(tags)s "
                "until a qualified person has cleared it."
            )
            if blocking
            else _(
                "Open danger (%(note)s: %(danger)s) at %(tags)s. Only the professionals "
                "of this order go near."
            )
        )
        yield Problem("held", blocking, text % words)


def _not_for_them(order: WorkOrder, lines: list[OrderLine]) -> Iterable[Problem]:
    for code in dict.fromkeys(line.care for line in lines):
        care = book().care.get(code)
        if care and order.who not in (*care.who, WorkOrder.Who.UTILITY):
            yield Problem(
                "not_for_them",
                True,
                _("%(care)s is not work for %(who)s.")
                % {"care": _(care.label), "who": order.get_who_display()},
            )


def _leave(
    order: WorkOrder,
    lines: list[OrderLine],
    day: date | None,
    leaves: Sequence[Permission] | None,
) -> Iterable[Problem]:
    if order.who not in WORKERS:
        return
    first, last = (day, day) if day else (order.window_from, order.window_to)
    wanted: dict[tuple[LandManager | None, str], list[Site]] = {}
    for line in lines:
        care = book().care.get(line.care)
        if care is None or care.needs_permission:
            key = (line.tree.site.land_manager, line.care)
            sites = wanted.setdefault(key, [])
            if line.tree.site not in sites:
                sites.append(line.tree.site)
    if leaves is None:
        owners = {owner for owner, _care in wanted if owner}
        leaves = leaves_of(owners) if owners else []
    covering = {WORKERS[order.who], Permission.Who.ANYBODY}
    leaves = [leave for leave in leaves if leave.who in covering]
    unowned: dict[int, Site] = {}
    for (owner, code), sites in wanted.items():
        if owner is None:
            unowned |= {site.pk: site for site in sites}
            continue
        mine = [p for p in leaves if p.land_manager_id == owner.pk and p.care == code]
        if problem := _missing_leave(order, owner, code, mine, first, last):
            yield problem
    for site in unowned.values():
        yield Problem(
            "no_land_manager",
            True,
            _("Nobody has written down who owns the ground at %s. Ask before any work.") % site,
        )


def leaves_of(owners: Iterable[LandManager]) -> list[Permission]:
    """What these land managers have allowed, by the first day of each leave."""
    return list(Permission.objects.filter(land_manager__in=owners).order_by("from_day", "pk"))


def _missing_leave(
    order: WorkOrder,
    owner: LandManager,
    code: str,
    leaves: list[Permission],
    first: date,
    last: date,
) -> Problem | None:
    care = book().care.get(code)
    words = {"owner": owner.name, "care": _(care.label) if care else code}
    words["who"] = order.get_who_display()
    if not leaves:
        text = _("%(owner)s has not given leave: “%(care)s” by %(who)s.")
        return Problem("no_leave", True, text % words)
    covered = _covered_until(leaves, first)
    if covered is None:
        later = [p.from_day for p in leaves if p.from_day > first]
        if later:
            words["day"] = _day(min(later))
            text = _("Leave from %(owner)s for “%(care)s” begins on %(day)s.")
            return Problem("leave_not_begun", min(later) > last, text % words)
        words["day"] = _day(max(p.to_day for p in leaves))
        text = _("Leave from %(owner)s for “%(care)s” ended on %(day)s.")
        return Problem("leave_ends", True, text % words)
    if covered < last:
        words["day"] = _day(covered)
        text = _("Leave from %(owner)s for “%(care)s” ends on %(day)s, before the last day.")
        return Problem("leave_ends", False, text % words)
    return None


def _covered_until(leaves: list[Permission], first: date) -> date | None:
    """Until when leave lasts without a gap from `first` on; None when it does not hold then."""
    until = None
    for leave in leaves:  # by their first days
        reached = first if until is None else date.fromordinal(until.toordinal() + 1)
        if leave.from_day <= reached <= leave.to_day:
            until = leave.to_day
    return until


def _ticket(order: WorkOrder, lines: list[OrderLine], day: date | None) -> Iterable[Problem]:
    digging = [
        code
        for code in dict.fromkeys(line.care for line in lines)
        if code in book().care and book().care[code].needs_utility_ticket
    ]
    if not digging or order.who == WorkOrder.Who.UTILITY:
        return
    if not order.utility_ticket or order.utility_ticket_until is None:
        labels = ", ".join(_(book().care[code].label) for code in digging)
        yield Problem(
            "needs_ticket",
            True,
            _("Digging needs an answered utility ticket first, valid on the day: %s.") % labels,
        )
    elif order.utility_ticket_until < (day or order.window_from):
        yield Problem(
            "ticket_ends",
            True,
            _("The utility ticket ends on %s. Ask for a new one.")
            % _day(order.utility_ticket_until),
        )


def _season(order: WorkOrder, lines: list[OrderLine], day: date | None) -> Iterable[Problem]:
    months = _months(day or order.window_from, day or order.window_to)
    for code in dict.fromkeys(line.care for line in lines):
        care = book().care.get(code)
        if care is None or any(care.in_season(m, order.area.hemisphere) for m in months):
            continue
        count = sum(line.care == code for line in lines)
        yield Problem(
            "out_of_season",
            False,
            ngettext(
                "“%(care)s” is out of season then (%(count)d tree).",
                "“%(care)s” is out of season then (%(count)d trees).",
                count,
            )
            % {"care": _(care.label), "count": count},
        )


def _months(first: date, last: date) -> list[int]:
    """The months that a window touches; all twelve for a year or more."""
    span = (last.year - first.year) * 12 + last.month - first.month
    return [(first.month - 1 + step) % 12 + 1 for step in range(min(span, 11) + 1)]
