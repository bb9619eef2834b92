"""The lists of places and trees: in walking order, on both sides, and always as few questions."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from frontend.neighbor.strip import strip_of
from survey.trees.models import Tree
from tests.factories import ReportFactory, SiteFactory, TreeFactory

pytestmark = pytest.mark.django_db
METRE = 1 / 111_195  # of latitude, in degrees


def questions_asked(neighbor, url):
    with CaptureQueriesContext(
        connection,
    ) as asked:
        neighbor.open(url)
    assert neighbor.page.status_code == 200
    return len(asked)


def test_a_long_list_of_places_costs_no_more_than_a_short_one(neighbor, tree):
    neighbor.begins()
    url = f"/report/{neighbor.key}/where/"
    few = questions_asked(neighbor, url)
    for site in SiteFactory.create_batch(20, area=tree.area):
        TreeFactory(site=site)
    assert questions_asked(neighbor, url) == few
    assert few <= 3


def test_a_search_costs_no_more_with_many_finds(neighbor, tree):
    neighbor.begins()
    url = f"/report/{neighbor.key}/where/?q=road"
    few = questions_asked(neighbor, url)
    for n in range(20):
        SiteFactory(area=tree.area, name=f"Long Road {n}")
    assert questions_asked(neighbor, url) <= few


def test_a_long_street_costs_no_more_than_a_short_one(neighbor, tree):
    neighbor.begins()
    url = f"/report/{neighbor.key}/where/at/ferry-road/"
    few = questions_asked(neighbor, url)
    for other in TreeFactory.create_batch(30, site=tree.site):
        ReportFactory(tree=other)
    assert questions_asked(neighbor, url) == few
    assert few <= 7


def test_the_private_page_of_an_old_report_stays_cheap(neighbor, tree):
    neighbor.answers_all(tree).send()
    url = neighbor.link("Follow this report")
    assert questions_asked(neighbor, url) <= 22  # ten of them weigh what may be behind it


def test_trees_stand_in_walking_order_and_those_that_left_do_not(neighbor, tree):
    first = TreeFactory(site=tree.site, walk_order=0, landmark="by the harbor")
    TreeFactory(
        site=tree.site,
        left="died",
        left_from=first.planted_from,
        left_to=first.planted_from,
        landmark="the dead one",
    )
    neighbor.begins()
    html = neighbor.open(f"/report/{neighbor.key}/where/at/ferry-road/").html
    assert html.index("by the harbor") < html.index("by the bus shelter")
    assert "the dead one" not in html


def street(*trees):
    """Trees of a street that runs south, given as (metres along, side)."""
    site = SiteFactory(kind="street")
    return site, [
        TreeFactory(
            site=site,
            walk_order=n,
            latitude=36.62 - along * METRE,
            longitude=-34.91 + (0.00005 if side == "east" else -0.00005),
            street_bearing={"east": 270, "west": 90}[side],
        )
        for n, (along, side) in enumerate(trees)
    ]


def test_walking_south_the_east_side_is_on_the_left():
    site, (one, two, three) = street((0, "east"), (3, "west"), (40, "west"))
    strip = strip_of(site, [one, two, three])
    assert strip.two_sides
    assert [(row.left, row.right) for row in strip.rows] == [(one, two), (None, three)]


def test_a_walk_up_one_side_and_down_the_other_is_laid_side_by_side():
    site, trees = street((0, "east"), (50, "east"), (51, "west"), (2, "west"))
    strip = strip_of(site, trees)
    assert [(row.left, row.right) for row in strip.rows] == [
        (trees[0], trees[3]),
        (trees[1], trees[2]),
    ]


def test_a_side_that_nobody_wrote_down_is_not_made_up():
    site, trees = street((0, "east"), (30, "west"))
    Tree.objects.filter(pk=trees[0].pk).update(street_bearing=None)
    trees[0].refresh_from_db()
    strip = strip_of(site, trees)
    assert not strip.two_sides
    assert [row.left for row in strip.rows] == trees


def test_one_sidewalk_alone_is_a_path():
    site, trees = street((0, "east"), (30, "east"))
    assert not strip_of(site, trees).two_sides


def test_a_park_is_a_path_and_an_empty_place_is_empty():
    site = SiteFactory(kind="park")
    assert strip_of(site, []).rows == []
    assert strip_of(SiteFactory(kind="street"), []).rows == []
    tree = TreeFactory(site=site, street_bearing=10)
    assert not strip_of(site, [tree]).two_sides


def test_sides_without_points_come_in_walking_order():
    site, trees = street((0, "east"), (30, "west"), (60, "east"))
    Tree.objects.update(latitude=None, longitude=None)
    strip = strip_of(site, list(Tree.objects.order_by("walk_order")))
    assert strip.two_sides
    assert [row.left or row.right for row in strip.rows] == trees


def test_a_place_of_another_town_cannot_be_opened(neighbor, tree):
    elsewhere = SiteFactory(area__ref="elsewhere", area__is_home=False)
    neighbor.begins()
    neighbor.open(f"/report/{neighbor.key}/where/at/{elsewhere.ref}/")
    assert neighbor.page.status_code == 404


def test_before_the_house_is_set_up_the_first_page_says_so(neighbor):
    neighbor.open("/")
    assert "not set up yet" in neighbor.html
    neighbor.open("/report/")
    assert neighbor.page.status_code == 404
