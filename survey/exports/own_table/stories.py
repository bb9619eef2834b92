"""What became of one tree, by the rules by which this project reads its own record.

Ages are whole calendar months since planting (`survey.science.seasons`). The end came after the
last look that found the tree alive and by the first look of the unbroken final run that found it
dead or gone. A look that could not find the tree says nothing. Where a day is known only to the
month or the year, the tree counts as alive at its first day and as gone at its last.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from survey.exports.own_table.cells import (
    ALIVE,
    DIED,
    LOST,
    NEVER_PLANTED,
    NOTHING,
    REMOVED_HEALTH,
    REMOVED_OTHER,
    When,
)
from survey.science.seasons import age_range

FOUND_DEAD, NOT_FOUND_ALIVE = "found_dead", "not_found_alive"


class Impossible(ValueError):
    """Days that cannot all be right; `column` is ours, `line` is 0 where the row is meant."""

    def __init__(self, column: str, message: str, line: int = 0) -> None:
        super().__init__(message)
        self.column = column
        self.line = line


@dataclass(frozen=True, slots=True)
class Fate:
    """How one tree counts: as in `survey.science.records`, an entry of -inf = from the start.

    `left_out` says why it does not count. `misjudged`: it was called dead and seen alive later.
    """

    entry: float
    left: float
    right: float
    outcome: str = ""
    left_out: str = ""
    misjudged: bool = False


@dataclass(frozen=True, slots=True)
class Look:
    """One look: when, what it says (alive, nothing, or the way of an end), and its line."""

    when: When
    seen: str
    line: int

    @property
    def is_loss(self) -> bool:
        return self.seen in (DIED, REMOVED_HEALTH, REMOVED_OTHER)


def fate_of_row(
    *,
    planted: When,
    first_seen: When | None,
    last_alive: When | None,
    first_dead: When | None,
    outcome: str,
) -> Fate:
    """The fate of a tree of which one row tells all. Raises Impossible."""
    if outcome == NEVER_PLANTED:
        return Fate(-math.inf, 0.0, math.inf, left_out=NEVER_PLANTED)
    for column, when in (
        ("first_seen", first_seen), ("last_alive", last_alive), ("first_dead", first_dead),
    ):  # fmt: skip
        if when is not None and when.end < planted.start:
            raise Impossible(column, _("That is before the tree was planted."))
    if first_dead is not None:
        if last_alive is not None and last_alive.start > first_dead.end:
            raise Impossible("last_alive", _("Seen alive after it was first seen dead."))
        if first_seen is not None and first_seen.start > first_dead.end:
            raise Impossible("first_seen", _("It came on the list after it was seen dead."))
        if outcome in (ALIVE, LOST):
            raise Impossible(
                "outcome", _("It has a day on which it was seen dead, and is not called dead.")
            )
    elif outcome in (DIED, REMOVED_HEALTH, REMOVED_OTHER):
        raise Impossible(
            "first_dead", _("It came to its end: give the day on which that was first seen.")
        )
    if outcome == ALIVE and first_seen is None and last_alive is None:
        raise Impossible("last_alive", _("It is called alive: give the day it was last seen so."))
    if first_seen is not None and last_alive is not None and last_alive.end < first_seen.start:
        raise Impossible("last_alive", _("Last seen alive before it came on the list."))
    if last_alive is None and first_seen is not None:
        if first_dead is not None and first_dead.start <= first_seen.end:
            return Fate(-math.inf, 0.0, math.inf, left_out=FOUND_DEAD)
        last_alive = first_seen
    left = 0.0 if last_alive is None else _least(planted, last_alive)
    right = math.inf if first_dead is None else _most(planted, first_dead)
    return _fate(planted, first_seen, left, right, outcome or (DIED if first_dead else ""))


def fate_of_looks(
    *, planted: When, registered: When | None, looks: Sequence[Look], never_planted: bool = False
) -> Fate:
    """The fate of a tree by its looks, in whatever order they come. Raises Impossible."""
    if registered is not None and registered.end < planted.start:
        raise Impossible("registered", _("It came on the list before it was planted."))
    for look in looks:
        if look.when.end < planted.start:
            raise Impossible("day", _("That is before the tree was planted."), look.line)
    told = sorted(
        (look for look in looks if look.seen != NOTHING),
        key=lambda look: (look.when.start, look.is_loss, look.when.end),
    )
    if never_planted and not told:
        return Fate(-math.inf, 0.0, math.inf, left_out=NEVER_PLANTED)
    _refuse_doubtful_order(told)
    run = len(told)
    while run and told[run - 1].is_loss:
        run -= 1
    alive = [look for look in told[:run] if not look.is_loss]
    left = max((_least(planted, look.when) for look in alive), default=0.0)
    right = _most(planted, told[run].when) if run < len(told) else math.inf
    late = registered is not None and _most(planted, registered) > 0
    if late and not any(look.when.end >= registered.start for look in alive):
        return Fate(-math.inf, 0.0, math.inf, left_out=NOT_FOUND_ALIVE)
    outcome = told[run].seen if run < len(told) else ""
    if not outcome and looks and max(looks, key=lambda look: look.when.end).seen == NOTHING:
        outcome = LOST
    return _fate(planted, registered, left, right, outcome, misjudged=len(alive) < run)


def _refuse_doubtful_order(told: Sequence[Look]) -> None:
    """Two looks that contradict each other must not fall into one stretch of time.

    On one and the same day alive comes before dead: it cannot be the other way round.
    """
    reach: dict[bool, list] = {True: [None, None], False: [None, None]}  # furthest: any, not a day
    for look in told:
        any_, vague = reach[not look.is_loss]
        clash = (vague is not None and vague >= look.when.start) or (
            not look.when.is_one_day and any_ is not None and any_ >= look.when.start
        )
        if clash:
            raise Impossible(
                "day",
                _("Seen alive and seen dead: which came first? Give the days of both looks."),
                look.line,
            )
        own = reach[look.is_loss]
        own[0] = look.when.end if own[0] is None else max(own[0], look.when.end)
        if not look.when.is_one_day:
            own[1] = look.when.end if own[1] is None else max(own[1], look.when.end)


def _fate(
    planted: When,
    listed: When | None,
    left: float,
    right: float,
    outcome: str,
    *,
    misjudged: bool = False,
) -> Fate:
    if right <= left:
        # seen alive and found lost in one calendar month: the end came within that month
        left = max(0.0, right - 1)
    entry = -math.inf
    if listed is not None and (age := _most(planted, listed)) > 0:
        entry = min(age, left)
        if entry >= right:
            return Fate(-math.inf, 0.0, math.inf, left_out=FOUND_DEAD)
    return Fate(entry, left, right, outcome, misjudged=misjudged)


def _least(planted: When, when: When) -> float:
    """The age it surely had reached: what is vague counts at its first day."""
    return age_range(planted.start, planted.end, max(when.start, planted.start)).least


def _most(planted: When, when: When) -> float:
    """The age it can have had at most: what is vague counts at its last day."""
    return age_range(planted.start, planted.end, max(when.end, planted.start)).most
