"""Writes the chores that repeat, and rings again for those nobody answered."""

import logging
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from survey.chores import bell, leases, wishes
from survey.chores.models import Chore, Schedule
from survey.chores.registry import Rhythm, handlers, rhythms

RING_AGAIN = timedelta(seconds=20)
RINGS_A_SWEEP = 500
HEARD_ENOUGH = 1000  # messages in the queue: workers are busy, not deaf
STRANGE_AFTER = timedelta(hours=1)

log = logging.getLogger(__name__)


def period(rhythm: Rhythm, at: datetime) -> str:
    """The name of the period that had begun most recently at this time.

    A night begins at `NIGHT_HOUR` of the server's zone and is named by that day. Shorter periods
    are named in UTC, where no hour comes twice. Later periods have later names.
    """
    if rhythm.nightly:
        local = at.astimezone(ZoneInfo(settings.TIME_ZONE)).replace(tzinfo=None)
        return (local - timedelta(hours=settings.NIGHT_HOUR)).date().isoformat()
    utc = at.astimezone(UTC)
    return f"{utc:%Y-%m-%dT%H}:{utc.minute - utc.minute % rhythm.minutes:02d}Z"


def tick(at: datetime) -> list[str]:
    """Write the chores of every period that has begun; return their kinds.

    Any number of clocks may run, and run a little apart: a period belongs to the one that moves
    the schedule's row forward, and nobody moves it back.
    """
    return [kind for kind in sorted(rhythms) if _begin(rhythms[kind], at)]


def _begin(rhythm: Rhythm, at: datetime) -> bool:
    now_in = period(rhythm, at)
    if Schedule.objects.filter(kind=rhythm.kind, period__gte=now_in).exists():
        return False
    with transaction.atomic():
        Schedule.objects.bulk_create([Schedule(kind=rhythm.kind)], ignore_conflicts=True)
        earlier = Schedule.objects.filter(kind=rhythm.kind, period__lt=now_in)
        if not earlier.update(period=now_in):
            return False
        wishes.put([(rhythm.kind, now_in)])
    return True


def sweep(at: datetime) -> int:
    """Ring for due chores that nobody has taken; return for how many.

    This alone drains everything, so a broker that lost its memory loses no work. While many
    messages wait unheard, the workers are busy and more ringing would only lengthen the queue.
    """
    if not settings.REDIS_URL:
        return 0
    chores = list(
        Chore.objects.unanswered(at, RING_AGAIN)
        .filter(kind__in=handlers)
        .values_list("kind", "pk")[:RINGS_A_SWEEP]
    )
    if not chores:
        return 0
    try:
        if bell.unheard() >= HEARD_ENOUGH:
            return 0
    except bell.OUT_OF_REACH as trouble:
        log.warning("The broker does not answer (%s).", trouble)
        return 0
    if not bell.ring(chores):
        return 0
    Chore.objects.filter(pk__in=[number for _, number in chores]).update(rung_at=at)
    return len(chores)


def park_strangers(at: datetime) -> int:
    """Park what no room has known how to do for an hour; a newer machine may come up till then."""
    return leases.park_all(
        Chore.objects.waiting().filter(due_at__lt=at - STRANGE_AFTER).exclude(kind__in=handlers),
        "No room of this version does this kind of work.",
        timezone.now(),
    )
