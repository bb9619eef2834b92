"""Nobody is sent to settle a doubt where a danger is open."""

from datetime import date

import pytest

from survey.workorders.doubts import doubts_to_settle
from tests.factories import NOON, AreaFactory, ReportFactory, SiteFactory, TreeFactory
from tests.survey.belief_rows import belief

pytestmark = pytest.mark.django_db
JUNE, MAY = date(2026, 6, 1), date(2027, 5, 1)


@pytest.fixture
def sites():
    """Two sites a kilometer apart, each with trees for a look, for May and for a photo."""
    found = []
    for name, north in (("Ferry Road", 0.0), ("Mill Lane", 0.01)):
        site = SiteFactory(name=name, latitude=36.62 + north, longitude=-34.91)
        for settle, month in (("look", JUNE), ("leaf", MAY), ("photo", JUNE)):
            tree = TreeFactory(site=site, latitude=36.6205 + north, longitude=-34.91)
            belief(tree=tree, settle=settle, settle_month=month, settle_gain=0.1)
        found.append(site)
    return found


def places(doubts):
    walk = {one.site.name for one in doubts.walk.sites}
    later = {tree.site.name for one in doubts.later for tree in one.named}
    photos = {tree.site.name for tree in doubts.photos}
    return walk, later, photos


def test_without_a_danger_every_site_is_open(sites):
    doubts = doubts_to_settle(AreaFactory(), minutes=120)
    assert places(doubts) == ({"Ferry Road", "Mill Lane"},) * 3
    assert (doubts.closed, doubts.unplaced) == (False, ())


@pytest.mark.parametrize("at", ["tree", "another tree", "site", "tree nearby", "meeting point"])
def test_a_danger_closes_the_whole_site_on_every_list(sites, at):
    ferry, _mill = sites
    where = {"tree": None, "latitude": 36.6206, "longitude": -34.91}  # 11 m from its trees
    if at == "tree":
        where = {"tree": ferry.trees.first()}
    elif at == "another tree":
        where = {"tree": TreeFactory(site=ferry)}
    elif at == "site":
        where = {"tree": None, "site": ferry}
    elif at == "meeting point":
        where = {"tree": None, "latitude": 36.6199, "longitude": -34.91}
    danger = ReportFactory(**{"site": None, "area": AreaFactory(), "danger": "limb"} | where)
    doubts = doubts_to_settle(AreaFactory(), minutes=120)
    assert places(doubts) == ({"Mill Lane"},) * 3
    asked = doubts_to_settle(AreaFactory(), minutes=120, site=ferry)
    assert (places(asked), asked.closed) == ((set(),) * 3, True)
    danger.danger_cleared_at = NOON
    danger.danger_cleared_by = "person:a"
    danger.save()
    assert places(doubts_to_settle(AreaFactory(), minutes=120))[0] == {"Ferry Road", "Mill Lane"}


def test_a_danger_without_a_place_is_told(sites):
    ReportFactory(tree=None, site=None, area=AreaFactory(), landmark="by the bench", danger="limb")
    doubts = doubts_to_settle(AreaFactory(), minutes=60)
    assert [report.landmark for report in doubts.unplaced] == ["by the bench"]


def test_it_costs_a_handful_of_questions_with_many_dangers(sites, django_assert_max_num_queries):
    for site in SiteFactory.create_batch(6, latitude=36.7):
        tree = TreeFactory(site=site, latitude=36.7)
        belief(tree=tree, settle="look", settle_month=JUNE, settle_gain=0.1)
        ReportFactory(tree=tree, danger="limb")
    with django_assert_max_num_queries(9):
        doubts_to_settle(AreaFactory(), minutes=60)
