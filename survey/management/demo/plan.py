"""Reads the plan of a demo town: what is fixed before any dice are thrown."""

import tomllib
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from django.conf import settings

FIXTURES = Path(settings.BASE_DIR) / "fixtures" / "demo"

Table = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Line:
    """A row of trees at a site. Points are meters east and north of the site's own point."""

    ref: str
    site: str
    name: str
    start: tuple[float, float]
    end: tuple[float, float]
    ground: str
    street_bearing: int
    thirst: float
    landmarks: tuple[tuple[float, str], ...]

    def landmark_at(self, share: float) -> str:
        """The landmark nearest to a place along the line, 0 at its start and 1 at its end."""
        return min(self.landmarks, key=lambda landmark: abs(landmark[0] - share))[1]


@dataclass(frozen=True, slots=True)
class SitePlan:
    ref: str
    name: str
    kind: str
    manager: str
    mowing_contractor: str
    walk_from: str
    prefix: str
    at: tuple[float, float]
    place: str
    people: float
    lines: tuple[Line, ...]
    boundary: tuple[tuple[float, float], ...] = ()
    path: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Part:
    line: str
    species: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantingPlan:
    """One cohort. `ties` is the month in which its ties came off; 0 means that it had none."""

    ref: str
    name: str
    planted: tuple[date, date]
    precision: str
    supplier: str = ""
    contractor: str = ""
    stock_form: str = ""
    planted_count: int | None = None
    warranty_until: date | None = None
    inventory_on: date | None = None
    found_because_of_reports: tuple[date, date] | None = None
    late: int = 0
    late_on: date | None = None
    lost_before: int = 0
    wounded: float = 0.0
    ties: int = 0
    replaces: str = ""
    at_most: int = 0
    note: str = ""
    part: tuple[Part, ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything in a town's folder. Tables that are only copied into rows stay tables."""

    seed: int
    short: str
    today: date
    watched_since: date
    reports_a_month: float
    lately: Table
    area: Table
    climate: Table
    spells: tuple[Table, ...]
    managers: tuple[Table, ...]
    permissions: tuple[Table, ...]
    sites: dict[str, SitePlan]
    lines: dict[str, Line]
    plantings: tuple[PlantingPlan, ...]
    events: tuple[Table, ...]
    mowings: tuple[Table, ...]
    rounds: tuple[Table, ...]
    people: tuple[Table, ...]
    neighbors: Table

    @property
    def south(self) -> bool:
        return self.area["hemisphere"] == "south"

    def allows(self, site: str, care: str, who: str, day: date) -> bool:
        """Whether the site's land manager has allowed this care by these people on that day."""
        if care == "look_again":
            return True
        workers = {"volunteer": {"volunteer", "anybody"}}.get(who, {"crew", "anybody"})
        return any(
            permission["manager"] == self.sites[site].manager
            and care in permission["care"]
            and permission["who"] in workers
            and any(start <= day <= end for start, end in permission["letters"])
            for permission in self.permissions
        )


def _read(path: Path) -> Table:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def read_plan(town: str, fixtures: Path = FIXTURES) -> Plan:
    """The plan in this town's folder. Raises the reader's own errors: the files are ours."""
    folder = fixtures / town
    head = _read(folder / "town.toml")
    places = _read(folder / "sites.toml")
    planted = _read(folder / "plantings.toml")
    people = _read(folder / "people.toml")
    sites = {table["ref"]: _site(table) for table in places["site"]}
    return Plan(
        seed=head["seed"],
        short=head["short"],
        today=head["area"]["data_date"],
        watched_since=head["watched_since"],
        reports_a_month=head["reports_a_month"],
        lately=head["lately"],
        area=head["area"],
        climate=head["climate"],
        spells=tuple(head["spell"]),
        managers=tuple(places["manager"]),
        permissions=tuple(places["permission"]),
        sites=sites,
        lines={f"{site.ref}/{line.ref}": line for site in sites.values() for line in site.lines},
        plantings=tuple(_planting(table) for table in planted["planting"]),
        events=tuple(planted.get("event", ())),
        mowings=tuple(planted.get("mowing", ())),
        rounds=tuple(planted.get("round", ())),
        people=tuple(people["person"]),
        neighbors=people["neighbors"],
    )


def read_words(fixtures: Path = FIXTURES) -> dict[str, Table]:
    """What neighbors write (`neighbors`) and what the desk answers (`desk`), by case."""
    folder = fixtures / "words"
    return {name: _read(folder / f"{name}.toml") for name in ("neighbors", "desk")}


def _site(table: Table) -> SitePlan:
    lines = tuple(
        Line(
            ref=line["ref"],
            site=table["ref"],
            name=line["name"],
            start=tuple(line["from"]),
            end=tuple(line["to"]),
            ground=line["ground"],
            street_bearing=line["street_bearing"],
            thirst=line["thirst"],
            landmarks=tuple((share, words) for share, words in line["landmarks"]),
        )
        for line in table["line"]
    )
    shapes = {
        name: tuple(tuple(point) for point in table[name])
        for name in ("boundary", "path")
        if name in table
    }
    plain = {key: value for key, value in table.items() if key not in {"line", *shapes, "at"}}
    return SitePlan(**plain, at=tuple(table["at"]), lines=lines, **shapes)


def _planting(table: Table) -> PlantingPlan:
    spans = {
        name: tuple(table[name])
        for name in ("planted", "found_because_of_reports")
        if name in table
    }
    plain = {key: value for key, value in table.items() if key not in {"part", *spans}}
    return PlantingPlan(
        **plain, **spans, part=tuple(Part(**part) for part in table.get("part", ()))
    )
