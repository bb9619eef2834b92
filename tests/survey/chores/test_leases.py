"""Claims, heartbeats, failures and parking."""

from datetime import timedelta

import pytest
from django.db import transaction
from django.utils import timezone

from survey.chores import bell, leases
from survey.chores.actions import write_chore
from survey.chores.models import Chore

pytestmark = pytest.mark.django_db


def expire(number):
    Chore.objects.filter(pk=number).update(lease_until=timezone.now() - timedelta(seconds=1))


def make_due(number):
    Chore.objects.filter(pk=number).update(due_at=timezone.now() - timedelta(seconds=1))


def test_a_chore_is_claimed_once():
    number = write_chore(kind="dust", key="7")
    claim = leases.claim(number)
    assert (claim.kind, claim.key, claim.attempt) == ("dust", "7", 1)
    assert leases.claim(number) is None


def test_a_chore_is_not_claimed_before_it_is_due_nor_after_it_is_done():
    number = write_chore(kind="dust", key="7", due_at=timezone.now() + timedelta(minutes=10))
    assert leases.claim(number) is None
    make_due(number)
    claim = leases.claim(number)
    leases.finish(claim)
    assert leases.claim(number) is None
    assert leases.claim(10**9) is None


def test_a_claim_whose_lease_ran_out_goes_to_the_next_and_the_first_cannot_finish():
    number = write_chore(kind="dust", key="7")
    slow = leases.claim(number)
    expire(number)
    quick = leases.claim(number)
    assert quick.attempt == 2
    assert not leases.heartbeat(slow)
    with pytest.raises(leases.LeaseLost), transaction.atomic():
        leases.finish(slow)
    leases.fail(slow, "too late to say")
    assert Chore.objects.get().state == "claimed"
    assert leases.heartbeat(quick)
    leases.finish(quick)
    assert Chore.objects.get().state == "done"


def test_the_next_wish_waits_while_the_same_work_is_being_done_and_is_rung_for_afterwards(
    settings, monkeypatch, django_capture_on_commit_callbacks
):
    """A slow computation that began first would otherwise write its older result last."""
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    heard = []
    monkeypatch.setattr(bell, "ring", heard.extend)
    first = leases.claim(write_chore(kind="dust", key="7"))
    second = write_chore(kind="dust", key="7")
    assert leases.claim(second) is None
    expire(first.number)
    assert leases.claim(second) is None, "the one whose runner died comes first"
    again = leases.claim(first.number)
    with django_capture_on_commit_callbacks(execute=True):
        leases.finish(again)
    assert heard == [("dust", second)]
    assert leases.claim(second)


def test_a_heartbeat_makes_the_lease_longer(settings):
    number = write_chore(kind="dust", key="7")
    claim = leases.claim(number)
    expire(number)
    assert leases.heartbeat(claim)
    assert Chore.objects.get().lease_until > timezone.now()
    assert leases.claim(number) is None


def test_a_failure_waits_longer_each_time_and_is_parked_after_the_last_try(settings):
    number = write_chore(kind="dust", key="7")
    waits = []
    for _ in range(settings.CHORE_TRIES):
        make_due(number)
        before = timezone.now()
        leases.fail(leases.claim(number), "no ladder")
        waits.append(round((Chore.objects.get().due_at - before).total_seconds()))
    assert waits[:4] == [5, 20, 80, 320]
    parked = Chore.objects.get()
    assert (parked.state, parked.attempts, parked.last_error) == ("parked", 5, "no ladder")
    assert leases.claim(number) is None


def test_work_that_kills_its_runner_every_time_is_parked_too(settings):
    number = write_chore(kind="dust", key="7")
    for _ in range(settings.CHORE_TRIES):
        assert leases.claim(number)
        expire(number)
    assert leases.claim(number) is None
    parked = Chore.objects.get()
    assert parked.state == "parked"
    assert "died" in parked.last_error


def test_a_failure_joins_the_wish_that_came_meanwhile():
    number = write_chore(kind="dust", key="7")
    claim = leases.claim(number)
    newer = write_chore(kind="dust", key="7")
    leases.fail(claim, "no ladder")
    chore = Chore.objects.get()
    assert (chore.pk, chore.state, chore.attempts) == (newer, "waiting", 1)
    assert chore.due_at > timezone.now()


def test_a_last_failure_leaves_the_newer_wish_its_own_tries(settings):
    settings.CHORE_TRIES = 1
    claim = leases.claim(write_chore(kind="dust", key="7"))
    newer = write_chore(kind="dust", key="7")
    leases.fail(claim, "no ladder")
    assert Chore.objects.get(state="parked").last_error == "no ladder"
    assert Chore.objects.get(state="waiting").pk == newer


def test_one_trouble_is_parked_once_and_cleared_by_the_next_success(settings):
    settings.CHORE_TRIES = 1
    for error in ("no ladder", "still no ladder"):
        leases.fail(leases.claim(write_chore(kind="dust", key="7")), error)
    assert Chore.objects.get(state="parked").last_error == "still no ladder"
    leases.finish(leases.claim(write_chore(kind="dust", key="7")))
    assert set(Chore.objects.values_list("state", flat=True)) == {"done"}


def test_an_error_is_kept_short_and_never_empty(settings):
    settings.CHORE_TRIES = 1
    leases.fail(leases.claim(write_chore(kind="dust", key="7")), "  ")
    leases.fail(leases.claim(write_chore(kind="dust", key="8")), "x" * 100_000)
    errors = Chore.objects.order_by("key").values_list("last_error", flat=True)
    assert errors[0]
    assert len(errors[1]) == leases.ERROR_KEPT
