"""Groups of one grouping compared: chosen in the address, answered with what else differs."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.http import Http404
from django.shortcuts import render
from django.utils.formats import number_format
from django.utils.html import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.liaison.compare_said import (
    attribute_said,
    between_said,
    chance_said,
    finding_of,
    labels_said,
    p_said,
    pair_said,
    short,
    value_said,
    why_refused,
)
from frontend.liaison.pictures import range_picture
from frontend.liaison.reading import read, rows_of
from frontend.liaison.said import hundred, label_of, withheld_said, years_said
from frontend.places import MOST_LETTERS, area_of, asked
from survey.people.policy import may_read_survival
from survey.science.survival.comparison import METHOD, SURE, Comparison
from survey.survival.comparing import FEWEST, GROUPINGS, LIKE, MOST, Compared, compare_groups
from survey.survival.models import Group
from survey.trees.models import Area
from survey.trees.species import kinds_in

VALUES_SHOWN = 3  # of each attribute, those that differ most
WORTH_A_ROW = 0.05  # less of a difference than this is called alike


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the address asks for; `keys` are those of groups that exist."""

    by: str
    within: str
    keys: tuple[str, ...]
    trouble: str


@require_safe
@only(may_read_survival)
def compare(request):
    """The form; and the answer once two groups or more are chosen."""
    area = area_of(request)
    by = asked(request, "by") or "planting"
    if by not in GROUPINGS:
        raise Http404
    found = Group.objects.filter(area=area).verified().by(by).prefetch_related("figures")
    groups = sorted(found, key=lambda group: (label_of(group).casefold(), group.key))
    wanted = _wanted(request, by, groups)
    context = {
        "area": area,
        "nav": "survival",
        "by": by,
        "within": wanted.within,
        "trouble": wanted.trouble,
        "most": MOST,
        "groupings": [choice for choice in Group.By.choices if choice[0] in GROUPINGS],
        "likes": [choice for choice in Group.By.choices if choice[0] in LIKE and choice[0] != by],
        "areas": Area.objects.order_by("-is_home", "name"),
        "choices": [
            {
                "key": group.key,
                "label": label_of(group),
                "trees": group.counts["in_rates"],
                "chosen": group.key in wanted.keys,
            }
            for group in groups
        ],
        "as_of": area.today(),
    }
    if wanted.trouble or not wanted.keys:
        status = 422 if wanted.trouble else 200
        return render(request, "frontend/liaison/compare.html", context, status=status)
    chosen = [group for group in groups if group.key in wanted.keys]
    compared = compare_groups(area, by, [group.key for group in chosen], within=wanted.within)
    context |= _answer(area, compared, chosen)
    return render(request, "frontend/liaison/compare_answer.html", context)


def _wanted(request, by: str, groups: Sequence[Group]) -> _Asked:
    known = {group.key for group in groups}
    sent = dict.fromkeys(key[:MOST_LETTERS] for key in request.GET.getlist("group"))
    keys = tuple(key for key in sent if key in known)
    within = asked(request, "within")
    trouble = ""
    if within and (within not in LIKE or within == by):
        within, trouble = "", _("Trees cannot be asked to have that in common.")
    elif len(keys) < len(sent):
        trouble = _("A group that was asked for is not there, or no longer.")
    elif len(keys) > MOST:
        trouble = _("Choose at most %d groups.") % MOST
    elif len(keys) < FEWEST and (keys or "within" in request.GET):
        trouble = _("Choose two groups or more.")
    return _Asked(by, within, keys, trouble)


def _answer(area: Area, compared: Compared, groups: Sequence[Group]) -> dict:
    finding = finding_of(compared, groups)
    two = len(groups) == FEWEST
    told = [pair for pair in compared.pairs if not pair.comparison.refused]
    return {
        "compared": compared,
        "finding": finding,
        "chance": chance_said(compared.together),
        "chart": _chart(groups, f"{finding.said} {finding.sure}") if two else None,
        "names": [label_of(group) for group in groups],
        "rows": [
            _row(group, beside, expected)
            for group, beside, expected in zip(
                groups, compared.groups, compared.together.expected, strict=True
            )
        ],
        "ratio": _ratio(compared.together) if two and not compared.together.refused else None,
        "p": p_said(compared.together.p),
        "pairs": [
            _pair(pair.comparison, groups[pair.first], groups[pair.second])
            for pair in compared.pairs
        ],
        "tested": len(told),
        "differing": _differing(area, compared),
        "alike": [
            attribute_said(one.attribute)
            for one in compared.else_differs
            if one.total_variation < WORTH_A_ROW
        ],
        "sure": round(SURE * 100),
        "method": METHOD,
    }


def _row(group: Group, beside, expected: float) -> dict:
    second = next(row for row in rows_of(group) if row.chosen)
    label = label_of(group)
    return {
        "group": group,
        "label": label,
        "beside": beside,
        "expected": expected,
        "withheld": withheld_said(second.withheld) if second.withheld else "",
        "least": hundred(second.at_least),
        "low": hundred(second.low),
        "high": hundred(second.high, up=True),
        # our own drawing, its title escaped by the pen
        "picture": "" if second.withheld else mark_safe(range_picture(second, label)),  # noqa: S308
    }


def _ratio(one: Comparison) -> dict:
    """The hazard ratio as it was worked out: of the second group to the first."""
    return {
        "ratio": "–" if one.ratio in (None, float("inf")) else number_format(one.ratio, 2),
        "between": between_said(one.low, one.high).strip("()"),
    }


def _pair(one: Comparison, first: Group, second: Group) -> dict:
    finding = pair_said(one, first, second)
    return {
        "labels": labels_said(first, second),
        "refused": why_refused(one).strip("()") if one.refused else "",
        "finding": finding,
        "p": p_said(one.p),
        "corrected": p_said(one.corrected_p),
        "chance": one.could_be_chance,
    }


def _chart(groups: Sequence[Group], desc: str) -> dict | None:
    """Both curves in one drawing: the first with its range, the second beside it."""
    first, second = (read(group) for group in groups)
    if len(first.curve) < 2 or len(second.curve) < 2:
        return None
    if second.curve[-1][0] > first.curve[-1][0]:  # the frame is as long as the line with a range
        first, second = second, first
    names = [short(label_of(reading.group)) for reading in (first, second)]
    return {
        "curve": first.curve,
        "band": first.band,
        "town": second.curve,
        "title": _("Still standing, by age"),
        "desc": desc,
        "words": {
            "curve": names[0],
            "town": names[1],
            "planted": _("planted"),
            "years": "|".join(years_said(year) for year in range(1, 41)),
            "shares": "|".join([_("none"), *(_("%d in 10") % n for n in (2, 4, 6, 8)), _("all")]),
            "scale": _("The scale does not begin at none."),
            "starts": _("watched from here on"),
        },
    }


def _differing(area: Area, compared: Compared) -> list[dict]:
    """What else differs, first what differs most; of each the values that lie farthest apart."""
    kinds = {code: kind.name for code, kind in kinds_in(area).items()}
    found = []
    for one in compared.else_differs:
        if one.total_variation < WORTH_A_ROW:
            continue
        shown = [share for share in one.shares if share.apart > 0][:VALUES_SHOWN]
        values = [
            {
                "name": value_said(compared, one.attribute, share.value, kinds),
                "shares": [round(part * 100) for part in share.shares],
            }
            for share in shown
        ]
        found.append(
            {
                "name": attribute_said(one.attribute),
                "apart": round(one.total_variation * 100),
                "values": values,
                "more": len(one.shares) - len(shown),
            }
        )
    return found
