"""What became of a report, as its writer may read it: newest first, the coming things on top."""

from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from survey.causes.saving import decision_of
from survey.reports.danger import said_to_be_no_danger
from survey.reports.models import Decision, Report
from survey.reports.promises import promise_for
from survey.trees.models import Condition, Look
from survey.workorders.models import WorkOrder

Outcome = Decision.Outcome
MOST_LOOKS = 5


@dataclass(frozen=True, slots=True)
class Event:
    """One line of the story. `node` is how the twig draws it: now, done, danger or coming."""

    day: date
    said: str
    more: str = ""
    node: str = "done"
    quote: bool = False  # `more` is somebody's own words


@dataclass(frozen=True, slots=True)
class Story:
    """The finding in one sentence, the message that goes with it, and the twig."""

    sentence: str
    message: str
    events: list[Event]
    is_asked: bool
    question: str
    is_danger: bool = False


def story_of(report: Report) -> Story:
    """Everything the writer of a report may know. A decision is told once it is past undoing."""
    zone = ZoneInfo(report.area.time_zone)
    decisions = list(_told(report))
    root = report.joined_to if any(d.outcome == Outcome.JOIN for d in decisions) else None
    joined = next((d for d in reversed(decisions) if d.outcome == Outcome.JOIN), None)
    if root is not None and joined is not None:
        decisions += [
            d
            for d in _told(root)
            if d.at >= joined.at and d.outcome in (Outcome.ORDER, Outcome.ANSWER)
        ]
    decisions.sort(key=lambda d: (d.at, d.pk))
    events = [Event(report.submitted_at.astimezone(zone).date(), _("You sent this report"))]
    read = _read_at(report)
    if read:
        events.append(Event(read.astimezone(zone).date(), _("Somebody at the desk read it")))
    events += [_event_of(d, zone) for d in decisions]
    events += [
        Event(reply.at.astimezone(zone).date(), _("You answered"), reply.words, quote=True)
        for reply in report.replies.all()
    ]
    orders = _orders(report, root, decisions)
    events += [event for order in orders for event in _work(order, report)]
    events += _looks(report)
    events.sort(key=lambda event: event.day)
    coming = _coming(report, decisions, orders)
    last = next((d for d in reversed(decisions) if d.outcome in _SENTENCES), None)
    asked = report.state == Report.State.ASKED and last is not None and last.outcome == Outcome.ASK
    cleared = _cleared(decisions)
    replied = not asked and last is not None and last.outcome == Outcome.ASK
    replied = replied and report.replies.exists()
    is_over = last is None or replied
    is_over = is_over or any(order.done_on for order in orders)
    is_over = is_over or (cleared is not None and last.at <= cleared.at)
    newest = events.pop()
    events.append(Event(newest.day, newest.said, newest.more, "now", newest.quote))
    return Story(
        sentence=_("Thank you. Somebody reads your answer next.")
        if replied
        else _sentence(report, last, cleared, orders),
        message="" if is_over else last.message,
        events=[*reversed(coming), *reversed(events)],
        is_asked=asked,
        question=last.message if asked and last else "",
        is_danger=_still_danger(report, last, cleared),
    )


def _cleared(decisions: list[Decision]) -> Decision | None:
    """The decision that a danger is over, unless it was marked as one again."""
    marks = [
        d
        for d in decisions
        if d.outcome in (Outcome.DANGER, Outcome.CLEAR) and not said_to_be_no_danger(d)
    ]
    return marks[-1] if marks and marks[-1].outcome == Outcome.CLEAR else None


def _still_danger(report: Report, last: Decision | None, cleared: Decision | None) -> bool:
    """Whether its page must say whom to call: until the neighbor was told that it is over."""
    set_aside = last is not None and last.outcome == Outcome.SET_ASIDE
    return bool(report.danger) and cleared is None and not set_aside


def _told(report: Report):
    return report.decisions.standing().exclude(undo_until__gt=timezone.now()).order_by("at", "pk")


def _read_at(report: Report) -> datetime | None:
    """When somebody at the desk first had it open; whoever decided about it has read it, also
    while the decision can still be taken back, or after it was."""
    moments = [decision.at for decision in report.decisions.all()]
    if report.opened_at:
        moments.append(report.opened_at)
    return min(moments, default=None)


def _event_of(decision: Decision, zone: ZoneInfo) -> Event:
    said = {
        Outcome.ORDER: _("Work was ordered"),
        Outcome.JOIN: _("Put together with another report of the same tree"),
        Outcome.ANSWER: _("Answered"),
        Outcome.ASK: _("We asked you something"),
        Outcome.SET_ASIDE: _("Closed"),
        Outcome.DANGER: _("Marked as a danger to people"),
        Outcome.CLEAR: _("A qualified person cleared the danger"),
    }[decision.outcome]
    if said_to_be_no_danger(decision):
        said = _("We read your words again: they are not about a danger to people")
    node = "danger" if decision.outcome == Outcome.DANGER else "done"
    return Event(decision.at.astimezone(zone).date(), said, decision.message, node, quote=True)


def _orders(report: Report, root: Report | None, decisions: list[Decision]) -> list[WorkOrder]:
    """The work orders that belong to it, once the neighbor was told of them."""
    if not any(d.outcome == Outcome.ORDER for d in decisions):
        return []
    orders = WorkOrder.objects.filter(reports__in=[report, *([root] if root else [])])
    return list(orders.exclude(state=WorkOrder.State.DROPPED).distinct().order_by("pk"))


def _work(order: WorkOrder, report: Report) -> list[Event]:
    events = []
    if order.done_on:
        events.append(Event(order.done_on, _("The work was done")))
    if order.confirmed_at:
        look = _judging_look(order, report)
        day = look.day if look else order.confirmed_at.date()
        events.append(Event(day, _AGAIN[_outcome(look)]))
    return events


def _judging_look(order: WorkOrder, report: Report) -> Look | None:
    """The look after the work at the tree of this report."""
    lines = order.lines.filter(tree=report.tree_id, look__isnull=False).select_related("look")
    line = lines.order_by("-look__day", "-look__pk").first()
    return line.look if line else None


def _outcome(look: Look | None) -> str:
    """How the tree was after the work: "held", "poorly", "no_life", "dead", or "seen" when nobody
    says. One look condemns no tree: it is dead after two visits, or when it is gone."""
    if look is None:
        return "seen"
    if look.condition in (Condition.THRIVING, Condition.HOLDING):
        return "held"
    if look.condition in (Condition.SLIPPING, Condition.FAILING):
        return "poorly"
    if look.presence in (Look.Presence.GONE, Look.Presence.STUMP):
        return "dead"
    if look.condition == Condition.DEAD:
        return "dead" if decision_of(look.tree).state.name == "dead" else "no_life"
    return "seen"


_AGAIN = {
    "held": gettext_lazy("We looked again, and the work held"),
    "poorly": gettext_lazy("We looked again: the tree is not well yet"),
    "no_life": gettext_lazy("We looked again and found no life in the tree. We look once more"),
    "dead": gettext_lazy("We looked again: the tree has died"),
    "seen": gettext_lazy("We looked again"),
}
_ENDS = {
    "held": gettext_lazy("The work is done, and it held."),
    "poorly": gettext_lazy("The work is done, but the tree is not well yet."),
    "no_life": gettext_lazy("The work is done, but we found no life in the tree."),
    "dead": gettext_lazy("The work is done, but the tree has died."),
    "seen": gettext_lazy("The work is done, and we looked again."),
}


def _looks(report: Report) -> list[Event]:
    """Trained looks at the tree since it was reported."""
    if report.tree_id is None:
        return []
    looks = (
        Look.objects.standing_record()
        .trained()
        .filter(tree_id=report.tree_id, day__gte=report.day)
        .exclude(presence=Look.Presence.NOT_SEEN)
        .in_order()[:MOST_LOOKS]
    )
    return [
        Event(
            look.day,
            _("A trained person looked at the tree: %s") % look.get_condition_display()
            if look.condition
            else _("A trained person looked at the tree"),
        )
        for look in looks
    ]


def _coming(report: Report, decisions: list[Decision], orders: list[WorkOrder]) -> list[Event]:
    coming = []
    if not decisions:
        promise = promise_for(report.day, in_danger=bool(report.danger))
        if not _read_at(report):
            coming.append(Event(promise.read_by, _("Somebody reads it by then"), node="coming"))
        coming.append(
            Event(promise.look_by, _("Somebody looks at the tree by then"), node="coming")
        )
    for order in orders:
        if order.state == WorkOrder.State.PLANNED and order.planned_for:
            coming.append(Event(order.planned_for, _("The work is planned"), node="coming"))
        elif order.state == WorkOrder.State.DRAFTED:
            coming.append(Event(order.window_to, _("The work is done by then"), node="coming"))
        elif order.state == WorkOrder.State.DONE and order.look_due:
            coming.append(Event(order.look_due, _("We look again by then"), node="coming"))
    if report.look_due and decisions:
        coming.append(Event(report.look_due, _("We look again by then"), node="coming"))
    return sorted(coming, key=lambda event: event.day)


_SENTENCES = {Outcome.ORDER, Outcome.JOIN, Outcome.ANSWER, Outcome.ASK, Outcome.SET_ASIDE}


def _sentence(
    report: Report, last: Decision | None, cleared: Decision | None, orders: list[WorkOrder]
) -> str:
    """The finding, in one sentence, that opens the page."""
    if cleared is not None and (
        last is None or (last.outcome == Outcome.ANSWER and last.at <= cleared.at)
    ):
        return _("A qualified person looked. The danger is over.")
    if last is None and _still_danger(report, last, cleared):
        return _("We have it, and it counts as a danger.")
    if last is None:
        return (
            _("We have read it.") if _read_at(report) else _("We have it. Nobody has read it yet.")
        )
    if last.outcome == Outcome.ORDER:
        seen = [order for order in orders if order.confirmed_at]
        if seen:
            return str(_ENDS[_outcome(_judging_look(seen[-1], report))])
        if any(order.done_on for order in orders):
            return _("The work is done.")
        planned = [order.planned_for for order in orders if order.planned_for]
        if planned:
            return _("Somebody comes on %s.") % date_format(min(planned), _("F j"))
        return _("Somebody will come and help this tree.")
    return {
        Outcome.JOIN: _("Others saw it too. We look at it together."),
        Outcome.ANSWER: _("Here is our answer."),
        Outcome.ASK: _("We need to ask you something."),
        Outcome.SET_ASIDE: _("We closed this report."),
    }[last.outcome]
