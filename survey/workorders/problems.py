"""What speaks against an order: leave, tickets, season, the right people, open danger."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date

from django.utils.dates import MONTHS
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from survey.handbook.book import book
from survey.handbook.records import Care
from survey.reports.reference import report_name
from survey.trees.models import Area, LandManager, Permission, Site
from survey.workorders.closures import closures_of
from survey.workorders.facts import Known
from survey.workorders.holds import Holds, holds_in
from survey.workorders.models import OrderLine, WorkOrder
from survey.workorders.problem import Problem, day_said, tags_of

__all__ = ["PROFESSIONALS", "WORKERS", "Problem", "leaves_of", "problems_of"]

PROFESSIONALS = {WorkOrder.Who.ARBORIST, WorkOrder.Who.UTILITY}
"""Whom an open danger does not keep away: somebody has to go and end it."""

WORKERS = {
    WorkOrder.Who.VOLUNTEER: "volunteer",
    WorkOrder.Who.CREW: "crew",
    WorkOrder.Who.ARBORIST: "crew",
}
"""Which of a land manager's permissions covers whom; the utility comes by its own right."""


def problems_of(
    order: WorkOrder,
    *,
    lines: Iterable[OrderLine] | None = None,
    day: date | None = None,
    holds: Holds | None = None,
    leaves: Sequence[Permission] | None = None,
    record: Known | None = None,
) -> tuple[Problem, ...]:
    """What stands in the way of an order, the worst first.

    `day` is the day it is to be done, by default the planned one; without any, the whole window
    is judged. Pass `lines` (with tree, site and land manager), `holds`, `leaves` (by their first
    day) and `record` of its trees where they are at hand, as on a list of orders.
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
        *closures_of(order, lines, day, record),
    ]
    return tuple(sorted(found, key=lambda problem: not problem.blocking))


def _held(order: WorkOrder, lines: list[OrderLine], holds: Holds) -> Iterable[Problem]:
    held: dict[int, tuple] = {}
    keys: dict[int, list[int]] = {}
    for line in lines:
        if report := holds.on_tree(line.tree):
            held.setdefault(report.pk, (report, {}))[1][line.tree_id] = line.tree
            keys.setdefault(report.pk, []).append(line.pk)
    blocking = order.who not in PROFESSIONALS
    for report, trees in held.values():
        words = {
            "note": report_name(report),
            "danger": str(book().dangers[report.danger].label)
            if report.danger in book().dangers
            else report.danger,
            "tags": tags_of(trees.values()),
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
        opens = _("A qualified person clears the danger.")
        short = _("Open danger (%(note)s: %(danger)s).")
        closed = tuple(keys[report.pk])
        yield Problem("held", blocking, text % words, opens, lines=closed, short=short % words)


def _not_for_them(order: WorkOrder, lines: list[OrderLine]) -> Iterable[Problem]:
    for code in dict.fromkeys(line.care for line in lines):
        care = book().care.get(code)
        if care and order.who not in (*care.who, WorkOrder.Who.UTILITY):
            yield Problem(
                "not_for_them",
                True,
                _("%(care)s is not work for %(who)s.")
                % {"care": _(care.label), "who": order.get_who_display()},
                _("It is work for: %s.")
                % ", ".join(str(WorkOrder.Who(worker).label) for worker in care.who),
                code,
                tuple(line.pk for line in lines if line.care == code),
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
    of_site: dict[tuple[int, str], list[int]] = {}
    for line in lines:
        of_site.setdefault((line.tree.site_id, line.care), []).append(line.pk)
    for (owner, code), sites in wanted.items():
        if owner is None:
            unowned |= {site.pk: site for site in sites}
            continue
        mine = [p for p in leaves if p.land_manager_id == owner.pk and p.care == code]
        if problem := _missing_leave(order, owner, code, mine, first, last):
            yield replace(problem, lines=tuple(k for s in sites for k in of_site[s.pk, code]))
    for site in unowned.values():
        yield Problem(
            "no_land_manager",
            True,
            _("Nobody has written down who owns the ground at %s. Ask before any work.") % site,
            _("Write down the owner, and their leave for this work."),
            lines=tuple(
                key for (pk, code), keys in of_site.items() if pk == site.pk for key in keys
            ),
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
        return Problem("no_leave", True, text % words, _ask(owner), code)
    covered = _covered_until(leaves, first)
    if covered is None:
        later = [p.from_day for p in leaves if p.from_day > first]
        if later:
            words["day"] = day_said(min(later))
            text = _("Leave from %(owner)s for “%(care)s” begins on %(day)s.")
            opens = _("Choose a day from then on.")
            return Problem("leave_not_begun", min(later) > last, text % words, opens, code)
        words["day"] = day_said(max(p.to_day for p in leaves))
        text = _("Leave from %(owner)s for “%(care)s” ended on %(day)s.")
        return Problem("leave_ends", True, text % words, _ask(owner), code)
    if covered < last:
        words["day"] = day_said(covered)
        text = _("Leave from %(owner)s for “%(care)s” ends on %(day)s, before the last day.")
        return Problem("leave_ends", False, text % words, _ask(owner), code)
    return None


def _ask(owner: LandManager) -> str:
    """What to do about missing leave: whom to ask, and where it is written down."""
    if owner.phone:
        words = {"owner": owner.name, "phone": owner.phone}
        return _("%(owner)s says yes in writing; their line is %(phone)s.") % words
    return _("%s says yes in writing.") % owner.name


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
    closed = tuple(line.pk for line in lines if line.care in digging)
    if not order.utility_ticket or order.utility_ticket_until is None:
        labels = ", ".join(_(book().care[code].label) for code in digging)
        yield Problem(
            "needs_ticket",
            True,
            _("Digging needs an answered utility ticket first, valid on the day: %s.") % labels,
            _opens_digging(order.area),
            lines=closed,
        )
    elif order.utility_ticket_until < (day or order.window_from):
        yield Problem(
            "ticket_ends",
            True,
            _("The utility ticket ends on %s. Ask for a new one.")
            % day_said(order.utility_ticket_until),
            _opens_digging(order.area),
            lines=closed,
        )


def _opens_digging(area: Area) -> str:
    """When digging is open again: all utilities have answered, in writing, for that day."""
    words = {"line": area.utility_line or "811"}
    return (
        _(
            "Call %(line)s. Write down the ticket when all utilities have answered it. No paint "
            "marks is not leave to dig; private lines are not covered."
        )
        % words
    )


def _season(order: WorkOrder, lines: list[OrderLine], day: date | None) -> Iterable[Problem]:
    """Care whose months are closed. With a day it is refused, unless licensed people do it or
    somebody trained has overruled the dose with a reason."""
    months = _months(day or order.window_from, day or order.window_to)
    area = order.area
    for code in dict.fromkeys(line.care for line in lines):
        care = book().care.get(code)
        if care is None or any(care.in_season(m, area.hemisphere, area.climate) for m in months):
            continue
        these = [line for line in lines if line.care == code]
        bound = any(not line.overruled_because for line in these)
        yield Problem(
            "out_of_season",
            day is not None and bound and order.who not in PROFESSIONALS,
            ngettext(
                "“%(care)s” is out of season then (%(count)d tree).",
                "“%(care)s” is out of season then (%(count)d trees).",
                len(these),
            )
            % {"care": _(care.label), "count": len(these)},
            _("It is open in these months here: %s.") % months_said(care, area),
            code,
            tuple(line.pk for line in these),
        )


def months_said(care: Care, area: Area) -> str:
    """The months in which this town leaves a care open, in words and in the calendar's order."""
    hemisphere, climate = area.hemisphere, area.climate
    open_months = [m for m in range(1, 13) if care.in_season(m, hemisphere, climate)]
    if len(open_months) == 12:
        return str(_("all year"))
    return ", ".join(str(MONTHS[month]) for month in open_months)


def _months(first: date, last: date) -> list[int]:
    """The months that a window touches; all twelve for a year or more."""
    span = (last.year - first.year) * 12 + last.month - first.month
    return [(first.month - 1 + step) % 12 + 1 for step in range(min(span, 11) + 1)]
