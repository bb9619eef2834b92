"""Work out survival from a table that somebody brings. Open to all; nothing is kept."""

import json

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from frontend.context import home_area
from frontend.liaison.own_table.asked import UNITS, Asked, Sent, sent
from frontend.liaison.own_table.pictures import survival_chart
from frontend.liaison.own_table.said import (
    age_said,
    chosen,
    counted_said,
    finding_of,
    groups_said,
)
from frontend.liaison.said import hundred
from frontend.neighbor.limits import Limit, please_wait, seconds_to_wait
from survey.exports.own_table.answer import FIGURES, Answer, answer, as_json, figure_rows
from survey.exports.own_table.columns import FORMS, ColumnsWanted, Form, guess
from survey.exports.own_table.gather import Bounds, Gathering, gather
from survey.exports.own_table.wording import ask_ages, p_said, test_name, why_said
from survey.exports.reading import UnreadableFile, open_sheet
from survey.exports.writing import csv_lines
from survey.science.survival.limits import METHOD

WORKING = Limit("own table", 120)  # a class of thirty, four tries each
BOUNDS = Bounds(rows=20_000, groups=12)
MOST_WORK = 300_000  # cube of the stretches told apart, over all groups: a few seconds
SHOWN = 100  # bad rows


@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
def own_table(request):
    """The page: a table comes in, the figures go out.

    It needs no form token, because sending it changes nothing and no one is known by it.
    """
    if request.method != "POST":
        return _page(request, Sent())
    if wait := seconds_to_wait(request, WORKING):
        return please_wait(request, wait)
    found = sent(request)
    if found.trouble:
        return _page(request, found, trouble=found.trouble)
    asked = found.asked
    try:
        ages = ask_ages(asked.at)
    except ValueError as trouble:
        return _page(request, found, ages_trouble=str(trouble))
    try:
        read = gather(
            asked.file,
            today=timezone.localdate(),
            form=asked.kind,
            columns=asked.columns,
            guessing=asked.columns is None,
            by=asked.by,
            bounds=BOUNDS,
        )
        if read.bad_rows and not asked.leave_out:
            return _page(request, found, read=read)
        told = answer(read, ages=ages, most_work=MOST_WORK, with_curve=True)
    except ColumnsWanted as wanted:
        said = str(wanted) if asked.columns is not None else ""
        return _page(request, found, wanted=wanted, columns_trouble=said)
    except UnreadableFile as trouble:
        return _page(request, found, trouble=str(trouble))
    if asked.want == "json":
        return _file(json.dumps(as_json(told), indent=2, allow_nan=False), "json")
    if asked.want == "csv":
        return _file("".join(csv_lines(FIGURES, figure_rows(told))), "csv")
    return _answer(request, asked, read, told)


def _file(text: str, kind: str) -> HttpResponse:
    types = {"json": "application/json", "csv": "text/csv; charset=utf-8; header=present"}
    return HttpResponse(
        text,
        content_type=types[kind],
        headers={
            "Content-Disposition": f'attachment; filename="survival-of-your-table.{kind}"',
            "Cache-Control": "no-store",
        },
    )


def _page(
    request,
    found: Sent,
    *,
    trouble: str = "",
    ages_trouble: str = "",
    columns_trouble: str = "",
    wanted: ColumnsWanted | None = None,
    read: Gathering | None = None,
):
    """The page without figures: at first, when something must be said, when rows are bad."""
    settings = None
    if wanted is not None:
        settings = _settings(found.asked, wanted.form, wanted.mapping)
    elif read is not None:
        settings = _settings(found.asked, read.form, read.mapping)
    elif found.asked.text:
        settings = _settings_as_sent(found.asked)
    bad = bool(trouble or ages_trouble or columns_trouble or (read and read.bad_rows))
    response = render(
        request,
        "frontend/liaison/own_table.html",
        {
            "area": home_area(),
            "nav": "survival",
            "forms": FORMS.values(),
            "pasted": found.pasted,
            "trouble": trouble,
            "ages_trouble": ages_trouble,
            "columns_trouble": columns_trouble,
            "settings": settings,
            "read": read,
            "problems": read.problems[:SHOWN] if read else [],
            "hidden": max(0, read.bad_rows - SHOWN) if read else 0,
            "wrong": bad,
        },
        status=422 if bad else 200,
    )
    if request.method == "POST":
        response.headers["Cache-Control"] = "no-store"
    return response


def _settings_as_sent(asked: Asked) -> dict | None:
    """The choices as they came, where the table could not be read to the end."""
    try:
        header = open_sheet(asked.file).header
    except UnreadableFile:
        return None
    form, mapping = guess(header, FORMS.get(asked.kind))
    return _settings(asked, form, mapping if asked.columns is None else asked.columns)


def _settings(asked: Asked, form: Form, mapping: dict[str, str]) -> dict:
    """Everything that can be chosen for a table, with what is chosen, and the table itself."""
    header = [name for name in open_sheet(asked.file).header if name]
    return {
        "text": asked.text,
        "kind": form.name,
        "kinds": FORMS.values(),
        "columns": [
            {
                "name": field.name,
                "meaning": field.meaning,
                "chosen": mapping.get(field.name, ""),
                "required": field.required,
            }
            for field in form.fields
        ],
        "header": header,
        "by": asked.by,
        "at": asked.at,
        "unit": asked.unit,
        "units": None if form.ages_in_months else UNITS.items(),
        "leave_out": asked.leave_out,
    }


def _answer(request, asked: Asked, read: Gathering, told: Answer):
    unit = "months" if told.in_months else asked.unit
    alone = len(told.groups) == 1
    groups = []
    for group in told.groups:
        finding = finding_of(group, unit, alone=alone)
        picked = chosen(group, unit)
        groups.append(
            {
                "name": group.name,
                "finding": finding,
                "counted": counted_said(group),
                "chart": survival_chart(group, unit, f"{finding.said} {finding.sure}"),
                "rows": [
                    {
                        "age": age_said(row.age, unit),
                        "chosen": row is picked,
                        "least": hundred(row.at_least),
                        "most": hundred(row.at_most, up=row.at_most != row.at_least),
                        "low": hundred(row.low),
                        "high": hundred(row.high, up=True),
                        "withheld": why_said(row.why) if row.why else "",
                        "row": row,
                    }
                    for row in group.rows
                ],
            }
        )
    notes = [*told.notes, *(note for group in told.groups for note in group.notes)]
    response = render(
        request,
        "frontend/liaison/own_table_answer.html",
        {
            "area": home_area(),
            "nav": "survival",
            "finding": groups[0]["finding"] if alone else groups_said(told, read.by),
            "alone": alone,
            "groups": groups,
            "tests": [
                {"name": test_name(name), "statistic": f"{test.statistic:.3f}", "p": p_said(test.p)}
                for name, test in told.tests.items()
                if test
            ],
            "cautions": [note.said for note in notes],
            "settings": _settings(asked, read.form, read.mapping),
            "read": read,
            "unit_unknown": not unit,
            "method": METHOD,
        },
    )
    response.headers["Cache-Control"] = "no-store"
    return response
