"""All evidence weighed: what every group's survival is when each look counts for what it is worth.

The second reading beside the verified one. What is believed of every tree in every month says how
likely it was lost by then; losses are drawn from that, and each drawing is counted by age as if
everything had been seen. The whole area is worked out at once, because groups lean on its hazards.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from typing import Any

import numpy as np
from django.db import transaction
from django.utils import timezone

from survey.condition.evidence import Loaded, load
from survey.condition.learning import numbered_as
from survey.condition.models import Learning
from survey.science.condition.chain import blocks, posterior
from survey.science.condition.learnt import Learnt
from survey.science.records import Whole
from survey.science.survival.drawn import dice, hazard_of, months_lost, tally
from survey.survival.cautions import cautions_of_weighed
from survey.survival.figures import Told
from survey.survival.kept import figure_of
from survey.survival.keys import GROUPINGS
from survey.survival.members import Members, members_of
from survey.survival.models import Figure, Group
from survey.survival.weighed_figures import AGES, Weighed, work_out_group
from survey.trees.models import Area

METHOD = "all evidence weighed, drawn months of loss (1), learning %d"
DRAWS = 60
TREES_AT_ONCE = 20_000
BATCH = 500


@dataclass(frozen=True, slots=True)
class Row:
    """One group as it will be stored."""

    by: str
    key: str
    label: str
    counts: dict[str, Any]
    curves: dict[str, Any]
    cautions: list[dict[str, Any]]
    figures: tuple[Told, ...]
    evidence: str


@dataclass(frozen=True, slots=True)
class Reading:
    """Every group of an area by one learning; `rows` come in order of grouping and key."""

    area: Area
    learning: int
    as_of: date
    rows: tuple[Row, ...]


def work_out(key: str) -> Reading | None:
    """Weigh an area's evidence by its newest learning, outside any transaction.

    None when the area is gone or nothing was learnt of it yet. The same record and learning give
    the same figures, whatever the order in which trees were registered.
    """
    area = Area.objects.filter(pk=int(key)).first()
    learning = area and Learning.objects.newest_of(area)
    if area is None or learning is None:
        return None
    loaded = load(area)
    learnt = numbered_as(learning, loaded)
    members = members_of(area, loaded)
    lost = members.ages_lost(_months_lost(area, loaded, learnt, members))
    basis = _basis(loaded, learnt, members)
    return Reading(area, learning.number, area.today(), tuple(_rows(area, members, lost, basis)))


@transaction.atomic
def keep(found: Reading | None) -> None:
    """Put the reading in place of the one before. Rows of groups that are as they were are left
    alone but for their day and learning; those of groups without trees go."""
    if found is None:
        return
    stored = Group.objects.filter(area=found.area).weighed().only("by", "key", "evidence", "counts")
    before = {(group.by, group.key): group for group in stored}
    changed, new, same, told = [], [], [], []
    for row in found.rows:
        group = before.pop((row.by, row.key), None)
        if group is not None and group.evidence == row.evidence:
            same.append(_dated(group, row, found))
            continue
        made = _group(row, found)
        if group is None:
            new.append(made)
        else:
            made.pk = group.pk
            changed.append(made)
        told.append((made, row.figures))
    gone = [group.pk for group in before.values()]
    Group.objects.filter(pk__in=gone).delete()
    Figure.objects.filter(group__in=[group.pk for group in changed]).delete()
    Group.objects.bulk_update(same, _DATED, batch_size=BATCH)
    Group.objects.bulk_update(changed, _WRITTEN, batch_size=BATCH)
    Group.objects.bulk_create(new, batch_size=BATCH)
    Figure.objects.bulk_create(
        (figure_of(group, figure) for group, figures in told for figure in figures),
        batch_size=BATCH,
    )


def is_behind(area: Area) -> bool:
    """Whether some group of the area rests on another learning than the newest, or none does."""
    learning = Learning.objects.newest_of(area)
    if learning is None or not learning.trees:
        return False
    groups = Group.objects.filter(area=area).weighed()
    return set(groups.values_list("counts__learning", flat=True)) != {learning.number}


_DATED = ["as_of", "counts", "method"]
_WRITTEN = [*_DATED, "label", "curves", "cautions", "evidence", "computed_at"]


def _group(row: Row, found: Reading) -> Group:
    return Group(
        area=found.area,
        by=row.by,
        key=row.key,
        reading=Group.Reading.WEIGHED,
        label=row.label[:120],
        as_of=found.as_of,
        counts=row.counts | {"learning": found.learning},
        curves=row.curves,
        cautions=row.cautions,
        method=METHOD % found.learning,
        evidence=row.evidence,
        computed_at=timezone.now(),
    )


def _dated(group: Group, row: Row, found: Reading) -> Group:
    group.as_of = found.as_of
    group.counts = row.counts | {"learning": found.learning}
    group.method = METHOD % found.learning
    return group


def _months_lost(area: Area, loaded: Loaded, learnt: Learnt, members: Members) -> Whole:
    """The month in which each tree was lost, by drawing and tree."""
    months = np.empty((DRAWS, loaded.evidence.trees.number), dtype=np.int16)
    for places, part in blocks(loaded.evidence, TREES_AT_ONCE):
        believed = posterior(part, learnt)
        months[:, places] = months_lost(
            believed.lost,
            believed.offsets,
            part.trees.first,
            dice(members.dice[places], DRAWS, _seed(area.ref)),
        )
    return months


def _rows(area: Area, members: Members, lost: Whole, basis: str) -> Iterator[Row]:
    """Every group of every grouping, in order."""
    counted = np.flatnonzero(members.counts)
    town = hazard_of(tally(members.watched.of(counted), lost[:, counted], AGES))
    starts = _starts_of(area)
    for by in GROUPINGS:
        for group in members.grouped(by):
            name = f"{by}|{group.key}"
            worked = work_out_group(
                members,
                group.places,
                lost[:, group.places],
                town=town,
                start=starts.get((by, group.key)),
                seed=(_seed(area.ref), _seed(name)),
            )
            yield _row(area, by, group.key, group.label, group.planted, worked, basis)


def _row(
    area: Area, by: str, key: str, label: str, planted: int | None, worked: Weighed, basis: str
) -> Row:
    counts = worked.counts | {"planted": planted}
    told = (basis, area.ref, area.invented, by, key, label, counts)
    return Row(
        by=by,
        key=key,
        label=label,
        counts=counts,
        curves=worked.curves,
        cautions=cautions_of_weighed(counts, by=by, invented=area.invented),
        figures=worked.figures,
        evidence=sha256(repr(told).encode()).hexdigest(),
    )


def _starts_of(area: Area) -> dict[tuple[str, str], float]:
    """The ages at which the verified curves begin, so that both readings speak of the same trees'
    survival from the same age on."""
    rows = Group.objects.filter(area=area).verified().values_list("by", "key", "counts__from_age")
    return {(by, key): start for by, key, start in rows if start is not None}


def _basis(loaded: Loaded, learnt: Learnt, members: Members) -> str:
    """A digest of everything that goes into the reading of an area."""
    evidence = loaded.evidence
    told = sha256(METHOD.encode())
    told.update(json.dumps(learnt.as_dict(), sort_keys=True).encode())
    for mark in members.marks:
        told.update(mark)
    for table in (evidence.trees, evidence.looks):
        for name in table.__dataclass_fields__:
            told.update(np.ascontiguousarray(getattr(table, name)).tobytes())
    for pairs in (evidence.observers, evidence.care, evidence.removals):
        told.update(np.ascontiguousarray(pairs).tobytes())
    return told.hexdigest()


def _seed(name: str) -> int:
    return int.from_bytes(sha256(name.encode()).digest()[:4], "big")
