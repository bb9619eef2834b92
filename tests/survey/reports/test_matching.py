"""A report is put beside what is known: its look, its repeats, the trees it may mean."""

from datetime import date, timedelta

import pytest

from survey.chores.models import Chore
from survey.reports.actions.triage import place_report
from survey.reports.matching import likely_same_as, likely_trees, same_landmark
from survey.reports.models import ReportSign
from survey.reports.tasks import match_report, reports_never_matched
from survey.trees.models import Look
from tests.factories import (
    NOON,
    TODAY,
    AreaFactory,
    ContactFactory,
    PersonFactory,
    PhotoFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db

METRE = 1 / 111_195  # of latitude, in degrees: a 360th of 2 pi R with R = 6,371,008.8 m


def matched(report):
    match_report(str(report.pk))
    report.refresh_from_db()
    return report


def signed(report, *signs):
    for sign in signs:
        ReportSign.objects.create(report=report, sign=sign)
    return report


def test_a_report_that_names_a_tree_becomes_an_untrained_look():
    contact, photo = ContactFactory(), PhotoFactory()
    report = ReportFactory(
        picture="slipping", extent="half_or_more", side="street", contact=contact
    )
    report.photos.add(photo)
    look = matched(signed(report, "bark_sunken", "fungus")).looks.get()
    assert (look.channel, look.trained, look.presence) == ("complaint", False, "standing")
    assert (look.condition, look.day, look.note) == ("slipping", TODAY, report.words)
    assert look.observer.key == f"neighbor:{contact.pk}"
    # how far round and which side go only to the signs that ask for them
    assert {(s.sign, s.extent, s.side) for s in look.signs.all()} == {
        ("bark_sunken", "half_or_more", "street"),
        ("fungus", "", ""),
    }
    assert list(look.photos.all()) == [photo]
    assert Chore.objects.filter(kind="count_planting", key=str(report.tree.planting_id)).exists()


@pytest.mark.parametrize(
    ("picture", "presence", "condition"),
    [
        ("thriving", "standing", "thriving"),
        ("dead", "standing", "dead"),
        ("gone", "gone", ""),
    ],
)
def test_the_picture_chosen_is_the_condition_or_that_it_is_gone(picture, presence, condition):
    look = matched(ReportFactory(picture=picture)).looks.get()
    assert (look.presence, look.condition) == (presence, condition)


def test_not_being_able_to_tell_is_no_condition_but_the_signs_count():
    look = matched(signed(ReportFactory(picture="cannot_tell"), "wilting")).looks.get()
    assert (look.presence, look.condition) == ("standing", "")


@pytest.mark.parametrize("answers", [{"picture": "cannot_tell"}, {"danger": "wire"}, {}])
def test_a_report_that_says_nothing_of_how_it_stands_is_no_look(answers):
    matched(ReportFactory(**answers))
    assert not Look.objects.exists()


def test_a_report_without_a_tree_is_no_look():
    matched(ReportFactory(tree=None, site=SiteFactory(), area=AreaFactory(), picture="dead"))
    assert not Look.objects.exists()


def test_seen_before_the_tree_was_planted_is_no_look_and_no_failure():
    matched(ReportFactory(picture="dead", seen_on=date(2020, 1, 1)))
    assert not Look.objects.exists()


def test_matching_again_changes_nothing():
    report = matched(ReportFactory(picture="failing"))
    matched(report)
    assert Look.objects.count() == 1


def test_the_nightly_question_finds_reports_that_never_became_a_look():
    report = ReportFactory(picture="failing")
    ReportFactory(picture="")
    ReportFactory(picture="failing", seen_on=date(2020, 1, 1))
    assert list(reports_never_matched()) == [("match_report", str(report.pk))]
    matched(report)
    assert list(reports_never_matched()) == []


def test_the_same_tree_within_two_weeks_is_likely_the_same_trouble():
    first = ReportFactory(submitted_at=NOON - timedelta(days=13))
    second = matched(ReportFactory(tree=first.tree))
    assert second.likely_same_as == first
    assert matched(first).likely_same_as is None


def test_more_than_two_weeks_apart_is_not():
    first = ReportFactory(submitted_at=NOON - timedelta(days=15))
    assert matched(ReportFactory(tree=first.tree)).likely_same_as is None


def test_two_known_trees_are_two_troubles_however_close():
    first = ReportFactory()
    assert matched(ReportFactory(tree__site=first.site)).likely_same_as is None


@pytest.mark.parametrize(("metres", "same"), [(24, True), (26, False)])
def test_points_within_twenty_five_metres_are_the_same(metres, same):
    here = {"tree": None, "area": AreaFactory(), "longitude": -34.91}
    first = ReportFactory(site=SiteFactory(), latitude=36.62, **here)
    second = ReportFactory(site=None, latitude=36.62 + metres * METRE, **here)
    assert (likely_same_as(second) == first) is same


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("Opposite the bakery", "in front of the Bakery!", True),
        ("by the blue bus shelter", "next to the bus shelter", True),
        ("bus shelter", "bus stop", False),
        ("frente a la panadería", "cerca de la PANADERIA", True),
        ("by the school gate", "by the harbor gate", False),
        ("the tree on the corner", "the corner of the street", False),
        ("", "", False),
    ],
)
def test_landmarks_are_the_same_by_their_telling_words(one, other, same):
    assert same_landmark(one, other) is same


def test_the_same_landmark_at_the_same_site_is_likely_the_same():
    site = SiteFactory()
    here = {"tree": None, "area": site.area}
    first = ReportFactory(site=site, landmark="Opposite the bakery", **here)
    assert likely_same_as(ReportFactory(site=site, landmark="by the bakery", **here)) == first
    assert (
        likely_same_as(ReportFactory(site=SiteFactory(), landmark="by the bakery", **here)) is None
    )


def test_a_report_set_aside_is_nobodys_original():
    first = ReportFactory(state="set_aside")
    assert matched(ReportFactory(tree=first.tree)).likely_same_as is None


def test_a_joined_report_leads_to_the_one_it_was_joined_to():
    root = ReportFactory(submitted_at=NOON - timedelta(days=20))
    ReportFactory(tree=root.tree, state="joined", joined_to=root)
    assert matched(ReportFactory(tree=root.tree)).likely_same_as == root


def test_likely_trees_are_found_by_tag_by_point_and_by_landmark():
    site = SiteFactory()
    tagged = TreeFactory(tag="0214", site=site, latitude=None, longitude=None)
    near = TreeFactory(site=site, latitude=36.62 + 20 * METRE)
    TreeFactory(site=site, latitude=36.62 + 60 * METRE)
    named = TreeFactory(site=site, landmark="school gate", latitude=None, longitude=None)
    report = ReportFactory(
        tree=None,
        area=site.area,
        site=site,
        latitude=36.62,
        longitude=-34.91,
        landmark="At the school gate",
        words="tag 0214, I think",
    )
    guesses = likely_trees(report)
    assert [guess.tree for guess in guesses] == [tagged, near, named]
    assert guesses[1].metres == pytest.approx(20, abs=0.1)


def test_a_report_that_names_its_tree_needs_no_guess():
    assert likely_trees(ReportFactory()) == []


def test_a_report_placed_at_another_tree_takes_its_look_along():
    desk, report = PersonFactory(), ReportFactory(picture="dead")
    first = matched(report).looks.get()
    tree = TreeFactory()
    place_report(report=report, version=0, tree=tree, by=desk, at=NOON)
    second = matched(report).looks.get()
    assert (second.tree, second.condition, second.trained) == (tree, "dead", False)
    standing = first.tree.looks.standing_record().get()
    assert (standing.presence, standing.condition, standing.supersedes) == ("not_seen", "", first)
    # and back again: each move leaves one standing look, at the tree that is meant
    report.refresh_from_db()
    place_report(report=report, version=report.version, tree=first.tree, by=desk, at=NOON)
    third = matched(report).looks.get()
    assert third.tree == first.tree
    assert matched(report).looks.get() == third
    assert not tree.looks.standing_record().exclude(presence="not_seen").exists()


def test_a_report_placed_at_its_own_tree_again_keeps_its_look():
    report = ReportFactory(picture="failing")
    look = matched(report).looks.get()
    place_report(report=report, version=0, tree=report.tree, by=PersonFactory(), at=NOON)
    assert matched(report).looks.get() == look
    assert Look.objects.count() == 1


def test_a_report_placed_at_a_site_alone_is_no_look_any_more():
    report = ReportFactory(picture="failing")
    tree = matched(report).looks.get().tree
    place_report(report=report, version=0, site=tree.site, by=PersonFactory(), at=NOON)
    assert not matched(report).looks.exists()
    assert not tree.looks.standing_record().exclude(presence="not_seen").exists()
