"""What contradicts itself, comes too often or too early: each has one stated meaning."""

from datetime import date

import pytest
from django.core.exceptions import ValidationError

from survey.condition import beliefs, learning
from survey.condition.evidence import load
from survey.condition.models import Belief, Weight
from survey.trees.actions.look import record_look
from survey.trees.models import Look
from tests.factories import NOON, TODAY, LookFactory, ObserverFactory, TreeFactory

pytestmark = pytest.mark.django_db
JULY = date(2025, 7, 10)


def learn(area):
    learning.keep(learning.work_out(str(area.pk)))


def lost(tree):
    beliefs.keep(beliefs.work_out(str(tree.pk)))
    return Belief.objects.get(tree=tree).lost


@pytest.fixture
def street():
    """Thirty trees that a trained volunteer found thriving or holding in two summers."""
    trees = TreeFactory.create_batch(30)
    walker = ObserverFactory()
    for number, tree in enumerate(trees):
        said = "holding" if number % 3 == 2 else "thriving"
        for year in (2024, 2025):
            LookFactory(tree=tree, observer=walker, day=date(year, 6, 1), condition=said)
    return trees


def test_a_thousand_looks_at_one_tree_by_one_account_in_an_hour_are_one_look(street):
    tree, account = street[0], ObserverFactory(kind="resident")
    learn(tree.area)
    fields = {"day": JULY, "channel": "complaint", "trained": False, "condition": "dead"}
    LookFactory(tree=tree, observer=account, **fields)
    once = lost(tree)
    Look.objects.bulk_create(
        Look(tree=tree, observer=account, presence="standing", entered_at=NOON, **fields)
        for _ in range(999)
    )
    assert load(tree.area, [tree.pk]).evidence.looks.number == 3
    assert lost(tree) == pytest.approx(once, abs=1e-12)


def test_an_account_that_calls_a_whole_street_dead_in_an_hour_loses_its_weight(street):
    account = ObserverFactory(kind="resident")
    for tree in street:
        LookFactory(
            tree=tree,
            observer=account,
            day=JULY,
            condition="dead",
            trained=False,
            channel="complaint",
        )
    learn(street[0].area)
    weight = Weight.objects.get(observer=account)
    assert weight.weight < 0.35 < weight.usual
    assert max(lost(tree) for tree in street) < 0.05


def test_one_look_against_all_others_costs_an_observer_a_part_of_their_weight(street):
    once = ObserverFactory(kind="resident")
    LookFactory(tree=street[0], observer=once, day=JULY, condition="dead", trained=False)
    learn(street[0].area)
    weight = Weight.objects.get(observer=once)
    assert weight.looks == 1
    assert weight.usual - 0.2 < weight.weight < weight.usual  # a neighbor starts as 3 right to 1


def test_alive_after_a_felled_stump_neither_look_is_taken_for_certain(street):
    tree = street[0]
    learn(tree.area)
    before = lost(tree)
    LookFactory(tree=tree, presence="stump", condition="", day=date(2026, 4, 5))
    felled = lost(tree)
    LookFactory(tree=tree, condition="thriving", day=date(2026, 5, 12))
    both = lost(tree)
    assert 10 * before < felled < 0.9
    assert both < felled / 2


def test_one_look_alive_does_not_undo_a_removal_on_record(street):
    tree = street[0]
    LookFactory(tree=tree, gone=True, channel="crew", day=date(2026, 4, 3))
    LookFactory(
        tree=tree,
        condition="thriving",
        day=date(2026, 6, 10),
        observer__kind="resident",
        trained=False,
    )
    learn(tree.area)
    assert lost(tree) > 0.95


def test_a_tree_nobody_looked_at_is_believed_what_is_usual(street):
    unseen = TreeFactory()
    learn(unseen.area)
    assert 0 < lost(unseen) < 0.3
    assert Belief.objects.get(tree=unseen).looks == 0


def test_two_looks_at_once_are_believed_the_same_in_either_order(street):
    one, other = street[:2]
    first, second = ObserverFactory.create_batch(2)
    learn(one.area)
    for tree, order in ((one, (first, second)), (other, (second, first))):
        said = {first: "dead", second: "holding"}
        for observer in order:
            LookFactory(tree=tree, observer=observer, day=JULY, condition=said[observer])
    assert lost(one) == pytest.approx(lost(other), abs=1e-12)


@pytest.mark.parametrize("day", [date(2026, 6, 17), date(2023, 11, 13)])
def test_a_look_from_tomorrow_or_from_before_planting_is_refused(day):
    tree = TreeFactory()
    with pytest.raises(ValidationError) as refused:
        record_look(
            tree=tree,
            observer=ObserverFactory(),
            trained=False,
            day=day,
            channel="complaint",
            presence="standing",
            condition="dead",
            at=NOON,
            by=None,
        )
    assert "day" in refused.value.message_dict


def test_a_look_that_slipped_in_from_a_wrong_clock_says_nothing_yet(street):
    tree = street[0]
    learn(tree.area)
    before = lost(tree)
    LookFactory(tree=tree, day=date(2026, 9, 1), condition="dead")
    assert date(2026, 9, 1) > TODAY
    assert lost(tree) == pytest.approx(before, abs=1e-12)
