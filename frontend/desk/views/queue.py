"""The queue: a timetable of reasons. Its sentence is its address."""

from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.desk import sayings
from frontend.desk.rows import reports_by_key, rows_of
from frontend.desk.strips import open_strips
from frontend.places import home_area
from frontend.turned import turned_in
from survey.people.policy import may_triage
from survey.reports import queue as desk
from survey.reports.models import Report
from survey.reports.promises import READ_WITHIN
from survey.trees.models import Site
from survey.trees.species import kinds_in

A_GROUP = 5
A_PAGE = 50
MOST_DAYS = 21


def states() -> dict[str, str]:
    return {
        "open": _("everything still open"),
        "new": _("what is new"),
        "asked": _("what we asked back"),
        "ordered": _("what has an order"),
        "answered": _("what is answered"),
        "joined": _("what is joined"),
        "set_aside": _("what is set aside"),
        "all": _("every note"),
    }


def languages() -> dict[str, str]:
    return {"": _("any language"), "en": _("English"), "es": _("Spanish")}


def _asked(request, sites: dict[str, Site]) -> desk.Asked:
    """What the address asks for; a word nobody knows counts as not said."""
    state = request.GET.get("state", "open")
    language = request.GET.get("language", "")
    return desk.Asked(
        state=state if state in states() else "open",
        site=sites.get(request.GET.get("site", "")),
        language=language if language in languages() else "",
        danger=request.GET.get("danger") == "1",
    )


def address_of(asked: desk.Asked, **more: str) -> str:
    words = {
        "state": asked.state if asked.state != "open" else "",
        "site": asked.site.ref if asked.site else "",
        "language": asked.language,
        "danger": "1" if asked.danger else "",
        **more,
    }
    return urlencode({name: word for name, word in words.items() if word})


@require_safe
@only(may_triage)
def queue(request):
    area = home_area()
    sites = {site.ref: site for site in Site.objects.filter(area=area)}
    asked = _asked(request, sites)
    why = request.GET.get("why", "")
    kinds = kinds_in(area)
    words = sayings.why_words()
    context = {
        "nav": "queue",
        "asked": asked,
        "sites": list(sites.values()),
        "states": states().items(),
        "languages": languages().items(),
        "query": address_of(asked),
        "strips": open_strips(request.user, area),
        "newest": desk.newest_key(area),
        "turns": turned_in(area),
        "may_triage": True,
    }
    if asked.state == "open" and why not in words:
        context |= _timetable(area, asked, kinds, words)
    else:
        context |= _list(request, area, asked, why if asked.state == "open" else "", kinds, words)
    context |= _pace(area, asked, context)
    return render(request, "frontend/desk/queue.html", context)


def _timetable(area, asked, kinds, words) -> dict:
    """Each reason with its first reports."""
    groups = desk.groups(area, asked, most=A_GROUP)
    keys = [(key, group.why) for group in groups for key in group.keys]
    reports = reports_by_key([key for key, _why in keys])
    keys = [(key, why) for key, why in keys if key in reports]
    rows = rows_of([reports[key] for key, _why in keys], [why for _key, why in keys], area, kinds)
    by_why: dict[str, list] = {}
    for row, (_key, why) in zip(rows, keys, strict=True):
        by_why.setdefault(why, []).append(row)
    return {
        "counts": {group.why: group.count for group in groups},
        "groups": [
            {
                "why": group.why,
                "title": words[group.why][0],
                "sub": words[group.why][1],
                "count": group.count,
                "hidden": group.hidden,
                "rows": by_why.get(group.why, []),
                "more": address_of(asked, why=group.why),
            }
            for group in groups
        ],
    }


def _list(request, area, asked, why, kinds, words) -> dict:
    """All reports of one reason, or of one state, newest first, in pages."""
    if why:
        found = desk.of_reason(area, asked, why)
    else:
        found = desk.chosen(area, asked).order_by("-submitted_at", "-pk")
    page = Paginator(found.values_list("pk", flat=True), A_PAGE).get_page(request.GET.get("page"))
    reports = reports_by_key(list(page.object_list))
    ordered = [reports[key] for key in page.object_list if key in reports]
    whys = [why or ("danger" if report.is_danger else "") for report in ordered]
    return {
        "page": page,
        "why_title": words[why][0] if why else "",
        "rows": rows_of(ordered, whys, area, kinds),
        "page_query": address_of(asked, why=why),
        "counts": {},
    }


def _pace(area, asked, context) -> dict:
    pace = desk.pace(area)
    waits = list(desk.days_waited(area, asked)) if asked.state == "open" else []
    shown, later = waits[:MOST_DAYS], sum(waits[MOST_DAYS:])
    promise = READ_WITHIN.days
    late = sum(waits[promise + 1 :])
    left = sum(context["counts"].values())
    dangers = context["counts"].get("danger", 0)
    said = ngettext("%(n)d report waits.", "%(n)d reports wait.", sum(waits)) % {"n": sum(waits)}
    return {
        "today": pace.today,
        "left": left,
        "headline": sayings.headline(dangers, left - dangers, waits, promise),
        "in_and_out": {
            "came": pace.came,
            "left": pace.decided,
            "title": _("In and out, four weeks"),
            "desc": _("%(came)d reports came in and %(decided)d decisions were made.")
            % {"came": sum(pace.came), "decided": sum(pace.decided)},
        },
        "waited": {
            "counts": shown,
            "promise": promise,
            "title": _("Days waited"),
            "desc": said
            + " "
            + ngettext(
                "%d has waited longer than promised.", "%d have waited longer than promised.", late
            )
            % late,
            "words": {
                "promise": ngettext("promised: %d day", "promised: %d days", promise) % promise
            },
        },
        "waited_later": later,
        "waited_days": MOST_DAYS,
        "has_waits": bool(waits),
    }


@require_safe
@only(may_triage)
def arrived(request):
    """How many reports came in since a page was opened: {"n": 3, "words": "3 arrived …"}."""
    after = request.GET.get("after", "")
    if not after.isascii() or not after.isdigit() or len(after) > 18:
        return JsonResponse({"n": 0, "words": ""})
    n = desk.arrived_since(home_area(), int(after))
    words = ngettext("%d arrived while you read.", "%d arrived while you read.", n) % n
    return JsonResponse({"n": n, "words": words if n else ""})


def left_on_desk(area) -> int:
    return Report.objects.filter(area=area).on_the_desk().count()
