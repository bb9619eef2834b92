"""Trained staff lay down a condition with a reason, and take it back; nothing is edited."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.chores.models import Chore
from survey.condition.actions.overrule import overrule_belief, withdraw_overruling
from survey.condition.models import Overruling
from survey.people.models import Person
from tests.factories import NOON, TODAY, PersonFactory, TreeFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def tree():
    return TreeFactory()


def overrule(tree, by=None, **more):
    fields = {"state": "holding", "day": TODAY, "reason": "Buds are green."} | more
    return overrule_belief(tree=tree, by=by or PersonFactory(), at=NOON, **fields)


def test_it_is_kept_with_who_when_and_why_and_the_tree_is_weighed_again(tree):
    somebody = PersonFactory(name="Wren Alder")
    made = overrule(tree, somebody)
    assert (made.by_name, made.reason, made.at) == ("Wren Alder", "Buds are green.", NOON)
    assert Chore.objects.filter(kind="believe_tree", key=str(tree.pk)).exists()
    assert Entry.objects.filter(act="belief.overruled", subject=f"tree:{tree.ref}").exists()


def test_a_second_one_withdraws_the_first_and_keeps_it(tree):
    first = overrule(tree)
    second = overrule(tree, state="dead", reason="Brown to the base.")
    first.refresh_from_db()
    assert first.withdrawn_reason == "Brown to the base."
    assert list(Overruling.objects.standing()) == [second]
    assert Overruling.objects.count() == 2


def test_it_is_taken_back_with_a_reason_once(tree):
    made, other = overrule(tree), PersonFactory()
    taken = withdraw_overruling(overruling=made, reason="Wrong tree.", by=other, at=NOON)
    again = withdraw_overruling(overruling=made, reason="Again.", by=other, at=NOON)
    assert taken.withdrawn_reason == again.withdrawn_reason == "Wrong tree."
    assert Entry.objects.filter(act="belief.overruling_withdrawn").count() == 1


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("state", "asleep"),
        ("state", ""),
        ("reason", "   "),
        ("reason", "x" * 401),
        ("day", TODAY + timedelta(days=1)),
        ("day", date(2023, 11, 13)),
    ],
)
def test_what_cannot_be_is_refused_by_its_field(tree, field, value):
    with pytest.raises(ValidationError) as refused:
        overrule(tree, **{field: value})
    assert field in refused.value.message_dict
    assert not Overruling.objects.exists()


@pytest.mark.parametrize("role", [Person.Role.VOLUNTEER, Person.Role.CREW, Person.Role.LIAISON])
def test_only_staff_may(tree, role):
    with pytest.raises(PermissionDenied):
        overrule(tree, PersonFactory(role=role))
    made = overrule(tree)
    with pytest.raises(PermissionDenied):
        withdraw_overruling(overruling=made, reason="x", by=PersonFactory(role=role), at=NOON)


def test_withdrawing_needs_a_reason(tree):
    made = overrule(tree)
    with pytest.raises(ValidationError):
        withdraw_overruling(overruling=made, reason=" ", by=PersonFactory(), at=NOON)
    made.refresh_from_db()
    assert made.withdrawn_at is None
