"""Wishes become rows: once, with the caller's commit, and never too late."""

from datetime import UTC, datetime, timedelta

import pytest
from django.db import transaction
from django.utils import timezone

from survey.audit.models import Entry
from survey.chores import bell, leases, wishes
from survey.chores.actions import retry_chore, write_chore, write_chores
from survey.chores.models import Chore

pytestmark = pytest.mark.django_db


def test_a_hundred_wishes_for_one_tree_are_one_chore():
    numbers = {write_chore(kind="believe", key="4012") for _ in range(100)}
    assert len(numbers) == 1
    assert Chore.objects.count() == 1


def test_a_chore_that_is_being_done_does_not_answer_a_new_wish():
    first = write_chore(kind="believe", key="4012")
    assert leases.claim(first)
    second = write_chore(kind="believe", key="4012")
    assert second != first
    assert write_chore(kind="believe", key="4012") == second


def test_a_more_urgent_wish_makes_the_waiting_chore_due_earlier_and_a_lazier_one_does_not():
    later, sooner = (timezone.now() + timedelta(minutes=m) for m in (10, 5))
    number = write_chore(kind="answer", key="3", due_at=later)
    write_chore(kind="answer", key="3", due_at=sooner)
    write_chore(kind="answer", key="3", due_at=later)
    assert Chore.objects.get(pk=number).due_at == sooner


def test_nothing_is_left_of_a_wish_whose_transaction_failed():
    def break_off():
        with transaction.atomic():
            write_chore(kind="believe", key="4012")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        break_off()
    assert not Chore.objects.exists()


@pytest.mark.parametrize(
    ("kind", "key"), [("", "1"), ("believe", ""), ("b" * 61, "1"), ("believe", "k" * 151)]
)
def test_a_wish_without_a_proper_name_is_refused_before_the_database_sees_it(kind, key):
    with pytest.raises(ValueError, match="Not a chore"):
        write_chore(kind=kind, key=key)
    assert not Chore.objects.exists()


def test_many_wishes_at_once_are_written_in_few_questions(django_assert_max_num_queries):
    write_chore(kind="believe", key="1")
    with django_assert_max_num_queries(6):
        numbers = write_chores([("believe", str(n)) for n in range(50)] + [("roll_up", "9")] * 2)
    assert len(set(numbers)) == 51
    assert Chore.objects.count() == 51
    assert write_chores([]) == []


def test_the_bell_is_rung_after_the_commit_and_only_for_what_is_due(
    settings, monkeypatch, django_capture_on_commit_callbacks
):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    heard = []
    monkeypatch.setattr(bell, "ring", heard.extend)
    with django_capture_on_commit_callbacks(execute=True):
        number = write_chore(kind="believe", key="1")
        write_chore(kind="answer", key="2", due_at=timezone.now() + timedelta(minutes=10))
        assert heard == []
    assert heard == [("believe", number)]


def test_what_waits_already_is_not_rung_for_again(transactional_db, settings, monkeypatch):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    heard = []
    monkeypatch.setattr(bell, "ring", heard.extend)
    first = write_chore(kind="believe", key="1")
    both = write_chores([("believe", "1"), ("believe", "2")])
    assert heard == [("believe", first), ("believe", both[1])]


def test_of_many_wishes_a_few_are_rung_for_at_once_and_the_sweep_rings_the_rest(
    settings, monkeypatch, django_capture_on_commit_callbacks
):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    heard = []
    monkeypatch.setattr(bell, "ring", heard.extend)
    with django_capture_on_commit_callbacks(execute=True):
        numbers = write_chores(("believe", f"{n:03d}") for n in range(100))
    assert [number for _, number in heard] == numbers[: wishes.RINGS_A_COMMIT]
    unanswered = Chore.objects.unanswered(timezone.now(), timedelta(seconds=20))
    assert set(unanswered.values_list("pk", flat=True)) == set(numbers[wishes.RINGS_A_COMMIT :])


def test_a_broker_out_of_reach_costs_the_caller_little_and_never_an_error(settings, monkeypatch):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    monkeypatch.setitem(bell._quiet, "until", 0.0)
    bell._line.cache_clear()
    before = timezone.now()
    assert bell.ring([("believe", 1)]) is False
    assert bell.ring([("believe", 2)]) is False, "the second caller does not even try"
    assert timezone.now() - before < timedelta(seconds=3)
    bell._line.cache_clear()


def test_a_parked_chore_is_retried_from_the_first_try_and_leaves_an_audit_line():
    at = datetime(2026, 5, 1, tzinfo=UTC)
    parked = Chore.objects.create(
        kind="dust", key="7", state="parked", due_at=at, created_at=at, parked_at=at,
        attempts=5, last_error="no ladder",
    )  # fmt: skip
    assert retry_chore(number=parked.pk, by=None, at=at)
    waiting = Chore.objects.get()
    assert (waiting.state, waiting.attempts, waiting.key) == ("waiting", 0, "7")
    assert Entry.objects.get().act == "chore.retried"
    assert not retry_chore(number=parked.pk, by=None, at=at)
    assert not retry_chore(number=10**9, by=None, at=at)
    assert Entry.objects.count() == 1


def test_retrying_joins_a_wish_that_waits_already():
    at = datetime(2026, 5, 1, tzinfo=UTC)
    parked = Chore.objects.create(
        kind="dust", key="7", state="parked", due_at=at, created_at=at, parked_at=at,
        last_error="no ladder",
    )  # fmt: skip
    waiting = write_chore(kind="dust", key="7")
    assert retry_chore(number=parked.pk, by=None, at=at)
    assert list(Chore.objects.values_list("pk", "state")) == [(waiting, "waiting")]
