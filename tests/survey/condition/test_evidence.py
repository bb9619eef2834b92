"""What the record means to the condition model: every rule by which looks become evidence."""

from datetime import date

import numpy as np
import pytest

from survey.condition.evidence import AUTHORITY, load, month_of
from survey.condition.models import Overruling
from survey.people.models import Observer
from survey.science.condition.records import KINDS, LEAF, NOT_SAID, SCRATCH, STATES
from survey.trees.models import CareGiven, Look, LookSign, Tree
from tests.factories import NOON, LookFactory, ObserverFactory, TreeFactory

pytestmark = pytest.mark.django_db


def labels(loaded):
    return [
        "" if label == NOT_SAID else STATES[label] for label in loaded.evidence.looks.label.tolist()
    ]


def kinds(loaded):
    evidence = loaded.evidence
    return [KINDS[evidence.observers[observer]] for observer in evidence.looks.observer]


def test_a_look_becomes_its_words_in_its_month():
    tree = TreeFactory()
    look = LookFactory(
        tree=tree, day=date(2024, 2, 10), condition="dead", scratch="brown", leaf="bare"
    )
    LookSign.objects.create(look=look, sign="suckers")
    loaded = load(tree.area)
    looks = loaded.evidence.looks
    assert labels(loaded) == ["dead"]
    assert looks.month.tolist() == [month_of(date(2024, 2, 1))]
    assert SCRATCH[looks.scratch[0]] == "brown"
    assert LEAF[looks.leaf[0]] == "bare"
    assert looks.signs.tolist() == [1]
    assert looks.leaf_off.tolist() == [True]  # a linden in February
    assert kinds(loaded) == ["volunteer"]
    assert loaded.look_ids == [(look.pk,)]
    assert loaded.observer_ids == [look.observer_id]


def test_the_same_tree_in_june_should_be_in_leaf():
    look = LookFactory(day=date(2025, 6, 10))
    assert load(look.tree.area).evidence.looks.leaf_off.tolist() == [False]


def test_an_untrained_look_counts_as_a_neighbors_even_by_a_volunteer_to_be():
    tree, keen = TreeFactory(), ObserverFactory(kind="volunteer")
    LookFactory(tree=tree, observer=keen, trained=False, day=date(2024, 5, 1))
    LookFactory(tree=tree, observer=keen, trained=True, day=date(2025, 5, 1))
    loaded = load(tree.area)
    assert kinds(loaded) == ["resident", "volunteer"]
    assert loaded.observer_ids == [keen.pk, keen.pk]


def test_crew_counts_as_staff():
    look = LookFactory(observer=ObserverFactory(kind="crew"))
    assert kinds(load(look.tree.area)) == ["staff"]


def test_each_note_without_a_name_is_a_new_neighbor():
    tree = TreeFactory()
    nobody = ObserverFactory(key="neighbor:unsigned", kind=Observer.Kind.RESIDENT)
    for condition in ("dead", "dead", "holding"):
        LookFactory(tree=tree, observer=nobody, trained=False, condition=condition)
    loaded = load(tree.area)
    assert labels(loaded) == ["holding", "dead", "dead"]
    assert len(loaded.evidence.observers) == 3
    assert loaded.observer_ids == [0, 0, 0]


def test_two_looks_by_one_person_in_a_month_are_one():
    tree, somebody = TreeFactory(), ObserverFactory()
    first = LookFactory(tree=tree, observer=somebody, day=date(2024, 6, 2), scratch="green")
    last = LookFactory(tree=tree, observer=somebody, day=date(2024, 6, 20), condition="slipping")
    loaded = load(tree.area)
    assert labels(loaded) == ["slipping"]
    assert loaded.look_ids == [(first.pk, last.pk)]
    assert SCRATCH[loaded.evidence.looks.scratch[0]] == "green"


def test_top_dead_but_sprouting_is_a_failing_tree_and_a_stump_is_gone():
    tree = TreeFactory()
    LookFactory(tree=tree, presence="sprouting", condition="dead", day=date(2024, 5, 1))
    LookFactory(tree=tree, presence="stump", condition="", day=date(2024, 6, 1))
    assert labels(load(tree.area)) == ["failing", "gone"]


def test_what_saw_nothing_or_was_corrected_says_nothing():
    tree = TreeFactory()
    wrong = LookFactory(tree=tree, condition="dead")
    LookFactory(tree=tree, presence="not_seen", condition="", supersedes=wrong)
    LookFactory(tree=tree, presence="never_planted", condition="")
    assert load(tree.area).evidence.looks.number == 0


def test_a_look_from_before_planting_is_about_another_tree():
    tree = TreeFactory(planted_from=date(2024, 3, 1), planted_to=date(2024, 3, 1))
    LookFactory(tree=tree, day=date(2024, 2, 20), condition="dead")
    assert load(tree.area).evidence.looks.number == 0


def test_a_story_begins_with_registration_or_with_an_earlier_look():
    late = TreeFactory(registered_on=date(2025, 4, 2))
    known = TreeFactory(registered_on=date(2025, 4, 2))
    LookFactory(tree=known, day=date(2025, 1, 9))
    trees = load(late.area).evidence.trees
    assert trees.first.tolist() == [month_of(date(2025, 4, 1)), month_of(date(2025, 1, 1))]
    assert trees.planted.tolist() == [month_of(date(2023, 11, 1))] * 2
    assert trees.last.tolist() == [month_of(date(2026, 6, 1))] * 2
    assert not trees.is_from_planting.any()


def test_a_crews_gone_is_the_log_of_a_removal_and_no_opinion():
    look = LookFactory(gone=True, channel=Look.Channel.CREW, day=date(2025, 9, 3))
    evidence = load(look.tree.area).evidence
    assert evidence.looks.number == 0
    assert evidence.removals.tolist() == [[0, month_of(date(2025, 9, 1))]]


def test_a_tree_taken_away_alive_and_one_taken_out_by_order_are_logged_removals():
    day = date(2025, 3, 4)
    left = TreeFactory(left=Tree.Left.REMOVED_OTHER, left_from=day, left_to=day)
    dead = TreeFactory()
    CareGiven.objects.create(
        tree=dead,
        care="remove_dead_tree",
        given_from=day,
        given_to=day,
        given_precision="day",
        entered_at=NOON,
    )
    evidence = load(left.area).evidence
    month = month_of(day)
    assert evidence.removals.tolist() == [[0, month], [1, month]]
    assert not len(evidence.care)


def test_died_with_no_removal_on_record_is_certain():
    day = date(2025, 3, 4)
    tree = TreeFactory(left=Tree.Left.DIED, left_from=day, left_to=day)
    loaded = load(tree.area)
    assert labels(loaded) == ["dead"]
    assert loaded.evidence.looks.sure.all()
    assert loaded.observers.tolist() == [AUTHORITY]
    assert loaded.look_ids == [(0,)]


def test_an_overruling_is_evidence_until_it_is_withdrawn():
    tree = TreeFactory()
    made = Overruling.objects.create(
        tree=tree, state="holding", day=date(2026, 5, 1), reason="bark green", by_key="a", at=NOON
    )
    loaded = load(tree.area)
    assert labels(loaded) == ["holding"]
    assert loaded.evidence.looks.sure.all()
    made.withdrawn_at, made.withdrawn_by, made.withdrawn_reason = NOON, "a", "wrong tree"
    made.save()
    assert load(tree.area).evidence.looks.number == 0


def test_care_is_told_by_month_within_the_trees_story():
    tree = TreeFactory(registered_on=date(2024, 4, 1))
    for day in (date(2024, 1, 5), date(2024, 7, 5)):
        CareGiven.objects.create(
            tree=tree,
            care="water",
            given_from=day,
            given_to=day,
            given_precision="day",
            entered_at=NOON,
        )
    months = load(tree.area).evidence.care[:, 1].tolist()
    assert months == [month_of(date(2024, 4, 1)), month_of(date(2024, 7, 1))]


def test_some_trees_are_read_as_they_are_among_all():
    trees = TreeFactory.create_batch(4)
    for tree in trees:
        LookFactory(tree=tree, day=date(2025, 5, 1))
        LookFactory(tree=tree, day=date(2025, 8, 1), channel="complaint", trained=False)
    everything = load(trees[0].area)
    some = load(trees[0].area, [trees[1].pk, trees[3].pk])
    same = everything.evidence.of_trees([1, 3])
    for name in ("tree", "month", "label", "scratch", "leaf", "signs", "leaf_off", "complaint"):
        assert (getattr(some.evidence.looks, name) == getattr(same.looks, name)).all()
    assert (some.evidence.trees.first == same.trees.first).all()
    assert some.tree_ids == [trees[1].pk, trees[3].pk]


def test_a_town_without_trees_or_looks_is_read_all_the_same():
    tree = TreeFactory()
    loaded = load(tree.area)
    assert loaded.evidence.trees.number == 1
    assert loaded.evidence.looks.number == 0
    assert load(tree.area, []).evidence.trees.number == 0
    assert np.array_equal(loaded.evidence.offsets, [0, 32])


def test_the_number_of_questions_does_not_grow_with_the_trees(django_assert_max_num_queries):
    trees = TreeFactory.create_batch(30)
    for tree in trees:
        LookFactory(tree=tree)
    area = trees[0].area
    with django_assert_max_num_queries(8):
        load(area)
    with django_assert_max_num_queries(8):
        load(area, [tree.pk for tree in trees[:20]])
