"""An open danger keeps everybody away until a qualified person has cleared it.

The distance is a rule of this project: two tree heights of 20 m. One degree of latitude is
111.2 km on the sphere that `science.distance` uses, so 0.00036 degrees are 40.0 m.
"""

import uuid

import pytest

from survey.reports.actions.intake import submit_report
from survey.reports.actions.triage import set_danger_words_aside
from survey.workorders.holds import held_by, holds_in
from tests.factories import (
    NOON,
    AreaFactory,
    PersonFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db

LATITUDE, LONGITUDE = 36.62, -34.91
NEAR, FAR = 0.00035, 0.00037  # 38.9 and 41.1 m to the north


def danger(**more):
    return ReportFactory(**{"danger": "limb"} | more)


def tree_at(north, **more):
    return TreeFactory(latitude=LATITUDE + north, longitude=LONGITUDE, **more)


def test_a_danger_at_a_tree_holds_it_and_its_neighbors_within_two_tree_heights():
    report = danger(tree=tree_at(0))
    assert held_by(report.tree) == report
    assert held_by(tree_at(NEAR)) == report
    assert held_by(tree_at(FAR)) is None


def test_a_danger_that_was_only_written_closes_as_much_until_its_words_are_set_aside():
    tree = tree_at(0)
    report, _secret = submit_report(
        client_ref=uuid.uuid4(), area=tree.area, at=NOON, tree=tree, words="The branch is hanging."
    )
    near = tree_at(NEAR)
    assert held_by(near) == report
    set_danger_words_aside(
        report=report, version=report.version, reason="a swing", by=PersonFactory(), at=NOON
    )
    assert held_by(near) is None


def test_the_reporters_own_point_counts_beside_the_trees():
    report = danger(tree=tree_at(0), latitude=LATITUDE + 0.01, longitude=LONGITUDE)
    assert held_by(tree_at(0.01 + NEAR)) == report
    assert held_by(tree_at(NEAR)) == report


def test_a_danger_without_a_point_closes_the_whole_site():
    site = SiteFactory()
    report = danger(tree=None, site=site, area=site.area)
    assert held_by(tree_at(0.02, site=site)) == report
    assert held_by(site) == report
    assert held_by(tree_at(0.02)) is None


def test_a_danger_at_a_tree_without_a_point_closes_its_site():
    tree = TreeFactory(latitude=None, longitude=None)
    report = danger(tree=tree)
    assert held_by(tree_at(0.02, site=tree.site)) == report


def test_a_tree_without_a_point_is_near_every_danger_of_its_site():
    report = danger(tree=tree_at(0))
    lost = TreeFactory(site=report.site, latitude=None, longitude=None)
    assert held_by(lost) == report
    assert held_by(TreeFactory(latitude=None, longitude=None)) is None


def test_a_meeting_point_near_a_danger_is_closed():
    report = danger(tree=tree_at(0))
    assert held_by((LATITUDE + NEAR, LONGITUDE), AreaFactory()) == report
    assert held_by((LATITUDE + FAR, LONGITUDE), AreaFactory()) is None
    assert held_by(SiteFactory(latitude=LATITUDE + NEAR, longitude=LONGITUDE)) == report


def test_a_cleared_danger_holds_nothing():
    report = danger(danger_cleared_at=NOON, danger_cleared_by="person:x")
    assert held_by(report.tree) is None


@pytest.mark.parametrize("state", ["new", "asked", "ordered", "answered", "set_aside"])
def test_a_danger_holds_whatever_became_of_its_report(state):
    assert held_by(danger(state=state).tree)


def test_a_danger_in_another_town_holds_nothing_here():
    other = AreaFactory(ref="elsewhere", is_home=False)
    danger(tree=None, site=SiteFactory(area=other), area=other)
    assert not holds_in(AreaFactory()).reports


def test_a_danger_known_only_by_a_landmark_is_told_of():
    report = danger(tree=None, site=None, area=AreaFactory(), landmark="by the old well")
    holds = holds_in(report.area)
    assert holds.unplaced == (report,)
    assert holds.on_tree(tree_at(0)) is None


def test_a_point_needs_its_area():
    with pytest.raises(TypeError):
        held_by((LATITUDE, LONGITUDE))
