"""The private page of one report, opened by its secret."""

import math
import uuid
from contextlib import suppress
from urllib.parse import urlencode

from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import pgettext
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_POST

from frontend.believed import plainly_said
from frontend.headers import secret_page
from frontend.neighbor import steps
from frontend.neighbor.behind import behind_of, kept_away, unseen_in
from frontend.neighbor.calls import calls_for
from frontend.neighbor.drafts import without_nul
from frontend.neighbor.forms import ReplyForm
from frontend.neighbor.limits import BEGINNING, LOOKING_UP, SENDING, please_wait, seconds_to_wait
from frontend.neighbor.story import story_of
from frontend.neighbor.views.sending import begin_beside
from survey.causes.saving import decision_of
from survey.condition.models import Belief
from survey.handbook.book import book
from survey.photos.models import Photo
from survey.reports.actions.answer_check import answer_check
from survey.reports.actions.intake import write_reply
from survey.reports.answered import answered_by
from survey.reports.keys import digest
from survey.reports.models import Report
from survey.reports.reference import report_name
from survey.trees.models import Look


def _opened_by(secret: str) -> Report | None:
    return (
        Report.objects.filter(secret_digest=digest(secret))
        .select_related("area", "site", "tree__site", "tree__area", "joined_to", "contact")
        .prefetch_related("signs", "photos", "replies", "decisions")
        .first()
    )


@csrf_exempt
@secret_page
@require_POST
def again(request, secret):
    """Tell what the same tree looks like now: nothing known is asked twice."""
    report = _opened_by(secret)
    if report is None:
        return render(request, "frontend/neighbor/lost_note.html", status=404)
    wait = seconds_to_wait(request, BEGINNING)
    if wait:
        return please_wait(request, wait)
    return begin_beside(report, same_tree=True)


@csrf_exempt
@secret_page
@require_http_methods(["GET", "HEAD", "POST"])
def note(request, secret):
    """What became of a report; and, when something was asked, the place to answer."""
    report = _opened_by(secret)
    if report is None:
        wait = seconds_to_wait(request, LOOKING_UP)
        if wait:
            return please_wait(request, wait)
        return render(request, "frontend/neighbor/lost_note.html", status=404)
    form = ReplyForm(initial={"client_ref": uuid.uuid4()})
    wait = 0
    if request.method == "POST":
        wait = seconds_to_wait(request, SENDING)
        form = ReplyForm(without_nul(request.POST))
        if form.is_valid() and not wait:
            try:
                write_reply(
                    report=report,
                    words=form.cleaned_data["words"],
                    client_ref=form.cleaned_data["client_ref"],
                    at=report.area.now(),
                )
            except ValidationError as trouble:
                form.add_error("words", trouble.message_dict["words"])
            else:
                return redirect("frontend:note", secret)
        elif wait:
            form.add_error(
                "words",
                _("That was a lot from one place. Please send it again in %d minutes.")
                % math.ceil(wait / 60),
            )
    tree = report.tree
    story = story_of(report)
    danger = book().dangers.get(report.danger) if story.is_danger else None
    near = danger is None and kept_away(report) is not None
    photos = sorted(report.photos.all(), key=lambda photo: photo.pk)
    response = render(
        request,
        "frontend/neighbor/note.html",
        {
            "area": report.area,
            "report": report,
            "name": report_name(report),
            "secret": secret,
            "story": story,
            "danger": danger,
            "calls": calls_for(report.area, danger) if danger else [],
            "form": form,
            "tree": tree,
            "tree_name": steps.name_of_tree(tree) if tree else "",
            "believed": _believed(tree),
            "last_look": _last_look(report) if danger or near or _is_grave(report) else "",
            "answers": answered_by(report),
            "signs": steps.signs_said(sign.sign for sign in report.signs.all()),
            "photos": [p for p in photos if p.state != Photo.State.REFUSED],
            "behind": behind_of(report, near=near, skip=unseen_in(request.GET)),
            "unseen": unseen_in(request.GET),
            "near": near,
            "answered": "answered" in request.GET,
            "back": "note",
            "refused": [p for p in photos if p.state == Photo.State.REFUSED],
        },
        status=429 if wait else 400 if form.errors else 200,
    )
    if wait:
        response.headers["Retry-After"] = str(wait)
    return response


@csrf_exempt
@secret_page
@require_POST
def answer(request, secret):
    """Take the answer to the one question, and lead back to the page it stood on."""
    report = _opened_by(secret)
    if report is None:
        return render(request, "frontend/neighbor/lost_note.html", status=404)
    wait = seconds_to_wait(request, SENDING)
    if wait:
        return please_wait(request, wait)
    check, said = request.POST.get("check", ""), request.POST.get("answer", "")
    back = reverse("frontend:note", args=[secret])
    if request.POST.get("back") == "receipt" and request.POST.get("key"):
        with suppress(NoReverseMatch):
            back = reverse("frontend:report-sent", args=[request.POST["key"]])
    if said not in ("yes", "no"):
        unseen = dict.fromkeys(unseen_in(request.POST))
        unseen |= dict.fromkeys([check] if check in book().checks else [])
        query = urlencode([("unseen", code) for code in unseen])
        return redirect(f"{back}?{query}#behind" if query else f"{back}#behind")
    if kept_away(report):
        context = {"said": _("There is an open danger near it. Stay away."), "back": back}
        return render(request, "frontend/neighbor/not_kept.html", context, status=422)
    try:
        answer_check(report=report, check=check, yes=said == "yes", at=report.area.now())
    except ValidationError as trouble:
        context = {"said": " ".join(trouble.messages), "back": back}
        return render(request, "frontend/neighbor/not_kept.html", context, status=422)
    return redirect(f"{back}?answered#behind")


def _believed(tree) -> str:
    """What is thought of its tree today, in one sentence; "" where nobody has weighed it."""
    if tree is None or tree.left:
        return ""
    belief = Belief.objects.filter(tree=tree).first()
    return plainly_said(belief, state=decision_of(tree, belief=belief).state.name) if belief else ""


def _is_grave(report: Report) -> bool:
    """Whether it tells of bark that is gone, or of a danger: "stable" beside it would mislead."""
    known = book().signs
    bark = [one.sign for one in report.signs.all() if one.sign in known]
    return bool(report.danger) or any(known[sign].asks_extent for sign in bark)


def _last_look(report: Report) -> str:
    """When somebody trained last stood in front of its tree, instead of how we think it is."""
    if report.tree is None or report.tree.left:
        return ""
    looks = Look.objects.standing_record().trained().filter(tree=report.tree)
    last = looks.exclude(presence=Look.Presence.NOT_SEEN).newest_first().first()
    if last is None:
        return _("No trained person has looked at this tree yet.")
    day = date_format(last.day, pgettext("a day in a sentence", "F j, Y"))
    return _("A trained person last looked at this tree on %s.") % day
