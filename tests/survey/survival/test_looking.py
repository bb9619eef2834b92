"""Where looks tell most, asked of the record."""

from datetime import date

import pytest

from survey.survival.looking import looks_that_tell_most, walks_of_sites
from survey.trees.models import Site, Tree
from tests.factories import LookFactory, ObserverFactory, PlantingFactory, SiteFactory, TreeFactory


@pytest.fixture
def planting(db):
    """Two sites of six: all seen in spring 2024, those of the second again the day before today."""
    planting, observer = PlantingFactory(), ObserverFactory()
    for name, lately in (("Long Unseen", False), ("Just Seen", True)):
        site = SiteFactory(name=name)
        for tree in TreeFactory.create_batch(6, planting=planting, site=site):
            LookFactory(tree=tree, observer=observer, day=date(2024, 4, 3))
            if lately:
                LookFactory(tree=tree, observer=observer, day=date(2026, 6, 15))
    return planting


def test_the_walk_goes_where_nobody_knows_and_says_what_it_would_settle(planting):
    [walk] = looks_that_tell_most(planting.area, minutes=60)
    assert walk.site.name == "Long Unseen"
    assert len(walk.trees) == walk.of == 6
    assert walk.minutes == pytest.approx(10 + 6 * 1.5)
    assert walk.before.high - walk.before.low > walk.after.high - walk.after.low
    assert walk.before.high == 6


def test_every_site_is_told_with_its_best_walk_for_each_time(planting):
    sites = {site.pk: site for site in Site.objects.all()}
    found = {
        sites[site].name: (trees, walks)
        for site, trees, walks in walks_of_sites(planting.area, sites, minutes=(13, 60))
    }
    trees, walks = found["Long Unseen"]
    assert trees == 6
    assert {limit: len(walk.trees) for limit, walk in walks.items()} == {13: 2, 60: 6}
    assert walks[60].gain > walks[13].gain > 0
    assert found["Just Seen"] == (6, {})


def test_few_minutes_see_few_trees_and_none_see_none(planting):
    [walk] = looks_that_tell_most(planting.area, minutes=13)
    assert len(walk.trees) == 2
    assert looks_that_tell_most(planting.area, minutes=5) == []


def test_nobody_is_sent_to_a_closed_tree_a_dead_one_or_one_that_has_left(planting):
    first, second, third, *others = Tree.objects.filter(site__name="Long Unseen").order_by("pk")
    LookFactory(tree=second, day=date(2025, 7, 1), dead=True)
    Tree.objects.filter(pk=third.pk).update(
        left=Tree.Left.LOST, left_from=date(2025, 5, 1), left_to=date(2025, 5, 1)
    )
    [walk] = looks_that_tell_most(planting.area, minutes=60, closed=[first.pk])
    assert {tree.pk for tree in walk.trees} == {tree.pk for tree in others}
    assert walk.of == 6


def test_a_group_asks_for_its_own_trees_only(planting):
    other = TreeFactory(site=SiteFactory(name="Elsewhere"), planting=PlantingFactory())
    LookFactory(tree=other, day=date(2024, 4, 3))
    walks = looks_that_tell_most(planting.area, minutes=120, group=("planting", planting.ref))
    assert [walk.site.name for walk in walks] == ["Long Unseen"]
    with pytest.raises(ValueError, match="grouped"):
        looks_that_tell_most(planting.area, minutes=60, group=("mood", "good"))


def test_an_area_without_trees_needs_no_walk(planting):
    Tree.objects.filter(planting=planting).update(registered_because=Tree.Because.REPORT)
    assert looks_that_tell_most(planting.area, minutes=60) == []
    sites = [site.pk for site in Site.objects.all()]
    assert list(walks_of_sites(planting.area, sites, minutes=(60,))) == []


def test_the_number_of_questions_does_not_grow_with_the_trees(
    planting, django_assert_max_num_queries
):
    with django_assert_max_num_queries(6):
        looks_that_tell_most(planting.area, minutes=60)
    for tree in TreeFactory.create_batch(30, planting=planting, site=SiteFactory()):
        LookFactory(tree=tree, day=date(2024, 4, 3))
    with django_assert_max_num_queries(6):
        looks_that_tell_most(planting.area, minutes=60)
