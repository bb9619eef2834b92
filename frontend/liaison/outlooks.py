"""The outlook of one place as its page tells it: sentence, chart, what is behind it, cautions.

Nothing here says what caused what. Days and turns stand side by side, and the page says that
beginning together is no proof.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.db.models import Count, Q, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.drawings.belief import Shape
from frontend.drawings.drawn import Drawn, months_from, whole
from frontend.drawings.happenings import Happening as Mark
from frontend.drawings.happenings import Spell
from frontend.drawings.outlook import OutlookMonth, Turning, outlook_chart
from frontend.drawings.sites import SiteLine, Sites, TreesOn, sites_on_one_scale, trees_behind
from frontend.field.history import ROUTINE, happening_said
from frontend.liaison.said import month_said
from survey.condition.models import STATES, Outlook, Turn
from survey.condition.outlooks import Month, months_of, rounds_kept
from survey.science.condition.outlook import WEIGHTS
from survey.trees.models import Area, Happening, Look, Planting, Site, Tree

# Where a place would be if all its trees were in one condition.
LEVELS = dict(zip(STATES[:4], WEIGHTS[:4], strict=True))
A_YEAR = 12
LONG = timedelta(days=14)  # what lasted longer is shaded, what was shorter is a line
WIDE = 14  # from one end of a band to the other, in trees of 100; wider is said to be wide
FEW = 20
MOST_PLANTED = 6
DATES = 4


@dataclass(frozen=True, slots=True)
class Place:
    """What a page of outlook is about, and the trees that are in it."""

    by: str
    key: str
    area: Area
    name: str
    trees: QuerySet[Tree]
    site: Site | None = None
    planting: Planting | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """The outlook as a page shows it."""

    row: Outlook
    finding: str
    before: str
    chart: Drawn
    behind: Drawn
    cautions: tuple[str, ...]


def told_of(place: Place, row: Outlook, turn: Turn | None, *, inside: bool = False) -> Told:
    """The outlook of a place; `inside` may read what was noted of a happening."""
    months = months_of(row)
    rounds = [one.first_day for one in rounds_kept(row)]
    return Told(
        row=row,
        finding=finding_said(months),
        before=before_said(months, turn),
        chart=chart_of(place, months, rounds, turn, inside=inside),
        behind=behind_of(months),
        cautions=tuple(cautions_of(place, row)),
    )


def finding_said(months: Sequence[Month]) -> str:
    now = months[-1]
    return _(
        "Of 100 trees like these, %(n)d should still stand two summers from now "
        "(somewhere between %(low)d and %(high)d)"
    ) % {"n": whole(now.outlook), "low": math.floor(now.low), "high": math.ceil(now.high)}


def before_said(months: Sequence[Month], turn: Turn | None) -> str:
    """What it was before the turn, or a year ago, or in the first month; "" where this is it."""
    now = months[-1]
    if turn is not None:
        earlier = [month for month in months[:-1] if month.first_day < turn.since]
    else:
        earlier = [m for m in months if months_from(m.first_day, now.first_day) >= A_YEAR]
        earlier = earlier or list(months[:-1][:1])
    if not earlier:
        return ""
    was = earlier[-1]
    return _("in %(month)s it was %(n)d") % {
        "month": month_said(was.first_day),
        "n": whole(was.outlook),
    }


def drawn_months(months: Sequence[Month], rounds: Sequence[date]) -> list[OutlookMonth]:
    """Months as the charts want them; `rounds` are those of a walk."""
    return [
        OutlookMonth(
            month=m.first_day,
            outlook=m.outlook,
            low=m.low,
            high=m.high,
            standing=m.standing,
            trees=m.trees,
            looks=m.looks,
            surveyed=m.first_day in rounds,
        )
        for m in months
    ]


def chart_of(
    place: Place,
    months: Sequence[Month],
    rounds: Sequence[date],
    turn: Turn | None,
    *,
    inside: bool = False,
) -> Drawn:
    happened = list(_happenings(place, inside=inside))
    return outlook_chart(
        drawn_months(months, rounds),
        name=place.name,
        levels=LEVELS,
        happenings=[*_planted(place), *(one for one in happened if isinstance(one, Mark))],
        spells=[one for one in happened if isinstance(one, Spell)],
        turning=Turning(turn.since) if turn is not None else None,
    )


def _happenings(place: Place, *, inside: bool):
    """What happened there and does not come every other week."""
    where = Q(pk=None)
    if place.site is not None:
        where = Q(site=place.site) | Q(planting__trees__site=place.site)
    elif place.planting is not None:
        where = Q(planting=place.planting)
    found = Happening.objects.filter(where).exclude(kind__in=ROUTINE).distinct()
    for one in found.order_by("from_day", "pk"):
        words = happening_said(one.kind)
        if one.kind == Happening.Kind.OTHER:
            words = one.note if inside else ""
        if not words:
            continue  # "something else" says nothing to whoever may not read its note
        if one.to_day - one.from_day >= LONG:
            yield Spell(one.from_day, one.to_day, words)
        else:
            yield Mark(one.from_day, words)


def _planted(place: Place) -> list[Mark]:
    """When its trees were planted; of too many days none is marked."""
    if place.by == Outlook.By.SPECIES:
        return []
    days = place.trees.order_by("planted_from").values_list("planted_from")
    counted = list(days.annotate(trees=Count("pk"))[: MOST_PLANTED + 1])
    if len(counted) > MOST_PLANTED:
        return []
    return [
        Mark(day, ngettext("%d tree planted", "%d trees planted", trees) % trees, planted=True)
        for day, trees in counted
    ]


def behind_of(months: Sequence[Month]) -> Drawn:
    """The trees by condition, as they are believed: now and at the same time of the years before;
    of a young record, in four months evenly apart."""
    last = len(months) - 1
    step = A_YEAR if last >= 2 * A_YEAR else max(1, last // (DATES - 1))
    shown = [months[last - step * k] for k in range(DATES) if last - step * k >= 0]
    return trees_behind([_trees_on(month) for month in shown])


def _trees_on(month: Month) -> TreesOn:
    counts = parted(month.shares, month.trees)
    shapes = [Shape(state) for state, n in zip(STATES, counts, strict=True) for _n in range(n)]
    return TreesOn(month.first_day, shapes, month.outlook)


def parted(shares: Sequence[float], trees: int) -> list[int]:
    """Whole trees that add up to `trees`, as near to the shares as can be (largest remainder)."""
    total = math.fsum(shares)
    if not total > 0 or not math.isfinite(total):
        return [0] * len(shares)
    exact = [share * trees / total for share in shares]
    counts = [math.floor(value + 1e-9) for value in exact]
    order = sorted(range(len(shares)), key=lambda i: (-round(exact[i] - counts[i], 9), i))
    for i in order[: trees - sum(counts)]:
        counts[i] += 1
    return counts


def cautions_of(place: Place, row: Outlook):
    """What must be known before the number is quoted."""
    yield _("Beginning together is no proof. What happened is marked by its day and nothing more.")
    wide = math.ceil(row.high) - math.floor(row.low)
    if wide > WIDE:
        yield _(
            "The range is wide, %(low)d to %(high)d: few have looked. No look is not a good look."
        ) % {"low": math.floor(row.low), "high": math.ceil(row.high)}
    yield _who_looked(place, row)
    if not row.surveyed:
        yield _(
            "Nobody walked along these trees within a year, so this is not comparable with places "
            "that were walked."
        )
    if row.trees < FEW:
        yield ngettext(
            "Only one tree is behind it.",
            "Only %(n)d trees are behind it: a single tree moves the number.",
            row.trees,
        ) % {"n": row.trees}
    yield _(
        "An outlook is neither a count nor a promise: it says how many of such trees stand two "
        "summers on at usual rates. How many stand today is printed beside it."
    )


def _who_looked(place: Place, row: Outlook) -> str:
    since = row.month.replace(year=row.month.year - 1)
    looks = Look.objects.standing_record().filter(
        tree__in=place.trees, day__gt=since, day__lte=place.area.today()
    )
    counted = looks.order_by().aggregate(
        every=Count("pk"),
        worried=Count("pk", filter=Q(channel=Look.Channel.COMPLAINT)),
        trained=Count("pk", filter=Q(trained=True)),
    )
    if not counted["every"]:
        return _("Nobody has looked within twelve months.")
    told = {
        "looks": ngettext("%d look", "%d looks", counted["every"]) % counted["every"],
        "trained": counted["trained"],
        "worried": counted["worried"],
    }
    said = _(
        "Within twelve months: %(looks)s, %(trained)d by trained people, %(worried)d because "
        "somebody worried."
    )
    if counted["worried"]:
        said += " " + _("People write when something is wrong; we allow for that.")
        if not row.surveyed:
            said += " " + _("A walk along all trees would narrow the range.")
    return said % told


def side_by_side(by: str, rows: Sequence[Outlook], addresses: Sequence[str]) -> Sites:
    """Many places on one scale, in the order given; `addresses` are their pages'."""
    lines = []
    for row, address in zip(rows, addresses, strict=True):
        rounds = [one.first_day for one in rounds_kept(row)]
        lines.append(
            SiteLine(
                name=row.label,
                trees=row.trees,
                months=drawn_months(months_of(row), rounds),
                comparable=row.surveyed,
                url=address,
            )
        )
    drawn = sites_on_one_scale(lines, levels=LEVELS)
    if by == Outlook.By.SITE:
        return drawn
    is_planting = by == Outlook.By.PLANTING
    title = (
        _("All plantings on the same scale") if is_planting else _("All species on the same scale")
    )
    first = _("Planting") if is_planting else _("Species")
    table = replace(drawn.table, title=title, columns=(first, *drawn.table.columns[1:]))
    return replace(drawn, title=title, table=table)
