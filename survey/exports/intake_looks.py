"""Imports of what was seen, what happened, and the weather."""

from collections.abc import Sequence
from datetime import datetime

from django.db import models
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from survey.exports.cells import BadCell, value_of
from survey.exports.columns import Column, Table
from survey.exports.intake import Batch, Entry, Kind, clean, settle
from survey.exports.intake_places import by_name, fresh, names, trees_called
from survey.handbook.book import book
from survey.people.models import Observer, Person
from survey.trees.models import (
    Area,
    Happening,
    Look,
    LookSign,
    Planting,
    Site,
    StemMeasure,
    Weather,
)

LOOK_FIELDS = [
    "tree_id",
    "day",
    "channel",
    "trained",
    "presence",
    "condition",
    "leaf",
    "scratch",
    "note",
]
GIRTH = Column("girths_m", "", "number")

LOOKS = Table(
    "looks",
    lazy("Looks"),
    lazy("One row for each look of one observer at one tree on one day."),
    (
        Column(
            "look_id",
            lazy("Its name in your records: by it a look that comes twice is known."),
            required=True,
        ),
        Column("tree", lazy("The tree: tag or short name, as on the list."), required=True),
        Column("day", lazy("The day of the look."), "day", required=True),
        Column(
            "observer",
            lazy("Who looked, by a name or number of yours; no address, no telephone number."),
            required=True,
        ),
        Column(
            "observer_kind",
            lazy("What the observer is. Volunteers, staff and crews count as trained."),
            "code",
            choices=("resident", "volunteer", "staff", "crew"),
            required=True,
        ),
        Column(
            "trained",
            lazy("Whether the observer was trained on that day, where the kind does not tell."),
            "yes or no",
        ),
        Column(
            "channel",
            lazy("How the look came about."),
            "code",
            choices=tuple(Look.Channel.values),
            required=True,
        ),
        Column(
            "presence",
            lazy("What stood there."),
            "code",
            choices=tuple(Look.Presence.values),
            required=True,
        ),
        Column(
            "condition",
            lazy("Its condition, if it stood."),
            "code",
            choices=("thriving", "holding", "slipping", "failing", "dead"),
        ),
        Column("leaf", lazy("How much leaf."), "code", choices=tuple(Look.Leaf.values)),
        Column(
            "scratch",
            lazy("What the scratch test showed."),
            "code",
            choices=tuple(Look.Scratch.values),
        ),
        Column(
            "signs",
            lazy(
                "Signs by code, a semicolon between them; with extent and side where known:"
                " bark_wound:half_or_more:street; fungus."
            ),
            "list",
        ),
        Column("girths_m", lazy("Girth of each stem, a semicolon between them."), "list", "meters"),
        Column("note", lazy("Anything else.")),
    ),
)
HAPPENINGS = Table(
    "happenings",
    lazy("Happenings"),
    lazy("One row for each dated event at one site, planting or tree."),
    (
        Column("happening_id", lazy("Its name in your records."), required=True),
        Column(
            "place_kind",
            lazy("What it happened to."),
            "code",
            choices=("site", "planting", "tree"),
            required=True,
        ),
        Column("place", lazy("Which one: name, tag or short name, as on the list."), required=True),
        Column("kind", lazy("What happened, in a word or two."), required=True),
        Column("from_day", lazy("First day."), "day", required=True),
        Column("to_day", lazy("Last day; the first where it is empty."), "day"),
        Column("note", lazy("Anything else.")),
    ),
)
WEATHER = Table(
    "weather",
    lazy("Weather"),
    lazy("One row for each day in the town."),
    (
        Column("day", lazy("The day."), "day", required=True),
        Column("rain_mm", lazy("Rain."), "number", "millimeters"),
        Column("low_c", lazy("Lowest temperature."), "number", "degrees Celsius"),
        Column("high_c", lazy("Highest temperature."), "number", "degrees Celsius"),
        Column("eto_mm", lazy("Reference evapotranspiration."), "number", "millimeters"),
    ),
)


def judge_looks(area: Area, entries: Sequence[Entry], at: datetime, by: Person | None) -> Batch:
    batch, today = Batch(), area.today()
    trees = trees_called(area, names(entries, "tree"))
    known = _kept(Look, area, entries, "look_id")
    observers = observers_named(
        {f"{area.ref}:{entry['observer']}"[:80]: entry["observer_kind"] for entry in entries}
    )
    for entry in fresh(batch, entries, "look_id"):
        tree = trees.get(entry["tree"])
        if tree is None:
            batch.refuse(entry, "tree", _("No tree of that tag or name is on the list."))
            continue
        trained = entry["observer_kind"] != Observer.Kind.RESIDENT
        look = Look(
            tree=tree,
            observer=observers[f"{area.ref}:{entry['observer']}"[:80]],
            day=entry["day"],
            channel=entry["channel"],
            trained=trained if entry["trained"] is None else entry["trained"],
            presence=entry["presence"],
            condition=entry["condition"] or "",
            leaf=entry["leaf"] or "",
            scratch=entry["scratch"] or "",
            note=entry["note"] or "",
            repeat_key=_key(area, entry["look_id"]),
            entered_at=at,
            entered_by=f"person:{by.key}" if by else "import",
        )
        if entry["day"] > today:
            batch.refuse(entry, "day", _("That day has not come yet."))
        elif entry["day"] < tree.planted_from:
            batch.refuse(entry, "day", _("That is before the tree was planted."))
        elif look.condition and look.presence not in ("standing", "sprouting"):
            batch.refuse(entry, "condition", _("Only a standing tree has a condition."))
        elif (look.leaf or look.scratch) and look.presence not in (
            "standing",
            "sprouting",
            "stump",
        ):
            batch.refuse(entry, "leaf", _("Without a tree there is no leaf and no scratch test."))
        elif _signs_and_girths(batch, entry) and clean(batch, entry, look):
            settle(batch, entry, known.get(look.repeat_key), look, LOOK_FIELDS)
    return batch


def write_signs_and_girths(written: Sequence[tuple[Entry, models.Model]]) -> None:
    """What hangs on the looks just written."""
    LookSign.objects.bulk_create(
        LookSign(look=look, sign=sign, extent=extent, side=side)
        for entry, look in written
        for sign, extent, side in _signs(entry)
    )
    StemMeasure.objects.bulk_create(
        StemMeasure(look=look, stem=stem, girth_m=float(girth))
        for entry, look in written
        for stem, girth in enumerate(entry["girths_m"] or (), start=1)
    )


def _signs(entry: Entry) -> list[tuple[str, str, str]]:
    found = {}
    for cell in entry["signs"] or ():
        sign, extent, side = [*(part.strip() for part in cell.split(":")), "", ""][:3]
        found.setdefault(sign, (sign, extent, side))
    return list(found.values())


def _signs_and_girths(batch: Batch, entry: Entry) -> bool:
    known = book()
    for cell in entry["signs"] or ():
        parts = [part.strip() for part in cell.split(":")]
        ladders = (known.signs, known.extents, known.sides)
        if len(parts) > 3 or any(
            part and part not in ladder for part, ladder in zip(parts, ladders, strict=False)
        ):
            batch.refuse(entry, "signs", _("“%s” is not in the handbook.") % cell[:60])
            return False
    try:
        girths = [value_of(GIRTH, cell) for cell in entry["girths_m"] or ()]
    except BadCell as bad:
        batch.refuse(entry, "girths_m", str(bad))
        return False
    if any(not 0 < girth <= 20 for girth in girths):
        batch.refuse(entry, "girths_m", _("A girth lies between 0 and 20 meters."))
        return False
    return True


def observers_named(kinds: dict[str, str]) -> dict[str, Observer]:
    """Observers by key, made where they are missing; what an observer is does not change here."""
    Observer.objects.bulk_create(
        [Observer(key=key, kind=kind) for key, kind in sorted(kinds.items())],
        ignore_conflicts=True,
    )
    return {seen.key: seen for seen in Observer.objects.filter(key__in=kinds)}


def judge_happenings(
    area: Area, entries: Sequence[Entry], at: datetime, by: Person | None
) -> Batch:
    batch, today = Batch(), area.today()
    places = {
        "site": by_name(Site, area, names(entries, "place")),
        "planting": by_name(Planting, area, names(entries, "place")),
        "tree": trees_called(area, names(entries, "place")),
    }
    known = _kept(Happening, area, entries, "happening_id")
    for entry in fresh(batch, entries, "happening_id"):
        place = places[entry["place_kind"]].get(entry["place"])
        from_day, to_day = entry["from_day"], entry["to_day"] or entry["from_day"]
        if place is None:
            batch.refuse(entry, "place", _("Nothing of that name is on the list."))
        elif to_day < from_day:
            batch.refuse(entry, "to_day", _("The last day comes before the first."))
        elif to_day > today:
            batch.refuse(entry, "to_day", _("That day has not come yet."))
        else:
            happening = Happening(
                **{entry["place_kind"]: place},
                kind=entry["kind"],
                from_day=from_day,
                to_day=to_day,
                note=entry["note"] or "",
                repeat_key=_key(area, entry["happening_id"]),
                entered_at=at,
                entered_by=f"person:{by.key}" if by else "import",
            )
            if clean(batch, entry, happening):
                same = ["site_id", "planting_id", "tree_id", "kind", "from_day", "to_day", "note"]
                settle(batch, entry, known.get(happening.repeat_key), happening, same)
    return batch


def judge_weather(area: Area, entries: Sequence[Entry], at: datetime, by: Person | None) -> Batch:
    batch, today = Batch(), area.today()
    days = [entry["day"] for entry in entries]
    known = {day.day: day for day in Weather.objects.filter(area=area, day__in=days)}
    for entry in fresh(batch, entries, "day"):
        values = {
            column.name: entry[column.name] for column in WEATHER.columns if column.type == "number"
        }
        low, high = values["low_c"], values["high_c"]
        if entry["day"] > today:
            batch.refuse(entry, "day", _("That day has not come yet."))
        elif any(values[name] is not None and values[name] < 0 for name in ("rain_mm", "eto_mm")):
            batch.refuse(entry, "rain_mm", _("Rain and evapotranspiration are not below 0."))
        elif low is not None and high is not None and low > high:
            batch.refuse(entry, "low_c", _("The lowest temperature is above the highest."))
        elif any(heat is not None and not -90 <= heat <= 60 for heat in (low, high)):
            batch.refuse(entry, "high_c", _("No such temperature has been measured on earth."))
        else:
            weather = Weather(area=area, day=entry["day"], **values)
            settle(batch, entry, known.get(entry["day"]), weather, list(values))
    return batch


def _key(area: Area, name: str) -> str:
    return f"{area.ref}:{name}"


def _kept(model, area: Area, entries: Sequence[Entry], column: str) -> dict:
    keys = [_key(area, name) for name in names(entries, column)]
    return {thing.repeat_key: thing for thing in model.objects.filter(repeat_key__in=keys)}


KINDS = [
    Kind(LOOKS, judge_looks, write_signs_and_girths),
    Kind(HAPPENINGS, judge_happenings, is_evidence=False),
    Kind(WEATHER, judge_weather, is_evidence=False),
]
