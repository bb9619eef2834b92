"""Who holds a chore, and for how long."""

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings
from django.db import IntegrityError, transaction
from django.utils import timezone

from survey.chores import wishes
from survey.chores.models import Chore
from survey.chores.queries import ChoreQuerySet

ERROR_KEPT = 4000  # characters of an error


class LeaseLost(Exception):
    """Somebody else holds the chore now; what was done for it must not be kept."""


@dataclass(frozen=True, slots=True)
class Claim:
    """The right to do one chore, until the lease runs out."""

    number: int
    kind: str
    key: str
    token: uuid.UUID
    attempt: int


def claim(number: int) -> Claim | None:
    """Take this chore if it is due and nobody holds it.

    A lease that ran out counts as nobody. A chore whose runners died too often is parked.
    """
    now = timezone.now()
    with transaction.atomic():
        chore = Chore.objects.due(now).filter(pk=number).select_for_update(skip_locked=True).first()
        if chore is None:
            return None
        if chore.attempts >= settings.CHORE_TRIES:
            _park(chore, chore.last_error or _died(chore.attempts), now)
            wishes.ring_next(chore.kind, chore.key)
            return None
        token = uuid.uuid4()
        # On SQLite nothing is locked, so the condition decides who was first.
        taken = Chore.objects.filter(
            pk=chore.pk, state=chore.state, claimed_by=chore.claimed_by
        ).update(
            state=Chore.State.CLAIMED,
            claimed_by=token,
            lease_until=_lease(now),
            attempts=chore.attempts + 1,
        )
    if not taken:
        return None
    return Claim(chore.pk, chore.kind, chore.key, token, chore.attempts + 1)


def heartbeat(claim: Claim) -> bool:
    """Keep the claim for another lease; False when somebody else holds it."""
    return bool(_held(claim).update(lease_until=_lease(timezone.now())))


def finish(claim: Claim) -> None:
    """Mark the chore done, in the transaction that holds its results.

    Raises LeaseLost when the claim is no longer ours, so that those results are rolled back.
    Parked chores with the same kind and key asked for the same work, so they are done too.
    """
    now = timezone.now()
    done = {"state": Chore.State.DONE, "done_at": now}
    if not _held(claim).update(claimed_by=None, lease_until=None, **done):
        raise LeaseLost(f"{claim.kind} {claim.key}")
    wishes.ring_next(claim.kind, claim.key)
    Chore.objects.parked().filter(kind=claim.kind, key=claim.key).update(parked_at=None, **done)


def fail(claim: Claim, error: str) -> None:
    """Give the chore back to be tried again after a pause, or park it after its last try."""
    for _ in range(5):
        try:
            with transaction.atomic():
                _fail(claim, error.strip()[:ERROR_KEPT] or "No words were left.")
            return
        except IntegrityError:  # the same wish was written this instant: look again, and join it
            continue
    # Still held: the lease runs out and the next runner takes it.


def pause(attempts: int) -> timedelta:
    """How long to wait after so many tries: 5 s, 20 s, 80 s, 320 s …, an hour at most."""
    return timedelta(seconds=min(5 * 4 ** (attempts - 1), 3600))


def park_all(chores: ChoreQuerySet, why: str, at: datetime) -> int:
    """Park waiting chores that nobody here can do; return how many."""
    with transaction.atomic():
        found = list(chores.select_for_update(skip_locked=True))
        for chore in found:
            _park(chore, why, at)
    return len(found)


def release(number: int) -> bool:
    """Let a parked chore be tried again, from the first try; False when it is not parked."""
    with transaction.atomic():
        chore = Chore.objects.parked().filter(pk=number).select_for_update().first()
        if chore is None:
            return False
        chore.delete()
        wishes.put([(chore.kind, chore.key)])
    return True


def _fail(claim: Claim, error: str) -> None:
    now = timezone.now()
    chore = _held(claim).select_for_update().first()
    if chore is None:
        return
    if chore.attempts >= settings.CHORE_TRIES:
        _park(chore, error, now)
        wishes.ring_next(chore.kind, chore.key)
        return
    again = now + pause(chore.attempts)
    waiting = Chore.objects.waiting().filter(kind=chore.kind, key=chore.key)
    if waiting.update(attempts=chore.attempts, last_error=error, due_at=again):
        chore.delete()  # that one asks for the same work, and now carries the count
        return
    _held(claim).update(
        state=Chore.State.WAITING,
        claimed_by=None,
        lease_until=None,
        last_error=error,
        due_at=again,
        rung_at=None,
    )


def _park(chore: Chore, error: str, now: datetime) -> None:
    Chore.objects.parked().filter(kind=chore.kind, key=chore.key).delete()
    Chore.objects.filter(pk=chore.pk).update(
        state=Chore.State.PARKED,
        claimed_by=None,
        lease_until=None,
        last_error=error,
        parked_at=now,
    )


def _held(claim: Claim):
    return Chore.objects.claimed().filter(pk=claim.number, claimed_by=claim.token)


def _lease(now: datetime) -> datetime:
    return now + timedelta(seconds=settings.CHORE_LEASE)


def _died(attempts: int) -> str:
    return f"Whoever did this work died in the middle of it, {attempts} times."
