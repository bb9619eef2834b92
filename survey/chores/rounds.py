"""The embedded runner and clock: loops that need no broker."""

import logging
import threading

from celery import current_app
from django.db import DatabaseError, close_old_connections
from django.utils import timezone

from survey.chores import bell, clock
from survey.chores.models import Chore
from survey.chores.registry import handlers

POLL = 0.3  # seconds between looks when there is nothing to do
AT_A_LOOK = 8
TICK = 5.0  # seconds between two ticks of the clock
AFTER_TROUBLE = 2.0

log = logging.getLogger(__name__)


def do_due() -> int:
    """Do a few of the chores that are due, by the same Celery tasks; return how many were tried.

    Somebody else may be faster with any of them: then its task finds nothing to claim.
    """
    due = list(
        Chore.objects.due(timezone.now())
        .filter(kind__in=handlers)
        .values_list("kind", "pk")[:AT_A_LOOK]
    )
    for kind, number in due:
        current_app.tasks[bell.task_name(kind)].apply(args=[number], throw=True)
    return len(due)


def run_chores(stop: threading.Event) -> None:
    """Do chores until told to stop; the one in hand is finished first."""
    while not stop.is_set():
        try:
            if do_due():
                continue
            pause = POLL
        except DatabaseError as trouble:
            log.warning("The database does not answer: %s", trouble)
            pause = AFTER_TROUBLE
        close_old_connections()
        stop.wait(pause)


def run_clock(stop: threading.Event) -> None:
    """Begin periods and ring again for what nobody answered, until told to stop."""
    while not stop.is_set():
        try:
            now = timezone.now()
            clock.tick(now)
            clock.sweep(now)
            clock.park_strangers(now)
        except DatabaseError as trouble:
            log.warning("The database does not answer: %s", trouble)
        close_old_connections()
        stop.wait(TICK)
