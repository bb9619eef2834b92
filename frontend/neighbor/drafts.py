"""Opens the pages of a report being written: whoever has the address may write, nobody else.

The address carries 32 random bytes, which no other page can know; so these pages need neither a
session nor a cookie, and a form without a CSRF token is as safe as one with it. A browser that
lost its cookies half way loses nothing.
"""

from functools import wraps

from django.http import HttpResponseRedirect
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from frontend.headers import secret_page
from frontend.neighbor import steps
from frontend.neighbor.limits import POSTING, please_wait, seconds_to_wait
from survey.reports.actions.drafts import open_draft, save_answers, sent_report

TYPED = ("words", "landmark", "contact")


def of_draft(name: str):
    """A page of one draft; `name` is its step. The view gets the draft and its key.

    An unknown key gets a kind page that begins again; one that was sent leads to its receipt; a
    page whose earlier questions are open leads to the first of them.
    """

    def guard(view):
        @csrf_exempt
        @secret_page
        @require_http_methods(["GET", "HEAD", "POST"])
        @wraps(view)
        def guarded(request, key, **kwargs):
            draft = open_draft(key)
            if draft is None:
                if sent_report(key):
                    return redirect("frontend:report-sent", key)
                return render(request, "frontend/neighbor/lost.html", status=404)
            if request.method == "POST":
                wait = seconds_to_wait(request, POSTING)
                if wait:
                    keep_typed(draft, request.POST)
                    return please_wait(request, wait, go_on_url=steps.next_url(key, draft))
            if not steps.may_open(draft, name):
                return HttpResponseRedirect(steps.next_url(key, draft))
            return view(request, draft, key, **kwargs)

        return guarded

    return guard


def keep_typed(draft, posted) -> None:
    """Keep the words of a form that cannot be read now."""
    typed = {name: posted[name] for name in TYPED if name in posted}
    if typed:
        save_answers(draft=draft, answers=typed, at=timezone.now())


def without_nul(posted):
    """The form as it was typed, without the one letter that no form may hold."""
    cleaned = posted.copy()
    for name, values in cleaned.lists():
        cleaned.setlist(name, [value.replace("\x00", "") for value in values])
    return cleaned


def page(request, template: str, draft, key: str, step: steps.Step, *, status=200, **context):
    """Show one question, with its twig, its way back, and what the report is about."""
    tree = steps.tree_of(draft)
    site = tree.site if tree else steps.site_of(draft)
    last = steps.DANGER_NODES if steps.is_danger(draft) else steps.NODES
    return render(
        request,
        f"frontend/neighbor/{template}.html",
        {
            "area": draft.area,
            "draft": draft,
            "key": key,
            "said": draft.answers,
            "step": step.node,
            "steps": last,
            "title": step.title,
            "place": steps.place_of(draft, tree, site),
            "tree": tree,
            "site": site,
            "in_danger": steps.is_danger(draft),
            "back_url": steps.back_url(key, draft, step.name),
            **context,
        },
        status=status,
    )


def go_on(key: str, draft) -> HttpResponseRedirect:
    return HttpResponseRedirect(steps.next_url(key, draft))
