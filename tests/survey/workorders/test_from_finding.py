"""Orders drafted from a finding."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.audit.outdated import Outdated
from survey.trees.models import CareGiven
from survey.workorders.actions.from_finding import draft_finding_order, trees_without
from survey.workorders.models import WorkOrder
from tests import factories as make
from tests.factories import NOON, TODAY
from tests.survey.cause_rows import finding

pytestmark = pytest.mark.django_db


@pytest.fixture
def found():
    row = finding()
    row.trees.set([make.TreeFactory(tag=f"040{n}") for n in range(1, 5)])
    return row


def draft(row, **more):
    asked = {"version": row.version, "care": "mulch_ring", "why": "Bark is gone at the base."}
    by = more.pop("by", None) or make.PersonFactory()
    return draft_finding_order(**{"finding": row, "by": by, "at": NOON} | asked | more)


def test_one_order_for_every_tree_names_the_finding_and_is_only_a_draft(found):
    order = draft(found)
    assert order.finding == found
    assert order.state == WorkOrder.State.DRAFTED
    assert [line.tree.tag for line in order.lines.all()] == ["0401", "0402", "0403", "0404"]
    assert {line.care for line in order.lines.all()} == {"mulch_ring"}
    assert (order.window_from, order.window_to) == (TODAY, TODAY + timedelta(days=28))
    assert Entry.objects.filter(act="order.drafted").count() == 1


def test_trees_that_have_it_wait_for_it_or_are_gone_are_left_out(found):
    ringed, waiting, gone, left = found.trees.order_by("tag")
    CareGiven.objects.create(
        tree=ringed,
        care="mulch_ring",
        given_from=date(2026, 4, 1),
        given_to=date(2026, 4, 1),
        given_precision="day",
        entered_at=NOON,
    )
    make.OrderLineFactory(tree=waiting, care="mulch_ring")
    gone.left, gone.left_from, gone.left_to = "died", TODAY, TODAY
    gone.save()
    assert trees_without(found, "mulch_ring") == [left]
    assert set(trees_without(found, "look_again")) == {ringed, waiting, left}


def test_a_second_order_for_the_same_trees_is_refused(found):
    draft(found)
    with pytest.raises(ValidationError) as refused:
        draft(found)
    assert "lines" in refused.value.message_dict
    assert WorkOrder.objects.count() == 1


def test_a_ring_of_years_ago_does_not_count(found):
    for tree in found.trees.all():
        CareGiven.objects.create(
            tree=tree,
            care="mulch_ring",
            given_from=date(2024, 4, 1),
            given_to=date(2024, 4, 1),
            given_precision="day",
            entered_at=NOON,
        )
    assert draft(found).lines.count() == 4


@pytest.mark.parametrize("care", ["fertilize", "", "remove_dead_tree"])
def test_other_work_is_not_drafted_from_a_finding(found, care):
    with pytest.raises(ValidationError) as refused:
        draft(found, care=care)
    assert "care" in refused.value.message_dict


def test_a_finding_that_changed_meanwhile_is_read_again_first(found):
    with pytest.raises(Outdated):
        draft(found, version=found.version + 1)
    assert not WorkOrder.objects.exists()


@pytest.mark.parametrize("role", ["volunteer", "crew"])
def test_only_staff_draft(found, role):
    with pytest.raises(PermissionDenied):
        draft(found, by=make.PersonFactory(role=role))
