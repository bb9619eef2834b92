"""Staff put the news of a site that turned down aside, with a reason."""

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.condition.actions.turns import put_turn_aside
from survey.condition.models import Turn
from tests.factories import NOON, PersonFactory
from tests.survey.belief_rows import JUNE, turn

pytestmark = pytest.mark.django_db


def test_it_leaves_the_desk_and_still_stands():
    row = turn()
    put_turn_aside(turn=row, reason=" Rings are ordered. ", by=PersonFactory(), at=NOON)
    row.refresh_from_db()
    assert row.put_aside_reason == "Rings are ordered."
    assert not Turn.objects.to_be_seen().exists()
    assert Turn.objects.standing().get() == row


def test_the_first_reason_stays():
    row, somebody = turn(), PersonFactory()
    put_turn_aside(turn=row, reason="first", by=somebody, at=NOON)
    assert (
        put_turn_aside(turn=row, reason="second", by=somebody, at=NOON).put_aside_reason == "first"
    )


@pytest.mark.parametrize("reason", ["", "  ", "x" * 401])
def test_a_reason_is_needed(reason):
    with pytest.raises(ValidationError):
        put_turn_aside(turn=turn(), reason=reason, by=PersonFactory(), at=NOON)


def test_a_volunteer_may_not():
    with pytest.raises(PermissionDenied):
        put_turn_aside(turn=turn(), reason="x", by=PersonFactory(role="volunteer"), at=NOON)


def test_a_turn_that_is_over_is_not_on_the_desk():
    turn(over_on=JUNE)
    assert not Turn.objects.to_be_seen().exists()
