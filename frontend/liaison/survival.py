"""Survival: the list of groups, and the page of one."""

from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.utils.html import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.liaison.pictures import accounted, range_picture, survival_chart
from frontend.liaison.reading import (
    Leaning,
    Outcome,
    Rate,
    Row,
    Weighed,
    read,
    rows_of,
    weighed_of,
)
from frontend.liaison.said import (
    COUNT_FIRST_BELOW,
    counted_said,
    far_off_said,
    finding_of,
    forecast_said,
    hundred,
    label_of,
    leaning_said,
    milestone_said,
    mortality_said,
    outcome_rate_said,
    outcome_said,
    outer,
    own_share_said,
    replacements_said,
    town_said,
    withheld_said,
)
from frontend.liaison.weighed_said import about, both_said
from frontend.places import area_of
from survey.people.policy import may_read_survival
from survey.survival.cautions import in_words
from survey.survival.figures import METHOD_IN_FULL
from survey.survival.keys import GROUPINGS
from survey.survival.models import Group
from survey.survival.weighed_figures import METHOD_IN_FULL as WEIGHED_IN_FULL
from survey.trees.models import Area

QUIET = {"invented", "mixed", "gaps", "late_entry", "between_looks"}
"""Cautions that stand on nearly every group; the list shows the others."""

ENDS = {"standing_dead", "gone", "removed_health", "removed_other"}
"""Statuses that the page tells as outcomes, each with its trees."""

RATES = 4  # columns of rates that every table has
DOTS_SHOWN = 40  # trees: more of one outcome are a number, not dots


@require_safe
@only(may_read_survival)
def survival(request):
    """Every group of one grouping, in order of its name: this is no ranking."""
    area = area_of(request)
    by = request.GET.get("by", "planting")
    if by not in GROUPINGS:
        raise Http404
    groups = Group.objects.filter(area=area).by(by).prefetch_related("figures")
    others = {group.key: group for group in groups.weighed()}
    rows = sorted(
        (_row(group, weighed_of(group, others.get(group.key))) for group in groups.verified()),
        key=lambda row: row["label"].casefold(),
    )
    context = {
        "area": area,
        "nav": "survival",
        "by": by,
        "groupings": Group.By.choices,
        "areas": Area.objects.order_by("-is_home", "name"),
        "rows": rows,
        "weighed": bool(others),
        "differ": sum(row["differs"] for row in rows),
        "as_of": area.today(),
    }
    return render(request, "frontend/liaison/survival.html", context)


@require_safe
@only(may_read_survival)
def survival_group(request, by: str, key: str):
    """What can be said of one group, and how it was worked out."""
    area = area_of(request)
    if "\0" in key:  # PostgreSQL cannot hold it, so no group is called that
        raise Http404
    group = get_object_or_404(
        Group.objects.verified().select_related("area").prefetch_related("figures"),
        area=area,
        by=by,
        key=key,
    )
    reading = read(group)
    finding = finding_of(reading)
    statuses = group.counts["statuses"]
    forecast = reading.forecast
    leaning = {told.milestone: told for told in reading.leaning}
    context = {
        "area": area,
        "nav": "survival",
        "group": group,
        "label": label_of(group),
        "finding": finding,
        "counted": counted_said(group),
        "chart": survival_chart(reading, f"{finding.said} {finding.sure}."),
        "accounted": accounted(group),
        "rows": [
            _figures(row, leaning.get(row.milestone), reading.weighed)
            for row in reading.rows
            if row.milestone in leaning or not reading.is_far_off(row)
        ],
        "both": both_said(reading),
        "far_off": far_off_said(reading),
        "town": town_said(reading),
        "rates": RATES + bool(reading.weighed) + bool(leaning) + (reading.year is not None),
        "outcomes": [_outcome(outcome) for outcome in reading.outcomes],
        "statuses": {name: n for name, n in statuses.items() if n and name not in ENDS},
        "excluded": {name: n for name, n in group.counts["excluded"].items() if n},
        "forecast": forecast_said(forecast) if forecast else None,
        "replacements": replacements_said(forecast) if forecast else "",
        "leaning": leaning_said(reading) if leaning else "",
        "own_share": own_share_said(reading.own_share),
        "cautions": [in_words(caution) for caution in group.cautions],
        "mortality": _mortality(group),
        "method": METHOD_IN_FULL,
        "weighed_method": WEIGHED_IN_FULL,
    }
    return render(request, "frontend/liaison/survival_group.html", context)


def _row(group: Group, weighed: Weighed | None) -> dict:
    row = next(row for row in rows_of(group) if row.chosen)
    rate = weighed.at(row.milestone) if weighed else None
    differs = rate is not None and rate.differs
    # A figure that is not there needs no caution; the words in its place say why it is not.
    told = () if row.withheld else group.cautions
    notable = [in_words(caution) for caution in told if caution["code"] not in QUIET]
    if differs:
        notable.insert(0, _("The two readings differ by more than their ranges allow."))
    label = label_of(group)
    return {
        "group": group,
        "label": label,
        "second": row,
        "few": group.counts["in_rates"] < COUNT_FIRST_BELOW,
        "least": hundred(row.at_least),
        "low": hundred(row.low),
        "high": hundred(row.high, up=True),
        # our own drawing, its title escaped by the pen
        "picture": "" if row.withheld else mark_safe(range_picture(row, label, rate)),  # noqa: S308
        "withheld": withheld_said(row.withheld) if row.withheld else "",
        "weighed": rate and _rate(rate),
        "differs": differs,
        "caution": notable[0] if notable else "",
        "more": max(0, len(notable) - 1),
    }


def _rate(rate: Rate) -> dict:
    return {
        "share": about(rate.share),
        "low": hundred(rate.low),
        "high": hundred(rate.high, up=True),
        "withheld": withheld_said(rate.withheld) if rate.withheld else "",
        "differs": rate.differs,
    }


def _figures(row: Row, leaning: Leaning | None, weighed: Weighed | None) -> dict:
    return {
        "row": row,
        "name": milestone_said(row.milestone),
        "withheld": withheld_said(row.withheld) if row.withheld else "",
        "least": hundred(row.at_least),
        "most": outer(row.at_least, row.at_most),
        "low": hundred(row.low),
        "high": hundred(row.high, up=True),
        "not_dead": hundred(row.not_dead),
        "not_dead_most": outer(row.not_dead, row.not_dead_most),
        "town": hundred(row.town),
        "leaning": leaning and _leaning(leaning),
        "weighed": weighed and _rate(weighed.at(row.milestone)),
    }


def _leaning(told: Leaning) -> dict:
    return {
        "share": round(told.share * 100),
        "low": hundred(told.low),
        "high": hundred(told.high, up=True),
    }


def _outcome(outcome: Outcome) -> dict:
    return {
        "said": outcome_said(outcome.name),
        "trees": outcome.trees,
        "dots": outcome.trees <= DOTS_SHOWN,
        "filled": outcome.name == "died",
        "rate": outcome_rate_said(outcome),
    }


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
        "said": mortality_said(told),
    }
