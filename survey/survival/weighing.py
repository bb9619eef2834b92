"""What looks on every site of an area would tell, worked out once a day and kept."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction
from django.db.models import Count

from survey.science.sample_size import trees_to_sample
from survey.survival.looking import SiteLooks, walks_of_sites
from survey.survival.models import LooksWeighed
from survey.trees.models import Area, Site

MINUTES = (30, 60, 120)
MARGIN = 0.10  # how near to the truth `see` brings: to within so much of all trees
TREES_AT_ONCE = 2000


@dataclass(frozen=True, slots=True)
class Weighed:
    area: Area
    rows: list[LooksWeighed]


def work_out(key: str) -> Weighed | None:
    """Weigh the looks of every site, some two thousand trees at a time, outside any transaction."""
    area = Area.objects.filter(pk=int(key)).first()
    if area is None:
        return None
    today = area.today()
    return Weighed(area, [row for sites in _sites(area) for row in _rows(area, sites, today)])


@transaction.atomic
def keep(found: Weighed | None) -> None:
    """Put what was found in place of what an earlier day found."""
    if found is None:
        return
    LooksWeighed.objects.filter(site__area=found.area).delete()
    LooksWeighed.objects.bulk_create(found.rows, batch_size=500)


def is_behind(area: Area) -> bool:
    """Whether the area has trees and its looks have not been weighed on this day."""
    if LooksWeighed.objects.filter(site__area=area, as_of=area.today()).exists():
        return False
    return area.trees.exists()


def walk_told(walk: SiteLooks) -> dict[str, Any]:
    """A walk as it is stored: `trees` of `of` are looked at, in this order; the number standing
    lies within `before` now and is expected to within `after`; `gain` puts walks in order."""
    return {
        "trees": len(walk.trees),
        "of": walk.of,
        "minutes": round(walk.minutes, 1),
        "gain": walk.gain,
        "before": [walk.before.low, walk.before.high],
        "after": [walk.after.low, walk.after.high],
        "refs": [tree.ref for tree in walk.trees],
    }


def _sites(area: Area) -> Iterator[list[int]]:
    """The sites with trees, in heaps that end with the site that fills them."""
    heap: list[int] = []
    held = 0
    sites = Site.objects.filter(area=area).annotate(many=Count("trees")).filter(many__gt=0)
    for site, many in list(sites.order_by("pk").values_list("pk", "many")):
        heap.append(site)
        held += many
        if held >= TREES_AT_ONCE:
            yield heap
            heap, held = [], 0
    if heap:
        yield heap


def _rows(area: Area, sites: list[int], today: date) -> Iterator[LooksWeighed]:
    for site, trees, walks in walks_of_sites(area, sites, minutes=MINUTES):
        yield LooksWeighed(
            site_id=site,
            as_of=today,
            trees=trees,
            see=trees_to_sample(margin=MARGIN, population=trees),
            walks={str(int(limit)): walk_told(walk) for limit, walk in walks.items()},
        )
