"""A kind of care held against trees without it, asked of the record."""

from datetime import date, timedelta

import pytest

from survey.survival.helped import care_helped, watched_trees
from survey.trees.models import CareGiven, Tree
from tests.factories import (
    NOON,
    LookFactory,
    ObserverFactory,
    PlantingFactory,
    SiteFactory,
    TreeFactory,
)

TOWN = ("town", "all")


def give(tree, day, care="mulch_ring"):
    CareGiven.objects.create(
        tree=tree, care=care, given_from=day, given_to=day, given_precision="day", entered_at=NOON
    )


@pytest.fixture
def planting(db):
    """Fifty slipping trees of one site; 25 get mulch in June 2024; of those without it, 12 die."""
    planting, site, observer = PlantingFactory(), SiteFactory(), ObserverFactory()
    for n, tree in enumerate(TreeFactory.create_batch(50, planting=planting, site=site)):
        LookFactory(tree=tree, observer=observer, day=date(2024, 5, 3), condition="slipping")
        if n < 25:
            give(tree, date(2024, 6, 1))
        dies = n >= 38
        LookFactory(
            tree=tree, observer=observer, day=date(2025, 3, 3),
            condition="dead" if dies else "holding" if n < 25 else "slipping",
        )  # fmt: skip
        LookFactory(
            tree=tree, observer=observer, day=date(2026, 5, 3),
            condition="dead" if dies else "holding",
        )  # fmt: skip
    return planting


def test_a_help_that_is_plain_to_see_is_found_with_its_limits(planting):
    found = care_helped(planting.area, "mulch_ring")
    assert found.missing == ()
    assert len(found.matching.sets) == 25
    assert (found.losses_with_care, found.losses_without) == (0, 12)
    assert found.effect.with_care == 1
    # 13 of 25, given that they still stood in June: the fall since May began before the care
    assert 13 / 25 < found.effect.without < 13 / 25 * 1.1
    assert found.effect.low > 0.2
    assert found.p < 0.01
    # slipping to holding is a step up; half of the others died, two steps down
    assert found.change.with_care == 1
    assert found.change.without == pytest.approx(-2 * 12 / 25)


def test_care_that_nobody_gave_is_refused_with_what_is_missing(planting):
    found = care_helped(planting.area, "water")
    assert found.effect is None
    assert {one.code: one.have for one in found.missing}["treated"] == 0


def test_only_the_first_care_counts_and_only_trained_eyes_and_no_tree_from_a_report(planting):
    tree, other, *_rest = Tree.objects.filter(planting=planting).order_by("ref")
    give(tree, date(2025, 6, 1))
    LookFactory(tree=tree, day=date(2024, 7, 1), trained=False, condition="failing")
    Tree.objects.filter(pk=other.pk).update(registered_because=Tree.Because.REPORT)
    watched = watched_trees(planting.area, "mulch_ring", TOWN)
    assert len(watched) == 49
    mulched = [told for told in watched if told.care_from < float("inf")]
    assert len({told.care_from for told in mulched}) == 1
    assert all(len(told.looks) == 3 or told.looks[-1][1] == 4 for told in watched)


def test_the_number_of_questions_does_not_grow_with_the_trees(
    planting, django_assert_max_num_queries
):
    with django_assert_max_num_queries(4):
        watched_trees(planting.area, "mulch_ring", TOWN)
    for tree in TreeFactory.create_batch(20, planting=planting, site=SiteFactory()):
        LookFactory(tree=tree, day=date(2024, 5, 3))
        give(tree, date(2024, 5, 3) + timedelta(days=40))
    with django_assert_max_num_queries(4):
        watched_trees(planting.area, "mulch_ring", TOWN)
