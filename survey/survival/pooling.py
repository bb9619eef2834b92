"""What a group's figures are when they lean on the town, and what will stand if it goes on so.

Worked out for all groups of a town at once, because they lean on each other, and kept in two parts
of each group's row: `pooled` stands beside the raw estimate, `forecast` is told of plantings only.
"""

import calendar
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from hashlib import sha256
from typing import Any

from django.db import transaction
from django.utils import timezone

from survey.chores.actions import write_chore
from survey.chores.models import Chore
from survey.science.survival.forecast import Standing, forecast, path
from survey.science.survival.pooling import NothingToPool, Patch, Pooled, pool
from survey.survival.fates import Columns, Fates
from survey.survival.figures import FEW, SECOND_SUMMER
from survey.survival.models import Figure, Group, Stand
from survey.trees.models import Area, Planting

METHOD = "hierarchical hazards by age, planting, species and site (1)"
LEAN = ["planting", "species", "site"]
AHEAD = [0.0, 6.0, 12.0, 18.0, 24.0, 30.0]
FAR = 60.0
STANDS_A_SECOND = 10
BATCH = 500


@dataclass(frozen=True, slots=True)
class Leaning:
    """The two parts of each group's row, by grouping and key; `fit` says what they rest on."""

    area: Area
    fit: str
    parts: dict[tuple[str, str], tuple[dict, dict]]


def ask(area: Area) -> None:
    """Wish for a new fit, after a wait that grows with the town.

    A fit reads every stand and takes about a minute for a hundred thousand trees; in a town where
    somebody is always looking at trees it would otherwise never rest.
    """
    waits = Chore.objects.waiting().filter(kind="pool_survival", key=str(area.pk))
    if waits.exists():
        return
    wait = Stand.objects.filter(area=area).count() // STANDS_A_SECOND
    due = timezone.now() + timedelta(seconds=wait)
    write_chore(kind="pool_survival", key=str(area.pk), due_at=due)


def work_out(key: str) -> Leaning | None:
    """Fit the town and read every group off the fit, outside any transaction."""
    area = Area.objects.filter(pk=int(key)).first()
    if area is None:
        return None
    fit = _fit_of(area)
    standing: dict[str, list[Standing]] = defaultdict(list)
    patches: list[Patch] = []
    for stand, trees in _stands(area):
        patches.append(Patch(stand.planting.ref, stand.species, stand.site.ref, trees.spells()))
        standing[stand.planting.ref] += _not_lost(stand, trees)
    try:
        pooled = pool(patches, seed=int.from_bytes(sha256(area.ref.encode()).digest()[:4], "big"))
    except NothingToPool:
        return Leaning(area, fit, {})
    parts = {
        (by, key): ({"fit": fit} | told, {}) for by in LEAN for key, told in _read(area, pooled, by)
    }
    for planting, curve in _curves(area):
        raw, _ = parts.get(("planting", planting.ref), ({}, {}))
        if raw:
            told = _forecast(pooled, planting, standing[planting.ref], curve)
            parts["planting", planting.ref] = (raw, told)
    return Leaning(area, fit, parts)


@transaction.atomic
def keep(found: Leaning | None) -> None:
    """Put both parts into every group's verified row; groups that are not in the fit have none."""
    if found is None:
        return
    changed = []
    groups = Group.objects.filter(area=found.area).verified()
    for group in groups.only("by", "key", "pooled", "forecast"):
        both = found.parts.get((group.by, group.key), ({"fit": found.fit}, {}))
        if (group.pooled, group.forecast) != both:
            group.pooled, group.forecast = both
            changed.append(group)
    Group.objects.bulk_update(changed, ["pooled", "forecast"], batch_size=BATCH)


def is_behind(area: Area) -> bool:
    """Whether some group of the area rests on another fit than its stands would give today."""
    groups = Group.objects.filter(area=area).verified()
    rests = set(groups.values_list("pooled__fit", flat=True))
    return bool(rests - {_fit_of(area)})


def _fit_of(area: Area) -> str:
    """A digest of everything that goes into the fit."""
    told = sha256(f"{METHOD}|{area.ref}".encode())
    marks = Stand.objects.filter(area=area).order_by("planting", "site", "species", "year")
    for evidence in marks.values_list("evidence", flat=True).iterator(chunk_size=5000):
        told.update(evidence.encode())
    return told.hexdigest()[:32]


def _stands(area: Area) -> Iterator[tuple[Stand, Columns]]:
    stands = Stand.objects.filter(area=area).select_related("planting", "site").order_by("pk")
    for stand in stands.iterator(chunk_size=2000):
        trees = Fates.from_rows(stand.fates, stand.newest).in_rates
        if trees.trees:
            yield stand, trees


def _not_lost(stand: Stand, trees: Columns) -> list[Standing]:
    """The trees under five years that may still stand, each asked about at its second summer or,
    past it, at five years."""
    return [
        Standing(
            stand.planting.ref,
            stand.species,
            stand.site.ref,
            seen=float(seen),
            until=float(second if now < second else FAR),
            count=int(count),
        )
        for stands, seen, now, second, count in zip(
            trees.stands, trees.left, trees.age_now, trees.second_most, trees.count, strict=True
        )
        if stands and now < FAR
    ]


def _read(area: Area, pooled: Pooled, by: str) -> Iterator[tuple[str, dict]]:
    """The pooled figures of every group of a grouping at the ages of its own figures."""
    asked: dict[str, dict[str, float]] = defaultdict(dict)
    told = Figure.objects.filter(
        group__area=area, group__by=by, group__reading=Group.Reading.VERIFIED, curve="loss"
    )
    for key, milestone, age in told.values_list("group__key", "milestone", "age_months"):
        asked[key][milestone] = age
    ages = sorted({age for of_group in asked.values() for age in of_group.values()})
    for key, found in pooled.every(by, ages).items():
        at = {one.age: one for one in found}
        yield (
            key,
            {
                "own_share": round(found[0].own, 3) if found else None,
                "figures": {
                    milestone: {
                        "share": round(at[age].survival, 4),
                        "low": round(at[age].low, 4),
                        "high": round(at[age].high, 4),
                    }
                    for milestone, age in asked.get(key, {}).items()
                },
            },
        )


def _curves(area: Area) -> Iterator[tuple[Planting, list[list[float]]]]:
    plantings = {planting.ref: planting for planting in Planting.objects.filter(area=area)}
    groups = Group.objects.filter(area=area, by="planting").verified()
    for key, curves in groups.values_list("key", "curves").iterator(chunk_size=2000):
        if key in plantings:
            yield plantings[key], curves.get("loss", [])


def _forecast(
    pooled: Pooled, planting: Planting, standing: Iterable[Standing], curve: list[list[float]]
) -> dict[str, Any]:
    """How many of the trees not known to be lost stand at the next age that counts."""
    kinds = list(standing)
    # a planting of which some trees are past their second summer is asked about at five years
    until = max((kind.until for kind in kinds), default=0.0)
    kinds = [Standing(k.planting, k.species, k.site, k.seen, until, k.count) for k in kinds]
    if sum(kind.count for kind in kinds) < FEW:
        return {}
    # the second summer's end is counted from the earliest month of planting, five years from the
    # latest: then no tree of the planting is asked about before its day
    since = planting.planted_to if until == FAR else planting.planted_from
    told = forecast(pooled, kinds)
    return {
        "trees": told.trees,
        "milestone": str(int(FAR)) if until == FAR else SECOND_SUMMER,
        "age": until,
        "by": _month_end(since, int(until)).isoformat(),
        "stand": told.median,
        "low": told.low,
        "high": told.high,
        "replacements": [told.lost_low, told.lost_high],
        "path": _path(pooled, kinds, curve),
    }


def _path(pooled: Pooled, kinds: list[Standing], curve: list[list[float]]) -> list[list[float]]:
    """The curve carried on from where the looks end, as shares of the same trees."""
    if not curve:
        return []
    end, share = curve[-1][0], curve[-1][1]
    here = [Standing(k.planting, k.species, k.site, k.seen, end, k.count) for k in kinds]
    start, *later = path(pooled, here, AHEAD)
    if start.median <= 0:
        return []
    scale = share / start.median
    return [
        [end, round(share, 4), round(share, 4), round(share, 4)],
        *(
            [
                end + at.months,
                *(round(min(share, scale * part), 4) for part in (at.median, at.low, at.high)),
            ]
            for at in later
        ),
    ]


def _month_end(day: date, months: int) -> date:
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, calendar.monthrange(year, month + 1)[1])
