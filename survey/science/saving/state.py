"""What can be said of a tree today: gone, asleep, cannot tell yet, alive, top dead, dead."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from survey.science.saving.contradictions import contradictions, settled
from survey.science.saving.facts import Facts, Line, Need, Seen, State, Witness
from survey.science.saving.signs import TREE, held, is_alive, is_held, is_proof, is_suspect

FOUR_WEEKS = timedelta(weeks=4)
LOOK_SOON = timedelta(weeks=8)
LOOK_LATER = timedelta(weeks=26)
OVERDUE = timedelta(days=14)


def judge(facts: Facts) -> State:
    """The state of a tree, by the two-visit rule. The order of looks does not matter.

    Dead needs two visits at least four weeks apart in the growing season, both without any sign of
    life, the second by a trained person with a scratch, a photo, and no shoots since (own rule of
    this project). Everything that could be sleep, frost or drought waits.
    """
    case = _Case.of(facts)
    found = (
        _gone(case)
        or _unseen(case)
        or _dead(case)
        or _top_dead(case)
        or _asleep(case)
        or _alive(case)
        or _cannot_tell(case)
    )
    told = contradictions(facts, case.looks, found.name)
    return replace(found, contradictions=told, settled=settled(facts, case.looks, told))


@dataclass(frozen=True, slots=True)
class _Case:
    facts: Facts
    looks: tuple[Seen, ...]  # those that saw anything, oldest first
    alive_on: date | None  # last sign of life in the crown
    sprouted_on: date | None  # last look that said: top dead, sprouting
    shoots_on: date | None  # last shoots of any kind
    visits: tuple[Seen, ...]  # since then, without any sign of life, in the growing season
    doubts: tuple[Seen, ...]  # since then, the same outside of it
    held_until: date | None  # frost or drought: nothing is said before this day
    held_by: Line | None

    @classmethod
    def of(cls, facts: Facts) -> "_Case":
        looks = tuple(sorted(look for look in facts.looks if look.presence != "not_seen"))
        alive_on = max((look.day for look in looks if is_alive(look, facts)), default=None)
        sprouted = max((look.day for look in looks if look.presence == "sprouting"), default=None)
        shoots = max(
            (look.day for look in looks if look.shoots or look.presence == "sprouting"),
            default=None,
        )
        last_life = max((day for day in (alive_on, shoots) if day), default=None)
        suspects = tuple(
            look
            for look in looks
            if is_suspect(look) and (last_life is None or look.day > last_life)
        )
        held_until, held_by = held(facts)
        counted = tuple(
            look
            for look in suspects
            if facts.calendar.is_growing(look.day) and not is_held(facts, look.day)
        )
        return cls(
            facts=facts,
            looks=looks,
            alive_on=alive_on,
            sprouted_on=sprouted,
            shoots_on=shoots,
            visits=counted,
            doubts=tuple(look for look in suspects if look not in counted),
            held_until=held_until,
            held_by=held_by,
        )

    @property
    def newest(self) -> tuple[Seen, ...]:
        return tuple(look for look in self.looks if look.day == self.looks[-1].day)

    @property
    def is_bare_since(self) -> bool:
        """Whether it was seen bare after its last sign of life."""
        return any(
            look.leaf == "bare" and (self.alive_on is None or look.day > self.alive_on)
            for look in self.looks
            if look.presence in TREE
        )


def _gone(case: _Case) -> State | None:
    stands = case.looks and any(look.presence in TREE for look in case.newest)
    if case.facts.left or (case.looks and not stands):
        day = case.looks[-1].day if case.looks else None
        return State("gone", (Line("gone", day=day),), seen_on=day)
    return None


def _unseen(case: _Case) -> State | None:
    if case.looks:
        return None
    day = case.facts.day
    return State(
        "cannot_tell",
        (Line("never_looked_at"),),
        needs=(Need("first_look", day),),
        look_by=day + OVERDUE,
    )


def _dead(case: _Case) -> State | None:
    pair = _two_visits(case.visits)
    if pair is None or not any(look.photo for look in case.visits):
        return None
    first, second = pair
    lines = (
        Line("two_visits", day=first.day, other=second.day),
        Line("no_shoots_no_green"),
        Line("in_growing_season"),
    )
    return State("dead", lines, seen_on=second.day)


def _two_visits(visits: Sequence[Seen]) -> tuple[Seen, Seen] | None:
    """The first visit and a trained one at least four weeks later; None without such a pair."""
    if not visits:
        return None
    first = visits[0]
    for second in visits:
        if is_proof(second) and second.day - first.day >= FOUR_WEEKS:
            return first, second
    return None


def _top_dead(case: _Case) -> State | None:
    day = case.sprouted_on
    if day is None or case.visits or (case.alive_on is not None and case.alive_on >= day):
        return None
    if not case.facts.calendar.is_growing(day) or is_held(case.facts, day):
        return None
    look_by, overdue = _next_look(case, day + LOOK_SOON)
    return State(
        "top_dead",
        (Line("sprouts_below", day=day), Line("roots_alive")),
        seen_on=day,
        look_by=look_by,
        overdue=overdue,
        needs=(Need("look_again", look_by),),
    )


def _asleep(case: _Case) -> State | None:
    """Bare inside its window, or late: no more is asked than to wait."""
    day, calendar = case.facts.day, case.facts.calendar
    if case.visits or case.doubts or case.sprouted_on == case.looks[-1].day:
        return None
    if case.held_by is not None and case.held_by.code == "drops_in_drought" and case.is_bare_since:
        until = None if case.held_until == date.max else case.held_until
        return State(
            "asleep",
            (case.held_by,),
            seen_on=case.looks[-1].day,
            waits_until=until,
            look_by=until or day + LOOK_SOON,
        )
    if not calendar.bare or calendar.is_growing(day) or case.held_by is not None:
        return None
    if case.alive_on is not None and not _slept_since(case, case.alive_on):
        return None  # it showed life in this very window
    until = calendar.next_growing(day)
    lines = [Line("bare_window", day=day, other=until)]
    if not calendar.is_asleep(day):
        lines = [Line("late_window", day=day, other=until)]
    if case.alive_on is not None:
        lines.append(Line("alive_before", day=case.alive_on))
    lines.append(Line("winter_look_proves_nothing"))
    return State(
        "asleep",
        tuple(lines),
        seen_on=case.looks[-1].day,
        waits_until=until,
        look_by=None if until is None else until + OVERDUE,
    )


def _slept_since(case: _Case, alive_on: date) -> bool:
    """Whether the sign of life is older than the window that the tree is in."""
    calendar = case.facts.calendar
    return calendar.is_growing(alive_on) or any(
        calendar.is_growing(alive_on + timedelta(days=n))
        for n in range(0, (case.facts.day - alive_on).days, 7)
    )


def _alive(case: _Case) -> State | None:
    if case.alive_on is None or case.visits or case.doubts:
        return None
    if any(_is_bare_news(look, case) for look in case.looks):
        return None
    day = case.alive_on
    trouble = case.facts.in_trouble or any(
        look.condition in ("slipping", "failing") or look.shoots for look in case.newest
    )
    look_by, overdue = _next_look(case, day + (LOOK_SOON if trouble else LOOK_LATER))
    witness = _witness(case, day)
    lines = [_sign_of_life(case, day, witness), Line("green_is_not_saved")]
    if case.held_by is not None:
        lines.append(case.held_by)
    if overdue:
        lines.append(Line("look_overdue", day=look_by))
    return State(
        "alive",
        tuple(lines),
        seen_on=day,
        seen_by=witness,
        look_by=look_by,
        overdue=overdue,
        needs=(Need("look_again", look_by),) if overdue else (),
    )


def _alive_that_day(case: _Case, day: date) -> list[Seen]:
    return [look for look in case.looks if look.day == day and is_alive(look, case.facts)]


def _witness(case: _Case, day: date) -> Witness:
    """Who saw it alive that day; a trained person goes before a neighbor."""
    looks = _alive_that_day(case, day)
    if any(look.trained for look in looks):
        return "trained"
    return "neighbor" if all(look.neighbor for look in looks) else "somebody"


def _sign_of_life(case: _Case, day: date, witness: Witness) -> Line:
    """The strongest sign of that day: leaves, then green under the bark, then somebody's word."""
    looks = _alive_that_day(case, day)
    if any(look.leaf in ("full", "partial") and look.presence == "standing" for look in looks):
        return Line("in_leaf", day=day)
    if any(look.green for look in looks):
        return Line("scratch_green", day=day)
    return Line("neighbor_saw_alive" if witness == "neighbor" else "called_alive", day=day)


def _is_bare_news(look: Seen, case: _Case) -> bool:
    """Bare since its last sign of life, in its growing season, and nobody scratched."""
    since = case.alive_on is None or look.day > case.alive_on
    bare = look.presence in TREE and look.leaf == "bare" and not look.brown
    return since and bare and case.facts.calendar.is_growing(look.day)


def _next_look(case: _Case, wish: date) -> tuple[date, bool]:
    """When to look again: never before today, never while it is supposed to be bare."""
    day, calendar = case.facts.day, case.facts.calendar
    overdue = wish < day
    look = day + OVERDUE if overdue else wish
    if calendar.bare and calendar.is_asleep(look):
        look = calendar.next_growing(look) or look
    return look, overdue


def _cannot_tell(case: _Case) -> State:
    day, calendar = case.facts.day, case.facts.calendar
    lines: list[Line] = []
    needs: list[Need] = []
    if case.doubts:
        lines.append(_why_a_doubt_is_none(case))
    if case.held_by is not None:
        lines.append(case.held_by)
    wakes = calendar.next_growing(day)
    start = max(wakes or day, min(case.held_until or day, day + timedelta(days=800)))
    pair = _two_visits(case.visits)
    if pair is not None:
        lines.append(Line("two_visits_no_photo", day=pair[0].day, other=pair[1].day))
        needs.append(Need("photo", day))
    elif case.visits:
        first = case.visits[0].day
        lines.append(Line("one_visit", day=first))
        second = max(start, calendar.next_growing(first + FOUR_WEEKS) or first + FOUR_WEEKS)
        needs.append(Need("second_visit", second, trained=True))
        if not any(look.photo for look in case.visits):
            needs.append(Need("photo", second))
    elif calendar.is_growing(day) and not case.held_by:
        bare = [look.day for look in case.looks if _is_bare_news(look, case)]
        if bare:
            lines.append(Line("bare_in_leaf_time", day=bare[-1]))
        needs.append(Need("look_in_leaf" if case.doubts else "scratch_twigs", day))
    else:
        needs.append(Need("look_in_leaf", start))
    if case.sprouted_on is not None and not case.visits:
        lines.append(Line("sprouts_seen_asleep", day=case.sprouted_on))
    if not lines:
        lines.append(Line("nothing_said_of_life", day=case.looks[-1].day))
    waits = start if start > day else None
    return State(
        "cannot_tell",
        tuple(lines),
        needs=tuple(needs),
        seen_on=case.looks[-1].day,
        waits_until=waits,
        look_by=max(need.from_day for need in needs) + OVERDUE,
    )


def _why_a_doubt_is_none(case: _Case) -> Line:
    """Why looks that found nothing alive do not count."""
    newest = case.doubts[-1].day
    if is_held(case.facts, newest):
        return Line("looked_after_frost_or_drought", day=newest)
    if case.facts.calendar.is_asleep(newest) or not case.facts.calendar.bare:
        return Line("looked_while_bare", day=newest)
    return Line("looked_too_early", day=newest)
