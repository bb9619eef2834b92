"""Change a number of a dose and the rest follows; overrule it with a reason."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from frontend.access import only
from frontend.field.errors import put_errors
from frontend.work.dose_form import DoseForm, OverruleForm
from frontend.work.dosing import sum_of, system_of
from frontend.work.views.orders import closed_to, frame, order_or_404
from survey.audit.outdated import Outdated
from survey.people.policy import may_overrule, may_plan_work
from survey.workorders.actions import overrule_dose, set_dose
from survey.workorders.doses import doses_of
from survey.workorders.inputs import INPUTS

FORM = ["GET", "HEAD", "POST"]
WORK, KEEP, OVERRULE = "work", "keep", "overrule"


@only(may_plan_work)
@require_http_methods(FORM)
def dose(request, number, care):
    """One kind of care of an order: its numbers, and the sum they give.

    "Work it out" shows the sum of what is typed and keeps nothing; "Keep" writes it down.
    """
    order = order_or_404(number)
    context = frame(request, order)
    part = next((part for part in context["parts"] if part.code == care), None)
    if part is None:
        raise Http404
    if not context["is_open"]:
        messages.warning(request, _("Order %d is closed: its doses stay.") % order.number)
        return redirect("frontend:order", order.number)
    system = system_of(request.user, order.area)
    act = request.POST.get("act", "")
    may = may_overrule(request.user, order.area.today())
    if act == OVERRULE and not may:
        raise PermissionDenied
    closed = closed_to(order, context["held"])
    worked = doses_of(order, part.lines, context["record"], closed)[care]
    first = worked.example or worked.lines[0]
    settings = {
        "care": care,
        "system": system,
        "uses": first.uses,
        "kept": first.line.inputs,
        "trees": part.trees,
    }
    typed = request.POST if act in (WORK, KEEP) else None
    form = DoseForm(typed, initial={"version": order.version}, **settings)
    overrule = OverruleForm(
        request.POST if act == OVERRULE else None,
        initial={"version": order.version, "because": part.lines[0].overruled_because},
        prefix="over",
    )
    conflict = None
    try:
        if act == KEEP and form.is_valid():
            set_dose(
                order=order,
                version=form.cleaned_data["version"],
                care=care,
                inputs=form.inputs(),
                trees=form.for_trees(),
                by=request.user,
                at=order.area.now(),
            )
            messages.success(request, _("The numbers are kept."))
            return redirect("frontend:order-dose", order.number, care)
        if act == OVERRULE and overrule.is_valid():
            overrule_dose(
                order=order,
                version=overrule.cleaned_data["version"],
                care=care,
                because=overrule.cleaned_data["because"],
                by=request.user,
                at=order.area.now(),
            )
            messages.success(request, _("It is written down, with your name."))
            return redirect("frontend:order", order.number)
    except Outdated as outdated:
        conflict = outdated.current
        version = str(conflict.version)
        form.data, overrule.data = form.data.copy(), overrule.data.copy()
        form.data["version"] = overrule.data["over-version"] = version
    except ValidationError as refused:
        put_errors(overrule if act == OVERRULE else form, refused)
    if act == WORK and form.is_valid():
        worked = _with(order, part.lines, context["record"], form, closed)[care]
    context |= {
        "part": part,
        "form": form,
        "overrule": overrule,
        "conflict": conflict,
        "has_numbers": bool(INPUTS.get(care)),
        "may_overrule": may,
        "sum": sum_of(worked, system),
        "shown_only": act == WORK and form.is_valid(),
    }
    return render(request, "frontend/work/order_dose.html", context)


def _with(order, lines, record, form, closed):
    """The sums with the typed numbers, on copies of the lines that nobody saves."""
    changed = form.inputs()
    trees = form.for_trees()
    for line in lines:
        if trees is None or line.tree in trees:
            kept = {k: v for k, v in line.inputs.items() if k not in changed}
            line.inputs = kept | {k: v for k, v in changed.items() if v is not None}
    return doses_of(order, lines, record, closed)
