"""The orders that follow from what the desk decides, and from rounds nobody had to write about."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from survey.handbook.book import book
from survey.management.demo.lives import Life
from survey.management.demo.looks import Eye, LookPlan, Surveyors
from survey.management.demo.neighbors import ReportPlan
from survey.management.demo.plan import Plan, Table
from survey.management.demo.walks import SATURDAY, SECOND_LOOK, found_dead_on

LOOK_DUE = timedelta(days=35)
TIME_TO_ANSWER = timedelta(days=28)
MOST_LINES = 14
ENOUGH_FOR = {  # so many days after this care the same tree is not given it again
    "mulch_ring": 360,
    "remove_ties": 3000,
    "find_cause": 120,
    "water": 40,
    "remove_suckers": 120,
    "prune_dead_wood": 60,
    "arborist_visit": 60,
}


@dataclass(slots=True, eq=False)
class LinePlan:
    life: Life
    care: str
    dose: str
    outcome: str = "open"
    remark: str = ""
    look: LookPlan | None = None


@dataclass(slots=True, eq=False)
class OrderPlan:
    """One work order from its draft to the look that says whether it helped."""

    site: str
    who: str
    why: str
    care: tuple[str, ...]
    created_at: datetime
    created_by: str
    planned_for: date
    window_to: date
    lines: list[LinePlan] = field(default_factory=list)
    reports: list[ReportPlan] = field(default_factory=list)
    unplanned: bool = False
    droppable: bool = True
    number: int = 0
    state: str = "drafted"
    team: str = ""
    ticket: str = ""
    done_on: date | None = None
    done_at: datetime | None = None
    done_by: str = ""
    done_notes: str = ""
    look_due: date | None = None
    confirmed_at: datetime | None = None
    dropped_at: datetime | None = None
    dropped_because: str = ""

    def add(self, life: Life, doses: Table) -> None:
        """Put a tree on the order, once for each kind of care."""
        for care in self.care:
            if not any(line.life is life and line.care == care for line in self.lines):
                self.lines.append(LinePlan(life, care, doses[care]))


class OrderBook:
    """Gathers wishes into orders, has them done, and has the trees looked at again."""

    def __init__(self, plan: Plan, eye: Eye, surveyors: Surveyors, desk: Table) -> None:
        self.plan, self.eye, self.surveyors, self.desk = plan, eye, surveyors, desk
        self.orders: list[OrderPlan] = []
        self._open: dict[tuple[str, str, str], OrderPlan] = {}
        self._staff = next(p["sign_in"] for p in plan.people if p["role"] == "staff")
        self._crew = next(p["name"] for p in plan.people if p["role"] == "crew")

    # -- wishes

    def wish(self, report: ReportPlan, case: str, at: datetime, by: str) -> OrderPlan | None:
        """An order for a report's tree; None where the owner of the ground has not
        allowed the care, or the tree had it not long ago."""
        life, wanted = report.life, self.desk[case]
        care, who = tuple(wanted["care"]), wanted["who"]
        urgent = bool(report.danger)
        day = at.date() + timedelta(days=1) if urgent else self._work_day(at.date(), who)
        who = self._allowed(life.site, care, who, day)
        if who is None or not life.stands(day):
            return None
        if not urgent and self._had_it(life, care[0], at.date()):
            return None
        key = (life.site, care[0], who)
        order = self._open.get(key)
        fits = (
            order is not None
            and not urgent
            and at.date() < order.planned_for - timedelta(days=1)
            and len(order.lines) < MOST_LINES
        )
        if not fits:
            order = self._new(life.site, who, wanted["why"], care, at, by, day)
            order.droppable = not urgent
            if not urgent:
                self._open[key] = order
        order.add(life, self.desk["doses"])
        order.reports.append(report)
        return order

    def _had_it(self, life: Life, care: str, day: date) -> bool:
        """Whether this tree was, or is about to be, given the same care."""
        since = day - timedelta(days=ENOUGH_FOR[care])
        return any(
            line.life is life and line.care == care
            for order in self.orders
            if order.planned_for >= since and order.created_at.date() <= day
            for line in order.lines
        )

    def _allowed(self, site: str, care: tuple[str, ...], who: str, day: date) -> str | None:
        for workers in dict.fromkeys((who, "crew")):
            fit = all(
                self.plan.allows(site, code, workers, day) and workers in book().care[code].who
                for code in care
            )
            if fit:
                return workers
        return None

    def _work_day(self, day: date, who: str) -> date:
        """Volunteers meet on Saturdays; the crew comes on a weekday."""
        first = day + timedelta(days=11)
        if who == "volunteer":
            return first + timedelta(days=(SATURDAY - first.weekday()) % 7)
        return first + timedelta(days=(7 - first.weekday()) % 7 if first.weekday() > 4 else 0)

    def _new(
        self, site: str, who: str, why: str, care: tuple[str, ...], at: datetime, by: str, day: date
    ) -> OrderPlan:
        order = OrderPlan(
            site=site,
            who=who,
            why=why,
            care=care,
            created_at=at,
            created_by=by,
            planned_for=day,
            window_to=day + timedelta(days=14),
        )
        self.orders.append(order)
        return order

    # -- work that nobody had to ask for

    def rounds(self, lives: list[Life]) -> None:
        for work in self.plan.rounds:
            at = self.eye.moment(work["created"], (9, 12))
            planned = work.get("planned")
            mine = [
                life
                for life in lives
                if life.planting.ref == work["planting"]
                and work.get("line") in {None, f"{life.site}/{life.line.ref}"}
                and life.alive(min(planned or work["created"], self.plan.today))
            ]
            day = planned or self.plan.today + timedelta(days=18)
            order = self._new(
                mine[0].site, work["who"], work["why"], (work["care"],), at, self._staff, day
            )
            order.unplanned, order.droppable = planned is None, False
            for life in mine:
                order.add(life, self.desk["doses"])

    def removals(self, lives: list[Life]) -> dict[Life, OrderPlan]:
        """Orders to take dead trees out, by crew day; those to come are planned already."""
        coming = self.plan.today + timedelta(days=57)
        found: dict[Life, OrderPlan] = {}
        groups: dict[tuple[str, date], list[tuple[Life, date]]] = {}
        for life in lives:
            if not life.died_on or not life.removal_logged:
                continue
            seen = found_dead_on(self.plan, life.site, max(life.died_on, life.registered_on))
            agreed = seen and seen + SECOND_LOOK
            if not agreed or agreed >= self.plan.today:
                continue
            groups.setdefault((life.site, life.removed_on or coming), []).append((life, agreed))
        for (site, day), pairs in sorted(groups.items(), key=lambda item: (item[0][1], item[0][0])):
            first = min(agreed for _, agreed in pairs) + timedelta(days=2)
            day_to_write = max(first, day - timedelta(days=40))
            if day > self.plan.today:
                day_to_write = max(agreed for _, agreed in pairs) + timedelta(days=2)
            at = self.eye.moment(min(day_to_write, day - timedelta(days=2)), (9, 12))
            removal = self.desk["removal"]
            order = self._new(
                site, "crew", removal["why"], tuple(removal["care"]), at, self._staff, day
            )
            order.droppable = False
            for life, _ in pairs:
                order.add(life, self.desk["doses"])
                found[life] = order
        return found

    def replacements(self, lives: list[Life]) -> None:
        """The order behind each replacement planting: its lines are the trees that were lost."""
        groups: dict[tuple[str, str], list[Life]] = {}
        for life in lives:
            if life.replaces is not None:
                groups.setdefault((life.planting.ref, life.site), []).append(life)
        wanted = self.desk["replacement"]
        for (_, site), planted in groups.items():
            day = planted[0].planted
            at = self.eye.moment(day - timedelta(days=12), (9, 12))
            order = self._new(
                site, "crew", wanted["why"], tuple(wanted["care"]), at, self._staff, day
            )
            order.droppable = False
            for life in planted:
                order.add(life.replaces, self.desk["doses"])

    # -- what becomes of them

    def settle(self, lives: list[Life], dropped: Table) -> list[LookPlan]:
        """Set every order's state as of today; returns the looks made after work."""
        today, eye = self.plan.today, self.eye
        self.orders.sort(key=lambda order: order.created_at)
        new_looks: list[LookPlan] = []
        heirs = {life.replaces: life for life in lives if life.replaces is not None}
        by_life: dict[Life, list[LookPlan]] = {}
        for look in self.surveyors.looks:
            if look.trained and look.presence != "not_seen":
                by_life.setdefault(look.life, []).append(look)
        for number, order in enumerate(self.orders, start=1):
            order.number = number
            order.team = self._team(order)
            if any(book().care[line.care].needs_utility_ticket for line in order.lines):
                order.ticket = f"PW-{order.created_at:%y%m}-{number:03d}"
            if order.planned_for >= today:
                young = order.created_at.date() >= today - timedelta(days=3)
                order.state = (
                    "drafted" if order.unplanned or (young and order.droppable) else "planned"
                )
                continue
            if order.droppable and order.reports and eye.chance(0.045):
                self._drop(order, dropped)
                continue
            self._do(order)
            new_looks.extend(self._look_again(order, by_life, heirs))
        for order in self.orders:
            if order.state == "done":
                self._judge(order, by_life, heirs)
        return new_looks

    def _team(self, order: OrderPlan) -> str:
        if order.who == "volunteer":
            names = [
                p["name"]
                for p in self.plan.people
                if p["role"] == "volunteer"
                and p.get("trained_on")
                and p["trained_on"] <= order.created_at.date()
            ]
            some = sorted({names[int(self.eye.dice.integers(0, len(names)))] for _ in range(2)})
            return " and ".join(some) + ", with neighbors"
        if order.who == "arborist":
            return next(p["name"] for p in self.plan.people if p.get("qualified_until"))
        return f"{self._crew}’s crew"

    def _drop(self, order: OrderPlan, dropped: Table) -> None:
        day = order.planned_for - timedelta(days=1)
        order.state = "dropped"
        order.dropped_at = max(
            self.eye.moment(day, (9, 15)),
            max(report.decisions[-1].at for report in order.reports) + timedelta(hours=1),
        )
        reasons = dropped["reasons"]
        order.dropped_because = reasons[int(self.eye.dice.integers(0, len(reasons)))]

    def _do(self, order: OrderPlan) -> None:
        order.state = "done"
        order.done_on, order.done_by = order.planned_for, order.team
        order.done_at = self.eye.moment(order.done_on, (15, 18))
        order.look_due = order.done_on + LOOK_DUE
        for line in order.lines:
            there = line.life.stands(order.done_on) or line.care == "replace"
            removed_today = line.care == "remove_dead_tree"
            if there or removed_today:
                line.outcome = "given"
            else:
                line.outcome, line.remark = "not_done", "The tree is not there any more."
        if self.eye.chance(0.3):
            notes = [
                "All done before noon.",
                "Soil hard as brick; took twice as long.",
                "A neighbor brought coffee and helped.",
                "One barrow of chips left over.",
            ]
            order.done_notes = notes[int(self.eye.dice.integers(0, len(notes)))]

    def _look_again(
        self,
        order: OrderPlan,
        by_life: dict[Life, list[LookPlan]],
        heirs: dict[Life, Life],
    ) -> list[LookPlan]:
        """Somebody goes to see whether the work helped; rarely nobody does."""
        made = []
        day = order.look_due + timedelta(days=int(self.eye.dice.integers(-6, 7)))
        goes = day < self.plan.today and self.eye.chance(0.94)
        walker = self.surveyors.walker(day)
        at = self.eye.moment(day)
        for line in order.lines:
            if line.outcome != "given":
                continue
            life = heirs.get(line.life, line.life) if line.care == "replace" else line.life
            known = by_life.setdefault(life, [])
            same_day = [look for look in known if look.day == day]
            if goes and day >= life.registered_on and not same_day and not life.fenced_on:
                if life.stands(day):
                    look = self.surveyors.look(life, day, "followup", walker, at)
                else:
                    look = LookPlan(life, walker, day, "followup", True, "gone", at)
                made.append(look)
                known.append(look)
        return made

    def _judge(
        self,
        order: OrderPlan,
        by_life: dict[Life, list[LookPlan]],
        heirs: dict[Life, Life],
    ) -> None:
        """Tie each given line to the first look that judges it; all of them confirm the order."""
        given = [line for line in order.lines if line.outcome == "given"]
        for line in given:
            life = heirs.get(line.life, line.life) if line.care == "replace" else line.life
            fit = [
                look
                for look in by_life.get(life, [])
                if (look.channel == "followup" and look.day > order.done_on)
                or (look.channel in {"walk", "crew"} and look.day >= order.done_on + TIME_TO_ANSWER)
            ]
            line.look = min(fit, key=lambda look: (look.day, look.at), default=None)
        if given and all(line.look for line in given):
            order.state = "confirmed"
            last = max(line.look.at for line in given)
            order.confirmed_at = max(last, order.done_at) + timedelta(minutes=1)
