"""One report on the desk: what was said, what is known, and the decision."""

from datetime import timedelta

from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import get_language_info
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from frontend.access import only
from frontend.believed import Believed, believed_of
from frontend.desk import docket as evidence
from frontend.desk import forms, sayings
from frontend.desk.causes import causes_on_docket
from frontend.desk.findings_strip import findings_about
from frontend.desk.saving import saving_of
from frontend.desk.strips import open_strips
from frontend.desk.views.queue import left_on_desk
from frontend.places import home_area
from frontend.refusals import show_refusal
from survey.condition.models import Belief
from survey.handbook.book import book
from survey.people.models import Person
from survey.people.policy import may_clear_danger, may_triage
from survey.reports import queue as desk
from survey.reports.actions import triage
from survey.reports.answered import answered_by
from survey.reports.danger import parts_around, said_to_be_no_danger
from survey.reports.models import DeskNote, Report
from survey.reports.reference import report_name
from survey.trees.models import CareGiven, Look, Site, Tree
from survey.trees.species import kinds_in

FORMS = {
    "answer": forms.AnswerForm,
    "ask": forms.AskForm,
    "join": forms.JoinForm,
    "watch": forms.WatchForm,
    "set_aside": forms.SetAsideForm,
    "danger": forms.DangerForm,
    "clear": forms.ClearForm,
    "no_danger": forms.NotDangerForm,
}
ACTIONS = {
    "answer": triage.answer_report,
    "ask": triage.ask_back,
    "join": triage.join_report,
    "watch": triage.answer_report,
    "set_aside": triage.set_aside_report,
    "danger": triage.mark_danger,
    "clear": triage.clear_danger,
    "no_danger": triage.set_danger_words_aside,
}
LOOK_AGAIN = timedelta(days=28)  # what is offered; own rule of this project


def report_on_desk(pk: int) -> Report:
    return get_object_or_404(
        Report.objects.select_related(
            "area", "site__land_manager", "tree__planting", "tree__site", "contact", "joined_to",
            "likely_same_as",
        ).prefetch_related("signs", "replies__photos", "orders"),
        pk=pk,
        area=home_area(),
    )  # fmt: skip


@require_safe
@only(may_triage)
def docket(request, pk: int):
    report = report_on_desk(pk)
    colleague = triage.open_docket(report=report, by=request.user, at=timezone.now())
    return _show(request, report, colleague=colleague, do=request.GET.get("do", ""))


@require_http_methods(["POST"])
@only(may_triage)
def decide(request, pk: int, outcome: str):
    """Take one decision; on a refusal the page comes back with everything typed."""
    report = report_on_desk(pk)
    form = _form(outcome, report, request.POST)
    if not form.is_valid():
        return _show(request, report, do=outcome, bound=form, status=422)
    below = desk.next_below(report.area, report.pk)
    given = dict(form.cleaned_data)
    if outcome == "join":
        given = {name: given[name] for name in ("version", "reason", "message")} | {
            "other": given["report"]
        }
    try:
        ACTIONS[outcome](report=report, by=request.user, at=report.area.now(), **given)
    except triage.Outdated as meanwhile:
        _keep(request, report)
        return _show(
            request, report_on_desk(pk), do=outcome, meanwhile=meanwhile, typed=form, status=409
        )
    except ValidationError as refusal:
        show_refusal(form, refusal)
        return _show(request, report, do=outcome, bound=form, status=422)
    if outcome in ("danger", "clear", "no_danger"):
        return redirect("frontend:docket", pk)
    return redirect("frontend:docket", below) if below else redirect("frontend:queue")


def _keep(request, report: Report) -> None:
    """Keep every field of every decision form of the page that holds words."""
    seen = request.POST.get("version", "")
    version = int(seen) if seen.isascii() and seen.isdigit() and len(seen) < 9 else report.version
    kept = DeskNote.objects.filter(report=report, person=request.user).first()
    typed = dict(kept.fields) if kept else {}
    typed |= {name: value for name, value in request.POST.items() if name in _KEPT}
    typed = {name: value for name, value in typed.items() if value.strip()}
    if not typed and kept is None:
        return
    triage.keep_desk_note(
        report=report,
        fields=typed,
        seen_version=version,
        by=request.user,
        at=timezone.now(),
    )


_KEPT = {
    f"{outcome}-{name}"
    for outcome in FORMS
    for name in ("reason", "message", "look_due", "other", "other_day", "other_number", "danger")
}


@require_POST
@only(may_triage)
def note(request, pk: int):
    """Keep what is typed: called by the page every few seconds, or by a button without scripts."""
    report = report_on_desk(pk)
    wants_json = request.headers.get("Accept", "").startswith("application/json")
    try:
        _keep(request, report)
    except ValidationError as refusal:
        if wants_json:
            return JsonResponse({"said": refusal.messages[0]}, status=422)
        return HttpResponse(refusal.messages[0], status=422, content_type="text/plain")
    if wants_json:
        return JsonResponse({"said": _("What you typed is kept.")})
    return redirect("frontend:docket", pk)


def _form(outcome: str, report: Report, data=None, initial=None, candidates=()):
    kind = FORMS.get(outcome)
    if kind is None:
        raise PermissionDenied
    more = {}
    if outcome == "join":
        candidates = candidates or evidence.join_candidates(report, evidence.repeats(report))
        more = {"area": report.area, "candidates": candidates}
    if data is not None:
        # The version stands once on the page, outside the names of the single forms.
        data = data.copy()
        data[f"{outcome}-version"] = data.get("version", "")
    return kind(data, prefix=outcome, initial=initial, **more)


def _forms(
    request, report: Report, kinds, candidates, kept, *, bound=None, typed=None, question=""
) -> list[dict]:
    """Every decision that is possible, each with its form; typed words win over suggestions."""
    words = kept.fields if kept else {}
    in_danger = bool(report.danger) and report.danger_cleared_at is None
    may_clear = in_danger and may_clear_danger(request.user, report.area.today())
    out = []
    for outcome, (name, key, button) in _choices().items():
        if outcome == "clear" and not may_clear:
            continue
        if outcome == "no_danger" and not (in_danger and report.danger_words):
            continue
        message = sayings.suggestion(outcome, report, kinds)
        initial = {
            "message": message + question if outcome == "ask" else message,
            "look_due": report.area.today() + LOOK_AGAIN,
            "danger": report.danger,
            "other": str(candidates[0].pk) if candidates else "",
        }
        prefix = f"{outcome}-"
        initial |= {n[len(prefix) :]: v for n, v in words.items() if n.startswith(prefix)}
        form = _form(outcome, report, initial=initial, candidates=candidates)
        if bound is not None and bound.prefix == outcome:
            form = bound
        elif typed is not None and typed.prefix == outcome:
            again = {n: typed.data.get(f"{outcome}-{n}", "") for n in form.fields}
            form = _form(outcome, report, initial=again, candidates=candidates)
        out.append({"outcome": outcome, "name": name, "key": key, "button": button, "form": form})
    return out


def _choices() -> dict[str, tuple[str, str, str]]:
    """Each decision: what its button says, its key, and what sending it says."""
    return {
        "answer": (_("Answer"), "a", _("Answer and close")),
        "ask": (_("Ask back"), "k", _("Ask the neighbor")),
        "join": (_("Join"), "j", _("Join the two notes")),
        "watch": (_("Watch"), "w", _("Answer, and look again")),
        "set_aside": (_("Set aside"), "s", _("Set this note aside")),
        "danger": (_("Danger"), "d", _("Mark as danger to people")),
        "clear": (_("Clear the danger"), "c", _("Say that the danger is over")),
        "no_danger": (_("Not a danger"), "x", _("Say that the words are not about a danger")),
    }


def _show(
    request,
    report: Report,
    *,
    colleague=None,
    do="",
    bound=None,
    typed=None,
    meanwhile=None,
    status=200,
):
    area, person = report.area, request.user
    kinds = kinds_in(area)
    shown = evidence.repeats(report)
    candidates = evidence.join_candidates(report, shown)
    believed = _believed(request, report)
    causes = causes_on_docket(report, person)
    pace = desk.pace(area)
    rail = evidence.rail(report, area, person)
    group, in_group = evidence.planted_with(report)
    tree = next((one for one in group if one.pk == report.tree_id), None) or _tree(report)
    in_danger = bool(report.danger) and report.danger_cleared_at is None
    told = triage.message_reaches(report)
    kept = DeskNote.objects.filter(report=report, person=person).first()
    context = {
        "nav": "queue",
        "report": report,
        "name": report_name(report),
        "sent_at": evidence.local(report, report.submitted_at),
        "heading": sayings.heading(report),
        "plates": evidence.plates(report),
        "tree": tree,
        "tree_name": sayings.tree_words(report, kinds),
        "place": sayings.place_words(report),
        "signs": sayings.signs_of(report),
        "extent": sayings.extent_words(report),
        "answers": answered_by(report),
        "side": sayings.side_words(report),
        "picture": sayings.picture_words(report),
        "trunk": evidence.trunk_of(report),
        "language": get_language_info(report.language)["name_translated"],
        "clocks": evidence.clocks(report),
        "danger": book().dangers.get(report.danger) if in_danger else None,
        "in_danger": in_danger,
        "danger_words": sayings.danger_words(report) if report.danger else "",
        "written": sayings.written_danger(report),
        "words_marked": parts_around(report.words, report.danger_words),
        "may_clear": in_danger and may_clear_danger(person, area.today()),
        "repeats": shown,
        "group": group,
        "in_group": in_group,
        "group_more": in_group - len(group),
        "about": findings_about(report.tree) if report.tree else (),
        "believed": believed,
        "causes": causes,
        "looks": [] if believed else _looks(report),
        "care": _care(report),
        "saving": saving_of(
            tree,
            person,
            kind=kinds.get(tree.species),
            belief=believed.belief if believed else None,
        )
        if tree
        else None,
        "may_look": True,
        "decisions": _decisions(report),
        "version": bound.data.get("version", "") if bound is not None else report.version,
        "guesses": evidence.guesses(report),
        "found": _found(request, report),
        "find": request.GET.get("find", ""),
        "rail_danger": [row for row in rail if row.kind == "is-danger"],
        "rail": [row for row in rail if row.kind != "is-danger"],
        "below": desk.next_below(area, report.pk),
        "this_year": area.today().year,
        "decided": pace.today,
        "left": left_on_desk(area),
        "strips": open_strips(person, area),
        "colleague": colleague,
        "meanwhile": meanwhile,
        "forms": _forms(
            request,
            report,
            kinds,
            candidates,
            kept,
            bound=bound,
            typed=typed,
            question=causes.asked_of_neighbor,
        ),
        "bound": bound,
        "do": do,
        "kept": kept,
        "reaches": told,
        "order_url": reverse("frontend:order-new")
        + f"?report={report.pk}&version={report.version}",
    }
    return render(request, "frontend/desk/docket.html", context, status=status)


def _tree(report: Report) -> Tree | None:
    if report.tree_id is None:
        return None
    return Tree.objects.with_last_trained_look().get(pk=report.tree_id)


def _believed(request, report: Report) -> Believed | None:
    """What is believed of the tree, and why; None before it was weighed."""
    belief = Belief.objects.filter(tree=report.tree_id).first() if report.tree_id else None
    if belief is None:
        return None
    of_note = list(report.looks.values_list("pk", flat=True))
    return believed_of(report.tree, belief, request.user, of_note=of_note)


def _looks(report: Report) -> list[Look]:
    if report.tree_id is None:
        return []
    looks = Look.objects.standing_record().filter(tree=report.tree_id).exclude(reports=report)
    return list(looks.newest_first()[:5])


def _care(report: Report) -> list[dict]:
    if report.tree_id is None:
        return []
    known = book().care
    given = CareGiven.objects.filter(tree=report.tree_id).newest_first()[:3]
    return [
        {"day": one.given_to, "what": known[one.care].label if one.care in known else one.care}
        for one in given
    ]


def _decisions(report: Report) -> list[dict]:
    """What was decided so far, the newest first, with the names of whoever did."""
    made = list(report.decisions.order_by("-pk"))
    keys = {who.removeprefix("person:") for one in made for who in (one.by, one.undone_by) if who}
    names = dict(Person.objects.filter(key__in=keys).values_list("key", "name"))
    return [
        {
            "made": one,
            "outcome": _("the words are not about a danger")
            if said_to_be_no_danger(one)
            else one.get_outcome_display(),
            "words": one.before.get("danger_words", "") if said_to_be_no_danger(one) else "",
            "at": evidence.local(report, one.at),
            "by": names.get(one.by.removeprefix("person:"), one.by),
            "undone_by": names.get(one.undone_by.removeprefix("person:"), one.undone_by),
        }
        for one in made
    ]


def _found(request, report: Report) -> dict | None:
    """Trees and sites that fit a search on this docket."""
    words = " ".join(request.GET.get("find", "").replace("\x00", "").split())[:60]
    if not words:
        return None
    trees = Tree.objects.in_place().filter(area=report.area).matching(words)
    return {
        "trees": list(trees.select_related("site").in_walking_order()[:12]),
        "sites": list(Site.objects.filter(area=report.area).matching(words)[:6]),
    }
