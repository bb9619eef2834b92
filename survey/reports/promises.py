"""What a neighbor is promised, in days. Own rule of this project; the receipt says it."""

from dataclasses import dataclass
from datetime import date, timedelta

READ_WITHIN = timedelta(days=3)
LOOK_WITHIN = timedelta(days=10)


@dataclass(frozen=True, slots=True)
class Promise:
    """The last days on which a report is read, and on which somebody stands before the tree."""

    read_by: date
    look_by: date


def promise_for(day: date, *, in_danger: bool) -> Promise:
    """A danger is read and looked at on the day it comes in, or on the next."""
    if in_danger:
        return Promise(read_by=day, look_by=day + timedelta(days=1))
    return Promise(read_by=day + READ_WITHIN, look_by=day + LOOK_WITHIN)
