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
    TreeRow,
    month_come,
    read_settings,
    read_trees,
    report_row,
    species_row,
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
    months, south = read_settings(reader)
    area = _area(name, months, south)
    town = Town(area)
    _species(reader, area, town)
    trees = _trees(reader, area, town, months)
    _looks(reader, area, town, trees, months, at)
    _care(reader, area, town, trees, months, at)
    reader.done()
    _departures(area, town)
    record("town.imported", subject=f"area:{area.ref}", at=at, made=town.made)
    ask_for_everything(area)
    return town


def _area(name: str, months: int) -> Area:
    ref = slugify(name)[:30]
    if not ref:
        raise BadTown([_("Give the town a name of letters or digits.")])
    area = Area.objects.filter(ref=ref).first() or Area(ref=ref, name=name)
    if area.is_home:
        raise BadTown([_("%s is the home town; import under another name.") % name])
    area.latitude, area.longitude = CENTER
    area.data_date, area.invented = month_end(months - 1), True
    area.full_clean()
    area.save()
    return area


def _species(reader: Reader, area: Area, town: Town) -> None:
    def take(row: dict[str, str]) -> LocalSpecies:
        def months(cell: str) -> list[int]:
            found = sorted(int(month) for month in cell.split(";") if month)
            if not all(1 <= month <= 12 for month in found):
                raise ValueError(_("months are 1 to 12"))
            return found

        return LocalSpecies(
            area=area,
            code=row["species"],
            name=row["species"].replace("_", " "),
            deciduous=row["deciduous"] == "1",
            bare_months=months(row["leaf_off_months"]),
            shoulder_months=months(row["shoulder_months"]),
        )

    known = set(LocalSpecies.objects.filter(area=area).values_list("code", flat=True))
    found = [kind for kind in reader.rows("species.csv", take) if kind.code not in known]
    town.made["species"] = len(LocalSpecies.objects.bulk_create(found))


def _trees(reader: Reader, area: Area, town: Town, months: int) -> dict[str, Tree]:
    rows = list(reader.rows("trees.csv", lambda row: _tree_row(row, months)))
    kinds = set(LocalSpecies.objects.filter(area=area).values_list("code", flat=True))
    for row in rows:
        if row["species"] not in kinds:
            reader.problems.append(
                _("trees.csv: %(tree)s is of an unknown species.") % {"tree": row["tree_id"]}
            )
    if reader.problems:
        raise BadTown(reader.problems)
    away = max((math.hypot(row["x_m"], row["y_m"]) for row in rows), default=0.0)
    area.radius_m = 1000 + away
    area.save(update_fields=["radius_m"])
    sites = _named(Site, area, {row["site_id"] for row in rows}, town, "sites", _site)
    planted: dict[str, list[int]] = {}
    for row in rows:
        planted.setdefault(row["cohort_id"], []).append(row["planted_month"])

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
    for row in sorted(rows, key=lambda row: (row["site_id"], row["x_m"], row["tree_id"])):
        orders[row["site_id"]] = orders.get(row["site_id"], 0) + 1
        if row["tree_id"] not in known:
            new.append(
                _tree(
                    area,
                    row,
                    sites[row["site_id"]],
                    plantings[row["cohort_id"]],
                    registered,
                    orders[row["site_id"]],
                )
            )
    town.made["trees"] = len(Tree.objects.bulk_create(new, batch_size=BATCH))
    return known | {tree.tag: tree for tree in new}


def _tree_row(row: dict[str, str], months: int) -> dict:
    planted, registered = int(row["planted_month"]), int(row["registered_month"])
    if not 0 <= planted <= registered < months:
        raise ValueError(_("planted and registered months are out of order or not yet come"))
    if not (row["tree_id"] and row["site_id"] and row["cohort_id"]):
        raise ValueError(_("an id is empty"))
    x_m, y_m = float(row["x_m"]), float(row["y_m"])
    if not (abs(x_m) <= 1e5 and abs(y_m) <= 1e5):
        raise ValueError(_("the place is more than 100 km away"))
    return row | {
        "planted_month": planted,
        "registered_month": registered,
        "x_m": x_m,
        "y_m": y_m,
    }


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
    area: Area, row: dict, site: Site, planting: Planting, registered: dict, order: int
) -> Tree:
    at_planting = row["planted_month"] == row["registered_month"]
    north = row["y_m"] / EARTH_RADIUS_METRES
    east = row["x_m"] / (EARTH_RADIUS_METRES * math.cos(math.radians(area.latitude)))
    month = row["registered_month"]
    return Tree(
        area=area,
        site=site,
        planting=planting,
        ref=f"{area.ref}-{slugify(row['tree_id'])}",
        tag=row["tree_id"],
        species=row["species"],
        planted_from=month_start(row["planted_month"]),
        planted_to=month_end(row["planted_month"]),
        planted_precision="month",
        registered_on=registered.get((row["tree_id"], month), month_start(month)),
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
        month = int(row["month"])
        if not 0 <= month < months:
            raise ValueError(_("the month has not come yet"))
        if row["reporter_group"] not in GROUPS:
            raise ValueError(_("unknown group %s") % row["reporter_group"])
        day = month_start(month).replace(day=int(row["day"]))
        tree = trees[row["tree_id"]]
        if day < tree.planted_from:
            raise ValueError(_("the tree was not planted yet"))
        there = row["condition"] != "gone"
        look = Look(
            tree=tree,
            day=day,
            channel=CHANNELS[row["channel"]],
            trained=row["reporter_group"] != "resident",
            presence=Look.Presence.STANDING if there else Look.Presence.GONE,
            condition=row["condition"] if there else "",
            leaf=row["leaf"] if there else "",
            scratch=row["scratch"] if there else "",
            repeat_key=f"{area.ref}:{row['report_id']}",
            entered_at=at,
            entered_by="import",
        )
        look.clean_fields(exclude=["tree", "observer"])
        observer = f"{area.ref}:{row['reporter_id']}"
        return {"look": look, "observer": (observer, row["reporter_group"]), "row": row}

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
            LookSign(look=entry["look"], sign=sign)
            for entry in new
            for sign in sorted(set(filter(None, entry["row"]["signs"].split(";"))))
        )
        town.made["looks"] += len(new)


def _care(
    reader: Reader, area: Area, town: Town, trees: dict[str, Tree], months: int, at: datetime
) -> None:
    def take(row: dict[str, str]) -> CareGiven:
        month = int(row["month"])
        if not 0 <= month < months:
            raise ValueError(_("the month has not come yet"))
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
