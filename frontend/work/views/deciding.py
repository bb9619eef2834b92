"""Forms that change an order: draft, change, plan, done, drop."""

from datetime import date

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from frontend.access import only
from frontend.desk.sayings import suggestion
from frontend.field.errors import put_errors
from frontend.field.photos import photos_of
from frontend.places import asked, home_area
from frontend.work.dosing import system_of
from frontend.work.forms import ChangeForm, DoneForm, DropForm, OrderForm, PlanForm
from frontend.work.put_on import planned_coat
from frontend.work.reading import trees_of
from frontend.work.views.orders import frame, lines_of, order_or_404
from survey.audit.outdated import Outdated
from survey.people.policy import may_do_work, may_plan_work
from survey.photos.models import Photo
from survey.reports import queue
from survey.reports.models import Report
from survey.trees.models import Site, Tree
from survey.trees.species import kinds_in
from survey.workorders.actions import (
    StandsInTheWay,
    change_order,
    draft_dead_tree_orders,
    draft_order,
    drop_order,
    plan_order,
    report_done,
)
from survey.workorders.closed_lines import closed_lines
from survey.workorders.doses import doses_of
from survey.workorders.facts import known_of
from survey.workorders.holds import holds_in

FORM = ["GET", "HEAD", "POST"]


def _named(request, model, name: str, field: str, **more):
    """The row that a parameter names; None without the parameter, 404 for a wrong one."""
    value = asked(request, name)
    if not value:
        return None
    if field == "pk" and not (value.isdecimal() and len(value) < 19):
        raise Http404
    return get_object_or_404(model, **{field: value}, **more)


def _seen_version(request, report: Report | None) -> dict[int, int]:
    """Which version of the report was on the desk when this page was opened."""
    if report is None:
        return {}
    seen = request.POST.get("version") or request.GET.get("version") or ""
    return {report.pk: int(seen) if seen.isdecimal() and len(seen) < 10 else report.version}


@only(may_plan_work)
@require_http_methods(FORM)
def new(request):
    """Draft an order: from a report, for a tree, at a site, or from tags."""
    area = home_area()
    report = _named(request, Report, "report", "pk", area=area)
    tree = _named(request, Tree, "tree", "ref", area=area)
    site = _named(request, Site, "site", "ref", area=area)
    if report is not None:
        tree, site = tree or report.tree, site or report.site
    site = site or (tree.site if tree else None)
    trees = []
    if site is not None:
        trees = list(site.trees.in_place().with_last_trained_look().in_walking_order())
    chosen = next((other for other in trees if tree and other.pk == tree.pk), None)
    dead = chosen if chosen and chosen.gauge_condition == "dead" else None
    today = area.today()
    form = OrderForm(
        request.POST or None,
        area=area,
        trees=trees,
        with_message=report is not None,
        dead=dead,
        initial={
            "window_from": today,
            "trees": [tree.ref] if tree else [],
            "three_steps": dead is not None,
            "who": "volunteer",
            "message": suggestion("order", report, kinds_in(area)) if report else "",
        },
    )
    versions = _seen_version(request, report)
    conflict = None
    if request.method == "POST" and form.is_valid():
        below = queue.next_below(area, report.pk) if report else None
        try:
            drafted = _draft(request, form, area, report, versions, dead)
        except Outdated as outdated:
            conflict = outdated.current
            versions = {report.pk: conflict.version}
        except ValidationError as refused:
            put_errors(form, refused, {"lines": "care", "reason": "why"})
        else:
            return _drafted(request, drafted, form.cleaned_data.get("message"), below)
    _name_kinds(area, trees)
    context = {
        "area": area,
        "person": request.user,
        "nav": "orders",
        "form": form,
        "report": report,
        "version": versions.get(report.pk) if report else None,
        "conflict": conflict,
        "dead": dead,
        "site": site,
        "trees": trees,
        "tree_rows": list(zip(trees, form["trees"], strict=True)) if trees else [],
        "held": holds_in(area).on_any(trees),
        "sites": Site.objects.filter(area=area) if site is None else (),
        "today": today,
        "may_triage": True,
    }
    return render(request, "frontend/work/order_new.html", context)


def _name_kinds(area, trees) -> None:
    kinds = kinds_in(area)
    for tree in trees:
        tree.kind_name = kinds[tree.species].name if tree.species in kinds else tree.species


def _draft(request, form, area, report, versions, dead):
    given = form.cleaned_data
    common = {
        "reports": [report] if report else [],
        "message": given.get("message", ""),
        "versions": versions,
        "by": request.user,
        "at": area.now(),
    }
    if given.get("three_steps"):
        return draft_dead_tree_orders(
            tree=dead,
            why=given["why"],
            window_from=given["window_from"],
            window_to=given["window_to"],
            **common,
        )
    lines = form.lines_for(given["picked"])
    return (draft_order(area=area, lines=lines, **form.frame(), **common),)


def _drafted(request, drafted, message, below):
    """To the new order; whoever came from the desk finds the way to the next note there."""
    numbers = ", ".join(str(order.number) for order in drafted)
    messages.success(
        request,
        ngettext("Order %s is drafted.", "Orders %s are drafted.", len(drafted)) % numbers
        + (" " + _("The neighbor is told in ten minutes.") if message else ""),
    )
    response = redirect("frontend:order", drafted[0].number)
    if below:
        response["Location"] += f"?below={below}"
    return response


def _count_said(problems) -> str:
    blocking = sum(problem.blocking for problem in problems)
    return ngettext(
        "%(count)d thing stands in the way on that day. It is told on this page.",
        "%(count)d things stand in the way on that day. They are told on this page.",
        blocking,
    ) % {"count": blocking}


def _act(request, number, form_of, act, template, done, names=None, **more):
    """One form that changes one order; who comes second is told, and keeps what they typed."""
    found = order_or_404(number)
    form = form_of(found)
    conflict = stands = None
    kept = []
    if request.method == "POST":
        valid = form.is_valid()
        if more.get("photos"):
            day = form.cleaned_data.get("done_on")
            kept = photos_of(request, form, more["photos"], found.area.now(), taken_on=day)
        if valid and not form.errors:
            try:
                changed = act(found, form, kept)
            except Outdated as outdated:
                found = conflict = outdated.current
                form.data = form.data.copy()
                form.data["version"] = str(conflict.version)
            except StandsInTheWay as refused:
                # They are told once, in the list of what stands in the way of that very day.
                stands = refused.problems
                form.add_error("planned_for", _count_said(stands))
            except ValidationError as refused:
                put_errors(form, refused, names)
            else:
                messages.success(request, done % changed.number)
                return redirect("frontend:order", changed.number)
    context = frame(request, found, form=form, conflict=conflict, kept=kept)
    if stands is not None:
        context |= {"problems": stands, "on_that_day": True}
    if request.method != "POST" and not context["is_open"]:
        messages.warning(
            request,
            _("Order %(number)d is %(state)s: nothing can be changed any more.")
            % {"number": found.number, "state": found.get_state_display()},
        )
        return redirect("frontend:order", found.number)
    return render(request, template, context)


@only(may_plan_work)
@require_http_methods(FORM)
def change(request, number):
    """Change why, who, when, and the lines."""

    def form_of(order):
        return ChangeForm(
            request.POST or None,
            area=order.area,
            lines=lines_of(order),
            initial={
                "version": order.version,
                "why": order.why,
                "who": order.who,
                "window_from": order.window_from,
                "window_to": order.window_to,
            },
        )

    def act(order, form, _photos):
        return change_order(
            order=order,
            version=form.cleaned_data["version"],
            lines=form.wanted(),
            by=request.user,
            at=order.area.now(),
            **form.frame(),
        )

    return _act(
        request,
        number,
        form_of,
        act,
        "frontend/work/order_change.html",
        _("Order %d is changed."),
        {"lines": "care"},
    )


@only(may_plan_work)
@require_http_methods(FORM)
def plan(request, number):
    """Set the day and the people; refused while something blocking stands in the way."""

    def form_of(order):
        return PlanForm(
            request.POST or None,
            initial={
                "version": order.version,
                "planned_for": order.planned_for,
                "team": order.team,
                "utility_ticket": order.utility_ticket,
                "utility_ticket_until": order.utility_ticket_until,
            },
        )

    def act(order, form, _photos):
        return plan_order(order=order, by=request.user, at=order.area.now(), **form.cleaned_data)

    return _act(
        request,
        number,
        form_of,
        act,
        "frontend/work/order_plan.html",
        _("Order %d is planned. Print its sheet."),
    )


def _done_on(request, order, lines):
    """The day by which it is judged what was closed: the one that was typed, if it can be."""
    today = order.area.today()
    try:
        day = date.fromisoformat(request.POST.get("done_on", ""))
    except ValueError:
        return today
    planted = max((line.tree.planted_from for line in lines), default=day)
    return day if planted <= day <= today else today


@only(may_do_work)
@require_http_methods(FORM)
def done(request, number):
    """What became of every line; the code on the sheet leads here."""
    parts = dict.fromkeys(("photo1", "photo2", "photo3"), Photo.Part.OTHER)

    def form_of(order):
        lines = lines_of(order)
        record = known_of(order.area, trees_of(lines))
        return DoneForm(
            request.POST or None,
            request.FILES or None,
            area=order.area,
            lines=lines,
            closed=closed_lines(order, lines, _done_on(request, order, lines), record=record),
            planned=planned_coat(doses_of(order, lines, record).get("whitewash")),
            system=system_of(request.user, order.area),
            initial={"version": order.version, "done_by": order.team},
        )

    def act(order, form, photos):
        given = form.cleaned_data
        return report_done(
            order=order,
            version=given["version"],
            done_on=given["done_on"],
            done_by=given["done_by"],
            notes=given["notes"],
            results=given["results"],
            photos=photos,
            by=request.user,
            at=order.area.now(),
        )

    return _act(
        request,
        number,
        form_of,
        act,
        "frontend/work/order_done.html",
        _("Order %d is done. Thank you. A look will say whether it helped."),
        {"lines": "rest", "coat": "coat_product", "feed": "feed_product"},
        photos=parts,
    )


@only(may_plan_work)
@require_http_methods(FORM)
def drop(request, number):
    """Give an order up, with the reason; its reports are open again."""

    def form_of(order):
        return DropForm(request.POST or None, initial={"version": order.version})

    def act(order, form, _photos):
        return drop_order(order=order, by=request.user, at=order.area.now(), **form.cleaned_data)

    return _act(
        request,
        number,
        form_of,
        act,
        "frontend/work/order_drop.html",
        _("Order %d is dropped. Its reports are on the desk again."),
    )
