"""An answer to the one question, and a trained person's word on a cause."""

from django import forms
from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as spoken
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_http_methods, require_POST

from frontend.access import only
from frontend.places import home_area
from frontend.refusals import show_refusal
from survey.causes.actions.give_verdict import LONGEST_REASON, give_verdict, withdraw_verdict
from survey.causes.actions.note_clue import note_answer
from survey.causes.conflicts import BadFacts
from survey.causes.models import Verdict
from survey.causes.record import causes_of_tree
from survey.causes.telling import CauseSaid, cause_said, label_of_cause
from survey.causes.verdicts import speaks_until, verdicts_on
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.people.policy import may_look, may_rule_locally
from survey.reports.causes import causes_of_report
from survey.reports.models import Report
from survey.reports.reference import report_name
from survey.trees.models import Tree
from survey.trees.species import kind_of
from survey.workorders.holds import holds_in


class VerdictForm(forms.Form):
    """Confirmed or ruled out, and why."""

    was = forms.ChoiceField(
        label=_("What did you find?"), choices=Verdict.Was.choices, widget=forms.RadioSelect
    )
    reason = forms.CharField(
        label=_("What you saw"),
        max_length=LONGEST_REASON,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class TakeBackForm(forms.Form):
    """Why a verdict counts no more."""

    reason = forms.CharField(
        label=_("Why it counts no more"),
        max_length=LONGEST_REASON,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


def _tree(ref: str) -> Tree:
    trees = Tree.objects.select_related("area", "site", "planting")
    return get_object_or_404(trees, ref=ref, area=home_area())


def _report(request: HttpRequest, tree: Tree) -> Report | None:
    """The docket somebody came from, if it is about this tree."""
    given = request.POST.get("report") or request.GET.get("report") or ""
    if not (given.isascii() and given.isdigit() and len(given) < 15):
        return None
    reports = Report.objects.select_related("area", "tree__site", "tree__planting", "tree__area")
    return reports.filter(pk=int(given), tree=tree).first()


def _back(tree: Tree, report: Report | None) -> str:
    if report is not None:
        return reverse("frontend:docket", args=[report.pk])
    return reverse("frontend:tree", args=[tree.ref])


@require_POST
@only(may_look)
def answer(request, ref: str, check: str):
    """Write down the answer to a check, and lead back to where the question stood."""
    tree = _tree(ref)
    report = _report(request, tree)
    given = request.POST.get("answer", "")
    if given not in ("yes", "no"):
        messages.warning(request, spoken("Choose one of the two answers."))
        return redirect(_back(tree, report))
    if holds_in(tree.area).on_tree(tree):
        messages.warning(
            request, spoken("A danger is open here. Nobody should go near, so nothing is asked.")
        )
        return redirect(_back(tree, report))
    try:
        note_answer(
            tree=tree,
            check=check,
            yes=given == "yes",
            day=tree.area.today(),
            by=request.user,
            at=tree.area.now(),
        )
    except ValidationError as refusal:
        messages.warning(request, " ".join(refusal.messages))
    else:
        asked = book().checks[check]
        answered = asked.yes if given == "yes" else asked.no
        messages.success(request, spoken("Written down: %s.") % said(answered))
    return redirect(_back(tree, report) + "#question")


@require_http_methods(["GET", "HEAD", "POST"])
@only(may_look)
def judge(request, ref: str, cause: str):
    """Confirm a cause for a tree or rule it out; or take back what was said."""
    tree = _tree(ref)
    if not may_rule_locally(request.user, tree.area.today()):
        raise PermissionDenied
    if cause not in book().causes:
        raise Http404
    report = _report(request, tree)
    standing = verdicts_on(tree, tree.area.today()).get(cause)
    kind = VerdictForm if standing is None else TakeBackForm
    shown = _said_of(tree, report, cause)
    form = kind(request.POST or None)
    status = 200
    if request.method == "POST":
        if form.is_valid() and _done(request, tree, cause, form, shown, standing):
            return redirect(_back(tree, report))
        status = 422
    context = {
        "nav": "queue" if report else "trees",
        "area": tree.area,
        "tree": tree,
        "kind": kind_of(tree.area, tree.species),
        "report": report,
        "report_name": report_name(report) if report else "",
        "cause": book().causes[cause],
        "cause_name": label_of_cause(cause),
        "said": shown,
        "standing": standing,
        "speaks_until": speaks_until(standing) if standing else None,
        "form": form,
    }
    return render(request, "frontend/desk/judge_cause.html", context, status=status)


def _done(request, tree: Tree, cause: str, form, shown: CauseSaid | None, standing) -> bool:
    """Give the verdict or take it back; what is refused stands at its field."""
    given = {"by": request.user, "at": tree.area.now()}
    try:
        if standing is None:
            word = shown.told.word if shown and shown.told else ""
            give_verdict(tree=tree, cause=cause, said=word, **form.cleaned_data, **given)
            messages.success(request, spoken("Written down. The tool's words are held against it."))
        else:
            withdraw_verdict(verdict=standing, **form.cleaned_data, **given)
            messages.success(request, spoken("Taken back. What was said stays to be read."))
    except ValidationError as refusal:
        show_refusal(form, refusal)
        return False
    return True


def _said_of(tree: Tree, report: Report | None, cause: str) -> CauseSaid | None:
    """What the tool says of this cause now; None where nothing is ranked."""
    try:
        told, recorded = causes_of_report(report) if report else causes_of_tree(tree)
    except BadFacts:
        return None
    return cause_said(told.answer.by_code[cause], recorded)
