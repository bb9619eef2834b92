"""Whether care helped: every kind of care given in a town, and the page of one."""

from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.liaison import helped_said as words
from frontend.places import area_of
from survey.people.policy import may_read_survival
from survey.science.survival.care_effect import METHOD
from survey.survival.models import CareCompared
from survey.trees.models import Area

SCALES = {
    "age_months": (1, 0),
    "months_since_look": (1, 1),
    "grade": (1, 1),
    "in_trouble": (100, 0),
}
"""By measure: what it is multiplied by, and its decimal places."""

ALIKE = 0.1  # standard deviations: up to here a difference is negligible, as the science room says


@require_safe
@only(may_read_survival)
def care_kinds(request):
    """Every kind of care given, in order of its name, with its sentence or why there is none."""
    area = area_of(request)
    found = CareCompared.objects.filter(area=area)
    rows = [
        {
            "care": one.care,
            "name": words.care_named(one.care),
            "told": one.told,
            "finding": words.finding_of(one.told),
        }
        for one in found
    ]
    context = {
        "area": area,
        "nav": "survival",
        "areas": Area.objects.order_by("-is_home", "name"),
        "rows": sorted(rows, key=lambda row: row["name"].casefold()),
        "as_of": found[0].as_of if found else area.today(),
    }
    return render(request, "frontend/liaison/care_kinds.html", context)


@require_safe
@only(may_read_survival)
def care_kind(request, code: str):
    """What can be said of one kind of care, what it rests on, and what is missing."""
    area = area_of(request)
    if len(code) > CareCompared._meta.get_field("care").max_length:
        raise Http404
    one = get_object_or_404(CareCompared, area=area, care=code)
    told = one.told
    context = {
        "area": area,
        "nav": "survival",
        "name": words.care_named(one.care),
        "as_of": one.as_of,
        "told": told,
        "finding": words.finding_of(told),
        "undecided": words.is_undecided(told),
        "plain": words.plain_said(told) if words.is_told(told) else "",
        "figures": _figures(told),
        "change": words.change_said(told["change"]) if told["change"] else "",
        "chance": words.chance_said(told["p"]) if words.is_told(told) else "",
        "balance": _balance(told),
        "assumptions": [words.assumption_said(code) for code in told["assumptions"]],
        "method": METHOD,
    }
    return render(request, "frontend/liaison/care_kind.html", context)


def _figures(told: dict) -> list[dict]:
    """The three figures together; none where one of them is missing."""
    if not told["effect"]:
        return []
    names = [
        ("effect", _("matched, up to their own later care")),
        ("followed", _("matched, followed to the end")),
        ("plain", _("not matched: misleads")),
    ]
    return [
        {
            "name": name,
            "with_care": words.near(told[part]["with_care"]),
            "without": words.near(told[part]["without"]),
            "difference": words.signed(told[part]["difference"]),
            **words.ends_of(told[part]),
        }
        for part, name in names
    ]


def _balance(told: dict) -> list[dict]:
    """Each measure among trees with care and without, before matching and after."""
    after = {row["measure"]: row for row in told["after"]}
    return [
        {
            "name": words.measure_said(row["measure"]),
            "before": _row(row),
            "after": _row(after[row["measure"]]) if row["measure"] in after else None,
        }
        for row in told["before"]
    ]


def _row(row: dict) -> dict:
    scale, places = SCALES[row["measure"]]
    apart = row["difference"]
    return {
        "treated": _number(row["treated"], scale, places),
        "others": _number(row["others"], scale, places),
        "apart": _number(apart, 1, 2),
        "uneven": apart is not None and abs(apart) > ALIKE,
    }


def _number(value: float | None, scale: int, places: int) -> str:
    if value is None:
        return "–"
    return number_format(value * scale, places).replace("-", "\N{MINUS SIGN}")
