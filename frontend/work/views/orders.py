"""Orders as a timetable, and one order on its page."""

from dataclasses import dataclass, field
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.places import area_of, asked, home_area
from frontend.work.dosing import chips_of, put_on_said, sums_of, system_of, to_bring
from frontend.work.looks_due import looks_due
from frontend.work.overruled import overruled_of
from frontend.work.reading import (
    caution_groups,
    labels_of,
    parts_of,
    sentence_of,
    sites_of,
    trees_of,
)
from frontend.work.ring import section_of
from survey.people.policy import (
    may_do_work,
    may_plan_work,
    may_register_trees,
    may_see_orders,
    may_triage,
)
from survey.reports.models import Report
from survey.trees.models import LandManager, Site, Tree
from survey.trees.species import kinds_in
from survey.workorders.doses import doses_of
from survey.workorders.facts import Known, known_of
from survey.workorders.holds import Holds, holds_in
from survey.workorders.models import OrderLine, WorkOrder
from survey.workorders.not_given import withheld_of
from survey.workorders.problems import PROFESSIONALS, Problem, leaves_of, problems_of

A_PAGE = 30
MOST_NUMBER = 2**31 - 1  # what the column holds
STATES = {
    "open": (_("all that is still to do"), ["drafted", "planned", "done"]),
    "drafted": (_("drafted"), ["drafted"]),
    "planned": (_("planned"), ["planned"]),
    "done": (_("done, not yet seen again"), ["done"]),
    "confirmed": (_("confirmed"), ["confirmed"]),
    "dropped": (_("dropped"), ["dropped"]),
    "every": (_("every order"), ["drafted", "planned", "done", "confirmed", "dropped"]),
}
OPEN = {WorkOrder.State.DRAFTED, WorkOrder.State.PLANNED}


@dataclass(slots=True)
class Row:
    """One order in the timetable."""

    order: WorkOrder
    lines: list[OrderLine]
    problems: tuple[Problem, ...]
    care: str
    sites: list[Site]
    count: int

    @property
    def first_problem(self) -> Problem | None:
        return self.problems[0] if self.problems else None


@dataclass(slots=True)
class Band:
    """Orders that are in the list for the same reason."""

    key: str
    title: str
    why: str
    rows: list[Row] = field(default_factory=list)


def _bands() -> list[Band]:
    return [
        Band("danger", _("Danger"), _("nobody goes near until a qualified person clears it")),
        Band("missing", _("Something is missing"), _("leave, ticket or the right people")),
        Band("drafted", _("Ready to be planned"), _("the window that closes first")),
        Band("planned", _("Planned"), _("the next day first")),
        Band("look", _("A look is due"), _("did it work? look again")),
        Band("done", _("Done"), _("waiting for its look")),
        Band("confirmed", _("Confirmed"), _("done and seen again")),
        Band("dropped", _("Dropped"), _("given up, with the reason")),
    ]


def _band_of(row: Row, today) -> str:
    order = row.order
    if order.state not in OPEN:
        if order.state == WorkOrder.State.DONE and order.look_due and order.look_due <= today:
            return "look"
        return order.state
    if any(problem.code == "held" and problem.blocking for problem in row.problems):
        return "danger"
    if any(problem.blocking for problem in row.problems):
        return "missing"
    return order.state


def _row(order: WorkOrder, holds: Holds, leaves, record: Known) -> Row:
    lines = list(order.lines.all())
    problems = ()
    if order.state in OPEN:
        problems = problems_of(order, lines=lines, holds=holds, leaves=leaves, record=record)
    return Row(
        order=order,
        lines=lines,
        problems=problems,
        care=labels_of(parts_of(lines)),
        sites=sites_of(lines),
        count=len(trees_of(lines)),
    )


@only(may_see_orders)
@require_safe
def orders(request):
    """Orders by what they wait for. The sentence of filters is the address of the page."""
    area = area_of(request)
    state = request.GET.get("state", "open")
    state = state if state in STATES else "open"
    site = Site.objects.filter(area=area, ref=asked(request, "site")).first()
    found = WorkOrder.objects.filter(area=area, state__in=STATES[state][1]).with_lines()
    if site is not None:
        found = found.filter(pk__in=OrderLine.objects.filter(tree__site=site).values("order"))
    newest = state in ("confirmed", "dropped", "every")
    found = found.order_by("-number") if newest else found.order_by("window_to", "number")
    page = Paginator(found, A_PAGE).get_page(request.GET.get("page"))
    owners = LandManager.objects.filter(sites__area=area).distinct()
    holds, leaves = holds_in(area), leaves_of(owners)
    today = area.today()
    bands = {band.key: band for band in _bands()}
    shown = [order for order in page.object_list if order.state in OPEN]
    record = known_of(area, (line.tree for order in shown for line in order.lines.all()))
    for order in page.object_list:
        row = _row(order, holds, leaves, record)
        bands[_band_of(row, today)].rows.append(row)
    kept = [("state", state), *([("site", site.ref)] if site else [])]
    context = {
        "area": area,
        "person": request.user,
        "nav": "orders",
        "bands": [band for band in bands.values() if band.rows],
        "page": page,
        "query": urlencode(kept),
        "state": state,
        "states": [(key, label) for key, (label, _states) in STATES.items()],
        "site": site,
        "sites": Site.objects.filter(area=area),
        "unplaced": holds.unplaced,
        "dangers": len(bands["danger"].rows),
        "may_plan": may_plan_work(request.user),
        "may_triage": may_triage(request.user),
        "today": today,
    }
    return render(request, "frontend/work/orders.html", context)


def order_or_404(number: int) -> WorkOrder:
    if number > MOST_NUMBER:
        raise Http404
    return get_object_or_404(
        WorkOrder.objects.select_related("area"), area=home_area(), number=number
    )


def lines_of(order: WorkOrder) -> list[OrderLine]:
    return list(
        order.lines.select_related(
            "tree__site__land_manager",
            "tree__area",
            "tree__replaced_by",
            "look",
            "given__coat",
            "given__feed",
        ).order_by("tree__site__name", "tree__walk_order", "pk")
    )


def frame(request, order: WorkOrder, **more) -> dict:
    """What every page of one order shows."""
    lines = lines_of(order)
    parts = parts_of(lines)
    kinds = kinds_in(order.area)
    for line in lines:
        kind = kinds.get(line.tree.species)
        line.kind_name = line.tree.kind_name = kind.name if kind else line.tree.species
    holds = holds_in(order.area)
    trees: list[Tree] = trees_of(lines)
    record = known_of(order.area, trees)
    held = holds.on_any(trees)
    problems = ()
    if order.state in OPEN:
        problems = problems_of(order, lines=lines, holds=holds, record=record)
    return {
        "area": order.area,
        "person": request.user,
        "nav": "orders",
        "order": order,
        "lines": lines,
        "parts": parts,
        "trees": trees,
        "sites": sites_of(lines),
        "record": record,
        "caution_groups": caution_groups(parts),
        "sentence": sentence_of(order, lines),
        "held": held,
        "dangers": list({report.pk: report for report in held.values()}.values()),
        "problems": problems,
        "reports": order.reports.all(),
        "may_plan": may_plan_work(request.user),
        "may_do": may_do_work(request.user),
        "may_triage": may_triage(request.user),
        "may_register": may_register_trees(request.user),
        "is_open": order.state in OPEN,
        "today": order.area.today(),
        **more,
    }


def _below(request, order: WorkOrder) -> Report | None:
    """The note at the desk that comes after the one this order was just drafted from."""
    key = request.GET.get("below", "")
    if not key.isascii() or not key.isdecimal() or len(key) > 18:
        return None
    return Report.objects.filter(area=order.area_id).on_the_desk().filter(pk=int(key)).first()


def closed_to(order: WorkOrder, held) -> set[int]:
    """The keys of the trees to which the people of an order do not go now."""
    return set() if order.who in PROFESSIONALS else set(held)


def with_doses(request, order: WorkOrder, context: dict) -> dict:
    """Adds the worked doses, what is not given, and what to bring, in the reader's units."""
    system = system_of(request.user, order.area)
    parts = context["parts"]
    doses = doses_of(order, context["lines"], context["record"], closed_to(order, context["held"]))
    sums = sums_of(parts, doses, system)
    for part in parts:
        part.sum = sums.get(part.code)
    day = order.planned_for or max(order.window_from, context["today"])
    return context | {
        "system": system,
        "doses": doses,
        "withheld": withheld_of(
            [part.code for part in parts], context["record"], context["trees"], day
        ),
        "bring": to_bring(parts, doses, system),
        "chips": chips_of(doses.get("mulch_ring")),
        "needs_ticket": any(part.care and part.care.needs_utility_ticket for part in parts),
    }


@only(may_see_orders)
@require_safe
def order(request, number):
    """One order, worked like a sum, with its cautions first and what stands in its way."""
    found = order_or_404(number)
    context = with_doses(request, found, frame(request, found))
    if context["may_triage"]:
        context["below"] = _below(request, found)
    context["section"] = section_of(context["doses"].get("mulch_ring"), context["system"])
    for line in context["lines"]:
        line.put_on = put_on_said(line, context["system"])
    context["overruled"] = overruled_of(found, context["lines"], context["problems"])
    context["looks_due"] = looks_due(found, context["today"])
    context["states"] = [
        (state, WorkOrder.State(state).label)
        for state in ("drafted", "planned", "done", "confirmed")
        if found.state != "dropped" or state == "drafted"
    ]
    return render(request, "frontend/work/order.html", context)
