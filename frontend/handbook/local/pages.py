"""Staff propose a rule of the place, a second one approves it, and either ends it."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.core.paginator import Paginator
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from frontend.access import only
from frontend.handbook.chapters import address_of, name_of
from frontend.handbook.local.forms import ProposalForm, WithdrawalForm
from frontend.handbook.views import not_in_it, show
from frontend.neighbor.views.start import area_or_404
from frontend.refusals import show_refusal
from survey.causes.actions.local_rules import (
    approve_local_rule,
    propose_local_rule,
    withdraw_local_rule,
)
from survey.causes.local import SHELVES, entries_of
from survey.causes.models import LocalRule
from survey.handbook.book import book
from survey.people.models import Person
from survey.people.policy import may_rule_locally, may_triage

A_PAGE = 50


def entry_address(about: str, code: str) -> str:
    """The page or the place of the entry that a rule is about."""
    shelf = SHELVES[LocalRule.About(about)]
    return address_of(shelf, code)


def _named(rules: list[LocalRule]) -> list[LocalRule]:
    """The rules with the names of people and of their entries, for one question in all."""
    keys = {
        key.removeprefix("person:")
        for rule in rules
        for key in (rule.proposed_by, rule.approved_by, rule.withdrawn_by)
    }
    names = dict(Person.objects.filter(key__in=keys).values_list("key", "name"))
    for rule in rules:
        known = entries_of(rule.about).get(rule.code)
        rule.entry = name_of(known) if known else rule.code
        rule.entry_url = entry_address(rule.about, rule.code) if known else ""
        clue = book().clues.get(rule.clue)
        rule.clue_name = name_of(clue) if clue else rule.clue
        rule.proposer, rule.approver, rule.withdrawer = (
            names.get(key.removeprefix("person:"), _("somebody who has left"))
            for key in (rule.proposed_by, rule.approved_by, rule.withdrawn_by)
        )
    return rules


def _page(request, area, *, failed=None, refused="", status=200):
    """Rules that wait, that are in force and that were withdrawn. `failed` is (ref, form)."""
    waiting = _named(list(LocalRule.objects.awaiting_a_second().filter(area=area)))
    standing = _named(list(LocalRule.objects.in_force().filter(area=area)))
    ended = LocalRule.objects.filter(area=area, withdrawn_at__isnull=False)
    page = Paginator(ended.order_by("-withdrawn_at", "-pk"), A_PAGE).get_page(
        request.GET.get("page")
    )
    _named(list(page.object_list))
    mine = f"person:{request.user.key}"
    for rule in (*waiting, *standing):
        rule.is_mine = rule.proposed_by == mine
        rule.form = (
            failed[1]
            if failed and failed[0] == rule.ref
            else WithdrawalForm(auto_id=f"id_{rule.ref}_%s")
        )
    context = {
        "area": area,
        "waiting": waiting,
        "standing": standing,
        "page": page,
        "failed": failed[1] if failed else None,
        "refused": refused,
    }
    return show(request, "local_rules", context, status=status)


def _area_for(person):
    area = area_or_404()
    if not may_rule_locally(person, area.today()):
        raise PermissionDenied
    return area


@only(may_triage)
@require_safe
def rules(request):
    """Every rule of the place: those that wait for a second person on top."""
    return _page(request, _area_for(request.user))


@only(may_triage)
@require_http_methods(["GET", "HEAD", "POST"])
def propose(request, about: str, code: str):
    """Propose a rule beside one entry."""
    area = _area_for(request.user)
    entry = entries_of(about).get(code)
    if entry is None:
        return not_in_it(request)
    form = ProposalForm(request.POST or None, about=about)
    if request.method == "POST" and form.is_valid():
        try:
            propose_local_rule(
                area=area,
                about=about,
                code=code,
                by=request.user,
                at=area.now(),
                **form.proposal(),
            )
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(
                request, _("Written down. It counts once a second trained person approves it.")
            )
            return redirect("frontend:handbook-local")
    context = {
        "area": area,
        "about": about,
        "code": code,
        "entry": name_of(entry),
        "entry_url": entry_address(about, code),
        "form": form,
    }
    return show(request, "local_rule_new", context, status=422 if form.errors else 200)


def _rule(area, ref: str) -> LocalRule:
    return get_object_or_404(LocalRule.objects.select_related("area"), area=area, ref=ref)


@only(may_triage)
@require_POST
def approve(request, ref: str):
    """Put a proposed rule in force."""
    area = _area_for(request.user)
    rule = _rule(area, ref)
    try:
        approve_local_rule(rule=rule, by=request.user, at=area.now())
    except ValidationError as refusal:
        return _page(request, area, refused=" ".join(refusal.messages), status=422)
    messages.success(request, _("Approved. It is in force, and marked as local."))
    return redirect("frontend:handbook-local")


@only(may_triage)
@require_POST
def withdraw(request, ref: str):
    """End a rule, with a reason."""
    area = _area_for(request.user)
    rule = _rule(area, ref)
    form = WithdrawalForm(request.POST, auto_id=f"id_{ref}_%s")
    if form.is_valid():
        try:
            withdraw_local_rule(
                rule=rule, reason=form.cleaned_data["reason"], by=request.user, at=area.now()
            )
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, _("Withdrawn. It counts no more, and stays to be read."))
            return redirect("frontend:handbook-local")
    return _page(request, area, failed=(ref, form), status=422)
