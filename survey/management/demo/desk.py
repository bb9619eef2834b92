"""What the desk made of each report: decisions, questions, answers, orders, mail."""

import heapq
import uuid
from collections.abc import Callable
from datetime import datetime, time, timedelta

from survey.management.demo.lives import Life
from survey.management.demo.looks import Eye, Surveyors
from survey.management.demo.neighbors import DecisionPlan, MailPlan, ReplyPlan, ReportPlan
from survey.management.demo.orders import OrderBook, OrderPlan
from survey.management.demo.plan import Plan, Table

UNDO = timedelta(minutes=10)
NO_REPLY = timedelta(days=21)
CONTACT_KEPT = timedelta(days=365)
SAME_WITHIN = timedelta(days=14)
JOINS_WITHIN = timedelta(days=30)
LAST_NIGHT = time(20, 30)
DANGER_JOINS_WITHIN = timedelta(hours=12)
ALONE = {"question", "thanks", "not_ours", "mistake", "gone"}

Step = Callable[[ReportPlan, datetime], None]


class Desk:
    """Works through the reports in the order in which they came up, until the town's now."""

    def __init__(
        self, plan: Plan, eye: Eye, surveyors: Surveyors, orders: OrderBook, words: Table
    ) -> None:
        self.plan, self.eye, self.surveyors, self.orders = plan, eye, surveyors, orders
        self.words = words["desk"]
        self.now = datetime.combine(plan.today, time(0, 35), eye.zone)
        self._staff = [p["sign_in"] for p in plan.people if p["role"] == "staff"]
        self._arborist = next(p["sign_in"] for p in plan.people if p.get("qualified_until"))
        self._steps: list[tuple[datetime, int, ReportPlan, Step]] = []
        self._count = 0
        self._roots: dict[int, list[ReportPlan]] = {}
        self._joined: dict[ReportPlan, list[ReportPlan]] = {}
        self._removals: dict[Life, OrderPlan] = {}

    def work(self, reports: list[ReportPlan]) -> None:
        """Decide what could be decided; leaves states, decisions, replies, mails and orders."""
        lives = self.surveyors.lives
        self.orders.rounds(lives)
        self._removals = self.orders.removals(lives)
        self.orders.replacements(lives)
        asked = self._asked_lately(reports)
        for report in reports:
            if report not in asked:
                self._schedule(report)
        while self._steps:
            at, _, report, step = heapq.heappop(self._steps)
            if at < self.now:
                step(report, at)
        self.surveyors.looks.extend(self.orders.settle(lives, self.words["dropped"]))
        for order in self.orders.orders:
            if order.state == "dropped":
                self._reopened(order)
            elif order.done_at:
                self._cleared(order)
        self._likely_repeats(reports)
        for report in reports:
            self._show_photos(report)
            self._erase(report)
            report.decisions.sort(key=lambda decision: decision.at)

    # -- when

    def _schedule(self, report: ReportPlan) -> None:
        last_night = datetime.combine(
            self.plan.today - timedelta(days=1), LAST_NIGHT, self.eye.zone
        )
        if report.danger:
            if report.submitted_at < last_night:
                delay = timedelta(minutes=int(self.eye.dice.integers(12, 120)))
                self._later(report, report.submitted_at + delay, self._decide)
            elif report.site == "ferry-road" and report.submitted_at < last_night + timedelta(
                hours=1
            ):
                self._later(report, self.now - timedelta(minutes=4), self._decide)
            return
        if self._is_late(report) and self.eye.chance(0.6):
            return  # the desk is behind: still in the queue
        days = min(5.5, float(self.eye.dice.lognormal(0.95, 0.45)))
        self._later(
            report, self._at_the_desk(report.submitted_at + timedelta(days=days)), self._decide
        )

    def _is_late(self, report: ReportPlan) -> bool:
        return self.plan.today - report.day <= timedelta(days=self.plan.lately["days"])

    def _asked_lately(self, reports: list[ReportPlan]) -> set[ReportPlan]:
        """Notes of the last days that are being asked about; some have been replied to."""
        lately, last = self.plan.lately, self.plan.today - timedelta(days=2)
        wanted = lately["asked"] + lately["replied"]
        fit = [
            report
            for report in reports
            if self._is_late(report)
            and report.day <= last
            and report.contact
            and not report.danger
            and not report.repeats
            and "ask_en" in self.words[report.case]
        ][:wanted]
        for place, report in enumerate(fit):
            asked_at = self.eye.moment(report.day + timedelta(days=1), (8.6, 12))
            self._later(report, asked_at, self._ask_only)
            if place < lately["replied"]:
                reply_at = asked_at + timedelta(hours=float(self.eye.dice.uniform(3, 9)))
                self._later(report, reply_at, self._reply_only)
        return set(fit)

    def _later(self, report: ReportPlan, at: datetime, step: Step) -> None:
        self._count += 1
        heapq.heappush(self._steps, (at, self._count, report, step))

    def _at_the_desk(self, at: datetime) -> datetime:
        """The next moment at which somebody sits at the desk."""
        day = at.date()
        while day.weekday() > 4:
            day += timedelta(days=1)
        moment = self.eye.moment(day, (8.6, 16.6))
        return (
            moment
            if moment > at
            else self.eye.moment(day + timedelta(days=3 if day.weekday() == 4 else 1), (8.6, 16.6))
        )

    def _who(self) -> str:
        return self._staff[0] if self.eye.chance(0.82) else self._staff[-1]

    # -- the first decision

    def _decide(self, report: ReportPlan, at: datetime) -> None:
        root = self._root_of(report, at)
        if root is not None:
            self._join(report, root, at)
            return
        if report.life is not None and report.case not in ALONE:
            self._roots.setdefault(report.life.number, []).append(report)
        if report.danger:
            self._danger(report, at)
        elif report.case == "broken" and report.photos and self.eye.chance(0.3):
            by = self._who()
            report.danger = "hanging_limb"
            self._add(
                report,
                "danger",
                at,
                by,
                "The photo shows the limb over the path.",
                "",
                {"danger": "", "danger_cleared_at": None, "danger_cleared_by": ""},
            )
            self._danger(report, at + timedelta(minutes=3))
        elif report.case == "asleep":
            self._asleep(report, at)
        else:
            self._choose(report, at, may_ask=True)

    def _root_of(self, report: ReportPlan, at: datetime) -> ReportPlan | None:
        """The earlier report that this one repeats, if the desk notices."""
        if report.life is None or report.case in ALONE:
            return None
        for earlier in self._roots.get(report.life.number, []):
            within = DANGER_JOINS_WITHIN if report.danger else JOINS_WITHIN
            young = report.submitted_at - earlier.submitted_at <= within
            if earlier.case == report.case and young and earlier.state != "set_aside":
                return earlier if self.eye.chance(0.92) else None
        return None

    def _join(self, report: ReportPlan, root: ReportPlan, at: datetime) -> None:
        words = self.words["joined"]
        report.state, report.joined_to = "joined", root
        self._add(report, "join", at, self._who(), words["reason"], self._said(words, "", report))

    def _choose(self, report: ReportPlan, at: datetime, *, may_ask: bool) -> None:
        words = self.words[report.case]
        shares = dict(words["decide"])
        if not may_ask or report.contact is None:
            shares.pop("ask", None)
        if report.life is None:
            shares.pop("order", None)
        total = sum(shares.values())
        outcome = str(
            self.eye.dice.choice(list(shares), p=[share / total for share in shares.values()])
        )
        if report.case == "dead" and report.life in self._removals:
            order = self._removals[report.life]
            if order.created_at < at and at.date() < order.planned_for:
                order.reports.append(report)
                self._ordered(report, "removal", at, self._who())
                return
        if outcome == "ask":
            self._ask(report, at)
        elif outcome == "set_aside":
            report.state = "set_aside"
            self._add(
                report, "set_aside", at, self._who(), words["reason"], self._said(words, "", report)
            )
        else:
            self._order_or_answer(report, at, order=outcome == "order")

    def _order_or_answer(self, report: ReportPlan, at: datetime, *, order: bool) -> None:
        by = self._who()
        if order and self.orders.wish(report, report.case, at, by) is not None:
            self._ordered(report, report.case, at, by)
            return
        self._answer(report, at, by, self.words[report.case])

    def _ordered(self, report: ReportPlan, case: str, at: datetime, by: str) -> None:
        words = self.words[case]
        report.state = "ordered"
        self._add(
            report,
            "order",
            at,
            by,
            words.get("why", words["reason"]),
            self._said(words, "order_", report),
        )

    def _answer(
        self, report: ReportPlan, at: datetime, by: str, words: Table, reason: str = ""
    ) -> None:
        report.state = "answered"
        watch = words.get("watch_days")
        before = self._before(report)
        report.look_due = at.date() + timedelta(days=watch) if watch else None
        self._add(
            report,
            "answer",
            at,
            by,
            reason or words["reason"],
            self._said(words, "", report),
            before,
        )

    def _ask_only(self, report: ReportPlan, at: datetime) -> None:
        words = self.words[report.case]
        before = self._before(report)
        report.state = "asked"
        self._add(
            report,
            "ask",
            at,
            self._who(),
            words["reason"],
            self._said(words, "ask_", report),
            before,
        )

    def _ask(self, report: ReportPlan, at: datetime) -> None:
        self._ask_only(report, at)
        if self.eye.chance(0.76):
            delay = timedelta(hours=float(self.eye.dice.uniform(2, 34)))
            self._later(report, at + delay, self._reply)
        else:
            self._later(report, self._at_the_desk(at + NO_REPLY), self._no_reply)

    def _reply(self, report: ReportPlan, at: datetime) -> None:
        self._reply_only(report, at)
        self._later(report, self._at_the_desk(at + timedelta(hours=60)), self._after_reply)

    def _reply_only(self, report: ReportPlan, at: datetime) -> None:
        words = self.words[report.case]
        said = words.get(f"replies_{report.language}") or words["replies_en"]
        text = said[int(self.eye.dice.integers(0, len(said)))]
        ref = uuid.UUID(bytes=self.eye.dice.bytes(16), version=4)
        report.replies.append(ReplyPlan(ref, text, at))
        report.state = "new"
        report.version += 1

    def _after_reply(self, report: ReportPlan, at: datetime) -> None:
        self._choose(report, at, may_ask=False)

    def _no_reply(self, report: ReportPlan, at: datetime) -> None:
        words = self.words[report.case]
        self._answer(
            report, at, self._who(), words, "No reply in three weeks; answered as well as we can."
        )

    def _asleep(self, report: ReportPlan, at: datetime) -> None:
        """A bare tree that wakes late: somebody scratches twigs, then the neighbor is told."""
        life, words = report.life, self.words["asleep"]
        day = report.day + timedelta(days=1)
        lately = [
            look
            for look in self.surveyors.looks
            if look.life is life
            and look.scratch == "green"
            and look.trained
            and 0 <= (at.date() - look.day).days <= 20
        ]
        if not lately and day < self.plan.today:
            if not life.alive(day) or life.registered_on > day:
                self._choose(report, at, may_ask=True)
                return
            walker = self.surveyors.walker(day)
            look = self.surveyors.look(life, day, "followup", walker, self.eye.moment(day, (9, 12)))
            look.scratch, look.note = "green", "Three twigs scratched, three green."
            if look.condition == "dead":
                look.condition = "holding"
            if self.eye.chance(0.22):
                scene = self.eye.scene(life, day, "close", scratch="green")
                look.photos.append(self.eye.photo(scene, look.at, walker))
            self.surveyors.looks.append(look)
            at = max(at, look.at + timedelta(hours=2))
        if at < self.now:
            self._answer(report, at, self._who(), words)

    # -- danger

    def _danger(self, report: ReportPlan, at: datetime) -> None:
        wire = report.danger == "wire"
        words = self.words["wire" if wire else "danger"]
        order = None
        if report.life is not None and not wire:
            order = self.orders.wish(report, "danger", at, self._arborist)
        if order is not None:
            self._ordered(report, "danger", at, self._arborist)
            return
        self._answer(report, at, self._arborist, words)
        end = self.eye.moment(report.day + timedelta(days=1), (9, 17))
        if end > at:
            self._later(report, end, self._clear)

    def _cleared(self, order: OrderPlan) -> None:
        """The qualified person has been: the danger is over."""
        for report in order.reports:
            if report.danger and report.cleared_at is None:
                self._clear(report, order.done_at + timedelta(minutes=20))

    def _clear(self, report: ReportPlan, at: datetime) -> None:
        words = self.words["wire" if report.danger == "wire" else "danger"]
        reason = words["clear"][int(self.eye.dice.integers(0, len(words["clear"])))]
        report.cleared_at, report.cleared_by = at, self._arborist
        self._add(
            report,
            "clear",
            at,
            self._arborist,
            reason,
            "",
            {"danger_cleared_at": None, "danger_cleared_by": ""},
        )
        for same in self._joined.get(report, []):
            if same.danger and same.cleared_at is None:
                self._clear(same, at + timedelta(minutes=1))

    # -- dropped orders

    def _reopened(self, order: OrderPlan) -> None:
        """A dropped order opens its reports again; each is then answered."""
        for report in order.reports:
            made = next(d for d in reversed(report.decisions) if d.outcome == "order")
            made.undone_at, made.undone_by = order.dropped_at, order.created_by
            report.version += 1
            report.state = "new"
            words = {
                **self.words["dropped"],
                "reason": "The order was dropped: the tree is better.",
            }
            self._answer(report, order.dropped_at + timedelta(minutes=4), order.created_by, words)

    # -- rows that follow

    @staticmethod
    def _before(report: ReportPlan) -> dict:
        return {"state": report.state, "look_due": None, "joined_to_id": None}

    def _said(self, words: Table, kind: str, report: ReportPlan) -> str:
        return words.get(f"{kind}{report.language}", words.get(f"{kind}en", ""))

    def _add(
        self,
        report: ReportPlan,
        outcome: str,
        at: datetime,
        by: str,
        reason: str,
        message: str,
        before: dict | None = None,
    ) -> None:
        decision = DecisionPlan(
            outcome=outcome,
            at=at,
            by=by,
            reason=reason,
            message=message,
            before=before or {"state": "new", "joined_to_id": None},
        )
        report.version += 1
        report.decisions.append(decision)
        if message:
            self._tell(decision, report)

    def _tell(self, decision: DecisionPlan, report: ReportPlan) -> None:
        """Mail to the writer and to all that were joined by then."""
        joined = self._joined.get(report, [])
        if decision.outcome == "join":
            self._joined.setdefault(report.joined_to, []).append(report)
        for told in [report, *joined]:
            contact = told.contact
            if contact is None or decision.at - contact.created_at > CONTACT_KEPT:
                continue
            due = decision.at + UNDO
            sent = due + timedelta(seconds=int(self.eye.dice.integers(2, 50)))
            mail = MailPlan(told, decision.message, due, "waiting", None)
            if due < self.now:
                mail.state, mail.settled_at = "sent" if contact.email else "by_phone", sent
                call = self._at_the_desk(sent + timedelta(hours=18))
                if mail.state == "by_phone" and call < self.now - timedelta(days=8):
                    mail.state, mail.settled_at, mail.told_at = "sent", call, call
            decision.mails.append(mail)

    def _likely_repeats(self, reports: list[ReportPlan]) -> None:
        """What the matching would have said: the first report of the same tree in two weeks."""
        by_tree: dict[int, list[ReportPlan]] = {}
        for report in reports:
            if report.life is None:
                continue
            mine = by_tree.setdefault(report.life.number, [])
            first = next(
                (
                    earlier
                    for earlier in mine
                    if report.submitted_at - earlier.submitted_at <= SAME_WITHIN
                    and earlier.state != "set_aside"
                ),
                None,
            )
            report.repeats = (first.joined_to or first) if first else None
            if report.repeats is report:
                report.repeats = None
            mine.append(report)

    def _show_photos(self, report: ReportPlan) -> None:
        """Staff have looked at the photos of what is decided; the others stay hidden."""
        for photo in report.photos:
            if report.state in {"new", "asked"} or report.state == "set_aside":
                photo.shown = "hidden"
            else:
                photo.shown = "declined" if self.eye.chance(0.05) else "accepted"

    def _erase(self, report: ReportPlan) -> None:
        contact = report.contact
        if contact and self.now - contact.created_at > CONTACT_KEPT:
            contact.email = contact.phone = ""
            contact.erased_at = contact.created_at + CONTACT_KEPT
