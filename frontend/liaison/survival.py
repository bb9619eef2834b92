"""Survival: the list of groups, and the page of one."""

from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.utils.html import mark_safe
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.liaison.pictures import accounted, range_picture, survival_chart
from frontend.liaison.said import (
    counted_said,
    finding_of,
    hundred,
    milestone_said,
    withheld_said,
)
from frontend.places import area_of
from survey.people.policy import may_read_survival
from survey.survival.cautions import in_words
from survey.survival.figures import METHOD_IN_FULL, MILESTONES, SECOND_SUMMER
from survey.survival.keys import GROUPINGS
from survey.survival.models import Figure, Group
from survey.trees.models import Area

QUIET = {"invented", "mixed", "gaps", "late_entry", "between_looks"}
"""Cautions that stand on nearly every group; the list shows the others."""


@require_safe
@only(may_read_survival)
def survival(request):
    """Every group of one grouping, in order of its name: this is no ranking."""
    area = area_of(request)
    by = request.GET.get("by", "planting")
    if by not in GROUPINGS:
        raise Http404
    groups = Group.objects.filter(area=area).by(by).prefetch_related("figures").order_by("label")
    rows = [_row(group) for group in groups]
    context = {
        "area": area,
        "nav": "survival",
        "by": by,
        "groupings": Group.By.choices,
        "areas": Area.objects.order_by("-is_home", "name"),
        "rows": rows,
        "as_of": area.today(),
    }
    return render(request, "frontend/liaison/survival.html", context)


@require_safe
@only(may_read_survival)
def survival_group(request, by: str, key: str):
    """What can be said of one group, and how it was worked out."""
    area = area_of(request)
    group = get_object_or_404(Group.objects.select_related("area"), area=area, by=by, key=key)
    figures = list(group.figures.all())
    loss = {figure.milestone: figure for figure in figures if figure.curve == "loss"}
    death = {figure.milestone: figure for figure in figures if figure.curve == "death"}
    finding = finding_of(group, loss)
    statuses = group.counts["statuses"]
    context = {
        "area": area,
        "nav": "survival",
        "group": group,
        "finding": finding,
        "counted": counted_said(group),
        "chart": survival_chart(group, loss[SECOND_SUMMER], f"{finding.said} {finding.sure}"),
        "accounted": accounted(group),
        "rows": [_figures(loss[name], death[name]) for name in sorted(MILESTONES, key=_age(loss))],
        "apart": bool(group.counts["other_losses"]),
        "statuses": {name: count for name, count in statuses.items() if count},
        "excluded": {name: count for name, count in group.counts["excluded"].items() if count},
        "cautions": [in_words(caution) for caution in group.cautions],
        "mortality": _mortality(group),
        "method": METHOD_IN_FULL,
    }
    return render(request, "frontend/liaison/survival_group.html", context)


def _age(figures: dict[str, Figure]):
    return lambda name: (figures[name].age_months, name != SECOND_SUMMER)


def _row(group: Group) -> dict:
    figures = {figure.milestone: figure for figure in group.figures.all() if figure.curve == "loss"}
    second = figures[SECOND_SUMMER]
    # A figure that is not there needs no caution; the words in its place say why it is not.
    told = () if second.withheld else group.cautions
    notable = [in_words(caution) for caution in told if caution["code"] not in QUIET]
    return {
        "group": group,
        "second": second,
        "least": hundred(second.at_least),
        "low": hundred(second.low),
        "high": hundred(second.high, up=True),
        # our own drawing, its title escaped by the pen
        "picture": "" if second.withheld else mark_safe(range_picture(second, group.label)),  # noqa: S308
        "withheld": withheld_said(second.withheld) if second.withheld else "",
        "caution": notable[0] if notable else "",
        "more": max(0, len(notable) - 1),
    }


def _figures(loss: Figure, death: Figure) -> dict:
    return {
        "name": milestone_said(loss.milestone),
        "chosen": loss.milestone == SECOND_SUMMER,
        "age": loss.age_months,
        "watched": loss.at_risk,
        "alive": loss.count_alive,
        "lost": loss.count_lost,
        "unknown": loss.count_unknown,
        "withheld": withheld_said(loss.withheld) if loss.withheld else "",
        "least": hundred(loss.at_least),
        "most": _end(loss),
        "low": hundred(loss.low),
        "high": hundred(loss.high, up=True),
        "not_dead": hundred(death.at_least),
        "not_dead_most": _end(death),
    }


def _end(figure: Figure) -> int | None:
    """The other end of a figure, rounded up; the same number where there is only one end."""
    if figure.at_most == figure.at_least:
        return hundred(figure.at_least)
    return hundred(figure.at_most, up=True)


def _mortality(group: Group) -> dict:
    def row(found: dict, annual: str) -> dict:
        return found | {
            "annual_100": hundred(found[annual], up=True),
            "low_100": hundred(found["low"]),
            "high_100": hundred(found["high"], up=True),
        }

    told = group.mortality
    return {
        "overall": row(told["overall"], "annual") if told.get("overall") else None,
        "bands": [row(band, "at_most") for band in told.get("bands", [])],
    }
