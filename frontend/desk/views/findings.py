"""Findings: the list, one finding with its evidence, and what staff say of it."""

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from frontend.access import only
from frontend.desk import finding_letters
from frontend.desk import findings as evidence
from frontend.places import asked, home_area
from frontend.refusals import show_refusal
from survey.audit.outdated import Outdated
from survey.causes import finding_words as words
from survey.causes.actions.judge_finding import LONGEST, judge_finding
from survey.causes.models import Finding
from survey.chores.actions import write_chore
from survey.people.policy import may_triage
from survey.workorders.actions.from_finding import CARE, draft_finding_order, trees_without
from survey.workorders.models import WorkOrder

A_PAGE = 40
OUT = "frontend/desk/"


class WordForm(forms.Form):
    """What somebody says of a finding, with the version they read."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    reason = forms.CharField(
        label=gettext_lazy("Why, for the next person at the desk"),
        max_length=LONGEST,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class OrderForm(forms.Form):
    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    care = forms.ChoiceField(choices=[(code, code) for code in CARE], widget=forms.HiddenInput)


def words_to_say() -> list[dict[str, str]]:
    """The three decisions: code, key, name, and what it means for the list."""
    return [
        {
            "code": "confirmed",
            "key": "c",
            "name": _("Confirm"),
            "short": _("Confirm"),
            "means": _("It stands. It comes back to the desk only with more trees."),
        },
        {
            "code": "watched",
            "key": "w",
            "name": _("Watch"),
            "short": _("Watch"),
            "means": _("Nobody acts yet. It comes back with more trees or another conclusion."),
        },
        {
            "code": "dismissed",
            "key": "x",
            "name": _("I disagree, because …"),
            "short": _("Disagree"),
            "means": _("It leaves the desk. Only new evidence brings it back."),
        },
    ]


def states() -> dict[str, str]:
    return {
        "open": _("what nobody judged yet"),
        "confirmed": _("what is confirmed"),
        "watched": _("what is watched"),
        "dismissed": _("what is dismissed"),
        "gone": _("what is no longer found"),
        "all": _("every finding"),
    }


def _of_state(area, state: str):
    rows = Finding.objects.filter(area=area).order_by("after_many", "number")
    if state == "gone":
        return rows.filter(gone_on__isnull=False)
    if state == "all":
        return rows
    return rows.standing().filter(state=state)


@require_safe
@only(may_triage)
def findings(request):
    """What trees have in common, the surest first."""
    area = home_area()
    state = asked(request, "state") or "open"
    state = state if state in states() else "open"
    page = Paginator(_of_state(area, state), A_PAGE).get_page(request.GET.get("page"))
    context = {
        "nav": "findings",
        "page": page,
        "rows": evidence.listed(area, list(page)),
        "state": state,
        "states": states().items(),
        "query": f"state={state}",
        "ever": Finding.objects.filter(area=area).exists(),
        "headline": _headline(state, page.paginator.count),
    }
    return render(request, f"{OUT}findings.html", context)


def _headline(state: str, count: int) -> str:
    if not count:
        return _("No finding here")
    if state == "open":
        return ngettext("%d finding waits for a word", "%d findings wait for a word", count) % count
    return ngettext("%d finding", "%d findings", count) % count


def finding_or_404(number: int) -> Finding:
    return get_object_or_404(
        Finding.objects.select_related("area", "site", "planting"),
        number=number,
        area=home_area(),
    )


@require_safe
@only(may_triage)
def finding(request, number: int):
    return _page(request, finding_or_404(number))


def _page(request, row: Finding, *, bound=None, said: str = "", meanwhile=None, status: int = 200):
    """The page of a finding; `bound` is a refused form and `said` the word it was for."""
    shown = evidence.trees_of(row)
    names = words.names_of(row.area, [row])
    happenings = evidence.happenings_of(row, shown)
    people = evidence.names_of_people(
        [row.judged_by, *(one["by"] for one in row.facts.get("earlier", ()))]
    )
    context = {
        "nav": "findings",
        "finding": row,
        "heading": words.heading(row, names),
        "sign": words.sign_name(row.sign),
        "looked_since": evidence.day_of(row.facts.get("looked_since")),
        "sure": words.how_sure(row),
        "plan": evidence.plan_of(row, shown),
        "gone": evidence.gone_of(row),
        "shares": evidence.shares_of(row, names),
        "pairs": evidence.pairs_of(row, names),
        "pairs_head": _pairs_head(row),
        "months": evidence.months_of(row, happenings),
        "first_seen": words.first_seen(row),
        "changes": [
            words.change_said(change, row.with_sign) for change in row.facts.get("times", ())
        ],
        "settles": words.what_settles(row, happenings),
        "sites": evidence.by_site(shown),
        "more_trees": max(row.with_sign - sum(one.marked for one in shown), 0),
        "half_gone": evidence.half_gone(shown),
        "remedy": _remedy(row),
        "orders": list(row.orders.exclude(state=WorkOrder.State.DROPPED).order_by("number")),
        "judged_by": people.get(row.judged_by, ""),
        "earlier": [
            one | {"by": people.get(one["by"], "")} for one in row.facts.get("earlier", ())
        ],
        "choices": [
            choice
            | {
                "form": bound
                if bound is not None and said == choice["code"]
                else WordForm(initial={"version": row.version}, auto_id=f"id_{choice['code']}-%s"),
                "open": said == choice["code"],
            }
            for choice in words_to_say()
        ],
        "bound": bound if bound is not None and bound.errors else None,
        "said": said,
        "meanwhile": meanwhile,
        "typed": bound.data.get("reason", "") if meanwhile is not None and bound else "",
    }
    return render(request, f"{OUT}finding.html", context, status=status)


def _pairs_head(row: Finding) -> str:
    if row.follows != Finding.Follows.SITE:
        return _("The same places, other trees")
    if row.facts.get("standing") == "alone":
        return _("It does not follow the nursery")
    return _("The same loads elsewhere")


def _remedy(row: Finding) -> dict:
    """What can be drafted: how many trees still want a ring or a look, and which letters fit."""
    ringed = row.sign in finding_letters.NOTICE_SIGNS and row.follows in ("site", "time")
    return {
        "rings": len(trees_without(row, "mulch_ring")) if ringed else 0,
        "looks": len(trees_without(row, "look_again")),
        "notice": finding_letters.may_have_notice(row),
        "query": finding_letters.may_have_query(row),
    }


@require_POST
@only(may_triage)
def judge(request, number: int, word: str):
    """Confirm, watch or dismiss; the second of two people is told, and keeps what they typed."""
    row = finding_or_404(number)
    form = WordForm(request.POST, auto_id=f"id_{word}-%s")
    if not form.is_valid():
        return _page(request, row, bound=form, said=word, status=422)
    try:
        judge_finding(
            finding=row,
            version=form.cleaned_data["version"],
            word=word,
            reason=form.cleaned_data["reason"],
            by=request.user,
            at=row.area.now(),
        )
    except Outdated:
        row = finding_or_404(number)
        again = form.data.copy()
        again["version"] = row.version
        kept = WordForm(again, auto_id=f"id_{word}-%s")
        return _page(request, row, bound=kept, said=word, meanwhile=row, status=409)
    except ValidationError as refusal:
        show_refusal(form, refusal)
        return _page(request, row, bound=form, said=word, status=422)
    said = {
        "confirmed": _("Finding %d is confirmed."),
        "watched": _("Finding %d is watched."),
        "dismissed": _("Finding %d is dismissed."),
    }[word]
    messages.success(request, said % row.number)
    return redirect("frontend:findings")


@require_POST
@only(may_triage)
def order(request, number: int):
    """Draft one order for all trees of a finding, and show it: it still has to be planned."""
    row = finding_or_404(number)
    form = OrderForm(request.POST)
    if not form.is_valid():
        messages.warning(request, _("That order could not be drafted. Read the finding again."))
        return redirect("frontend:finding", row.number)
    names = words.names_of(row.area, [row])
    why = _("Finding %(n)d: %(said)s") % {"n": row.number, "said": words.heading(row, names)}
    try:
        made = draft_finding_order(
            finding=row,
            version=form.cleaned_data["version"],
            care=form.cleaned_data["care"],
            why=why[:500],
            by=request.user,
            at=row.area.now(),
        )
    except Outdated:
        messages.warning(
            request, _("This finding changed meanwhile. Read it again, then draft the order.")
        )
    except ValidationError as refusal:
        messages.warning(request, " ".join(refusal.messages))
    else:
        messages.success(
            request,
            _("Order %d is drafted. Nothing is planned yet, and nobody is told.") % made.number,
        )
        return redirect("frontend:order", made.number)
    return redirect("frontend:finding", row.number)


@require_POST
@only(may_triage)
def search_again(request):
    """Ask for the search now instead of tonight."""
    write_chore(kind="find_patterns", key=str(home_area().pk))
    messages.success(request, _("All signs are searched anew. Look again in a minute."))
    return redirect("frontend:findings")


@require_http_methods(["GET", "HEAD"])
@only(may_triage)
def letter(request, number: int, kind: str):
    """The keep-clear notice or the query to the nursery, as a page to print. Nothing is sent."""
    row = finding_or_404(number)
    context = finding_letters.letter_of(row, kind)
    return render(request, f"{OUT}finding_{kind}.html", context | {"nav": "findings"})
