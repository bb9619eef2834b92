"""Learns from an area's whole record how far each observer and each place can be trusted.

Kept with a number that counts up: every belief says which it rests on. Learning starts from the
last that was kept, so a night's is short; the first of an area, and one a week after that, starts
from what is usual, so that no town drifts away on its own past.
"""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta

import numpy as np
from django.db import transaction
from django.db.models import Count, Max
from django.utils import timezone

from survey.chores.actions import write_chores
from survey.condition.evidence import Loaded, load
from survey.condition.models import Learning, Weight
from survey.condition.rounds import rounds_by_site
from survey.condition.stale import ranges_of
from survey.science.condition.laws import USUAL
from survey.science.condition.learning import learn
from survey.science.condition.learnt import Learnt
from survey.science.condition.records import KINDS
from survey.science.records import Whole
from survey.science.trend.rounds import Usual, usual_of
from survey.trees.models import Area, Look, Tree

METHOD = "hidden condition by month, 1"
"""Named in every learning and belief; counts up whenever the same record would say otherwise."""

ROUNDS, NIGHTLY_ROUNDS = 25, 4
ANEW_AFTER = timedelta(days=7)
KEPT = 30
TREES_A_HEAP = 2000
WORDS = {"site": "site_id", "planting": "planting_id", "species": "species"}
"""What tells the trees of a place of each kind."""
BY_OBSERVER = ("rho", "noise", "heard")
BY_SITE, BY_COHORT = ("site", "exposure"), ("cohort",)


@dataclass(frozen=True, slots=True)
class Learned:
    """What one reading of an area's record taught; `begun` is when reading began."""

    area: Area
    loaded: Loaded
    learnt: Learnt
    usual: Usual
    looks: int
    anew: bool
    as_of: date
    begun: datetime


def work_out(key: str) -> Learned | None:
    """Read an area's record and learn from it, outside any transaction; None when it is gone."""
    area = Area.objects.filter(pk=int(key)).first()
    if area is None or not Tree.objects.filter(area=area).exists():
        return None
    begun, looks = timezone.now(), _looks_of(area)
    loaded = load(area)
    newest = Learning.objects.newest_of(area)
    warm = newest is not None and newest.method == METHOD and not _is_week_old(area, begun)
    start = learnt_of(area, loaded) if warm else None
    learnt = learn(loaded.evidence, USUAL, start=start, rounds=NIGHTLY_ROUNDS if warm else ROUNDS)
    usual = usual_of(rounds_by_site(loaded))
    return Learned(area, loaded, learnt, usual, looks, not warm, area.today(), begun)


def _is_week_old(area: Area, now: datetime) -> bool:
    """Whether a week has passed since learning last began from what is usual."""
    anew = Learning.objects.filter(area=area, anew=True)
    last = anew.aggregate(last=Max("learnt_at"))["last"]
    return last is None or now - last >= ANEW_AFTER


@transaction.atomic
def keep(learned: Learned | None) -> None:
    """Number what was learnt, put the observers' weights in place, and ask for what rests on it."""
    if learned is None:
        return
    area, loaded, learnt = learned.area, learned.loaded, learned.learnt
    newest = Learning.objects.newest_of(area)
    number = newest.number + 1 if newest else 1
    stored = learnt.as_dict()
    for name in BY_OBSERVER:
        del stored[name]
    Learning.objects.create(
        area=area,
        number=number,
        method=METHOD,
        as_of=learned.as_of,
        learnt=stored,
        names={"sites": loaded.sites.tolist(), "plantings": loaded.plantings.tolist()},
        between_rounds=asdict(learned.usual),
        trees=loaded.evidence.trees.number,
        looks=learned.looks,
        anew=learned.anew,
        learnt_at=learned.begun,
    )
    Learning.objects.filter(area=area, number__lte=number - KEPT).delete()
    Weight.objects.filter(area=area).delete()
    Weight.objects.bulk_create(
        (
            Weight(
                area=area,
                observer_id=int(code) // 4,
                kind=KINDS[int(code) % 4],
                weight=float(learnt.rho[place]),
                usual=float(USUAL.mean_trust[int(code) % 4]),
                looks=int(learnt.heard[place]),
                noise=learnt.noise[place].tolist(),
                learning=number,
            )
            for place, code in enumerate(loaded.observers)
            if code > 0
        ),
        batch_size=2000,
    )
    write_chores(
        [
            *(("believe_trees", name) for name in ranges_of(area)),
            *(("roll_up_outlook", name) for name in heaps_of(area)),
            ("weigh_survival", str(area.pk)),
        ]
    )


def learnt_of(area: Area, loaded: Loaded) -> Learnt | None:
    """What was last learnt in an area, numbered as this evidence is; None before anything was.

    Observers, sites and plantings that have come since start at what is usual for them.
    """
    newest = Learning.objects.newest_of(area)
    return None if newest is None else numbered_as(newest, loaded)


def numbered_as(learning: Learning, loaded: Loaded) -> Learnt:
    """One learning, numbered as this evidence is."""
    stored, names = dict(learning.learnt), learning.names
    usual = {"site": 1.0, "exposure": stored["town_exposure"], "cohort": 1.0}
    for parts, known, wanted in (
        (BY_SITE, names["sites"], loaded.sites),
        (BY_COHORT, names["plantings"], loaded.plantings),
    ):
        found = _places(np.array(known, dtype=np.int64), wanted)
        for name in parts:
            values = np.append(np.array(stored[name], dtype=np.float64), usual[name])
            stored[name] = values[found].tolist()
    return Learnt.from_dict(stored | _observers(learning, loaded))


def _observers(learning: Learning, loaded: Loaded) -> dict[str, list]:
    """Weight, noise and number of looks of each observer of this evidence."""
    noise = learning.learnt["kind_noise"]
    kinds = loaded.evidence.observers.tolist()
    wanted = {int(code) // 4 for code in loaded.observers if code > 0}
    weights: Mapping[int, Weight] = {
        weight.observer_id * 4 + KINDS.index(weight.kind): weight
        for weight in Weight.objects.filter(area=learning.area_id, observer_id__in=wanted)
    }
    rows = [
        (weight.weight, weight.noise, weight.looks)
        if (weight := weights.get(int(code)))
        else (float(USUAL.mean_trust[kind]), noise[kind], 0)
        for code, kind in zip(loaded.observers, kinds, strict=True)
    ]
    return {name: [row[part] for row in rows] for part, name in enumerate(BY_OBSERVER)}


def _places(known: Whole, wanted: Whole) -> Whole:
    """Where each wanted number stands among the known, in rising order; one past the end if not."""
    if not len(known):
        return np.zeros(len(wanted), dtype=np.int64)
    found = np.searchsorted(known, wanted).clip(max=len(known) - 1)
    return np.where(known[found] == wanted, found, len(known))


def groups_of(area: Area) -> list[str]:
    """Names of every site, planting and species of an area, as outlooks are asked for."""
    return [f"{area.pk}|{by}|{key}" for by in WORDS for key, _ in _places_with_trees(area, by)]


def heaps_of(area: Area) -> list[str]:
    """Names of heaps of sites and plantings that are read together, and of every species."""
    names = []
    for by in ("site", "planting"):
        heap: list[int] = []
        held = 0
        for key, trees in _places_with_trees(area, by):
            heap.append(key)
            held += trees
            if held >= TREES_A_HEAP:
                names.append(f"{area.pk}|{by}|{heap[0]}..{heap[-1]}")
                heap, held = [], 0
        if heap:
            names.append(f"{area.pk}|{by}|{heap[0]}..{heap[-1]}")
    return [*names, *(f"{area.pk}|species|{key}" for key, _ in _places_with_trees(area, "species"))]


def _places_with_trees(area: Area, by: str) -> list[tuple]:
    """What tells the trees of each place, in order, and how many there are."""
    word = WORDS[by]
    counted = Tree.objects.filter(area=area).order_by(word).values_list(word)
    return list(counted.annotate(many=Count("pk")))


def is_behind(area: Area) -> bool:
    """Whether nothing was learnt in an area yet, or not on this day or not from these looks."""
    trees = Tree.objects.filter(area=area)
    newest = Learning.objects.newest_of(area)
    if newest is None or newest.method != METHOD:
        return trees.exists()
    return newest.as_of != area.today() or _looks_of(area) != newest.looks


def _looks_of(area: Area) -> int:
    return (
        Look.objects.standing_record()
        .filter(tree__area=area)
        .exclude(presence__in=[Look.Presence.NOT_SEEN, Look.Presence.NEVER_PLANTED])
        .count()
    )
