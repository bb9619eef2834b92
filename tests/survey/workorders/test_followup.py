"""A later look says whether the work helped, and confirms the order."""

from datetime import date, timedelta

import pytest

from survey.audit.models import Entry
from survey.people.actions import observer_of
from survey.trees.actions.look import record_look
from survey.trees.models import Look
from survey.workorders.tasks import confirm_orders, orders_that_were_seen
from tests.factories import (
    NOON,
    TODAY,
    LookFactory,
    OrderLineFactory,
    PersonFactory,
    TreeFactory,
    WorkOrderFactory,
)
from tests.survey.test_constraints import care

pytestmark = pytest.mark.django_db

DONE = date(2026, 4, 1)


def done_order(*trees, code="water"):
    order = WorkOrderFactory(state="done", done_on=DONE, done_by="Team A", look_due=TODAY)
    for tree in trees:
        given = care(care=code)
        OrderLineFactory(order=order, tree=tree, care=code, outcome="given", given=given)
    return order


def look_at(tree, *, days=30, **more):
    return LookFactory(tree=tree, day=DONE + timedelta(days=days), **more)


def judged(order):
    for line in order.lines.all():
        confirm_orders(str(line.tree_id))
    order.refresh_from_db()
    return order.state


@pytest.mark.parametrize(
    ("channel", "days", "state"),
    [
        ("followup", 1, "confirmed"),
        ("followup", 0, "done"),
        ("walk", 27, "done"),
        ("walk", 28, "confirmed"),
        ("crew", 28, "confirmed"),
        ("registration", 40, "done"),
        ("complaint", 40, "done"),
    ],
)
def test_a_look_confirms_when_it_can_judge_the_work(channel, days, state):
    tree = TreeFactory()
    order = done_order(tree)
    look_at(tree, channel=channel, days=days)
    assert judged(order) == state


@pytest.mark.parametrize("more", [{"trained": False}, {"presence": "not_seen", "condition": ""}])
def test_a_look_that_saw_too_little_confirms_nothing(more):
    tree = TreeFactory()
    order = done_order(tree)
    look_at(tree, **more)
    assert judged(order) == "done"


def test_an_order_is_confirmed_when_every_tree_was_seen_again():
    first, second = TreeFactory(), TreeFactory()
    order = done_order(first, second)
    look = look_at(first)
    assert judged(order) == "done"
    assert order.lines.get(tree=first).look == look
    look_at(second)
    assert judged(order) == "confirmed"
    assert order.confirmed_at is not None
    assert Entry.objects.get(act="order.confirmed").who == "nobody"


def test_a_line_that_was_not_done_needs_no_look():
    tree = TreeFactory()
    order = done_order(tree)
    OrderLineFactory(order=order, outcome="not_done", remark="wet")
    look_at(tree)
    assert judged(order) == "confirmed"


def test_a_new_tree_is_looked_at_in_place_of_the_one_it_replaces():
    old = TreeFactory(left="died", left_from=date(2026, 1, 1), left_to=date(2026, 2, 1))
    new = TreeFactory(replaces=old)
    order = done_order(old, code="replace")
    look_at(new)
    confirm_orders(str(new.pk))
    order.refresh_from_db()
    assert order.state == "confirmed"


def test_a_corrected_look_is_replaced_by_its_correction():
    tree = TreeFactory()
    order = done_order(tree)
    old = look_at(tree)
    assert judged(order) == "confirmed"
    new = look_at(tree, supersedes=old, condition="slipping")
    assert judged(order) == "confirmed"
    assert order.lines.get().look == new


def test_a_look_that_turns_out_not_to_count_takes_the_confirmation_back():
    tree = TreeFactory()
    order = done_order(tree)
    old = look_at(tree)
    judged(order)
    look_at(tree, supersedes=old, presence="not_seen", condition="")
    assert judged(order) == "done"
    assert order.confirmed_at is None
    assert Entry.objects.filter(act="order.unconfirmed").exists()


def test_the_look_itself_sets_the_chore_going_that_confirms(django_capture_on_commit_callbacks):
    volunteer = PersonFactory(role="volunteer")
    tree = TreeFactory()
    order = done_order(tree)
    record_look(
        tree=tree,
        observer=observer_of(volunteer),
        trained=True,
        day=TODAY,
        channel=Look.Channel.FOLLOWUP,
        presence="standing",
        condition="holding",
        by=volunteer,
        at=NOON,
    )
    confirm_orders(str(tree.pk))
    order.refresh_from_db()
    assert order.state == "confirmed"


def test_the_nightly_question_finds_what_was_seen_and_not_confirmed():
    seen, unseen, early = TreeFactory(), TreeFactory(), TreeFactory()
    done_order(seen), done_order(unseen), done_order(early)
    look_at(seen)
    look_at(early, days=10)
    assert list(orders_that_were_seen()) == [("confirm_orders", str(seen.pk))]


def test_the_nightly_question_finds_corrected_looks():
    tree = TreeFactory()
    order = done_order(tree)
    old = look_at(tree)
    judged(order)
    look_at(tree, supersedes=old, condition="dead")
    assert list(orders_that_were_seen()) == [("confirm_orders", str(tree.pk))]


def test_a_tree_that_is_no_longer_there_is_no_trouble():
    confirm_orders("999999")
