"""The hidden lives of the demo's trees: what truly happened, and nobody there can see whole."""

import math
from bisect import bisect_right
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from survey.handbook.book import book
from survey.management.demo.plan import Line, Part, Plan, PlantingPlan
from survey.management.demo.walks import SECOND_LOOK, crew_days, found_dead_on
from survey.management.demo.weather import Day, dryness_by_month

Month = tuple[int, int]

METRES_A_DEGREE = 111_320.0
MOWN_SIDE = "street"  # in this town the lawn lies between the trees and the street
WOUND_STEPS = [0.2, 0.35, 0.5, 0.8]  # share of the girth without bark …
WOUND_COSTS = [0.0, 0.022, 0.075, 0.16, 0.24]  # … and what each month costs


@dataclass(slots=True, eq=False)
class Life:
    """One tree: what is on its card, and what only the generator knows."""

    number: int
    planting: PlantingPlan
    line: Line
    site: str
    species: str
    share: float
    planted: date
    frailty: float
    vigor_at_start: float
    latitude: float
    longitude: float
    stems: int
    replaces: "Life | None" = None
    tag: str = ""
    walk_order: int = 0
    registered_on: date | None = None
    because: str = "planting_record"
    vigor: dict[Month, float] = field(default_factory=dict)
    cuts: list[tuple[date, float, str]] = field(default_factory=list)
    nursery_wound: float = 0.0
    tight: bool = False
    ties_off: date | None = None
    heaped: bool = False
    buried: bool = False
    frosted: date | None = None
    died_on: date | None = None
    taken_on: date | None = None
    taken_how: str = ""
    fenced_on: date | None = None
    removed_on: date | None = None  # the dead tree's own removal
    removal_logged: bool = True

    def stands(self, day: date) -> bool:
        """Whether anything of it stands there, dead or alive."""
        gone = self.taken_on or self.removed_on
        return self.planted <= day and (gone is None or day < gone)

    def alive(self, day: date) -> bool:
        ends = [end for end in (self.died_on, self.taken_on) if end]
        return self.planted <= day and (not ends or day < min(ends))

    def age_months(self, day: date) -> float:
        return (day - self.planted).days / 30.44

    def vigor_on(self, day: date) -> float:
        known = self.vigor.get((day.year, day.month))
        return self.vigor_at_start if known is None else known

    def wound_on(self, day: date) -> float:
        """Share of the girth without bark, 0 to 1."""
        fresh = sum(share for when, share, _ in self.cuts if when <= day)
        return min(1.0, self.nursery_wound + fresh)

    def wound_side(self, day: date) -> str:
        if self.wound_on(day) >= 0.95:
            return "all_round"
        sides = [side for when, _, side in self.cuts if when <= day]
        return sides[-1] if sides else "building"

    def tied(self, day: date) -> bool:
        return self.ties_off is not None and day < self.ties_off

    def condition_on(self, day: date) -> str:
        if not self.alive(day):
            return "dead"
        vigor = self.vigor_on(day)
        for word, least in (("thriving", 0.74), ("holding", 0.54), ("slipping", 0.33)):
            if vigor >= least:
                return word
        return "failing"

    def leaf_on(self, day: date, south: bool) -> str:
        """full, partial or bare, as the calendar of its kind and its vigor have it."""
        if not self.alive(day) or is_bare(self.species, day.month, south):
            return "bare"
        if is_shoulder(self.species, day.month, south) or self.vigor_on(day) < 0.3:
            return "partial"
        return "full"

    def girth_m(self, day: date) -> float:
        years = max(0.0, self.age_months(min(day, self.died_on or day)) / 12)
        first = 0.13 + 0.05 * ((self.number * 37) % 100) / 100
        return round(first + years * (0.012 + 0.022 * self.vigor_on(day)), 3)


def is_bare(species: str, month: int, south: bool) -> bool:
    return book().species[species].is_bare(month, "south" if south else "north")


def is_shoulder(species: str, month: int, south: bool) -> bool:
    return book().species[species].is_shoulder(month, "south" if south else "north")


def point_at(plan: Plan, site: str, east: float, north: float) -> tuple[float, float]:
    """Latitude and longitude of meters from a site's point, to about a centimeter."""
    origin = plan.sites[site].at
    latitude, longitude = plan.area["latitude"], plan.area["longitude"]
    across = METRES_A_DEGREE * math.cos(math.radians(latitude))
    return (
        round(latitude + (origin[1] + north) / METRES_A_DEGREE, 7),
        round(longitude + (origin[0] + east) / across, 7),
    )


def months_between(start: date, end: date) -> list[Month]:
    first, last = start.year * 12 + start.month - 1, end.year * 12 + end.month - 1
    return [(month // 12, month % 12 + 1) for month in range(first, last + 1)]


class Grove:
    """All trees of one town, living month after month."""

    def __init__(self, plan: Plan, days: list[Day]) -> None:
        self.plan = plan
        self.lives: list[Life] = []
        self._dice = np.random.default_rng([plan.seed, 2])
        self._dry = dryness_by_month(days)
        self._crew_days = crew_days(plan)
        self._slots = self._count_slots()
        self._taken: dict[str, int] = dict.fromkeys(self._slots, 0)
        self._mowing_days = [
            (day, mowing) for mowing in plan.mowings for day in mowing_days(mowing, plan.today)
        ]

    def grow(self) -> list[Life]:
        """Plant, live and die up to the town's today; then number the trees along their lines."""
        waiting = sorted(self.plan.plantings, key=lambda planting: planting.planted[0])
        for month in months_between(waiting[0].planted[0], self.plan.today):
            while waiting and _month(waiting[0].planted[0]) <= month:
                self._plant(waiting.pop(0))
            for life in self.lives:
                self._live(life, month)
            self._events(month)
        # A tree that died before anybody listed it never came into the registry.
        self.lives = [
            life for life in self.lives if not life.died_on or life.died_on >= life.registered_on
        ]
        self._number()
        return self.lives

    # -- planting

    def _count_slots(self) -> dict[str, int]:
        slots: dict[str, int] = dict.fromkeys(self.plan.lines, 0)
        for planting in self.plan.plantings:
            for part in planting.part:
                slots[part.line] += part.count
        return slots

    def _plant(self, planting: PlantingPlan) -> None:
        if planting.replaces:
            old = [
                life
                for life in self.lives
                if life.planting.ref == planting.replaces
                and life.removed_on
                and life.removed_on < planting.planted[0]
            ]
            for life in old[: planting.at_most]:
                part = Part(f"{life.site}/{life.line.ref}", life.species, 1)
                self._add(planting, part, life.share, replaces=life)
            return
        for part in planting.part:
            slots = self._slots[part.line]
            for _ in range(part.count):
                share = (self._taken[part.line] + 0.5) / slots
                self._taken[part.line] += 1
                self._add(planting, part, share)
        if planting.late:
            mine = [life for life in self.lives if life.planting is planting]
            for life in mine[:: len(mine) // planting.late][: planting.late]:
                life.registered_on, life.because = planting.late_on, "inventory"

    def _add(
        self, planting: PlantingPlan, part: Part, share: float, replaces: Life | None = None
    ) -> None:
        dice, line = self._dice, self.plan.lines[part.line]
        east = line.start[0] + (line.end[0] - line.start[0]) * share + dice.normal(0, 0.3)
        north = line.start[1] + (line.end[1] - line.start[1]) * share + dice.normal(0, 0.3)
        first, last = planting.planted
        day = first + timedelta(days=int(dice.integers(0, (last - first).days + 1)))
        if planting.precision == "year":  # nobody plants in the heat
            day = date(first.year, 2 if not self.plan.south else 8, 1 + int(dice.integers(0, 27)))
        latitude, longitude = point_at(self.plan, line.site, east, north)
        life = Life(
            number=len(self.lives),
            planting=planting,
            line=line,
            site=line.site,
            species=part.species,
            share=share,
            planted=day,
            frailty=float(dice.lognormal(0, 0.34)),
            vigor_at_start=float(np.clip(dice.normal(0.87, 0.05), 0.6, 0.98)),
            latitude=latitude,
            longitude=longitude,
            stems=int(dice.integers(3, 6)) if part.species == "crape_myrtle" else 1,
            replaces=replaces,
        )
        life.registered_on = planting.inventory_on or day
        life.because = "inventory" if planting.inventory_on else "planting_record"
        if planting.found_because_of_reports:
            start, end = planting.found_because_of_reports
            life.registered_on = start + timedelta(
                days=int(dice.integers(0, (end - start).days + 1))
            )
            life.because = "report"
        if planting.ties:
            life.ties_off = day + timedelta(days=round(planting.ties * 30.44))
            life.tight = bool(dice.random() < 0.55)
        if dice.random() < planting.wounded:
            life.nursery_wound = float(dice.uniform(0.15, 0.62))
            life.vigor_at_start -= 0.06
        life.heaped = bool(dice.random() < 0.05)
        life.buried = bool(dice.random() < 0.08)
        self.lives.append(life)

    # -- a month

    def _live(self, life: Life, month: Month) -> None:
        first = date(*month, 1)
        if not (life.planted < _after(month)) or not life.alive(max(first, life.planted)):
            return
        dice, plan = self._dice, self.plan
        south = plan.south
        growing = not is_bare(life.species, month[1], south)
        vigor = life.vigor.get(_before(month), life.vigor_at_start)
        age = max(0.0, life.age_months(first))
        wound = life.wound_on(first)
        if growing:
            youth = 1.0 if age < 10 else 0.5 if age < 22 else 0.26 if age < 34 else 0.12
            dry = self._dry.get(month, 0.0) * youth * life.line.thirst
            vigor -= 0.114 * dry * life.frailty * self._water(life, first)
            vigor -= WOUND_COSTS[bisect_right(WOUND_STEPS, wound)] * life.frailty
            if life.tied(first) and life.tight and age > 16:
                vigor -= 0.026
            vigor += 0.13 * (0.96 - 0.3 * wound - vigor) + dice.normal(0, 0.018)
            self._frost(life, month)
            if life.frosted and _month(life.frosted) == month:
                vigor -= dice.uniform(0.05, 0.2)
        vigor = min(0.99, vigor)
        life.vigor[month] = round(float(vigor), 4)
        chance = 0.0011 + (1.0 if vigor < 0.05 else 0.24 if vigor < 0.16 else 0.0)
        if dice.random() < chance:
            length = (_after(month) - first).days
            day = first + timedelta(days=int(dice.integers(0, length)))
            if life.planted < day <= plan.today:
                life.died_on = day
                self._remove_later(life)
        self._mow(life, month)

    def _water(self, life: Life, first: date) -> float:
        """Below 1 where somebody waters, above where a watering line was shut."""
        factor = 1.0
        for event in self.plan.events:
            shut = event["kind"] == "irrigation_off" and event["site"] == life.site
            if shut and event["from"] <= _after(_month(first)) and first <= event["to"]:
                factor *= 1.37
        for work in self.plan.rounds:
            begun = work.get("planned")
            mine = work["care"] == "water" and work["planting"] == life.planting.ref
            if mine and begun and 0 <= (first - begun).days <= 150:
                factor *= 0.35
        return factor

    def _frost(self, life: Life, month: Month) -> None:
        for spell in self.plan.spells:
            if spell["kind"] != "frost" or _month(spell["from"]) != month:
                continue
            if life.age_months(spell["from"]) < 30 and self._dice.random() < 0.4:
                life.frosted = spell["from"]

    def _mow(self, life: Life, month: Month) -> None:
        if life.line.ground not in {"turf", "strip"}:
            return
        for day, mowing in self._mowing_days:
            if _month(day) != month or mowing["site"] != life.site or day < life.planted:
                continue
            if life.alive(day) and self._dice.random() < mowing["wounds"]:
                share = float(self._dice.uniform(0.05, 0.17))
                life.cuts.append((day, round(share, 3), MOWN_SIDE))

    def _remove_later(self, life: Life) -> None:
        """The crew takes a dead tree on a work day, once two looks have agreed.

        A few are gone without a note of who took them: then a walk finds the place empty.
        """
        seen = max(life.died_on, life.registered_on)
        found = found_dead_on(self.plan, life.site, seen)
        life.removal_logged = bool(self._dice.random() > 0.12)
        stray = seen + timedelta(days=int(self._dice.integers(20, 200)))
        day: date | None = stray
        if life.removal_logged:
            agreed = found and found + SECOND_LOOK + timedelta(days=5)
            day = next((day for day in self._crew_days if agreed and day >= agreed), None)
        if day is not None and day < self.plan.today:
            life.removed_on = day

    def _events(self, month: Month) -> None:
        """Trees that are taken, or lost from sight, by something that happened."""
        for event in self.plan.events:
            takes = event.get("takes")
            if not takes or _month(takes["day"]) != month:
                continue
            fit = [
                life
                for life in self.lives
                if f"{life.site}/{life.line.ref}" == takes["line"]
                and life.species == takes["species"]
                and life.alive(takes["day"])
            ]
            start = len(fit) // 3
            for life in fit[start : start + takes["count"]]:
                if takes["how"] == "lost":
                    life.fenced_on = takes["day"]
                else:
                    life.taken_on, life.taken_how = takes["day"], takes["how"]
                    life.died_on = life.removed_on = None

    def _number(self) -> None:
        """Tags by planting, walking order by place along the lines."""
        for number, life in enumerate(self.lives):
            life.number = number
        for site in self.plan.sites.values():
            mine = [life for life in self.lives if life.site == site.ref]
            for count, life in enumerate(mine, start=1):
                life.tag = f"{site.prefix}{count:02d}"
            order = [line.ref for line in site.lines]
            mine.sort(key=lambda life: (order.index(life.line.ref), life.share, life.number))
            for place, life in enumerate(mine, start=1):
                life.walk_order = place


def mowing_days(mowing: dict, today: date) -> list[date]:
    """The days on which this contractor cut the grass, up to and including today."""
    days = []
    day = mowing["first"]
    while day <= min(mowing["until"], today):
        if day.month in mowing["months"]:
            days.append(day)
        day += timedelta(days=mowing["every_days"])
    return days


def _month(day: date) -> Month:
    return day.year, day.month


def _before(month: Month) -> Month:
    return (month[0], month[1] - 1) if month[1] > 1 else (month[0] - 1, 12)


def _after(month: Month) -> date:
    """The first day after this month."""
    return date(month[0] + month[1] // 12, month[1] % 12 + 1, 1)
