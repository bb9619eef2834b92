"""Counts the trees of a planting by fate, and says which counts are behind the record."""

import json
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from hashlib import sha256

from django.db import transaction
from django.utils import timezone

from survey.chores.actions import write_chores
from survey.chores.models import Chore
from survey.survival.fates import Fates
from survey.survival.keys import Keys, name_of, supplier_key
from survey.survival.models import Stand
from survey.survival.spells import Life, trees_and_lives
from survey.trees.models import Area, Planting, Tree
from survey.trees.species import kinds_in

PLANTINGS_AT_A_TIME = 100


@dataclass(frozen=True, slots=True)
class Count:
    """The stands that some plantings' trees make; a planting without trees makes none.

    `begun` is when reading began, by the real clock.
    """

    area: Area
    plantings: tuple[int, ...]
    stands: tuple[Stand, ...]
    begun: datetime


def keys_of(stand: Stand) -> Keys:
    """The groups that a stand is a part of; reads its planting and site."""
    return Keys(
        planting=stand.planting.ref,
        species=stand.species,
        site=stand.site.ref,
        year=str(stand.year),
        supplier=stand.supplier,
        town="all",
    )


def count(key: str) -> Count | None:
    """The trees of one planting by fate, as the record tells it now; None if it is gone."""
    planting = Planting.objects.select_related("area").filter(pk=int(key)).first()
    return _counted(planting.area, [planting.pk]) if planting else None


def count_range(name: str) -> Count | None:
    """The same for the plantings of an area from one number to another; see `ranges_of`."""
    area_id, first, last = map(int, name.split("|"))
    area = Area.objects.filter(pk=area_id).first()
    if area is None:
        return None
    plantings = Planting.objects.filter(area=area, pk__range=(first, last)).order_by("pk")
    return _counted(area, list(plantings.values_list("pk", flat=True)))


def ranges_of(area: Area) -> list[str]:
    """Names of ranges that hold all plantings of an area: reading many at once is cheaper."""
    pks = list(Planting.objects.filter(area=area).order_by("pk").values_list("pk", flat=True))
    return [
        f"{area.pk}|{chunk[0]}|{chunk[-1]}"
        for begin in range(0, len(pks), PLANTINGS_AT_A_TIME)
        if (chunk := pks[begin : begin + PLANTINGS_AT_A_TIME])
    ]


@transaction.atomic
def keep(counted: Count | None) -> None:
    """Put the stands in place of those before, and ask for every group that gained or lost."""
    if counted is None:
        return
    plantings = set(counted.plantings)
    stored = Stand.objects.filter(planting__in=plantings).select_related("planting", "site")
    before = {(old.planting_id, old.site_id, old.species, old.year): old for old in stored}
    changed: list[Stand] = []
    new: list[Stand] = []
    for stand in counted.stands:
        old = before.pop((stand.planting_id, stand.site_id, stand.species, stand.year), None)
        if old is None:
            new.append(stand)
        elif _marks(old) != _marks(stand):
            stand.pk = old.pk
            stand.save(force_update=True)
            changed += [old, stand]
    Stand.objects.bulk_create(new)
    gone = list(before.values())
    if gone:
        Stand.objects.filter(pk__in=[stand.pk for stand in gone]).delete()
    pairs = {pair for stand in [*changed, *new, *gone] for pair in keys_of(stand).pairs()}
    if pairs:
        write_chores(
            ("roll_up_survival", name_of(counted.area, by, key)) for by, key in sorted(pairs)
        )


def keep_range(counted: Count | None) -> None:
    """The same, but for plantings that somebody counts, or has counted, since this one began to
    read: theirs is the newer count."""
    if counted is None:
        return
    keys = [str(planting) for planting in counted.plantings]
    others = Chore.objects.filter(kind="count_planting", key__in=keys)
    newer = others.exclude(state=Chore.State.DONE) | others.filter(done_at__gte=counted.begun)
    left = {int(key) for key in newer.values_list("key", flat=True)}
    keep(
        replace(
            counted,
            plantings=tuple(pk for pk in counted.plantings if pk not in left),
            stands=tuple(stand for stand in counted.stands if stand.planting_id not in left),
        )
    )


def is_of_another_day(area: Area) -> bool:
    """Whether some planting was counted on another day than the area's today."""
    return Stand.objects.filter(area=area).exclude(counted_on=area.today()).exists()


def behind(area: Area) -> Iterator[int]:
    """The plantings of an area whose stands say other than the record does, or are of another day.

    Where a new day has come all are behind, and no look needs reading; otherwise all are read.
    """
    today = area.today()
    stored: dict[int, list[tuple]] = defaultdict(list)
    for stand in Stand.objects.filter(area=area).defer("fates").iterator(chunk_size=2000):
        stored[stand.planting_id].append((stand.site_id, stand.species, stand.year, *_marks(stand)))
    with_trees = Tree.objects.filter(area=area).order_by().values_list("planting", flat=True)
    asked = []
    for planting in sorted({*with_trees.distinct(), *stored}):
        if {row[-2] for row in stored[planting]} == {today}:
            asked.append(planting)
        else:
            yield planting
    for begin in range(0, len(asked), PLANTINGS_AT_A_TIME):
        chunk = asked[begin : begin + PLANTINGS_AT_A_TIME]
        now: dict[int, list[tuple]] = defaultdict(list)
        for stand in _stands_of(area, chunk):
            now[stand.planting_id].append(
                (stand.site_id, stand.species, stand.year, *_marks(stand))
            )
        yield from (
            planting for planting in chunk if sorted(now[planting]) != sorted(stored[planting])
        )


def _marks(stand: Stand) -> tuple[str, date, str]:
    """What tells two counts of one stand apart."""
    return stand.supplier, stand.counted_on, stand.evidence


def _counted(area: Area, plantings: list[int]) -> Count:
    begun = timezone.now()
    return Count(area, tuple(plantings), tuple(_stands_of(area, plantings)), begun)


def _stands_of(area: Area, plantings: list[int]) -> Iterator[Stand]:
    today = area.today()
    lives: dict[tuple[int, int, str, int], list[Life]] = defaultdict(list)
    first: dict[tuple[int, int, str, int], Tree] = {}
    trees = Tree.objects.filter(planting__in=plantings)
    for tree, life in trees_and_lives(trees, area, kinds_in(area)):
        place = tree.planting_id, tree.site_id, tree.species, tree.planted_from.year
        lives[place].append(life)
        first.setdefault(place, tree)
    for place, of_stand in sorted(lives.items()):
        _, _, species, year = place
        planting, site = first[place].planting, first[place].site
        supplier = supplier_key(planting.supplier)
        fates = Fates.of(of_stand, today)
        rows = fates.as_rows()
        told = (supplier, fates.newest, rows)
        yield Stand(
            area=area,
            planting=planting,
            site=site,
            species=species,
            year=year,
            supplier=supplier,
            trees=fates.trees,
            fates=rows,
            newest=fates.newest,
            counted_on=today,
            evidence=sha256(json.dumps(told, default=str).encode()).hexdigest(),
        )
