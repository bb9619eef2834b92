"""How the other rooms ask for work, and how people set parked work going again."""

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from survey.audit.log import record
from survey.chores import leases, wishes
from survey.chores.models import Chore


def write_chore(*, kind: str, key: str, due_at: datetime | None = None) -> int:
    """Make sure that a chore of this kind waits for this key; return its number.

    Joins the caller's transaction: no commit, no chore. While one waits, a second wish is the
    same chore, due at the earlier of both times. A chore that is being done does not count: it
    may have begun before the caller's change.
    """
    return wishes.put([(kind, key)], due_at=due_at)[0]


def write_chores(pairs: Iterable[tuple[str, str]], *, due_at: datetime | None = None) -> list[int]:
    """The same for many pairs of kind and key at once; numbers in the order of the sorted pairs."""
    return wishes.put(pairs, due_at=due_at)


@transaction.atomic
def retry_chore(*, number: int, by, at: datetime) -> bool:
    """Let a parked chore be tried again now; False when it is not parked any more.

    Whether `by` may do this is for the caller to ask: this room knows no roles.
    """
    chore = Chore.objects.filter(pk=number).first()
    if chore is None or not leases.release(number):
        return False
    record("chore.retried", subject=f"chore:{chore.kind}", at=at, by=by, key=chore.key)
    return True
