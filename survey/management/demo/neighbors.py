"""What neighbors write in: about which tree, on which day, in which words and with which photos."""

import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta

from survey.management.demo.lives import Grove, Life, is_bare, months_between, point_at
from survey.management.demo.looks import EXTENTS, Eye, LookPlan, PhotoPlan, SeenAt, extent_of
from survey.management.demo.plan import Table

BY_MONTH = [0.45, 0.5, 0.8, 1.25, 1.35, 1.4, 1.5, 1.3, 1.0, 0.6, 0.55, 0.4]  # of the north
BY_YEAR = {2023: 0.75, 2024: 1.0, 2025: 1.2, 2026: 1.25}
LATE_WAKERS = ("crape_myrtle", "honeylocust")
DANGERS = ("hanging_limb", "new_lean", "soil_lifted", "crack", "wire", "on_something")
SMALL_CASES = {  # how often each turns up without a reason that the generator knows
    "spotted": 0.030,
    "sticky": 0.020,
    "yellow": 0.014,
    "broken": 0.024,
    "soggy": 0.010,
    "fungus": 0.004,
    "holes": 0.005,
    "root": 0.005,
    "bark_torn": 0.013,
    "bark_sunken": 0.011,
    "question": 0.040,
    "thanks": 0.016,
}
LEAF_CASES = {"spotted", "sticky", "yellow"}
BASE_MARKS = {
    "fungus": "fungus",
    "holes": "holes",
    "root": "root",
    "heaped": "heaped",
    "bark_torn": "torn",
    "bark_sunken": "sunken",
    "soggy": "soggy",
}
LEAFY_SIGNS = {"wilting", "crisp_edges", "sticky_leaves", "spotted_leaves"}
NOBODY_REPEATS = {"question", "thanks", "not_ours", "mistake", "gone"}


@dataclass(slots=True, eq=False)
class ContactPlan:
    email: str
    phone: str
    language: str
    created_at: datetime
    erased_at: datetime | None = None


@dataclass(slots=True, eq=False)
class MailPlan:
    """A message to the writer of one report; `told_at` is when somebody called instead."""

    report: "ReportPlan"
    body: str
    due_at: datetime
    state: str
    settled_at: datetime | None
    told_at: datetime | None = None


@dataclass(slots=True, eq=False)
class DecisionPlan:
    outcome: str
    at: datetime
    by: str
    reason: str
    message: str = ""
    before: dict = field(default_factory=dict)
    undone_at: datetime | None = None
    undone_by: str = ""
    mails: list[MailPlan] = field(default_factory=list)


@dataclass(slots=True, eq=False)
class ReplyPlan:
    client_ref: uuid.UUID
    words: str
    at: datetime


@dataclass(slots=True, eq=False)
class ReportPlan:
    """One report with everything that became of it."""

    client_ref: uuid.UUID
    secret: str
    case: str
    site: str | None
    life: Life | None
    submitted_at: datetime
    seen_on: date
    language: str
    landmark: str = ""
    point: tuple[float, float] | None = None
    danger: str = ""
    picture: str = ""
    extent: str = ""
    side: str = ""
    words: str = ""
    signs: tuple[str, ...] = ()
    came: str = "page"
    entered_by: str = ""
    contact: ContactPlan | None = None
    photos: list[PhotoPlan] = field(default_factory=list)
    repeats: "ReportPlan | None" = None
    number: int = 0
    state: str = "new"
    version: int = 0
    joined_to: "ReportPlan | None" = None
    look_due: date | None = None
    cleared_at: datetime | None = None
    cleared_by: str = ""
    decisions: list[DecisionPlan] = field(default_factory=list)
    replies: list[ReplyPlan] = field(default_factory=list)
    look: LookPlan | None = None

    @property
    def day(self) -> date:
        return self.submitted_at.date()


def _shown(report: ReportPlan, part: str) -> dict:
    """What the painter must put into a photo so that it shows what the note says."""
    case = report.case
    if part == "base":
        mark = BASE_MARKS.get(case, "")
        # the note is about something else than a cut: the photo shows that
        return {"mark": mark, "wound": 0.0, "shoots": False, "mulch": False} if mark else {}
    if part == "whole":
        return {
            "lean": 0.55 if report.danger == "new_lean" else 0.0,
            "broken": case in {"broken", "hanging_limb"},
        }
    return {
        "crisp": {"thirsty": 0.62, "spotted": 0.3, "frosted": 0.8}.get(case, 0.0),
        "pale": case == "yellow",
    }


class Neighbors:
    """Everybody who passes the trees and writes."""

    def __init__(self, grove: Grove, eye: Eye, words: Table) -> None:
        self.plan, self.lives, self.eye, self.words = grove.plan, grove.lives, eye, words
        self.reports: list[ReportPlan] = []
        self._south = self.plan.south
        self._at: datetime | None = None

    def write(self) -> list[ReportPlan]:
        """Every report up to the town's today, in the order in which they came, numbered by day."""
        for month in months_between(self.plan.watched_since, self.plan.today):
            self._a_month(month)
        self._lately()
        for life in self.lives:
            if life.because == "report":  # the note through which the tree came on the list
                case = "bark_cut" if life.wound_on(life.registered_on) >= 0.08 else "thin"
                self._about(life, case, life.registered_on)
        for spell in self.plan.spells:
            if spell["kind"] == "storm" and spell["from"] >= self.plan.watched_since:
                self._after_the_storm(spell["from"])
        self.reports.sort(key=lambda report: report.submitted_at)
        for report in list(self.reports):
            self._others_write_too(report)
        self.reports.sort(key=lambda report: report.submitted_at)
        numbers: dict[date, int] = {}
        for report in self.reports:
            numbers[report.day] = numbers.get(report.day, 0) + 1
            report.number = numbers[report.day]
            report.look = self._as_look(report)
        return self.reports

    # -- who writes about what

    def _a_month(self, month: tuple[int, int]) -> None:
        dice, plan = self.eye.dice, self.plan
        season = BY_MONTH[(month[1] + 5) % 12 if self._south else month[1] - 1]
        first = date(*month, 1)
        last = min(date(month[0] + month[1] // 12, month[1] % 12 + 1, 1), plan.today)
        share = (last - first).days / 30.4
        count = dice.poisson(plan.reports_a_month * season * BY_YEAR[month[0]] * share)
        middle = first + timedelta(days=14)
        choices = [choice for life in self.lives for choice in self._troubles(life, middle)]
        if not choices:
            return
        weights = [weight for _, _, weight in choices]
        total = sum(weights)
        for _ in range(int(count)):
            day = first + timedelta(days=int(dice.integers(0, (last - first).days)))
            if dice.random() < 0.04:
                self._without_tree("not_ours" if dice.random() < 0.86 else "mistake", day)
                continue
            if dice.random() < 0.022:
                self._danger(day)
                continue
            at = int(dice.choice(len(choices), p=[weight / total for weight in weights]))
            life, case, _ = choices[at]
            if life.registered_on <= day and (life.stands(day) or case == "gone"):
                self._about(life, case, day)

    def _lately(self) -> None:
        """The last days' notes that the plan asks for, about trees that have that trouble."""
        dice, lately = self.eye.dice, self.plan.lately
        choices = [one for life in self.lives for one in self._troubles(life, self.plan.today)]
        for case, count in lately["cases"].items():
            fit = [(life, weight) for life, trouble, weight in choices if trouble == case]
            if not fit:
                continue
            total = sum(weight for _, weight in fit)
            chosen = dice.choice(
                len(fit), size=min(count, len(fit)), replace=False, p=[w / total for _, w in fit]
            )
            for at in chosen:
                back = timedelta(days=int(dice.integers(1, lately["days"] + 1)))
                self._about(fit[int(at)][0], case, self.plan.today - back)

    def _troubles(self, life: Life, day: date) -> Iterator[tuple[Life, str, float]]:
        """What a passer-by may write about this tree in this month, and how likely."""
        people = self.plan.sites[life.site].people
        leafy = not is_bare(life.species, day.month, self._south)
        gone = life.taken_on or life.removed_on
        if gone and 0 < (day - gone).days < 60 and life.registered_on <= gone:
            yield life, "gone", 0.35 * people
        if not life.stands(day) or life.fenced_on:
            return
        if not life.alive(day):
            yield life, "dead", (2.6 if leafy else 0.4) * people
            return
        late = day.month == (10 if self._south else 4)
        if late and life.species in LATE_WAKERS:
            yield life, "asleep", 1.5 * people
        wound, vigor = life.wound_on(day), life.vigor_on(day)
        if wound >= 0.08:
            yield life, "bark_cut", 1.2 * min(1.0, wound * 2.2) * people
        if life.tied(day):
            tight = life.tight and life.age_months(day) > 14
            yield life, "tie" if tight else "stake", (2.6 if tight else 0.02) * people
        if leafy and self.eye.dryness(day) > 0.55 and vigor < 0.72:
            yield life, "thirsty", 1.3 * (0.8 - vigor) * people
            if vigor < 0.45:
                yield life, "limp", 0.4 * people
        if vigor < 0.48 and leafy:
            yield life, "thin", 0.45 * people
        if life.frosted and 0 <= (day - life.frosted).days < 40:
            yield life, "frosted", 0.8 * people
        if wound > 0.15 and leafy:
            yield life, "shoots", 0.2 * people
        if life.heaped and life.age_months(day) < 20:
            yield life, "heaped", 0.4 * people
        for case, weight in SMALL_CASES.items():
            if leafy or case not in LEAF_CASES:
                yield life, case, weight * people

    # -- one report

    def _about(
        self, life: Life, case: str, day: date, repeats: ReportPlan | None = None
    ) -> ReportPlan:
        """A report that names its tree."""
        eye, dice = self.eye, self.eye.dice
        words = self.words[case]
        report = self._blank(case, day, life.site)
        report.life, report.repeats = life, repeats
        bare = is_bare(life.species, day.month, self._south)
        maybe = [
            sign
            for sign in words["maybe"]
            if eye.chance(0.3) and not (bare and sign in LEAFY_SIGNS)
        ]
        report.signs = (*words["signs"], *maybe)
        report.danger = words.get("danger", "")
        if report.danger:
            report.signs = tuple(maybe)
        if case == "gone":
            report.picture = "gone"
        elif case not in {"question", "thanks"} and not report.danger:
            report.picture = self._picture(life, case, day)
        if "bark_wound" in report.signs or "bark_torn" in report.signs:
            wound = max(0.05, life.wound_on(day) + dice.normal(0, 0.08))
            report.extent = "cannot_see" if eye.chance(0.1) else extent_of(min(1.0, wound))
        if "bark_sunken" in report.signs:
            report.extent = EXTENTS[int(dice.integers(0, 2))]
            report.side = str(dice.choice(["street", "path", "not_sure"]))
        lately = self.plan.today - day < timedelta(days=8)
        if words["part"] and eye.chance(0.45 if report.danger or lately else 0.09):
            self._photos(report, words["part"])
        self.reports.append(report)
        return report

    def _picture(self, life: Life, case: str, day: date) -> str:
        if case in {"asleep", "dead"}:
            return "dead" if self.eye.chance(0.8) else "cannot_tell"
        if self.eye.chance(0.15):
            return "cannot_tell"
        true = life.condition_on(day)
        steps = ["thriving", "holding", "slipping", "failing", "dead"]
        place = steps.index(true) + int(self.eye.dice.choice([-1, 0, 0, 0, 1, 1]))
        return steps[min(3, max(0, place))] if true != "dead" else "dead"

    def _photos(self, report: ReportPlan, part: str) -> None:
        eye, life = self.eye, report.life
        day = report.seen_on
        parts = [part]
        if not eye.chance(0.6):
            parts = ["whole", "base" if part == "whole" else part]
        for one in parts:
            scene = replace(eye.scene(life, day, one), **_shown(report, one))
            report.photos.append(eye.photo(scene, report.submitted_at, "", shown="hidden"))

    def _without_tree(self, case: str, day: date) -> None:
        words = self.words[case]
        site = list(self.plan.sites)[int(self.eye.dice.integers(0, len(self.plan.sites)))]
        report = self._blank(case, day, site if case == "mistake" else None)
        if case == "not_ours":
            report.landmark = self._one_of(words["nowhere"])
            report.signs = tuple(words["signs"]) if self.eye.chance(0.6) else ()
            report.picture = self._one_of(["slipping", "failing", "cannot_tell"])
        self.reports.append(report)

    def _danger(self, day: date, site: str | None = None, case: str | None = None) -> None:
        """Something that may fall: on a tree of the list, or only by a landmark."""
        dice = self.eye.dice
        kinds = [*DANGERS, "danger_unsure"]
        known = site is not None
        case = case or str(dice.choice(kinds, p=[0.3, 0.2, 0.08, 0.1, 0.1, 0.1, 0.12]))
        names = list(self.plan.sites)
        site = site or names[int(dice.integers(0, len(names)))]
        standing = [
            life
            for life in self.lives
            if life.site == site and life.registered_on <= day and life.stands(day)
        ]
        if standing and case not in {"wire", "on_something"} and (known or dice.random() < 0.6):
            report = self._about(standing[int(dice.integers(0, len(standing)))], case, day)
        else:
            report = self._blank(case, day, site)
            line = self.plan.sites[site].lines[0]
            share = float(dice.random())
            report.landmark = "old tree " + line.landmark_at(share)
            report.danger = self.words[case]["danger"]
            east = line.start[0] + (line.end[0] - line.start[0]) * share
            north = line.start[1] + (line.end[1] - line.start[1]) * share
            report.point = point_at(self.plan, site, east, north)
            self.reports.append(report)

    def _after_the_storm(self, day: date) -> None:
        """A storm in the evening, and what is found that night and the next day."""
        if day + timedelta(days=1) < self.plan.today:
            for _ in range(
                int(self.eye.dice.integers(2, 5)) if self.plan.reports_a_month > 5 else 1
            ):
                self._danger(day + timedelta(days=1))
            return
        zone = self.eye.zone
        tonight = [
            ("ferry-road", "hanging_limb", day, 20, 52),
            ("saltmarsh-walk", "new_lean", day, 21, 17),
            ("ferry-road", "wire", day, 22, 40),
            ("mill-steps", "crack", day + timedelta(days=1), 0, 12),
        ]
        for site, case, when, hour, minute in tonight:
            self._at = datetime.combine(when, time(hour, minute), zone)
            self._danger(when, site, case)
        self._at = None

    def _blank(self, case: str, day: date, site: str | None) -> ReportPlan:
        eye, dice = self.eye, self.eye.dice
        spanish = eye.chance(self.plan.neighbors["spanish"])
        language = "es" if spanish and "es" in self.words[case] else "en"
        at = self._at or eye.moment(day, (6.6, 22.4))
        came = str(dice.choice(["page", "call", "picture", "letter"], p=[0.86, 0.07, 0.04, 0.03]))
        if self._at:  # at night only the pages are awake
            came = "page"
        report = ReportPlan(
            client_ref=uuid.UUID(bytes=dice.bytes(16), version=4),
            secret=dice.bytes(32).hex(),
            case=case,
            site=site,
            life=None,
            submitted_at=at,
            seen_on=day - timedelta(days=1) if not self._at and eye.chance(0.12) else day,
            language=language,
            words=self._one_of(self.words[case][language]) if eye.chance(0.93) else "",
            came=came,
            entered_by="" if came == "page" else self._desk(),
        )
        if came != "page":
            report.submitted_at = at.replace(hour=9 + at.hour % 7)
        report.contact = self._contact(report)
        return report

    def _desk(self) -> str:
        return next(p["sign_in"] for p in self.plan.people if p["role"] == "staff")

    def _one_of(self, things: list[str]) -> str:
        return things[int(self.eye.dice.integers(0, len(things)))]

    def _contact(self, report: ReportPlan) -> ContactPlan | None:
        neighbors, dice = self.plan.neighbors, self.eye.dice
        turn = dice.random()
        name, number = self._one_of(neighbors["names"]), int(dice.integers(2, 99))
        if turn < neighbors["share_with_email"]:
            email = f"{name}{number if number < 40 else ''}@{neighbors['domain']}"
            return ContactPlan(email, "", report.language, report.submitted_at)
        if turn < neighbors["share_with_email"] + neighbors["share_with_phone"]:
            phone = neighbors["phone"] % int(dice.integers(200, 999))
            return ContactPlan("", phone, report.language, report.submitted_at)
        return None

    def _others_write_too(self, report: ReportPlan) -> None:
        """Now and then others see the same thing within days."""
        dice = self.eye.dice
        if report.life is None or report.case in NOBODY_REPEATS or dice.random() > 0.13:
            return
        if report.danger and self.plan.today - report.day < timedelta(days=3):
            return  # tonight's dangers are told of once each
        for _ in range(int(dice.choice([1, 1, 1, 2, 2, 4]))):
            day = report.day + timedelta(days=int(dice.integers(1, 9)))
            if day < self.plan.today and report.life.stands(day):
                self._about(report.life, report.case, day, repeats=report)

    # -- as a look

    def _as_look(self, report: ReportPlan) -> LookPlan | None:
        """The untrained look that a report makes, by the same rule as the reports room."""
        steps = {"thriving", "holding", "slipping", "failing", "dead"}
        if report.life is None or not (report.signs or report.picture not in {"", "cannot_tell"}):
            return None
        if report.seen_on < report.life.planted or report.seen_on < report.life.planting.planted[0]:
            return None
        gone = report.picture == "gone"
        signs = (
            ()
            if gone
            else tuple(
                SeenAt(
                    sign,
                    report.extent if sign in {"bark_wound", "bark_torn", "bark_sunken"} else "",
                    report.side if sign == "bark_sunken" else "",
                )
                for sign in report.signs
            )
        )
        return LookPlan(
            life=report.life,
            observer="neighbor",
            day=report.seen_on,
            channel="complaint",
            trained=False,
            presence="gone" if gone else "standing",
            at=report.submitted_at,
            condition=report.picture if report.picture in steps else "",
            signs=signs,
            note=report.words,
            photos=report.photos,
            repeat_key=f"report:{report.client_ref}",
        )
