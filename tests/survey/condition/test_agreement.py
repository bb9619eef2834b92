"""How often people who looked at the same tree said the same, and where they differ."""

from datetime import date, timedelta

import pytest

from survey.condition.agreement import (
    Twice,
    agreement_of,
    pairs_of,
    pairs_on,
    word_of,
)
from survey.people.actions import observer_of
from survey.science.proportions import wilson
from survey.trees.models import Tree
from tests.factories import LookFactory, ObserverFactory, TreeFactory
from tests.survey.condition.walked import DAY, learner, look, partner, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines():
    return learner()


@pytest.fixture
def tom():
    return partner()


@pytest.mark.parametrize(
    ("presence", "condition", "word"),
    [
        ("standing", "holding", "holding"),
        ("standing", "", ""),
        ("sprouting", "dead", "sprouting"),
        ("stump", "", "gone"),
        ("gone", "", "gone"),
        ("not_seen", "", ""),
        ("never_planted", "", ""),
    ],
)
def test_a_look_in_one_word(presence, condition, word):
    assert word_of(presence, condition) == word


def test_the_nearest_trained_look_of_another_within_thirty_days_is_compared(ines, tom):
    tree = TreeFactory()
    mine = look(ines, tree, "slipping")
    far = look(tom, tree, "holding", DAY - timedelta(days=20))
    near = look(tom, tree, "failing", DAY + timedelta(days=9))
    (pair,) = pairs_of(observer_of(ines))
    assert (pair.mine.look, pair.other.look) == (mine.pk, near.pk)
    near.delete()
    (pair,) = pairs_of(observer_of(ines))
    assert pair.other.look == far.pk


@pytest.mark.parametrize(
    "other",
    [
        {"day": DAY + timedelta(days=31)},
        {"day": DAY - timedelta(days=31)},
        {"trained": False},
        {"presence": "not_seen", "condition": ""},
    ],
)
def test_what_cannot_be_compared_is_not(ines, other):
    tree = TreeFactory()
    look(ines, tree, "holding")
    LookFactory(**{"tree": tree, "day": DAY, "observer": ObserverFactory()} | other)
    assert pairs_of(observer_of(ines)) == []


def test_ones_own_looks_are_not_compared_with_each_other(ines, tom):
    tree = TreeFactory()
    look(tom, tree, "holding")
    look(tom, tree, "slipping", DAY + timedelta(days=1))
    assert pairs_of(observer_of(tom)) == []


def test_a_corrected_look_is_not_compared_and_its_correction_is(ines, tom):
    tree = TreeFactory()
    wrong = look(ines, tree, "dead")
    look(ines, tree, "holding", supersedes=wrong)
    look(tom, tree, "holding")
    (pair,) = pairs_of(observer_of(ines))
    assert pair.is_same


def compared(ines, tom, words):
    for mine, other in words:
        tree = TreeFactory()
        look(ines, tree, mine)
        look(tom, tree, other)
    return agreement_of(observer_of(ines))


def test_fewer_than_five_pairs_say_nothing(ines, tom):
    found = compared(ines, tom, [("holding", "dead")] * 4)
    assert (found.pairs, found.share, found.words, found.signs) == (4, None, (), ())


def test_nobody_without_looks_has_an_agreement(ines):
    found = agreement_of(observer_of(ines))
    assert (found.pairs, found.same, found.share) == (0, 0, None)


def test_the_share_is_the_plain_one_with_its_limits(ines, tom):
    words = [("holding", "holding")] * 5 + [("dead", "slipping")] * 2 + [("thriving", "holding")]
    found = compared(ines, tom, words)
    # Wilson 1927: 5 of 8, by hand 0.306 to 0.863
    assert (found.pairs, found.same, found.near, found.share.share) == (8, 5, 6, 5 / 8)
    assert found.share.low == pytest.approx(0.306, abs=5e-4)
    assert found.share.high == pytest.approx(0.863, abs=5e-4)
    assert found.share.low == pytest.approx(wilson(5, 8).low)
    assert found.words == (Twice("dead", "slipping", 2),)


@pytest.mark.parametrize(
    ("mine", "other", "near"),
    [
        ("thriving", "holding", True),
        ("holding", "slipping", True),
        ("slipping", "failing", True),
        ("thriving", "slipping", False),
        ("failing", "dead", False),
        ("dead", "dead", True),
    ],
)
def test_alive_and_dead_are_never_near(ines, tom, mine, other, near):
    assert compared(ines, tom, [(mine, other)]).near == near


def test_signs_that_only_one_ticked_twice_are_named(ines, tom):
    for number in range(5):
        tree = TreeFactory()
        look(ines, tree, "holding", signs=["bark_wound"] if number < 3 else [])
        look(tom, tree, "holding", signs=["dieback", "fungus"] if number < 2 else ["bark_wound"])
    found = agreement_of(observer_of(ines))
    assert set(found.signs) == {
        Twice("bark_wound", "", 2),
        Twice("", "bark_wound", 2),
        Twice("", "dieback", 2),
        Twice("", "fungus", 2),
    }


def test_a_walk_shows_the_trees_both_looked_at_there_on_that_day(ines, tom):
    kept = walk(ines, tom, [("holding", "holding"), ("dead", "failing")])
    elsewhere = TreeFactory()
    look(ines, elsewhere, "holding")
    look(tom, elsewhere, "holding")
    tree = TreeFactory(site__ref="other-site")
    look(ines, tree, "holding", date(2026, 5, 21))
    found = pairs_on(kept)
    assert [(pair.mine.word, pair.other.word) for pair in found] == [
        ("holding", "holding"),
        ("dead", "failing"),
    ]


def test_of_two_looks_on_a_walk_the_later_counts(ines, tom):
    kept = walk(ines, tom, [("dead", "holding")])
    tree = pairs_on(kept)[0].mine.tree
    look(ines, Tree.objects.get(pk=tree), "holding")
    assert [pair.is_same for pair in pairs_on(kept)] == [True]


def test_reading_an_observer_asks_the_database_few_questions(
    ines, tom, django_assert_max_num_queries
):
    for _ in range(30):
        tree = TreeFactory()
        look(ines, tree, "holding", signs=["dieback"])
        look(tom, tree, "holding")
    observer = observer_of(ines)
    with django_assert_max_num_queries(4):
        assert agreement_of(observer).same == 30
