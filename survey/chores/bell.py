"""The doorbell: tells Celery workers the number of a chore. Nothing is lost when it is silent."""

import logging
import os
import time
from collections.abc import Iterable
from functools import cache

from celery import current_app
from django.conf import settings
from kombu import Connection
from kombu.exceptions import OperationalError
from kombu.pools import producers
from redis.exceptions import RedisError

QUIET = 5.0  # seconds in which nobody tries again after a broker did not answer
OUT_OF_REACH = (OperationalError, RedisError, OSError)

log = logging.getLogger(__name__)
_quiet = {"until": 0.0}  # on the clock of time.monotonic()


def task_name(kind: str) -> str:
    """The Celery task that does this kind of chore."""
    return f"chores.{kind}"


def ring(chores: Iterable[tuple[str, int]]) -> bool:
    """Tell the workers about these chores, given as kind and number.

    Called after a commit, often inside somebody's request, so it never raises and never waits
    long: an unreachable broker is written to the log, and the sweep rings again. Says whether
    all were told.
    """
    if not settings.REDIS_URL or time.monotonic() < _quiet["until"]:
        return False
    try:
        with producers[_line(os.getpid())].acquire(block=True, timeout=1) as producer:
            for kind, number in chores:
                current_app.send_task(
                    task_name(kind), args=[number], producer=producer, retry=False
                )
    except OUT_OF_REACH as trouble:
        _quiet["until"] = time.monotonic() + QUIET
        log.warning("The broker does not answer (%s); the sweep will ring again.", trouble)
        return False
    return True


def unheard() -> int:
    """How many messages no worker has taken yet. Raises one of OUT_OF_REACH."""
    with _line(os.getpid()).clone() as connection, connection.channel() as channel:
        return channel.client.llen(
            f"{settings.CELERY_BROKER_TRANSPORT_OPTIONS['global_keyprefix']}"
            f"{settings.CELERY_TASK_DEFAULT_QUEUE}"
        )


@cache
def _line(process: int) -> Connection:
    """A connection that gives up soon; each process has its own, as sockets survive no fork."""
    return Connection(
        settings.REDIS_URL,
        connect_timeout=settings.CHORE_BELL_TIMEOUT,
        transport_options={
            **settings.CELERY_BROKER_TRANSPORT_OPTIONS,
            "socket_timeout": settings.CHORE_BELL_TIMEOUT,
            "socket_connect_timeout": settings.CHORE_BELL_TIMEOUT,
            "max_retries": 0,
        },
    )
