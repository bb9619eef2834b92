"""The first page, the danger page, and the door back to a report that was sent."""

import re

from django.http import Http404
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe

from frontend.context import home_area
from frontend.headers import secret_page
from frontend.neighbor import steps
from frontend.neighbor.calls import calls_for, keep_back_words
from frontend.neighbor.drafts import go_on, of_draft, page
from frontend.neighbor.limits import (
    BEGINNING,
    LOOKING_UP,
    please_wait,
    seconds_to_wait,
)
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.reports.actions.drafts import save_answers, start_draft
from survey.reports.keys import digest
from survey.reports.models import Report
from survey.trees.models import Site, Tree

SECRET = re.compile(r"[A-Za-z0-9_-]{43}")


def area_or_404():
    area = home_area()
    if area is None:
        raise Http404
    return area


@require_safe
def start(request):
    """The first page of all. Before the house is set up it says so."""
    return render(request, "frontend/neighbor/start.html", {"area": home_area()})


def _danger_cards():
    return list(book().dangers.values())


@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
def begin(request):
    """Is anybody in danger? The answer begins a report; looking at the page begins nothing."""
    area = area_or_404()
    asked_for = request.POST.get("tree") or request.GET.get("tree", "")
    tree = Tree.objects.select_related("site").filter(area=area, ref=asked_for[:60]).first()
    nobody_chose = request.method == "POST" and _chosen(request) is None
    if request.method != "POST" or nobody_chose:
        return render(
            request,
            "frontend/neighbor/danger.html",
            {
                "area": area,
                "dangers": _danger_cards(),
                "tree": tree,
                "step": 1,
                "steps": steps.NODES,
                "title": steps.DANGER.title,
                "place": steps.place_of_tree(tree) if tree else "",
                "back_url": reverse("frontend:start"),
                "nobody_chose": nobody_chose,
            },
        )
    wait = seconds_to_wait(request, BEGINNING)
    if wait:
        return please_wait(request, wait)
    answers = _chosen(request)
    if tree is not None:
        answers |= {"tree": tree.ref, "site": tree.site.ref}
    else:
        site = Site.objects.filter(area=area, ref=request.POST.get("site", "")[:60]).first()
        if site is not None:
            answers["site"] = site.ref
    draft, key = start_draft(area=area, at=timezone.now(), answers=answers)
    return _after_danger(key, draft)


def _chosen(request) -> dict | None:
    """What was chosen on the danger page; None when it was nothing we know."""
    choice = request.POST.get("danger", "")
    if choice == "none":
        return {"danger": None, "safe": True}
    if choice in book().dangers:
        return {"danger": choice, "safe": None}
    return None


def _after_danger(key, draft):
    if steps.is_danger(draft):
        return redirect("frontend:report-stop", key)
    return go_on(key, draft)


@of_draft("danger")
def danger(request, draft, key):
    """The same question again, from the way back or a Change link."""
    answers = _chosen(request) if request.method == "POST" else None
    if answers is not None:
        draft = save_answers(draft=draft, answers=answers, at=timezone.now())
        return _after_danger(key, draft)
    return page(
        request,
        "danger",
        draft,
        key,
        steps.DANGER,
        dangers=_danger_cards(),
        nobody_chose=request.method == "POST",
    )


@of_draft("where")
def stop(request, draft, key):
    """Stand back, and whom to call: before anything else is asked."""
    record = book().dangers.get(draft.answers.get("danger", ""))
    if record is None:
        return go_on(key, draft)
    return page(
        request,
        "stop",
        draft,
        key,
        steps.DANGER,
        danger=record,
        danger_label=said(record.label),
        keep_back_said=keep_back_words(record),
        calls=calls_for(draft.area, record),
        go_on_url=steps.next_url(key, draft),
        back_url=reverse("frontend:report-danger", args=[key]),
    )


@csrf_exempt
@secret_page
@require_http_methods(["GET", "HEAD", "POST"])
def look_up(request):
    """Opens a report's private page from a pasted address."""
    typed = request.POST.get("address", "")[:500]
    wrong = False
    if request.method == "POST":
        wait = seconds_to_wait(request, LOOKING_UP)
        if wait:
            return please_wait(request, wait)
        for secret in SECRET.findall(typed):
            if Report.objects.filter(secret_digest=digest(secret)).exists():
                return redirect("frontend:note", secret)
        wrong = True
    return render(
        request,
        "frontend/neighbor/look_up.html",
        {
            "area": home_area(),
            "typed": typed,
            "wrong": wrong,
            "back_url": reverse("frontend:start"),
        },
        status=404 if wrong else 200,
    )
