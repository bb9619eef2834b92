"""A town of a million trees: every planting and every group with limits, cold and after new looks.

The rows are made in the database, by its own dice with a fixed seed; then two runners drain the
chores as they would in a city. Needs PostgreSQL: `make bench` gives it one.
"""

import os
import time
from datetime import date, timedelta

from django.db import connection, connections
from django.utils import timezone

from survey.chores import rounds
from survey.chores.actions import write_chores
from survey.chores.models import Chore
from survey.people.models import Observer
from survey.survival.models import Group, Stand
from survey.survival.stands import ranges_of
from survey.trees.models import Area, Look, Planting, Site, Tree

PLANTINGS, TREES_EACH, SITES, SPECIES, SUPPLIERS = 20_000, 50, 2_000, 25, 40
TODAY = date(2026, 6, 16)
RUNNERS = 2
TOUCHED = 0.01
SCALE, SHAPE = 90.0, 0.8  # a Weibull law of months: the first years are the hardest

TREES_SQL = """
INSERT INTO survey_tree (area_id, site_id, planting_id, ref, tag, species, planted_from, planted_to,
    planted_precision, registered_on, registered_because, walk_order, landmark, stems, "left",
    created_at)
SELECT %(area)s, %(site)s + (p.id %% %(sites)s), p.id, 'bench-' || p.id || '-' || n, '',
    'kind' || ((p.id + n / 17) %% %(species)s), p.planted_from, p.planted_from, 'month',
    p.planted_from, 'planting_record', n, '', 1, '', now()
FROM survey_planting p, generate_series(1, %(each)s) n WHERE p.area_id = %(area)s
"""
LOOKS_SQL = """
WITH lives AS MATERIALIZED (
    SELECT id, planted_from, %(scale)s * power(-ln(1 - random()), 1 / %(shape)s) AS death
    FROM survey_tree WHERE area_id = %(area)s)
INSERT INTO survey_look (tree_id, observer_id, day, channel, trained, presence, condition, leaf,
    scratch, note, entered_at, entered_by)
SELECT id, %(observer)s, (planted_from + make_interval(months => age))::date, 'walk', true,
    'standing', CASE WHEN age >= death THEN 'dead' ELSE 'holding' END, '', '', '', now(), ''
FROM lives, generate_series(5, 59, 6) age
WHERE planted_from + make_interval(months => age) <= %(today)s AND random() < 0.6
"""


def make_town(plantings: int) -> Area:
    """A town with so many plantings over five years; nothing in it happened."""
    area = Area.objects.create(
        ref="bench", name="Bench", invented=True, latitude=36.6, longitude=-34.9, data_date=TODAY
    )
    sites = Site.objects.bulk_create(
        Site(area=area, ref=f"bench-{n}", name=f"Site {n}", kind="street")
        for n in range(max(1, SITES * plantings // PLANTINGS))
    )
    days = [date(2021 + n % 5, (3, 11)[n // 5 % 2], 1) for n in range(plantings)]
    Planting.objects.bulk_create(
        (
            Planting(
                area=area,
                name=f"Planting {n}",
                ref=f"bench-{n}",
                planted_from=day,
                planted_to=day + timedelta(days=27),
                planted_precision="month",
                planted_count=TREES_EACH,
                supplier=f"Nursery {n % SUPPLIERS}",
            )
            for n, day in enumerate(days)
        ),
        batch_size=2000,
    )
    observer = Observer.objects.create(key="bench", kind="staff")
    given = {"area": area.pk, "each": TREES_EACH, "species": SPECIES, "today": TODAY}
    given |= {"site": sites[0].pk, "sites": len(sites), "observer": observer.pk}
    with connection.cursor() as cursor:
        cursor.execute("SELECT setseed(0.5)")
        cursor.execute(TREES_SQL, given)
        cursor.execute(LOOKS_SQL, given | {"scale": SCALE, "shape": SHAPE})
        cursor.execute("ANALYZE")
    return area


def drain() -> tuple[float, float]:
    """Let the runners do all that is due; returns seconds, and megabytes of the largest."""
    before = time.perf_counter()
    connections.close_all()
    runners = []
    for _ in range(RUNNERS):
        pid = os.fork()
        if not pid:
            while rounds.do_due():
                pass
            os._exit(0)
        runners.append(pid)
    most = 0
    for pid in runners:
        _, code, used = os.wait4(pid, 0)
        if code:
            raise RuntimeError(f"A runner stopped with {code}.")
        most = max(most, used.ru_maxrss)
    took = time.perf_counter() - before
    due = Chore.objects.exclude(state="done").filter(due_at__lte=timezone.now())
    if trouble := due.first():
        raise RuntimeError(f"Not done: {trouble.kind} {trouble.key}: {trouble.last_error}")
    return took, most / 1024


def main(plantings: int = PLANTINGS) -> None:
    start = time.perf_counter()
    area = make_town(plantings)
    trees, looks = Tree.objects.filter(area=area).count(), Look.objects.count()
    print(f"{plantings:,} plantings, {trees:,} trees, {looks:,} looks made in "
          f"{time.perf_counter() - start:.0f} s")  # fmt: skip
    everything = Planting.objects.filter(area=area).order_by("pk")
    write_chores(("count_plantings", name) for name in ranges_of(area))
    cold, memory = drain()
    groups, stands = Group.objects.count(), Stand.objects.count()
    print(f"cold, {RUNNERS} runners     {cold:8.1f} s   {groups:,} groups with limits from "
          f"{stands:,} stands; largest runner {memory:.0f} MB")  # fmt: skip
    touched = list(everything.values_list("pk", flat=True)[:: round(1 / TOUCHED)])
    observer = Observer.objects.get(key="bench")
    standing = Tree.objects.filter(planting__in=touched, walk_order__lte=5)
    Look.objects.bulk_create(
        Look(tree=tree, observer=observer, day=TODAY, channel="walk", trained=True,
             presence="standing", condition="holding", entered_at=timezone.now())
        for tree in standing
    )  # fmt: skip
    write_chores(("count_planting", str(pk)) for pk in touched)
    again, _ = drain()
    print(f"{len(touched):,} plantings touched {again:6.1f} s   {again / cold:.1%} of cold")
