"""Counts the trees of a planting by fate, and says which counts are behind the record."""

import json
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from hashlib import sha256

from django.db import transaction

from survey.chores.actions import write_chores
from survey.survival.fates import Fates
from survey.survival.keys import Keys, name_of, supplier_key
from survey.survival.models import Stand
from survey.survival.spells import Life, trees_and_lives
from survey.trees.models import Area, Planting, Tree
from survey.trees.species import kinds_in

PLANTINGS_AT_A_TIME = 200


@dataclass(frozen=True, slots=True)
class Count:
    """The stands that a planting's trees make on a day; none when it has no trees."""

    planting: Planting
    stands: tuple[Stand, ...]


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
    if planting is None:
        return None
    return Count(planting, tuple(_stands_of(planting.area, [planting.pk])))


@transaction.atomic
def keep(counted: Count | None) -> None:
    """Put the stands in place of those before, and ask for every group that gained or lost."""
    if counted is None:
        return
    planting = counted.planting
    before = {
        (stand.site_id, stand.species, stand.year): stand
        for stand in planting.stands.select_related("planting", "site")
    }
    changed: list[Stand] = []
    new: list[Stand] = []
    for stand in counted.stands:
        old = before.pop((stand.site_id, stand.species, stand.year), None)
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
            ("roll_up_survival", name_of(planting.area, by, key)) for by, key in sorted(pairs)
        )


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
