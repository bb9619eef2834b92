"""Small acts beside a decision: undo, place, photos, contact, calls."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from frontend.access import only
from frontend.desk.forms import PlaceForm
from frontend.desk.views.docket import report_on_desk
from frontend.places import home_area
from survey.audit.outdated import Outdated
from survey.people.actions import erase_contact, settle_call
from survey.people.models import Mail
from survey.people.policy import may_see_contacts, may_triage
from survey.photos.actions import accept_photo, decline_photo
from survey.photos.models import Photo
from survey.reports.actions import triage
from survey.reports.models import Decision
from survey.reports.reference import report_name
from survey.trees.models import Site, Tree
from survey.workorders.actions import drop_order
from survey.workorders.models import WorkOrder


@require_POST
@only(may_triage)
def undo(request, pk: int):
    """Take a decision back; an order that a docket made is dropped."""
    decision = get_object_or_404(
        Decision.objects.select_related("report__area"), pk=pk, report__area=home_area()
    )
    report = decision.report
    try:
        if decision.outcome == Decision.Outcome.ORDER:
            _drop_orders(report, request.user)
        else:
            triage.undo_decision(decision=decision, by=request.user, at=report.area.now())
    except (triage.TooLate, Outdated) as late:
        messages.warning(request, str(late))
    except ValidationError as refusal:
        messages.warning(request, " ".join(refusal.messages))
    else:
        messages.success(
            request, _("Taken back. %s is as it was, and nobody is told.") % report_name(report)
        )
    return redirect("frontend:docket", report.pk)


def _drop_orders(report, by) -> None:
    open_orders = report.orders.filter(state__in=[WorkOrder.State.DRAFTED, WorkOrder.State.PLANNED])
    orders = list(open_orders.order_by("pk"))
    if not orders:
        raise triage.TooLate(_("The order is done already. Write a new decision instead."))
    for order in orders:
        drop_order(
            order=order,
            version=order.version,
            reason=_("Taken back at the desk."),
            by=by,
            at=report.area.now(),
        )


@require_POST
@only(may_triage)
def place(request, pk: int):
    """Say which tree or site a report is about."""
    report = report_on_desk(pk)
    form = PlaceForm(request.POST)
    if not form.is_valid():
        messages.warning(request, _("Choose a tree or a site first."))
        return redirect("frontend:docket", pk)
    kind, _colon, ref = form.cleaned_data["place"].partition(":")
    model = Tree if kind == "tree" else Site
    found = get_object_or_404(model, ref=ref, area=report.area)
    try:
        triage.place_report(
            report=report,
            version=form.cleaned_data["version"],
            by=request.user,
            at=report.area.now(),
            **{kind: found},
        )
    except Outdated:
        messages.warning(
            request, _("A colleague changed this note meanwhile. Look again, then choose.")
        )
    except ValidationError as refusal:
        messages.warning(request, " ".join(refusal.messages))
    else:
        messages.success(request, _("Placed: %s.") % found)
    return redirect("frontend:docket", pk)


@require_POST
@only(may_triage)
def photo(request, key: str, shown: str):
    """Let everybody see a picture, or keep it from everybody but staff."""
    picture = get_object_or_404(Photo, key=key)
    act = {"accept": accept_photo, "decline": decline_photo}.get(shown)
    if act is None:
        raise Http404
    try:
        act(photo=picture, by=request.user, at=home_area().now())
    except ValidationError as refusal:
        messages.warning(request, " ".join(refusal.messages))
    return redirect(_back(request))


def _back(request) -> str:
    """The page that sent the form, if it is one of ours."""
    wanted = request.POST.get("back", "")
    safe = url_has_allowed_host_and_scheme(
        wanted, allowed_hosts=None, require_https=request.is_secure()
    )
    return wanted if safe and wanted.startswith("/") else reverse("frontend:queue")


@require_POST
@only(may_see_contacts)
def erase(request, pk: int):
    """Forget how to reach the neighbor of a report, for good."""
    report = report_on_desk(pk)
    if report.contact is not None:
        erase_contact(contact=report.contact, at=report.area.now(), by=request.user)
    messages.success(
        request, _("Erased. What was seen of the tree stays; nobody can be told any more.")
    )
    return redirect("frontend:docket", pk)


@require_POST
@only(may_see_contacts)
def called(request, pk: int):
    """Somebody has told a neighbor by phone."""
    letter = get_object_or_404(Mail, pk=pk)
    settle_call(mail=letter, at=home_area().now(), by=request.user)
    messages.success(request, _("Noted: they know."))
    return redirect(reverse("frontend:operations") + "#calls")
