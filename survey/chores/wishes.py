"""How a wish that something be done becomes a row, once."""

from collections.abc import Iterable
from datetime import datetime
from functools import partial

from django.conf import settings
from django.db import connection, transaction
from django.utils import timezone

from survey.chores import bell
from survey.chores.models import Chore

RINGS_A_COMMIT = 10  # a message costs about a millisecond of the request; the sweep rings the rest


def put(pairs: Iterable[tuple[str, str]], *, due_at: datetime | None = None) -> list[int]:
    """Make sure that a chore waits for each kind and key; return their numbers.

    Joins the caller's transaction. A chore that waits already is used, and made due earlier when
    this wish is more urgent. A claimed one is not: whoever holds it may have read the record
    before the caller changed it. For the same reason a waiting row that is used stays out of
    every runner's reach until the caller's transaction ends.
    """
    wanted = sorted(set(pairs))
    for kind, key in wanted:
        if not kind or not key or len(kind) > 60 or len(key) > 150:
            raise ValueError(f"Not a chore: kind {kind!r}, key {key!r}.")
    if not wanted:
        return []
    now = timezone.now()
    due = due_at or now
    rung = wanted[:RINGS_A_COMMIT] if settings.REDIS_URL and due <= now else []
    with transaction.atomic(savepoint=False):
        held: dict[tuple[str, str], tuple[int, datetime | None]] = {}
        missing = wanted
        while missing:  # a runner may take a row between the two steps: then a new one is put
            Chore.objects.bulk_create(
                [
                    Chore(
                        kind=kind,
                        key=key,
                        due_at=due,
                        created_at=now,
                        rung_at=now if (kind, key) in rung else None,
                    )
                    for kind, key in missing
                ],
                ignore_conflicts=True,
            )
            held |= _hold_waiting(missing)
            missing = [pair for pair in wanted if pair not in held]
        numbers = [held[pair][0] for pair in wanted]
        Chore.objects.filter(pk__in=numbers, due_at__gt=due).update(due_at=due)
        if rung:
            # one that waited already was rung for then; if that was lost, the sweep rings again
            chores = [(pair[0], held[pair][0]) for pair in rung if held[pair][1] == now]
            transaction.on_commit(partial(bell.ring, chores))
    return numbers


def ring_next(kind: str, key: str) -> None:
    """After this transaction, ring for the wish that had to wait while the same was being done."""
    if not settings.REDIS_URL:
        return
    waiting = Chore.objects.waiting().filter(kind=kind, key=key, due_at__lte=timezone.now())
    number = waiting.values_list("pk", flat=True).first()
    if number is not None:
        transaction.on_commit(partial(bell.ring, [(kind, number)]))


def _hold_waiting(
    pairs: list[tuple[str, str]],
) -> dict[tuple[str, str], tuple[int, datetime | None]]:
    """The waiting rows of these pairs, kept from being claimed until the transaction ends.

    Returns the number of each and when it was last rung for. Others who wish for the same rows may
    hold them at the same time (a shared lock), so wishes do not queue behind each other. SQLite has
    one writer at a time and needs no lock.
    """
    keys_of: dict[str, list[str]] = {}
    for kind, key in pairs:
        keys_of.setdefault(kind, []).append(key)
    held: dict[tuple[str, str], tuple[int, datetime | None]] = {}
    with connection.cursor() as cursor:
        for kind, keys in keys_of.items():
            waiting = Chore.objects.waiting().filter(kind=kind, key__in=keys).order_by("pk")
            rows = waiting.values_list("kind", "key", "pk", "rung_at")
            if connection.features.has_select_for_update:
                sql, params = rows.query.sql_with_params()
                cursor.execute(f"{sql} FOR KEY SHARE", params)
                rows = cursor.fetchall()
            held |= {(kind, key): (number, rung_at) for kind, key, number, rung_at in rows}
    return held
