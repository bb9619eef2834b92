"""Tables to take away, and what their columns mean."""

from hashlib import sha256

from django.http import Http404, HttpResponseNotModified, StreamingHttpResponse
from django.shortcuts import render
from django.utils.cache import get_conditional_response
from django.utils.http import quote_etag
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.places import area_of, asked
from survey.condition.models import Outlook, SiteMonth
from survey.exports.dictionary import caution_examples, meaning_of, type_of
from survey.exports.kinds import EXPORTS, IMPORTS
from survey.exports.outlooks import outlook_rows
from survey.exports.survival import survival_rows
from survey.exports.trees import tree_rows
from survey.exports.trends import trend_rows
from survey.exports.writing import csv_lines
from survey.people.policy import may_import, may_read_survival
from survey.survival.figures import METHOD_IN_FULL
from survey.survival.keys import GROUPINGS
from survey.survival.models import Group
from survey.survival.weighed_figures import METHOD_IN_FULL as WEIGHED_IN_FULL
from survey.trees.models import Area


@require_safe
@only(may_read_survival)
def downloads(request):
    area = area_of(request)
    counts = {by: Group.objects.filter(area=area).verified().by(by).count() for by in GROUPINGS}
    context = {
        "area": area,
        "nav": "survival",
        "groupings": [(by, name, counts[by]) for by, name in Group.By.choices],
        "trees": area.trees.count(),
        "outlooks": Outlook.objects.filter(area=area).count(),
        "months": SiteMonth.objects.filter(site__area=area).count(),
        "areas": Area.objects.order_by("-is_home", "name"),
        "may_import": may_import(request.user),
    }
    return render(request, "frontend/liaison/downloads.html", context)


@require_safe
@only(may_read_survival)
def download(request, table: str):
    """One table as CSV, streamed. `by` and `key` choose groups; `for=spreadsheets` adds the mark.

    The survival table says by its ETag whether anything has changed.
    """
    if table not in EXPORTS:
        raise Http404
    area = area_of(request)
    by, key = asked(request, "by"), asked(request, "key")
    if by not in ("", *GROUPINGS) or (key and not by):
        raise Http404
    marked = request.GET.get("for") == "spreadsheets"
    etag = None
    if table == "survival":
        groups = Group.objects.filter(area=area)
        groups = groups.by(by) if by else groups
        groups = groups.filter(key=key) if key else groups
        etag = _etag(groups, marked)
        if isinstance(
            answer := get_conditional_response(request, etag=etag), HttpResponseNotModified
        ):
            return answer
        rows = survival_rows(groups)
    elif table == "trees":
        rows = tree_rows(area, by, key) if key else tree_rows(area)
    elif table == "outlooks":
        outlooks = Outlook.objects.filter(area=area)
        outlooks = outlooks.filter(by=by) if by else outlooks
        rows = outlook_rows(outlooks.filter(key=key) if key else outlooks)
    else:
        rows = trend_rows(SiteMonth.objects.filter(site__area=area))
    name = "-".join(part for part in (area.ref, table, by, key) if part)
    response = StreamingHttpResponse(
        csv_lines(EXPORTS[table], rows, for_spreadsheets=marked),
        content_type="text/csv; charset=utf-8; header=present",
        headers={
            "Content-Disposition": f'attachment; filename="{name}.csv"',
            "Cache-Control": "private, no-cache",
        },
    )
    if etag:
        response["ETag"] = etag
    return response


def _etag(groups, marked: bool) -> str:
    digest = sha256(str(marked).encode())
    # the day, the town's fit and the learning stand in the rows too, and move without the evidence
    marks = groups.in_order().values_list("evidence", "as_of", "pooled__fit", "counts__learning")
    for mark in marks:
        digest.update(repr(mark).encode())
    return quote_etag(digest.hexdigest()[:32])


@require_safe
@only(may_read_survival)
def dictionary(request):
    """What every column means, from the definitions that write the files."""

    def told(table):
        return {
            "table": table,
            "columns": [
                {"column": column, "type": type_of(column), "meaning": meaning_of(column)}
                for column in table.columns
            ],
        }

    context = {
        "nav": "survival",
        "exports": [told(table) for table in EXPORTS.values()],
        "imports": [told(kind.table) for kind in IMPORTS.values()],
        "cautions": caution_examples(),
        "method": f"{METHOD_IN_FULL} {WEIGHED_IN_FULL}",
    }
    return render(request, "frontend/liaison/dictionary.html", context)
