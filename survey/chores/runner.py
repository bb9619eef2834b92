"""Does one chore: claim, stay alive, write result and done together, or say why not."""

import logging
import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db import OperationalError, connections, transaction

from survey.chores import leases
from survey.chores.leases import Claim, LeaseLost

Work = Callable[..., None]
log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Handler:
    """How one kind of chore is done.

    `work` runs inside the transaction that also marks the chore done. `computes`, when given,
    runs before it and outside any transaction; what it returns is handed to `work`.
    """

    kind: str
    work: Work
    computes: Callable[[str], Any] | None = None


def perform(number: int, handler: Handler) -> bool:
    """Do this chore if it is there to be done; say whether it is done now.

    Never raises for what the work raised: that is written to the chore, which waits for its next
    try or is parked.
    """
    claim = leases.claim(number)
    if claim is None:
        return False
    with _Pulse(claim):
        try:
            computed = () if handler.computes is None else (handler.computes(claim.key),)
            with transaction.atomic(durable=True):
                handler.work(claim.key, *computed)
                leases.finish(claim)
        except LeaseLost:
            log.warning(
                "Chore %s %s was taken over; this result is dropped.", claim.kind, claim.key
            )
            return False
        except Exception as trouble:  # whatever the work raised: the chore keeps it for people
            log.exception("Chore %s %s failed, try %d.", claim.kind, claim.key, claim.attempt)
            leases.fail(claim, _words(trouble))
            return False
    return True


class _Pulse:
    """Keeps a claim alive from a thread of its own, while the work goes on.

    It stops after the longest time a chore may take, so that work that hangs is given to others.
    """

    def __init__(self, claim: Claim) -> None:
        self._claim = claim
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._beat, name="chore-pulse", daemon=True)

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *exc: object) -> None:
        self._over.set()
        self._thread.join()

    def _beat(self) -> None:
        between = settings.CHORE_LEASE / 3
        try:
            for _ in range(int(settings.CHORE_LONGEST / between)):
                if self._over.wait(between):
                    return
                try:
                    if not leases.heartbeat(self._claim):
                        return
                except OperationalError as trouble:
                    # Locked (the work itself is writing) or out of reach: the next beat may pass.
                    log.info("No heartbeat for %s: %s", self._claim.kind, trouble)
        finally:
            connections.close_all()


def _words(trouble: Exception) -> str:
    """What staff read first, then where it happened."""
    first = f"{type(trouble).__name__}: {trouble}"
    where = "".join(traceback.format_tb(trouble.__traceback__, limit=-6))
    return f"{first}\n\n{where}"
