"""Check your answers, send them, and the receipt."""

from datetime import date

from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST, require_safe

from frontend.headers import secret_page
from frontend.neighbor import steps
from frontend.neighbor.behind import behind_of, kept_away, unseen_in
from frontend.neighbor.calls import calls_for
from frontend.neighbor.drafts import go_on, of_draft, page
from frontend.neighbor.limits import BEGINNING, SENDING, please_wait, seconds_to_wait
from survey.handbook.book import book
from survey.handbook.records import Advice, Danger
from survey.handbook.wording import said
from survey.reports.actions.drafts import sent_report, start_draft, submit_draft
from survey.reports.danger import typed_danger
from survey.reports.models import Draft
from survey.reports.promises import promise_for
from survey.reports.reference import report_name

PAGE_OF = {
    "where": "where",
    "landmark": "elsewhere",
    "latitude": "elsewhere",
    "danger": "danger",
    "signs": "signs",
    "picture": "overall",
    "extent": "extent",
    "side": "extent",
    "photos": "photos",
    "words": "words",
    "seen_on": "words",
    "contact": "words",
}


def _said_of(record) -> str:
    return str(said(record.label)) if record else ""


def _checked(draft) -> dict:
    """The answers as they are read back."""
    known, answers = book(), draft.answers
    return {
        "danger": known.dangers.get(answers.get("danger", "")),
        "signs": [known.signs[code] for code in answers.get("signs", ()) if code in known.signs],
        "picture": known.picture_scale.get(answers.get("picture", "")),
        "extent": known.extents.get(answers.get("extent", "")),
        "side": known.sides.get(answers.get("side", "")),
        "photos": list(draft.photos.order_by("pk")),
    }


def _read_danger(draft) -> tuple[Danger | None, str]:
    """The hazard that the typed words speak of where none was chosen, and those words: the same as
    will be read when it is sent."""
    answers = draft.answers
    if answers.get("danger"):
        return None, ""
    code, words = typed_danger(answers.get("words") or "", answers.get("landmark") or "")
    return book().dangers.get(code), words


@of_draft("check")
def check(request, draft, key):
    """Read everything back, each with its way to change it; then send."""
    wrong: list[tuple[str, str]] = []
    if request.method == "POST":
        wait = seconds_to_wait(request, SENDING)
        if wait:
            return please_wait(request, wait, go_on_url=request.path)
        if steps.first_unanswered(draft):
            return go_on(key, draft)
        try:
            submit_draft(key=key, at=draft.area.now(), language=get_language() or "en")
        except Draft.DoesNotExist:  # cleared away between the two lines above
            return render(request, "frontend/neighbor/lost.html", status=404)
        except ValidationError as trouble:
            wrong = [
                (reverse(f"frontend:report-{PAGE_OF.get(name, 'words')}", args=[key]), message)
                for name, messages in trouble.message_dict.items()
                for message in messages
            ]
        else:
            return redirect("frontend:report-sent", key)
    tree = steps.tree_of(draft)
    read, read_words = _read_danger(draft)
    return page(
        request,
        "check",
        draft,
        key,
        steps.DANGER_CHECK if steps.is_danger(draft) else steps.CHECK,
        status=400 if wrong else 200,
        wrong=wrong,
        tree_name=steps.name_of_tree(tree) if tree else "",
        seen_day=date.fromisoformat(draft.answers["seen_on"])
        if draft.answers.get("seen_on")
        else None,
        place=_("Last look"),
        read_danger=read,
        read_words=read_words,
        calls=calls_for(draft.area, read) if read else [],
        **{f"{name}_said": value for name, value in _checked(draft).items()},
    )


@csrf_exempt
@secret_page
@require_safe
def sent(request, key):
    """The receipt: what the report is called, what to do today, what happens next.

    It can be reloaded, bookmarked and opened elsewhere for as long as the report is kept.
    """
    found = sent_report(key)
    if found is None:
        return render(request, "frontend/neighbor/lost.html", status=404)
    report, secret = found
    told = receipt_of(report, secret)
    context = told | {
        "key": key,
        "behind": behind_of(report, near=told["near"], skip=unseen_in(request.GET)),
        "unseen": unseen_in(request.GET),
        "answered": "answered" in request.GET,
        "back": "receipt",
    }
    return render(request, "frontend/neighbor/receipt.html", context)


def receipt_of(report, secret: str) -> dict:
    """Everything the receipt says."""
    danger = book().dangers.get(report.danger)
    age = None
    if report.tree is not None:
        age = (report.seen_on - report.tree.planted_to).days / 365.25
    signs = [sign.sign for sign in report.signs.all() if sign.sign in book().signs]
    near = kept_away(report)
    in_danger = danger is not None or near is not None
    advice = book().advice_for(signs, age_years=age, in_danger=in_danger)
    by_kind = {
        kind: [a for a in advice if a.kind == kind] for kind in ("today", "do_not", "tell_us")
    }
    return {
        "area": report.area,
        "report": report,
        "name": report_name(report),
        "secret": secret,
        "photo_count": report.photos.count(),
        "danger": danger,
        "near": danger is None and near is not None,
        "calls": calls_for(report.area, danger) if danger else [],
        "today_advice": by_kind["today"],
        "do_not": _laid_out(by_kind["do_not"]),
        "tell_us": by_kind["tell_us"],
        "promise": promise_for(report.day, in_danger=danger is not None),
        "site": report.site,
        "answer_reaches": bool(report.contact),
    }


def _laid_out(do_not: list[Advice]) -> dict[str, list[Advice]]:
    """What to leave alone: rows, and of many drawn ones all but the first small and abreast."""
    drawn = [advice for advice in do_not if advice.drawing]
    small = drawn[1:] if len(drawn) > 2 else []
    return {"rows": [advice for advice in do_not if advice not in small], "drawn": small}


@csrf_exempt
@secret_page
@require_POST
def another(request, key):
    """Report another tree close by: the place and the way to answer need not be given again."""
    found = sent_report(key)
    if found is None:
        return render(request, "frontend/neighbor/lost.html", status=404)
    wait = seconds_to_wait(request, BEGINNING)
    if wait:
        return please_wait(request, wait, go_on_url=reverse("frontend:report-sent", args=[key]))
    report, _secret = found
    return begin_beside(report, same_tree=False)


def begin_beside(report, *, same_tree: bool):
    """Begin a report that takes over what need not be asked again; danger is always asked."""
    contact = report.contact
    answers = {
        "site": report.site.ref if report.site else None,
        "contact": (contact.email or contact.phone) if contact else None,
    }
    if same_tree:
        answers["tree"] = report.tree.ref if report.tree else None
        answers["landmark"] = report.landmark or None
    _draft, key = start_draft(area=report.area, at=timezone.now(), answers=answers)
    return redirect("frontend:report-danger", key)
