"""Brings in a simulated town of five files, so that its known truth can judge the product.

The form: trees.csv, reports.csv, care.csv, species.csv, town.csv; months counted from January 2019,
places in meters east and north of a center. Its README is in fixtures/towns.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import islice
from pathlib import Path

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.condition.trained import trained_records
from survey.exports.intake import ask_for_everything
from survey.exports.intake_looks import observers_named
from survey.exports.town_folder import (
    FILES,
    FIRST_YEAR,
    BadTown,
    Reader,
    SpeciesRow,
    TreeRow,
    month_come,
    read_settings,
    read_trees,
    report_row,
)
from survey.science.distance import EARTH_RADIUS_METRES
from survey.trees.models import (
    Area,
    CareGiven,
    LocalSpecies,
    Look,
    LookSign,
    Planting,
    Site,
    Tree,
)

CENTER = (40.0, -40.0)
"""In the open Atlantic: a town that does not exist stands nowhere."""

BATCH = 1000
CHANNELS = {
    "registration": Look.Channel.REGISTRATION,
    "survey": Look.Channel.WALK,
    "adopter": Look.Channel.ADOPTER,
    "complaint": Look.Channel.COMPLAINT,
    "crew": Look.Channel.CREW,
}
CARE = "care_visit"


@dataclass(slots=True)
class Town:
    """What came in."""

    area: Area
    made: dict[str, int] = field(default_factory=dict)


def month_start(month: int) -> date:
    """The first day of a month counted from January 2019."""
    return date(FIRST_YEAR + month // 12, month % 12 + 1, 1)


def _month_of(day: date) -> int:
    return (day.year - FIRST_YEAR) * 12 + day.month - 1


def month_end(month: int) -> date:
    return month_start(month + 1) - timedelta(days=1)


@transaction.atomic
def import_town(*, folder: Path, name: str, at: datetime) -> Town:
    """Bring a town in as an area of its own, whose data date is the end of its last month.

    Every id gets the area's short name in front. Rows of reports.csv become looks with their
    channel, never reports on the desk; their report_id is the repeat key, so a second run adds only
    what is new. Volunteers and staff are trained. A crew's line "gone" is the log of a removal: the
    tree leaves as *died*, since no living tree is on record as removed, unless a trained eye
    saw it alive later (then the line was about another tree). Raises BadTown; then nothing is kept.
    """
    reader = Reader(folder, [])
    reader.demand(FILES)
    months, species, south = read_settings(reader)
    rows = read_trees(reader, months, species)
    area = _area(name, months, south)
    town = Town(area)
    _species(species.values(), area, town)
    trees = _trees(reader, area, town, rows)
    _looks(reader, area, town, trees, months, at)
    _care(reader, area, town, trees, months, at)
    reader.done()
    _departures(area, town)
    record("town.imported", subject=f"area:{area.ref}", at=at, made=town.made)
    ask_for_everything(area)
    return town


def _area(name: str, months: int, south: bool) -> Area:
    ref = slugify(name)[:30]
    if not ref:
        raise BadTown([_("Give the town a name of letters or digits.")])
    area = Area.objects.filter(ref=ref).first() or Area(ref=ref, name=name)
    if area.is_home:
        raise BadTown([_("%s is the home town; import under another name.") % name])
    area.latitude, area.longitude = (-CENTER[0] if south else CENTER[0]), CENTER[1]
    area.hemisphere = Area.Hemisphere.SOUTH if south else Area.Hemisphere.NORTH
    area.data_date, area.invented = month_end(months - 1), True
    area.full_clean()
    area.save()
    return area


def _species(rows: Iterable[SpeciesRow], area: Area, town: Town) -> None:
    known = set(LocalSpecies.objects.filter(area=area).values_list("code", flat=True))
    found = [
        LocalSpecies(
            area=area,
            code=row.name,
            name=row.name.replace("_", " "),
            deciduous=row.deciduous,
            bare_months=list(row.bare_months),
            shoulder_months=list(row.shoulder_months),
        )
        for row in rows
        if row.name not in known
    ]
    for kind in found:
        try:
            kind.clean_fields(exclude=["area", "bare_months", "shoulder_months"])
        except ValidationError as refused:
            raise BadTown([f"species.csv, {kind.code}: {' '.join(refused.messages)}"]) from None
    town.made["species"] = len(LocalSpecies.objects.bulk_create(found))


def _trees(reader: Reader, area: Area, town: Town, rows: list[TreeRow]) -> dict[str, Tree]:
    away = max((math.hypot(row.x_m, row.y_m) for row in rows), default=0.0)
    area.radius_m = 1000 + away
    area.save(update_fields=["radius_m"])
    sites = _named(Site, area, {row.site for row in rows}, town, "sites", _site)
    planted: dict[str, list[int]] = {}
    for row in rows:
        planted.setdefault(row.cohort, []).append(row.planted)

    def planting(area: Area, name: str, ref: str) -> Planting:
        first, last = min(planted[name]), max(planted[name])
        return Planting(
            area=area,
            ref=ref,
            name=name,
            planted_from=month_start(first),
            planted_to=month_end(last),
            planted_precision="month" if first == last else "season",
        )

    plantings = _named(Planting, area, set(planted), town, "plantings", planting)
    registered = _registration_days(reader)
    known = {tree.tag: tree for tree in Tree.objects.filter(area=area)}
    orders: dict[str, int] = {}
    new = []
    for row in sorted(rows, key=lambda row: (row.site, row.x_m, row.tree)):
        orders[row.site] = orders.get(row.site, 0) + 1
        if row.tree not in known:
            new.append(
                _tree(
                    area,
                    row,
                    sites[row.site],
                    plantings[row.cohort],
                    registered,
                    orders[row.site],
                )
            )
    town.made["trees"] = len(Tree.objects.bulk_create(new, batch_size=BATCH))
    return known | {tree.tag: tree for tree in new}


def _site(area: Area, name: str, ref: str) -> Site:
    return Site(area=area, ref=ref, name=name, kind=Site.Kind.OTHER)


def _named(model, area: Area, wanted: Iterable[str], town: Town, what: str, make) -> dict:
    known = {thing.name: thing for thing in model.objects.filter(area=area)}
    new = [
        make(area, name, f"{area.ref}-{slugify(name)}")
        for name in sorted(wanted)
        if name not in known
    ]
    town.made[what] = len(model.objects.bulk_create(new))
    return known | {thing.name: thing for thing in new}


def _tree(
    area: Area, row: TreeRow, site: Site, planting: Planting, registered: dict, order: int
) -> Tree:
    at_planting = row.planted == row.registered
    north = row.y_m / EARTH_RADIUS_METRES
    east = row.x_m / (EARTH_RADIUS_METRES * math.cos(math.radians(area.latitude)))
    month = row.registered
    return Tree(
        area=area,
        site=site,
        planting=planting,
        ref=f"{area.ref}-{slugify(row.tree)}",
        tag=row.tree,
        species=row.species,
        planted_from=month_start(row.planted),
        planted_to=month_end(row.planted),
        planted_precision="month",
        registered_on=registered.get((row.tree, month), month_start(month)),
        registered_because=(
            Tree.Because.PLANTING_RECORD if at_planting else Tree.Because.INVENTORY
        ),
        latitude=area.latitude + math.degrees(north),
        longitude=area.longitude + math.degrees(east),
        walk_order=order,
    )


def _registration_days(reader: Reader) -> dict[tuple[str, int], date]:
    """The day on which each tree was first looked at for the register."""
    days: dict[tuple[str, int], date] = {}
    quiet = Reader(reader.folder, [])
    for row in quiet.rows("reports.csv", lambda row: row):
        if row["channel"] == "registration":
            try:
                month = int(row["month"])
                day = month_start(month).replace(day=int(row["day"]))
            except ValueError:
                continue
            key = (row["tree_id"], month)
            days[key] = min(day, days.get(key, day))
    return days


def _batches(things: Iterator) -> Iterator[list]:
    while batch := list(islice(things, BATCH)):
        yield batch


def _looks(
    reader: Reader, area: Area, town: Town, trees: dict[str, Tree], months: int, at: datetime
) -> None:
    def take(row: dict[str, str]) -> dict:
        told = report_row(row, months, planted)
        look = Look(
            tree=trees[told.tree],
            day=month_start(told.month).replace(day=told.day),
            channel=CHANNELS[told.channel],
            trained=told.kind != "resident",
            presence=Look.Presence.GONE if told.is_gone else Look.Presence.STANDING,
            condition="" if told.is_gone else told.condition,
            leaf=told.leaf,
            scratch=told.scratch,
            repeat_key=f"{area.ref}:{told.report}",
            entered_at=at,
            entered_by="import",
        )
        look.clean_fields(exclude=["tree", "observer"])
        observer = f"{area.ref}:{told.observer}"
        return {"look": look, "observer": (observer, told.kind), "signs": told.signs}

    planted = {tag: _month_of(tree.planted_from) for tag, tree in trees.items()}
    town.made["looks"] = 0
    for batch in _batches(reader.rows("reports.csv", take)):
        keys = [entry["look"].repeat_key for entry in batch]
        known = set(Look.objects.filter(repeat_key__in=keys).values_list("repeat_key", flat=True))
        new = []
        for entry in batch:
            if entry["look"].repeat_key not in known:
                known.add(entry["look"].repeat_key)
                new.append(entry)
        observers = observers_named(dict(entry["observer"] for entry in new))
        for entry in new:
            entry["look"].observer = observers[entry["observer"][0]]
        Look.objects.bulk_create([entry["look"] for entry in new])
        LookSign.objects.bulk_create(
            LookSign(look=entry["look"], sign=sign) for entry in new for sign in entry["signs"]
        )
        town.made["looks"] += len(new)


def _care(
    reader: Reader, area: Area, town: Town, trees: dict[str, Tree], months: int, at: datetime
) -> None:
    def take(row: dict[str, str]) -> CareGiven:
        month = month_come(row["month"], months)
        return CareGiven(
            tree=trees[row["tree_id"]],
            care=CARE,
            given_from=month_start(month),
            given_to=month_end(month),
            given_precision="month",
            repeat_key=f"{area.ref}:{row['tree_id']}:{month}",
            entered_at=at,
            entered_by="import",
        )

    town.made["care"] = 0
    for batch in _batches(reader.rows("care.csv", take)):
        keyed = {care.repeat_key: care for care in batch}
        known = CareGiven.objects.filter(repeat_key__in=keyed).values_list("repeat_key", flat=True)
        new: list[models.Model] = [keyed[key] for key in sorted(set(keyed) - set(known))]
        town.made["care"] += len(CareGiven.objects.bulk_create(new))


def _departures(area: Area, town: Town) -> None:
    """Trees that a crew removed leave, unless a trained eye saw them alive after that."""
    removed = Tree.objects.filter(
        area=area,
        left="",
        looks__channel=Look.Channel.CREW,
        looks__presence=Look.Presence.GONE,
    ).distinct()
    trees = {tree.pk: tree for tree in removed}
    leaving = []
    for pk, told in trained_records(list(trees)).items():
        tree = trees[pk]
        gone = max(
            look.day
            for look in told.seen
            if look.channel == Look.Channel.CREW and look.presence == Look.Presence.GONE
        )
        alive = [look.day for look in told.seen if not look.is_loss]
        if alive and alive[-1] > gone:
            continue
        tree.left, tree.left_to = Tree.Left.DIED, gone
        tree.left_from = max([tree.planted_from, *alive])
        leaving.append(tree)
    Tree.objects.bulk_update(leaving, ["left", "left_from", "left_to"], batch_size=BATCH)
    town.made["departures"] = len(leaving)
