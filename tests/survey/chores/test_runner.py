"""A chore is done with its results or not at all."""

import time

import pytest
from django.contrib.sessions.models import Session
from django.db import connection
from django.utils import timezone

from survey.chores import leases, rounds, runner
from survey.chores.actions import write_chore
from survey.chores.models import Chore
from survey.chores.registry import every, handlers, handles, heals


def leave_a_trace(name):
    """Any row of any table will do to see what a commit kept."""
    Session.objects.create(session_key=name, session_data="", expire_date=timezone.now())


def traces():
    return set(Session.objects.values_list("session_key", flat=True))


@pytest.mark.django_db
def test_due_work_is_done_by_its_celery_task(kind):
    kind("dust", leave_a_trace)
    write_chore(kind="dust", key="shelf")
    assert rounds.do_due() == 1
    assert traces() == {"shelf"}
    assert Chore.objects.get().state == "done"
    assert rounds.do_due() == 0


@pytest.mark.django_db
def test_what_failing_work_wrote_is_taken_back_and_its_error_kept(kind):
    def fall(key):
        leave_a_trace(key)
        raise RuntimeError("the ladder fell")

    kind("dust", fall)
    number = write_chore(kind="dust", key="shelf")
    assert runner.perform(number, handlers["dust"]) is False
    assert traces() == set()
    chore = Chore.objects.get()
    assert (chore.state, chore.attempts) == ("waiting", 1)
    assert chore.last_error.startswith("RuntimeError: the ladder fell")
    assert "test_runner.py" in chore.last_error


@pytest.mark.django_db
def test_a_runner_that_lost_its_lease_keeps_nothing(kind):
    def doze(key):
        leave_a_trace(key)
        Chore.objects.update(lease_until=timezone.now() - timezone.timedelta(seconds=1))
        assert leases.claim(Chore.objects.get().pk), "somebody else takes over meanwhile"

    kind("dust", doze)
    assert runner.perform(write_chore(kind="dust", key="shelf"), handlers["dust"]) is False
    assert traces() == set()


@pytest.mark.django_db(transaction=True)
def test_computing_holds_no_transaction_and_hands_its_result_to_the_work(kind):
    seen = {}

    def compute(key):
        seen["computing"] = connection.in_atomic_block
        return key.upper()

    def work(key, result):
        seen["working"] = connection.in_atomic_block
        leave_a_trace(result)

    kind("dust", work, computes=compute)
    assert runner.perform(write_chore(kind="dust", key="shelf"), handlers["dust"])
    assert seen == {"computing": False, "working": True}
    assert traces() == {"SHELF"}


@pytest.mark.django_db(transaction=True)
def test_long_work_keeps_its_claim_by_heartbeat(kind, settings):
    settings.CHORE_LEASE = 0.6
    taken = []

    def compute(key):
        for _ in range(6):
            time.sleep(0.3)
            taken.append(leases.claim(Chore.objects.get().pk))

    kind("dust", lambda key, computed: leave_a_trace(key), computes=compute)
    assert runner.perform(write_chore(kind="dust", key="shelf"), handlers["dust"])
    assert taken == [None] * 6
    assert traces() == {"shelf"}


@pytest.mark.django_db(transaction=True)
def test_work_that_hangs_is_given_to_others(kind, settings):
    settings.CHORE_LEASE = 0.3
    settings.CHORE_LONGEST = 0.3
    taken = []

    def compute(key):
        time.sleep(1.2)
        taken.append(leases.claim(Chore.objects.get().pk))

    kind("dust", lambda key, computed: leave_a_trace(key), computes=compute)
    assert not runner.perform(write_chore(kind="dust", key="shelf"), handlers["dust"])
    assert taken[0] is not None
    assert traces() == set()


@pytest.mark.django_db
def test_no_runner_touches_a_kind_it_does_not_know():
    write_chore(kind="juggle", key="1")
    assert rounds.do_due() == 0
    assert Chore.objects.get().state == "waiting"


def test_two_functions_never_claim_one_kind(kind):
    kind("dust", leave_a_trace)
    with pytest.raises(ValueError, match="Two functions"):
        kind("dust", print)


def test_a_rhythm_must_be_one_that_exists(kind):
    for wrong in ({}, {"rhythm": "hourly", "minutes": 5}, {"rhythm": "weekly"}, {"minutes": 7}):
        with pytest.raises(ValueError, match=r"rhythm|minutes"):
            every(**wrong)
    with pytest.raises(ValueError, match="handles no kind"):
        every("nightly")(leave_a_trace)


def test_the_decorators_give_back_the_function_itself(kind):
    def work(key): ...

    def question():
        return []

    kind("dust", print)
    assert every("hourly")(handles("polish")(work)) is work
    assert heals(question) is question
