"""Each constraint of a chore, broken on purpose."""

import uuid
from datetime import UTC, datetime

import pytest
from django.db import IntegrityError, transaction

from survey.chores.models import Chore, Schedule

AT = datetime(2026, 5, 1, 9, tzinfo=UTC)
pytestmark = pytest.mark.django_db


def chore(**fields):
    return Chore.objects.create(
        **{"kind": "dust", "key": "7", "due_at": AT, "created_at": AT} | fields
    )


@pytest.mark.parametrize(
    ("rule", "fields"),
    [
        ("chore_state_known", {"state": "lost"}),
        ("chore_named", {"kind": ""}),
        ("chore_named", {"key": ""}),
        ("chore_leased_while_claimed", {"state": "claimed"}),
        ("chore_leased_while_claimed", {"state": "claimed", "claimed_by": uuid.UUID(int=1)}),
        ("chore_leased_while_claimed", {"state": "claimed", "lease_until": AT}),
        ("chore_leased_while_claimed", {"claimed_by": uuid.UUID(int=1)}),
        ("chore_leased_while_claimed", {"lease_until": AT}),
        ("chore_done_says_when", {"state": "done"}),
        ("chore_done_says_when", {"done_at": AT}),
        ("chore_parked_says_when_and_why", {"state": "parked", "last_error": "no ladder"}),
        ("chore_parked_says_when_and_why", {"state": "parked", "parked_at": AT}),
        ("chore_parked_says_when_and_why", {"parked_at": AT, "last_error": "no ladder"}),
    ],
)
def test_the_database_refuses_a_chore_that_contradicts_itself(rule, fields):
    with pytest.raises(IntegrityError, match=rule):
        chore(**fields)


def test_a_chore_in_each_state_is_accepted_when_it_says_all_it_must():
    chore()
    chore(state="claimed", claimed_by=uuid.UUID(int=1), lease_until=AT)
    chore(state="done", done_at=AT)
    chore(state="parked", parked_at=AT, last_error="no ladder")
    assert Chore.objects.count() == 4


def test_two_chores_never_wait_for_the_same_thing():
    chore()
    with pytest.raises(IntegrityError), transaction.atomic():
        chore()
    chore(key="8")
    chore(kind="polish")
    chore(state="done", done_at=AT)
    chore(state="done", done_at=AT)
    assert Chore.objects.waiting().count() == 3


def test_the_same_work_is_never_in_two_hands():
    held = {"state": "claimed", "lease_until": AT}
    chore(**held, claimed_by=uuid.UUID(int=1))
    with pytest.raises(IntegrityError), transaction.atomic():
        chore(**held, claimed_by=uuid.UUID(int=2))
    chore(key="8", **held, claimed_by=uuid.UUID(int=2))


def test_attempts_are_never_negative():
    with pytest.raises(IntegrityError):
        chore(attempts=-1)


def test_a_schedule_names_its_kind_once():
    with pytest.raises(IntegrityError, match="schedule_kind_named"), transaction.atomic():
        Schedule.objects.create(kind="")
    Schedule.objects.create(kind="dust")
    with pytest.raises(IntegrityError):
        Schedule.objects.create(kind="dust")
