"""Beliefs are kept, found stale by question, and made again for one tree alone."""

from datetime import date, timedelta

import pytest
from django.utils import timezone

from survey.chores.models import Chore
from survey.condition import beliefs, learning
from survey.condition.models import STATES, Belief, Learning, Weight
from survey.condition.stale import FEW, ranges_of, stamps, trees_behind, wishes
from survey.science.condition.laws import USUAL
from survey.trees.models import CareGiven, Look
from tests.factories import NOON, LookFactory, ObserverFactory, TreeFactory

pytestmark = pytest.mark.django_db


def learn(area):
    learning.keep(learning.work_out(str(area.pk)))


def believe(tree):
    beliefs.keep(beliefs.work_out(str(tree.pk)))
    return Belief.objects.get(tree=tree)


@pytest.fixture
def town():
    """Six lindens, walked twice; the last was found dead in leaf, by two people."""
    trees = TreeFactory.create_batch(6)
    one, other = ObserverFactory.create_batch(2)
    for tree in trees:
        LookFactory(tree=tree, observer=one, day=date(2024, 6, 3))
        last = "dead" if tree is trees[-1] else "thriving"
        LookFactory(tree=tree, observer=other, day=date(2025, 7, 3), condition=last)
    LookFactory(
        tree=trees[-1], observer=one, day=date(2025, 8, 3), condition="dead", scratch="brown"
    )
    learn(trees[0].area)
    return trees


def test_nothing_is_believed_before_anything_was_learnt_and_learning_is_asked_for():
    tree = TreeFactory()
    beliefs.keep(beliefs.work_out(str(tree.pk)))
    assert not Belief.objects.exists()
    assert Chore.objects.filter(kind="learn_area", key=str(tree.area_id)).exists()


def test_learning_counts_up_weighs_observers_and_asks_for_every_belief(town):
    area = town[0].area
    learn(area)
    assert [row.number for row in Learning.objects.all()] == [2, 1]
    assert [row.anew for row in Learning.objects.all()] == [False, True]
    assert Weight.objects.filter(area=area, kind="volunteer", learning=2).count() == 2
    assert sorted(Weight.objects.values_list("looks", flat=True)) == [6, 7]
    wished = set(Chore.objects.values_list("kind", flat=True))
    assert {"believe_trees", "roll_up_outlook", "weigh_survival"} <= wished


def test_a_tree_found_dead_twice_in_leaf_is_believed_dead_and_dated(town):
    dead, alive = believe(town[-1]), believe(town[0])
    assert dead.lost > 0.95
    assert dead.likeliest in ("dead", "gone")
    assert dead.died_from < date(2024, 6, 1) < dead.died_about <= date(2025, 7, 1)  # one look errs
    assert dead.died_about < dead.died_to <= date(2025, 8, 1)
    assert alive.lost < 0.05
    assert alive.died_about is None
    assert sum(alive.shares) == pytest.approx(1)
    assert (alive.month, alive.looks, alive.learning) == (date(2026, 6, 1), 2, 1)


def test_one_tree_alone_is_believed_as_it_is_among_all(town):
    area = town[0].area
    for name in ranges_of(area):
        beliefs.keep(beliefs.work_out_range(name))
    together = {row.tree_id: row.shares for row in Belief.objects.all()}
    Belief.objects.all().delete()
    for tree in town:
        assert believe(tree).shares == pytest.approx(together[tree.pk], abs=1e-12)


def test_a_new_look_makes_that_belief_stale_and_no_other(town):
    for tree in town:
        believe(tree)
    assert list(trees_behind(town[0].area)) == []
    LookFactory(tree=town[2], day=date(2026, 6, 2), condition="failing")
    assert list(trees_behind(town[0].area)) == [town[2].pk]
    assert believe(town[2]).failing > 0.2
    assert list(trees_behind(town[0].area)) == []


def test_a_few_trees_are_asked_for_by_name_and_many_by_their_range(town):
    area = town[0].area
    assert list(wishes(area)) == [("believe_tree", str(tree.pk)) for tree in town]
    TreeFactory.create_batch(FEW)
    [name] = ranges_of(area)
    assert list(wishes(area)) == [("believe_trees", name)]


@pytest.mark.parametrize("what", ["care", "correction", "moved", "month"])
def test_whatever_a_belief_rests_on_makes_it_stale(town, what):
    tree = town[0]
    believe(tree)
    before = stamps([tree.pk])
    if what == "care":
        day = date(2026, 5, 5)
        fields = {"given_from": day, "given_to": day, "given_precision": "day"}
        CareGiven.objects.create(tree=tree, care="water", entered_at=NOON, **fields)
    elif what == "correction":
        look = Look.objects.filter(tree=tree).first()
        LookFactory(tree=tree, presence="not_seen", condition="", supersedes=look)
    elif what == "moved":
        tree.species = "hornbeam"
        tree.save()
    else:
        Belief.objects.update(month=date(2026, 5, 1))
    assert tree.pk in trees_behind(tree.area)
    assert (stamps([tree.pk]) == before) is (what == "month")


def test_an_older_result_is_not_written_over_a_newer_one(town):
    tree = town[0]
    old = beliefs.work_out(str(tree.pk))
    LookFactory(tree=tree, day=date(2026, 6, 2), condition="dead")
    newer = believe(tree)
    beliefs.keep(old)
    assert Belief.objects.get(tree=tree).evidence == newer.evidence


def test_a_belief_that_did_not_move_is_not_written_again(town):
    first = believe(town[0])
    assert believe(town[0]).computed_at == first.computed_at


def test_shares_are_named_as_the_model_orders_them(town):
    worked = beliefs.work_out(str(town[0].pk)).beliefs[0]
    assert worked.shares == [getattr(worked, name) for name in STATES]


def test_a_new_observer_starts_at_the_mean_of_their_kind(town):
    from_nowhere = ObserverFactory()
    LookFactory(tree=town[0], observer=from_nowhere, day=date(2026, 6, 1), condition="slipping")
    loaded = learning.load(town[0].area, [town[0].pk])
    learnt = learning.learnt_of(town[0].area, loaded)
    place = loaded.observer_ids.index(from_nowhere.pk)
    assert learnt.rho[place] == pytest.approx(USUAL.mean_trust[1])


def test_a_week_later_learning_begins_anew(town):
    Learning.objects.update(learnt_at=timezone.now() - timedelta(days=8))
    learn(town[0].area)
    assert Learning.objects.newest_of(town[0].area).anew


def test_what_was_learnt_is_behind_when_looks_came(town):
    assert not learning.is_behind(town[0].area)
    LookFactory(tree=town[0], day=date(2026, 6, 2))
    assert learning.is_behind(town[0].area)


def test_keys_of_rows_that_are_gone_do_nothing():
    assert learning.work_out("999") is None
    assert beliefs.work_out("999") is None
    assert beliefs.work_out_range("999|1|5") is None
    learning.keep(None)
    beliefs.keep(None)
