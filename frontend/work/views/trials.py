"""Side by side trials: what is asked, which trees get what by lot, and what came of it."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from frontend.access import only
from frontend.field.errors import put_errors
from frontend.places import asked, home_area
from frontend.work.trial_forms import EndForm, TrialForm
from frontend.work.trials_said import said_of
from survey.people.policy import may_plan_work, may_see_orders
from survey.trees.models import Planting, Tree
from survey.trees.species import kinds_in
from survey.workorders.actions import create_trial, end_trial
from survey.workorders.models import Trial, WorkOrder
from survey.workorders.trials import instead_said, kinds_not_by_lot, standing_of

FORM = ["GET", "HEAD", "POST"]
MOST_OFFERED = 400


@only(may_see_orders)
@require_safe
def trials(request):
    """Every trial of the town, the running ones first."""
    area = home_area()
    found = Trial.objects.filter(area=area).order_by("ended_at", "-created_at", "-pk")
    context = {
        "area": area,
        "person": request.user,
        "nav": "orders",
        "running": [trial for trial in found if trial.ended_at is None],
        "ended": [trial for trial in found if trial.ended_at is not None],
        "may_plan": may_plan_work(request.user),
    }
    return render(request, "frontend/work/trials.html", context)


def _offered(request, area) -> list[Tree]:
    """The trees of an order or of a planting, to be ticked."""
    trees = Tree.objects.in_place().filter(area=area).select_related("site", "area")
    number = asked(request, "order")
    if number:
        if not number.isdecimal() or len(number) > 9:
            raise Http404
        order = get_object_or_404(WorkOrder, area=area, number=int(number))
        trees = trees.filter(order_lines__order=order).distinct()
    elif ref := asked(request, "planting"):
        trees = trees.filter(planting=get_object_or_404(Planting, area=area, ref=ref))
    else:
        return []
    return list(trees.in_walking_order()[:MOST_OFFERED])


@only(may_plan_work)
@require_http_methods(FORM)
def new(request):
    """Draw a trial by lot."""
    area = home_area()
    trees = _offered(request, area)
    form = TrialForm(request.POST or None, area=area, trees=trees)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            trial = create_trial(
                area=area,
                question=given["question"],
                care=given["care"],
                instead=given["instead"],
                trees=given["picked"],
                until=given["until"],
                by=request.user,
                at=area.now(),
            )
        except ValidationError as refused:
            put_errors(form, refused, {} if "trees" in form.fields else {"trees": "tags"})
        else:
            messages.success(request, _("The lots are drawn. Print the list."))
            return redirect("frontend:trial", trial.ref)
    context = {
        "area": area,
        "person": request.user,
        "nav": "orders",
        "form": form,
        "trees": trees,
        "refused": kinds_not_by_lot(),
    }
    return render(request, "frontend/work/trial_new.html", context)


def _trial_or_404(ref: str) -> Trial:
    return get_object_or_404(Trial.objects.select_related("area"), area=home_area(), ref=ref)


@only(may_see_orders)
@require_safe
def trial(request, ref):
    """One trial: the lists to print, what its size can tell, and the outcome on its day."""
    found = _trial_or_404(ref)
    standing = standing_of(found)
    kinds = kinds_in(found.area)
    for row in standing.rows:
        kind = kinds.get(row.tree.species)
        row.tree.kind_name = kind.name if kind else row.tree.species
    context = {
        "area": found.area,
        "person": request.user,
        "nav": "orders",
        "trial": found,
        "standing": standing,
        "sides": [
            (True, [row for row in standing.rows if row.gets_care]),
            (False, [row for row in standing.rows if not row.gets_care]),
        ],
        "instead": instead_said(found),
        "said": said_of(standing),
        "may_plan": may_plan_work(request.user),
    }
    return render(request, "frontend/work/trial.html", context)


@only(may_plan_work)
@require_http_methods(FORM)
def end(request, ref):
    """End a trial, with the reason."""
    found = _trial_or_404(ref)
    form = EndForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            end_trial(
                trial=found,
                because=form.cleaned_data["because"],
                by=request.user,
                at=found.area.now(),
            )
        except ValidationError as refused:
            put_errors(form, refused)
        else:
            messages.success(request, _("The trial has ended."))
            return redirect("frontend:trial", found.ref)
    context = {
        "area": found.area,
        "person": request.user,
        "nav": "orders",
        "trial": found,
        "form": form,
    }
    return render(request, "frontend/work/trial_end.html", context)
