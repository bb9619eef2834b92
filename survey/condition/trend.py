"""A site's trees by condition, month by month, as their last trained look found them."""

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from django.db import transaction
from django.db.models import Count, Max, Min, Sum

from survey.condition.models import SiteMonth
from survey.condition.trained import NOT_AN_ANSWER, Record, Seen, believable, trained_records
from survey.science.proportions import Limits, wilson
from survey.trees.models import Look, Site, Tree
from survey.trees.species import Kind, kinds_in

CONDITIONS = ["thriving", "holding", "slipping", "failing", "dead"]
NO_CALENDAR = Kind("", "", frozenset(), frozenset())


@dataclass(frozen=True, slots=True)
class Share:
    """So many of a site's trees in one condition at the end of a month, with 95 % limits."""

    condition: str
    trees: int
    of: int
    limits: Limits

    @property
    def share(self) -> float | None:
        return self.trees / self.of if self.of else None


def shares_of(month: SiteMonth) -> list[Share]:
    """The shares by condition, thriving first. Wilson limits: the trees of a site are few."""
    return [
        Share(name, getattr(month, name), month.n, wilson(getattr(month, name), month.n))
        for name in CONDITIONS
    ]


def work_out(key: str) -> tuple[Site, list[SiteMonth]] | None:
    """Every month of one site, from its first trained look to its town's today.

    A tree counts in a month with its last believable trained look of the twelve months up to the
    end of it. A tree found gone counts as dead for those twelve months: taking dead
    trees away must not look like recovery. A look that did not say the condition does not count.
    """
    site = Site.objects.select_related("area").filter(pk=int(key)).first()
    if site is None:
        return None
    kinds = kinds_in(site.area)
    trees = list(Tree.objects.filter(site=site).order_by("pk"))
    records = trained_records([tree.pk for tree in trees])
    days: list[date] = []
    told: list[tuple[list[date], list[str]]] = []
    for tree in trees:
        record = records.get(tree.pk, Record())
        days += [look.day for look in record.seen]
        kind = kinds.get(tree.species, NO_CALENDAR)
        looks = [
            look for look in believable(record.seen, kind, removed_by=tree.left_to) if _says(look)
        ]
        told.append(([look.day for look in looks], [_says(look) for look in looks]))
    days.sort()
    today = site.area.today()
    months = _months(days[0], today) if days else iter(())
    return site, [_month(site, month, today, told, days) for month in months]


@transaction.atomic
def keep(result: tuple[Site, list[SiteMonth]] | None) -> None:
    """Replace every month of the site."""
    if result is None:
        return
    site, months = result
    SiteMonth.objects.filter(site=site).delete()
    SiteMonth.objects.bulk_create(months, batch_size=500)


def behind() -> Iterator[str]:
    """Sites whose months do not reach their town's today, or count other looks than there are."""
    looks = {
        site: (count, first)
        for site, count, first in Look.objects.standing_record()
        .trained()
        .exclude(presence__in=NOT_AN_ANSWER)
        .order_by()
        .values_list("tree__site")
        .annotate(Count("pk"), Min("day"))
    }
    sites = Site.objects.select_related("area").order_by("pk")
    for site in sites.annotate(last=Max("months__month"), counted=Sum("months__looks")):
        count, first = looks.get(site.pk, (0, None))
        today = site.area.today()
        reaches = today.replace(day=1) if first and first <= today else None
        if site.last != reaches or (reaches and site.counted != count):
            yield str(site.pk)


def _says(look: Seen) -> str:
    """The condition a look speaks for; "" when it did not say."""
    if look.is_loss:
        return "dead" if look.presence == "standing" else "gone"
    return look.condition if look.condition != "dead" else "failing"


def _months(first: date, last: date) -> Iterator[date]:
    month = first.replace(day=1)
    while month <= last:
        yield month
        month = (month + timedelta(days=32)).replace(day=1)


def _month(
    site: Site,
    month: date,
    today: date,
    told: list[tuple[list[date], list[str]]],
    days: list[date],
) -> SiteMonth:
    after = (month + timedelta(days=32)).replace(day=1)
    since = after.replace(year=after.year - 1)
    found: Counter[str] = Counter()
    for when, what in told:
        place = bisect_left(when, after) - 1
        if place >= 0 and when[place] >= since:
            found[what[place]] += 1
    gone = found.pop("gone", 0)
    return SiteMonth(
        site=site,
        month=month,
        **{name: found[name] + (gone if name == "dead" else 0) for name in CONDITIONS},
        n=sum(found.values()) + gone,
        standing=sum(found.values()),
        looks=bisect_right(days, min(today, after - timedelta(days=1))) - bisect_left(days, month),
    )
