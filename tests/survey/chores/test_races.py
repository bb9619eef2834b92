"""Many at once, on a database that lets many write at once."""

import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection, connections, transaction
from django.utils import timezone

from survey.chores import clock, leases, runner
from survey.chores.actions import write_chore
from survey.chores.models import Chore
from survey.chores.registry import every, handlers

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


@pytest.fixture(autouse=True)
def _on_postgresql():
    assert connection.vendor == "postgresql", "run these by tests/launch.py"


def at_once(work, times=8):
    """Call `work(n)` from that many threads at the same moment; return what they return."""
    start = threading.Barrier(times)

    def one(n):
        try:
            start.wait(10)
            return work(n)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(times) as pool:
        return list(pool.map(one, range(times)))


def test_fifty_rounds_of_eight_runners_have_one_winner_each():
    for n in range(50):
        number = write_chore(kind="dust", key=str(n))
        claims = at_once(lambda _, number=number: leases.claim(number))
        assert sum(claim is not None for claim in claims) == 1


def test_runners_that_race_do_the_work_once(kind):
    done = []
    kind("dust", done.append)
    numbers = [write_chore(kind="dust", key=str(n)) for n in range(20)]
    at_once(lambda _: [runner.perform(number, handlers["dust"]) for number in numbers])
    assert sorted(done, key=int) == [str(n) for n in range(20)]


def test_an_expired_claim_has_one_heir():
    number = write_chore(kind="dust", key="1")
    leases.claim(number)
    Chore.objects.update(lease_until=timezone.now() - timezone.timedelta(seconds=1))
    heirs = at_once(lambda _: leases.claim(number))
    assert sum(claim is not None for claim in heirs) == 1


def test_the_same_work_is_never_done_by_two_at_once(kind):
    inside, most = [], []

    def work(key):
        inside.append(key)
        most.append(len(inside))
        time.sleep(0.05)
        inside.pop()

    kind("dust", work)

    def wish_and_do(_):
        for _ in range(10):
            runner.perform(write_chore(kind="dust", key="1"), handlers["dust"])

    at_once(wish_and_do, times=6)
    assert max(most) == 1
    assert len(most) > 1


def test_wishes_at_the_same_moment_are_one_chore():
    for n in range(20):
        numbers = at_once(lambda _, n=n: write_chore(kind="dust", key=str(n)))
        assert len(set(numbers)) == 1
    assert Chore.objects.count() == 20


def test_a_wish_that_found_a_waiting_chore_keeps_it_from_runners_until_its_commit():
    """Otherwise the runner would read the record before the change, and nothing would be left."""
    number = write_chore(kind="dust", key="1")
    with transaction.atomic():
        assert write_chore(kind="dust", key="1") == number
        assert at_once(lambda _: leases.claim(number), times=2) == [None, None]
        others = at_once(lambda _: write_chore(kind="dust", key="1"), times=2)
        assert others == [number, number], "other wishes do not wait for this one"
    assert leases.claim(number)


def test_a_wish_made_while_the_chore_is_being_claimed_is_never_swallowed():
    for n in range(30):
        number = write_chore(kind="dust", key=str(n))
        claimed, wished = at_once(
            lambda who, number=number, n=n: (
                leases.claim(number) if who == 0 else write_chore(kind="dust", key=str(n))
            ),
            times=2,
        )
        states = set(Chore.objects.filter(kind="dust", key=str(n)).values_list("state", "pk"))
        if claimed and wished != number:
            assert states == {("claimed", number), ("waiting", wished)}
        else:  # the wish held the row first: it waits still, or was claimed after the wish's end
            assert (wished, states) in (
                (number, {("waiting", number)}),
                (number, {("claimed", number)}),
            )


def test_a_failure_and_a_new_wish_at_the_same_moment_leave_one_waiting_chore():
    for n in range(20):
        claim = leases.claim(write_chore(kind="dust", key=str(n)))
        at_once(
            lambda who, claim=claim, n=n: (
                leases.fail(claim, "no ladder") if who else write_chore(kind="dust", key=str(n))
            ),
            times=2,
        )
        chore = Chore.objects.get(kind="dust", key=str(n))
        assert (chore.state, chore.attempts) == ("waiting", 1)


def test_many_clocks_write_a_period_once(kind):
    every("hourly")(kind("dust", print))
    now = timezone.now()
    for hour in range(10):
        later = now + timezone.timedelta(hours=hour)
        at_once(lambda _, later=later: clock.tick(later))
    keys = list(Chore.objects.filter(kind="dust").values_list("key", flat=True))
    assert len(keys) == len(set(keys)) == 10


def test_a_heartbeat_goes_on_while_the_work_holds_its_transaction(kind, settings):
    settings.CHORE_LEASE = 0.6

    def work(key):
        Chore.objects.exists()
        time.sleep(2)

    kind("dust", work)
    number = write_chore(kind="dust", key="1")
    thieves = []

    def steal(who):
        if who == 0:
            return runner.perform(number, handlers["dust"])
        for _ in range(8):
            time.sleep(0.2)
            thieves.append(leases.claim(number))
        return None

    assert at_once(steal, times=2)[0] is True
    assert thieves == [None] * 8
