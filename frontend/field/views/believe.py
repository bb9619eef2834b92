"""What trained staff lay down about a tree against what the looks say, and take back again."""

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST

from frontend.access import only
from frontend.field.forms import choice, day_field, words
from frontend.refusals import show_refusal
from survey.condition.actions.overrule import LONGEST, overrule_belief, withdraw_overruling
from survey.condition.models import Overruling, State
from survey.people.policy import may_overrule, may_triage
from survey.trees.models import Tree
from survey.trees.species import kind_of


class OverrulingForm(forms.Form):
    """A condition, the day it was so, and why."""

    def __init__(self, *args, area, **kwargs):
        super().__init__(*args, **kwargs)
        today = area.today()
        self.fields["state"] = choice(_("What it was on that day"), State.choices, radio=True)
        self.fields["day"] = day_field(_("On what day"), today=today, initial=today)
        self.fields["reason"] = words(
            _("Why: what did you see?"),
            LONGEST,
            required=True,
            help_text=_("Whoever is signed in reads this beside your name. Name no neighbor here."),
        )


class WithdrawalForm(forms.Form):
    reason = words(gettext_lazy("Why it counts no more"), LONGEST, required=True)


def _tree(request, ref: str) -> Tree:
    trees = Tree.objects.with_last_trained_look().select_related("area", "site", "planting")
    tree = get_object_or_404(trees, ref=ref)
    if not may_overrule(request.user, tree.area.today()):
        raise PermissionDenied
    return tree


def _show(request, tree: Tree, form, *, withdrawal=None, status=200):
    made = list(tree.overrulings.all())
    standing = next((one for one in made if one.withdrawn_at is None), None)
    context = {
        "area": tree.area,
        "person": request.user,
        "nav": "trees",
        "tree": tree,
        "kind": kind_of(tree.area, tree.species),
        "form": form,
        "standing": standing,
        "withdrawn": [one for one in made if one.withdrawn_at is not None],
        "withdrawal": withdrawal or WithdrawalForm(prefix="back"),
        "failed": withdrawal or form,
    }
    return render(request, "frontend/field/believe.html", context, status=status)


@only(may_triage)
@require_http_methods(["GET", "HEAD", "POST"])
def believe(request, ref: str):
    """Lay down a tree's condition on a day, with a reason; and what was laid down before."""
    tree = _tree(request, ref)
    if request.method != "POST":
        return _show(request, tree, OverrulingForm(area=tree.area))
    form = OverrulingForm(request.POST, area=tree.area)
    if form.is_valid():
        try:
            overrule_belief(tree=tree, by=request.user, at=tree.area.now(), **form.cleaned_data)
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(
                request,
                _("It is written down. What we believe of %s is weighed anew in a moment.") % tree,
            )
            return redirect("frontend:tree", tree.ref)
    return _show(request, tree, form, status=422)


@only(may_triage)
@require_POST
def withdraw(request, ref: str, pk: int):
    """Take back what was laid down, with a reason: it stays to be read and counts no more."""
    tree = _tree(request, ref)
    overruling = get_object_or_404(Overruling.objects.filter(tree=tree), pk=pk)
    form = WithdrawalForm(request.POST, prefix="back")
    if form.is_valid():
        try:
            withdraw_overruling(
                overruling=overruling,
                reason=form.cleaned_data["reason"],
                by=request.user,
                at=tree.area.now(),
            )
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, _("Taken back. It counts no more, and stays to be read."))
            return redirect("frontend:tree", tree.ref)
    return _show(request, tree, OverrulingForm(area=tree.area), withdrawal=form, status=422)
