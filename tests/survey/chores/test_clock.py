"""What repeats is written once a period; what should exist is asked for by night."""

from datetime import UTC, datetime, timedelta

import pytest
from django.utils import timezone

from survey.chores import bell, clock, rounds
from survey.chores.actions import write_chore
from survey.chores.models import Chore, Schedule
from survey.chores.registry import Rhythm, every, heals, questions, rhythms

NIGHT, HOUR, FIVE = (
    Rhythm("n", nightly=True),
    Rhythm("h", minutes=60),
    Rhythm("f", minutes=5),
)


@pytest.fixture
def alone():
    """Only the schedules and questions of the test."""
    kept = dict(rhythms), dict(questions)
    rhythms.clear()
    questions.clear()
    yield
    for now, before in zip((rhythms, questions), kept, strict=True):
        now.clear()
        now.update(before)


@pytest.mark.parametrize(
    ("rhythm", "at", "name"),
    [
        (NIGHT, datetime(2026, 7, 2, 5, 59, tzinfo=UTC), "2026-07-01"),  # 01:59 in the zone
        (NIGHT, datetime(2026, 7, 2, 6, 0, tzinfo=UTC), "2026-07-02"),
        (HOUR, datetime(2026, 7, 2, 5, 59, tzinfo=UTC), "2026-07-02T05:00Z"),
        (FIVE, datetime(2026, 7, 2, 5, 59, 59, tzinfo=UTC), "2026-07-02T05:55Z"),
        (FIVE, datetime(2026, 7, 2, 5, 4, tzinfo=UTC), "2026-07-02T05:00Z"),
    ],
)
def test_a_period_is_named_by_its_beginning(settings, rhythm, at, name):
    settings.TIME_ZONE, settings.NIGHT_HOUR = "America/New_York", 2
    assert clock.period(rhythm, at) == name


def test_periods_only_go_forward_even_when_the_clocks_are_put_back(settings):
    settings.TIME_ZONE = "America/New_York"  # 1 November 2026: 01:30 comes twice
    for rhythm in (NIGHT, HOUR, FIVE):
        times = [
            datetime(2026, 10, 31, tzinfo=UTC) + timedelta(minutes=m) for m in range(0, 4320, 5)
        ]
        names = [clock.period(rhythm, at) for at in times]
        assert names == sorted(names)
    assert len({clock.period(NIGHT, at) for at in times}) == 4


@pytest.mark.django_db
def test_a_period_is_written_once_however_often_the_clock_ticks(kind, alone):
    every("hourly")(kind("dust", print))
    at = datetime(2026, 7, 2, 5, 10, tzinfo=UTC)
    assert clock.tick(at) == ["dust"]
    Chore.objects.update(state="done", done_at=at)
    assert clock.tick(at + timedelta(minutes=49)) == []
    assert clock.tick(at - timedelta(hours=3)) == [], "a clock that is behind writes nothing"
    assert clock.tick(at + timedelta(minutes=50)) == ["dust"]
    assert list(Chore.objects.order_by("pk").values_list("key", flat=True)) == [
        "2026-07-02T05:00Z",
        "2026-07-02T06:00Z",
    ]
    assert Schedule.objects.get().period == "2026-07-02T06:00Z"


@pytest.mark.django_db
def test_a_clock_that_was_stopped_catches_up_with_the_latest_period_only(kind, alone):
    every("nightly")(kind("dust", print))
    for day in (2, 9):
        clock.tick(datetime(2026, 7, day, 12, tzinfo=UTC))
        Chore.objects.update(state="done", done_at=timezone.now())
    assert list(Chore.objects.order_by("pk").values_list("key", flat=True)) == [
        "2026-07-02",
        "2026-07-09",
    ]


@pytest.mark.django_db
def test_the_nightly_questions_write_what_is_missing_and_only_that(alone):
    waiting = write_chore(kind="believe", key="1")

    @heals
    def trees_newer_than_their_belief():
        return [("believe", "1"), ("believe", "2"), ("believe", "2")]

    write_chore(kind="reconcile", key="2026-07-02")
    rounds.do_due()
    asked = Chore.objects.filter(kind="believe").order_by("pk")
    assert [(c.key, c.state) for c in asked] == [("1", "waiting"), ("2", "waiting")]
    assert asked[0].pk == waiting
    assert Chore.objects.get(kind="reconcile").state == "done"


@pytest.mark.django_db
def test_a_question_that_breaks_does_not_silence_the_others(alone):
    @heals
    def a_broken_one():
        return [("believe", str(1 / 0))]

    @heals
    def a_sound_one():
        return [("believe", "2")]

    write_chore(kind="reconcile", key="2026-07-02")
    rounds.do_due()
    assert Chore.objects.get(kind="believe").key == "2"
    asked = Chore.objects.get(kind="reconcile")
    assert asked.state == "waiting"
    assert "could not be asked" in asked.last_error


@pytest.mark.django_db
def test_finished_chores_are_forgotten_after_a_while_and_nothing_else(settings):
    old = timezone.now() - timedelta(days=settings.CHORE_KEPT_DAYS, minutes=1)
    common = {"kind": "dust", "created_at": old, "due_at": old}
    Chore.objects.create(key="old", state="done", done_at=old, **common)
    Chore.objects.create(key="new", state="done", done_at=timezone.now(), **common)
    Chore.objects.create(key="sad", state="parked", parked_at=old, last_error="?", **common)
    write_chore(kind="forget_chores", key="2026-07-02")
    rounds.do_due()
    assert set(Chore.objects.filter(kind="dust").values_list("key", flat=True)) == {"new", "sad"}


@pytest.mark.django_db
def test_the_sweep_rings_again_for_what_nobody_took_but_not_into_a_full_queue(
    kind, settings, monkeypatch
):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    heard, unheard = [], 0
    monkeypatch.setattr(bell, "ring", lambda chores: heard.extend(chores) or True)
    monkeypatch.setattr(bell, "unheard", lambda: unheard)
    kind("dust", print)
    number = write_chore(kind="dust", key="1")
    write_chore(kind="juggle", key="1")
    now = timezone.now()
    assert clock.sweep(now) == 0, "it rang a moment ago"
    later = now + clock.RING_AGAIN * 2
    assert clock.sweep(later) == 1
    assert heard == [("dust", number)]
    assert clock.sweep(later) == 0
    unheard = clock.HEARD_ENOUGH
    assert clock.sweep(later + clock.RING_AGAIN * 2) == 0
    unheard = 0
    assert clock.sweep(later + clock.RING_AGAIN * 2) == 1


@pytest.mark.django_db
def test_the_sweep_bears_a_broker_out_of_reach(kind, settings):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    kind("dust", print)
    number = write_chore(kind="dust", key="1")
    Chore.objects.update(rung_at=None)
    bell._line.cache_clear()
    assert clock.sweep(timezone.now()) == 0
    bell._line.cache_clear()
    assert Chore.objects.get(pk=number).rung_at is None


@pytest.mark.django_db
def test_work_no_room_knows_is_parked_after_an_hour_with_its_reason(kind):
    kind("dust", print)
    write_chore(kind="dust", key="1")
    write_chore(kind="juggle", key="1")
    now = timezone.now()
    assert clock.park_strangers(now + timedelta(minutes=59)) == 0
    assert clock.park_strangers(now + timedelta(minutes=61)) == 1
    assert "No room" in Chore.objects.get(state="parked", kind="juggle").last_error
