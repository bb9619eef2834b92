"""The desk's queue: which reports wait, why each is where it is, and how the desk keeps up."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Case, Count, F, FloatField, Q, QuerySet, Value, When, Window
from django.db.models.functions import RowNumber

from survey.reports.models import Decision, Report
from survey.reports.promises import READ_WITHIN
from survey.trees.models import Area, Site

WHY = {
    1: "danger",
    2: "replied",
    3: "voices",
    4: "heavy",
    5: "waited",
    6: "new",
    7: "asked",
}
"""The reasons in the order in which they are shown; `with_reason` counts by these ranks."""

_BY_WEIGHT = [1, 3, 4, 6]  # these go by the weight of their signs, the others by their age
WEEKS = timedelta(days=28)


@dataclass(frozen=True, slots=True)
class Asked:
    """What somebody wants to see of the queue; the words of the page's address."""

    state: str = "open"
    site: Site | None = None
    language: str = ""
    danger: bool = False


def chosen(area: Area, asked: Asked) -> QuerySet[Report]:
    """The reports of an area that were asked for, in no order."""
    reports = Report.objects.filter(area=area)
    if asked.state == "open":
        reports = reports.on_the_desk()
    elif asked.state != "all":
        reports = reports.filter(state=asked.state)
    if asked.site is not None:
        reports = reports.filter(site=asked.site)
    if asked.language:
        reports = reports.filter(language=asked.language)
    return reports.in_danger() if asked.danger else reports


def late_before(area: Area) -> datetime:
    """Whoever wrote before this moment has waited longer than promised."""
    start = datetime.combine(area.today() - READ_WITHIN, datetime.min.time())
    return start.replace(tzinfo=ZoneInfo(area.time_zone))


@dataclass(frozen=True, slots=True)
class Group:
    """Reports that are on the desk for one reason: how many, and the first of them."""

    why: str
    count: int
    keys: tuple[int, ...]

    @property
    def hidden(self) -> int:
        return self.count - len(self.keys)


def groups(area: Area, asked: Asked, *, most: int) -> list[Group]:
    """The open reports by the reason they are here, with the keys of the first of each; a danger
    is never folded away below twenty. Two queries, whatever the size of the town."""
    reasons = chosen(area, asked).with_reason(late_before(area))
    counts = dict(reasons.order_by().values_list("why").annotate(n=Count("pk")))
    placed = _in_order(reasons).filter(
        place__lte=Case(When(why=1, then=Value(max(20, most))), default=Value(most))
    )
    keys: dict[int, list[int]] = {}
    for why, key in placed.order_by("why", "place").values_list("why", "pk"):
        keys.setdefault(why, []).append(key)
    return [
        Group(WHY[why], counts[why], tuple(keys.get(why, ()))) for why in WHY if counts.get(why)
    ]


def _in_order(reasons: QuerySet[Report]) -> QuerySet[Report]:
    weight = Case(When(why__in=_BY_WEIGHT, then=F("weight")), default=Value(0.0))
    return reasons.annotate(
        place=Window(
            RowNumber(),
            partition_by=[F("why")],
            order_by=[weight.desc(), F("submitted_at").asc(), F("pk").asc()],
        )
    )


def of_reason(area: Area, asked: Asked, why: str) -> QuerySet[Report]:
    """All reports that are on the desk for one reason, in the order of the queue."""
    rank = next(rank for rank, name in WHY.items() if name == why)
    reasons = chosen(area, asked).with_reason(late_before(area)).filter(why=rank)
    by = ["-weight"] if rank in _BY_WEIGHT else []
    return reasons.order_by(*by, "submitted_at", "pk")


def _lined_up(area: Area) -> QuerySet[Report]:
    """All that is open, most pressing first, as the queue shows it from top to bottom."""
    reasons = chosen(area, Asked()).with_reason(late_before(area))
    weighs = Case(
        When(why__in=_BY_WEIGHT, then=F("weight")), default=Value(0.0), output_field=FloatField()
    )
    return reasons.annotate(weighs=weighs).order_by("why", "-weighs", "submitted_at", "pk")


def next_keys(area: Area, *, most: int, but: int | None = None) -> list[tuple[int, str]]:
    """What to take first: keys with their reason, most pressing first."""
    rows = _lined_up(area).exclude(pk=but).values_list("pk", "why")
    return [(key, WHY[why]) for key, why in rows[:most]]


def keys_from(area: Area, key: int, *, most: int) -> list[tuple[int, str]]:
    """This open report and those below it in the queue, with their reasons; empty when it is not
    open. Whoever works down the queue comes to the next one, not to the top again."""
    rows = _lined_up(area)
    here = rows.filter(pk=key).values("why", "weighs", "submitted_at").first()
    if here is None:
        return []
    why, weighs, sent = here["why"], here["weighs"], here["submitted_at"]
    below = (
        Q(why__gt=why)
        | Q(why=why, weighs__lt=weighs)
        | Q(why=why, weighs=weighs, submitted_at__gt=sent)
        | Q(why=why, weighs=weighs, submitted_at=sent, pk__gte=key)
    )
    found = rows.filter(below).values_list("pk", "why")
    return [(pk, WHY[rank]) for pk, rank in found[:most]]


def next_below(area: Area, key: int) -> int | None:
    """The report to take after this open one, or none at the end of the queue.

    Reports that wait for their neighbor need nothing, unless one of them is at hand.
    """
    here = keys_from(area, key, most=2)
    if len(here) < 2:
        return None
    (_key, why), (below, why_below) = here
    return None if why_below == "asked" != why else below


@dataclass(frozen=True, slots=True)
class Pace:
    """Four weeks of reports and decisions by day, the oldest first, and what was decided today."""

    days: tuple[date, ...]
    came: tuple[int, ...]
    decided: tuple[int, ...]

    @property
    def today(self) -> int:
        return self.decided[-1]


def pace(area: Area) -> Pace:
    """How reports came in and were decided about, in the four weeks up to today."""
    today, zone = area.today(), ZoneInfo(area.time_zone)
    first = today - WEEKS + timedelta(days=1)
    days = [first + timedelta(days=n) for n in range(WEEKS.days)]
    came = dict(
        Report.objects.filter(area=area, day__gte=first, day__lte=today)
        .order_by()
        .values_list("day")
        .annotate(n=Count("pk"))
    )
    start = datetime.combine(first, datetime.min.time(), zone)
    decisions = Decision.objects.standing().filter(
        report__area=area, at__gte=start, at__lt=start + WEEKS
    )
    moments = decisions.order_by().values_list("at", flat=True)
    decided = Counter(moment.astimezone(zone).date() for moment in moments)
    return Pace(
        tuple(days),
        tuple(came.get(day, 0) for day in days),
        tuple(decided.get(day, 0) for day in days),
    )


def days_waited(area: Area, asked: Asked) -> Sequence[int]:
    """`[d]` reports have waited d days for the desk; those that wait for their neighbor do not
    count."""
    today = area.today()
    new = chosen(area, asked).filter(state=Report.State.NEW)
    waits: Counter[int] = Counter()
    for day, n in new.order_by().values_list("day").annotate(n=Count("pk")):
        waits[max(0, (today - day).days)] += n
    return [waits.get(d, 0) for d in range(max(waits, default=-1) + 1)]


def newest_key(area: Area) -> int:
    """The key of the newest report of an area; whatever arrives later has a higher one."""
    keys = Report.objects.filter(area=area).order_by("-pk").values_list("pk", flat=True)
    return keys.first() or 0


def arrived_since(area: Area, key: int) -> int:
    """How many reports came in after the one with this key."""
    return Report.objects.filter(area=area, pk__gt=key).count()
