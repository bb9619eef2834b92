"""Writes a town's places, trees and looks into the database, many rows at a time."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import models

from survey.audit.models import Entry
from survey.management.demo.lives import Life, mowing_days, point_at
from survey.management.demo.looks import LookPlan, PhotoPlan
from survey.management.demo.people import enter_observers, enter_people
from survey.management.demo.pictures import draw
from survey.management.demo.plan import SitePlan, Table
from survey.management.demo.town import Town
from survey.people.models import Observer, Person
from survey.photos.models import Photo
from survey.trees.models import (
    Acceptance,
    Area,
    Happening,
    LandManager,
    Look,
    LookSign,
    Permission,
    Planting,
    Site,
    StemMeasure,
    Tree,
    Weather,
)

BATCH = 500
Row = TypeVar("Row", bound=models.Model)


def put(rows: Iterable[Row]) -> list[Row]:
    """Insert rows of one table, in their order."""
    rows = list(rows)
    return type(rows[0])._default_manager.bulk_create(rows, batch_size=BATCH) if rows else []


@dataclass(slots=True)
class Register:
    """What has been entered so far, so that later rows can point at it."""

    town: Town
    area: Area
    zone: ZoneInfo
    people: dict[str, Person]
    observers: dict[str, Observer]
    sites: dict[str, Site] = field(default_factory=dict)
    plantings: dict[str, Planting] = field(default_factory=dict)
    trees: dict[Life, Tree] = field(default_factory=dict)
    photos: dict[PhotoPlan, Photo] = field(default_factory=dict)
    looks: dict[LookPlan, Look] = field(default_factory=dict)
    lines: list[Entry] = field(default_factory=list)

    def by(self, sign_in: str) -> str:
        """How the audit and the rows name whoever has this sign-in."""
        return f"person:{self.people[sign_in].key}" if sign_in else ""

    def note(self, act: str, subject: str, at: datetime, who: str = "", **detail: Any) -> None:
        """An audit line to be written; `who` is a sign-in."""
        self.lines.append(
            Entry(at=at, who=self.by(who) or "nobody", act=act, subject=subject, detail=detail)
        )

    def moment(self, day: date, hour: int = 9) -> datetime:
        return datetime.combine(day, time(hour), self.zone)


def enter_record(town: Town) -> Register:
    """Everything but the reports and the orders."""
    people = enter_people(town.plan)
    area = Area.objects.create(invented=True, **town.plan.area)
    register = Register(town, area, ZoneInfo(area.time_zone), people, enter_observers(people))
    _accounts(register)
    _places(register)
    _plantings(register)
    _trees(register)
    _weather(register)
    _happenings(register)
    return register


def _staff(register: Register) -> str:
    return next(p["sign_in"] for p in register.town.plan.people if p["role"] == "staff")


def _accounts(register: Register) -> None:
    at = register.moment(register.town.plan.watched_since - timedelta(days=1))
    keeper = next((p["sign_in"] for p in register.town.plan.people if p["role"] == "keeper"), "")
    for sign_in, person in register.people.items():
        who = keeper if sign_in != keeper else ""
        register.note("account.made", f"person:{person.key}", at, who, role=person.role)


# ------------------------------------------------------------------------- places


def _shape(register: Register, site: SitePlan) -> Table | None:
    """The site's outline or its street, as GeoJSON writes them (RFC 7946: longitude first)."""
    points = [
        list(reversed(point_at(register.town.plan, site.ref, east, north)))
        for east, north in site.boundary or site.path
    ]
    if site.boundary:
        return {"type": "Polygon", "coordinates": [[*points, points[0]]]}
    return {"type": "LineString", "coordinates": points} if points else None


def _places(register: Register) -> None:
    plan = register.town.plan
    managers = {
        manager.ref: manager for manager in put(LandManager(**table) for table in plan.managers)
    }
    put(
        Permission(
            land_manager=managers[table["manager"]],
            care=care,
            who=table["who"],
            from_day=start,
            to_day=end,
            letter=table["letter"] % {"year": start.year},
        )
        for table in plan.permissions
        for care in table["care"]
        for start, end in table["letters"]
    )
    sites = []
    at = register.moment(plan.watched_since - timedelta(days=1), 10)
    for site in plan.sites.values():
        latitude, longitude = point_at(plan, site.ref, 0, 0)
        sites.append(
            Site(
                area=register.area,
                ref=site.ref,
                name=site.name,
                kind=site.kind,
                land_manager=managers[site.manager],
                mowing_contractor=site.mowing_contractor,
                walk_from=site.walk_from,
                latitude=latitude,
                longitude=longitude,
                boundary=_shape(register, site),
            )
        )
        register.note("site.registered", f"site:{site.ref}", at, _staff(register))
    register.sites = {site.ref: site for site in put(sites)}


def _plantings(register: Register) -> None:
    rows = []
    for plan in register.town.plan.plantings:
        mine = [life for life in register.town.lives if life.planting is plan]
        first = min((life.registered_on for life in mine), default=plan.planted[1])
        rows.append(
            Planting(
                area=register.area,
                ref=plan.ref,
                name=plan.name,
                planted_from=plan.planted[0],
                planted_to=plan.planted[1],
                planted_precision=plan.precision,
                planted_count=plan.planted_count or len(mine) or None,
                supplier=plan.supplier,
                contractor=plan.contractor,
                stock_form=plan.stock_form,
                warranty_until=plan.warranty_until,
                note=plan.note,
            )
        )
        at = register.moment(first, 8)
        register.note("planting.registered", f"planting:{plan.ref}", at, _staff(register))
    register.plantings = {planting.ref: planting for planting in put(rows)}


def departure(life: Life, looks: list[LookPlan]) -> tuple[str, date, date] | None:
    """How a tree left the registry and between which two days, as the trained looks have it."""
    trained = [look for look in looks if look.trained]
    if life.taken_on:
        return life.taken_how, life.taken_on, life.taken_on
    if life.fenced_on:
        missed = [
            look.day
            for look in trained
            if look.presence == "not_seen" and look.day > life.fenced_on
        ]
        seen = [look.day for look in trained if look.presence == "standing"]
        return ("lost", max(seen), missed[1]) if len(missed) > 1 else None
    if not any(look.presence == "gone" for look in trained):
        return None
    alive = [
        look.day for look in trained if look.presence == "standing" and look.condition != "dead"
    ]
    left_from = max(alive, default=life.planting.planted[0])
    ended = [
        look.day
        for look in trained
        if look.day >= left_from and (look.condition == "dead" or look.presence == "gone")
    ]
    return "died", left_from, min(ended)


def _trees(register: Register) -> None:
    town = register.town
    looks: dict[Life, list[LookPlan]] = {}
    for look in town.looks:
        looks.setdefault(look.life, []).append(look)
    crew = next(p["sign_in"] for p in town.plan.people if p["role"] == "crew")
    rows = []
    for life in town.lives:
        plan = life.planting
        exact = plan.precision == "day"
        left, left_from, left_to = departure(life, looks[life]) or ("", None, None)
        rows.append(
            Tree(
                area=register.area,
                site=register.sites[life.site],
                planting=register.plantings[plan.ref],
                ref=f"{town.plan.short}-{life.tag.lower()}",
                tag=life.tag,
                species=life.species,
                planted_from=life.planted if exact else plan.planted[0],
                planted_to=life.planted if exact else plan.planted[1],
                planted_precision=plan.precision,
                registered_on=life.registered_on,
                registered_because=life.because,
                latitude=life.latitude,
                longitude=life.longitude,
                walk_order=life.walk_order,
                landmark=life.line.landmark_at(life.share),
                stems=life.stems,
                street_bearing=life.line.street_bearing,
                left=left,
                left_from=left_from,
                left_to=left_to,
            )
        )
        at = register.moment(life.registered_on, 8)
        subject = f"tree:{rows[-1].ref}"
        register.note(
            "tree.registered",
            subject,
            at,
            looks[life][0].observer if looks[life][0].trained else _staff(register),
            tag=life.tag,
        )
        if left:
            told = register.moment(left_to, 18)
            register.note("tree.left", subject, told, crew, how=left, why="")
    first = [life for life in town.lives if life.replaces is None]
    later = [life for life in town.lives if life.replaces is not None]
    by_life = dict(zip(town.lives, rows, strict=True))
    put(by_life[life] for life in first)
    for life in later:
        by_life[life].replaces = by_life[life.replaces]
    put(by_life[life] for life in later)
    register.trees = by_life


def _weather(register: Register) -> None:
    put(
        Weather(
            area=register.area,
            day=day.day,
            rain_mm=day.rain_mm,
            low_c=day.low_c,
            high_c=day.high_c,
            eto_mm=day.eto_mm,
        )
        for day in register.town.days
    )


def _happenings(register: Register) -> None:
    plan = register.town.plan
    rows = []

    def add(kind: str, start: date, end: date, note: str, **place: Any) -> None:
        rows.append(
            Happening(
                kind=kind,
                from_day=start,
                to_day=end,
                note=note,
                entered_at=register.moment(start, 18),
                entered_by=register.by(_staff(register)),
                **place,
            )
        )

    for spell in plan.spells:
        for site in register.sites.values():
            if spell["to"] >= plan.watched_since:
                known = spell["kind"] in Happening.Kind.values
                add(
                    spell["kind"] if known else Happening.Kind.OTHER,
                    spell["from"],
                    spell["to"],
                    spell["note"],
                    site=site,
                )
    for event in plan.events:
        if "site" in event:
            place = {"site": register.sites[event["site"]]}
        else:
            place = {"planting": register.plantings[event["planting"]]}
        add(event["kind"], event["from"], event["to"], event["note"], **place)
    for mowing in plan.mowings:
        for day in mowing_days(mowing, plan.today - timedelta(days=1)):
            add("mowing", day, day, mowing["contractor"], site=register.sites[mowing["site"]])
    rows.sort(key=lambda row: row.from_day)
    for row in put(rows):
        register.note(
            "happening.recorded",
            f"happening:{row.pk}",
            row.entered_at,
            _staff(register),
            kind=row.kind,
        )


# ------------------------------------------------------------------------- photos and looks


def enter_photos(register: Register, plans: list[PhotoPlan]) -> None:
    """Draw the pictures, keep both sizes, and write their rows."""
    rows = []
    for plan in plans:
        drawn = draw(plan.scene)
        rows.append(
            Photo(
                key=plan.key,
                state=Photo.State.READY,
                shown=plan.shown,
                part=plan.scene.part,
                facing=plan.facing,
                taken_on=plan.taken_on,
                received_at=plan.received_at,
                picture=_keep(f"pictures/{plan.key}.jpg", drawn.picture),
                small=_keep(f"pictures/{plan.key}-small.jpg", drawn.small),
                width=drawn.width,
                height=drawn.height,
                sha256=drawn.sha256,
                by=register.by(plan.by),
            )
        )
    register.photos = dict(zip(plans, put(rows), strict=True))


def _keep(name: str, data: bytes) -> str:
    """Store a file under exactly this name, also after a load that broke off."""
    if default_storage.exists(name):
        default_storage.delete(name)
    return default_storage.save(name, ContentFile(data))


def enter_looks(
    register: Register, plans: list[LookPlan], observers: dict[LookPlan, Observer]
) -> None:
    """Looks with signs, measures, acceptance and photos. `observers` are those of neighbors."""
    rows = put(
        Look(
            tree=register.trees[plan.life],
            observer=observers.get(plan) or register.observers[plan.observer],
            day=plan.day,
            channel=plan.channel,
            trained=plan.trained,
            presence=plan.presence,
            condition=plan.condition,
            leaf=plan.leaf,
            scratch=plan.scratch,
            note=plan.note,
            repeat_key=plan.repeat_key,
            entered_at=plan.at,
            entered_by="" if plan in observers else register.by(plan.observer),
        )
        for plan in plans
    )
    pairs = list(zip(plans, rows, strict=True))
    register.looks = dict(pairs)
    put(
        LookSign(look=row, sign=seen.sign, extent=seen.extent, side=seen.side)
        for plan, row in pairs
        for seen in plan.signs
    )
    put(
        StemMeasure(look=row, stem=stem, girth_m=girth)
        for plan, row in pairs
        for stem, girth in enumerate(plan.girths, start=1)
    )
    put(Acceptance(look=row, **plan.acceptance) for plan, row in pairs if plan.acceptance)
    put(
        Look.photos.through(look=row, photo=register.photos[photo])
        for plan, row in pairs
        for photo in plan.photos
    )
    for plan, row in pairs:
        register.note(
            "look.recorded",
            f"tree:{register.trees[plan.life].ref}",
            plan.at,
            "" if plan in observers else plan.observer,
            look=row.pk,
            supersedes=None,
        )
