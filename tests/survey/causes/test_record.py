"""What the record of a tree, and a report about it, tell of causes."""

from datetime import date, timedelta

import pytest

from survey.causes.conflicts import BadFacts
from survey.causes.models import ClueNoted
from survey.causes.record import causes_of_tree, recorded_of
from survey.handbook.book import book
from survey.reports.causes import causes_of_report, facts_of_report
from survey.reports.models import ReportSign
from survey.trees.models import Acceptance, CareGiven, Happening, LocalSpecies, LookSign, Weather
from tests.factories import (
    NOON,
    TODAY,
    LookFactory,
    ObserverFactory,
    ReportFactory,
    TreeFactory,
)
from tests.survey.cause_rows import weighed_rule

pytestmark = pytest.mark.django_db


@pytest.fixture
def tree():
    return TreeFactory()


def look(tree, *signs, days_ago=5, **more):
    made = LookFactory(tree=tree, day=TODAY - timedelta(days=days_ago), **more)
    for sign in signs:
        LookSign.objects.create(look=made, **(sign if isinstance(sign, dict) else {"sign": sign}))
    return made


def noted(tree, clue, so=True, days_ago=1, *, of_site=False):
    return ClueNoted.objects.create(
        tree=None if of_site else tree,
        site=tree.site if of_site else None,
        clue=clue,
        so=so,
        day=TODAY - timedelta(days=days_ago),
        by="person:x",
        at=NOON,
    )


def known(tree):
    return {one.clue: one.so for one in recorded_of(tree, TODAY).clues}


def kinds(tree, clue):
    return {
        witness.kind
        for one in recorded_of(tree, TODAY).clues
        if one.clue == clue
        for witness in one.witnesses
    }


def report_of(tree, *signs, **more):
    report = ReportFactory(tree=tree, site=tree.site, area=tree.area, **more)
    for sign in signs:
        ReportSign.objects.create(report=report, sign=sign)
    return report


def test_signs_of_looks_are_vouched_for_by_who_looked(tree):
    look(tree, "bark_wound")
    look(tree, "wilting", trained=False, channel="complaint")
    assert known(tree)["bark_wound"] is True
    assert kinds(tree, "bark_wound") == {"trained"}
    assert kinds(tree, "wilting") == {"lay"}


def test_what_passes_is_forgotten_and_what_lasts_is_not(tree):
    look(tree, "wilting", "bark_wound", "dry_soil", days_ago=100)
    assert "bark_wound" in known(tree)
    assert not {"wilting", "dry_soil"} & set(known(tree))


def test_the_newer_of_two_looks_that_contradict_counts(tree):
    look(tree, "dry_soil", days_ago=15)
    look(tree, "soggy_soil", days_ago=2)
    assert "dry_soil" not in known(tree)
    assert known(tree)["soggy_soil"] is True


def test_a_neighbor_does_not_overrule_a_trained_look_of_the_same_time(tree):
    look(tree, "dry_soil", days_ago=4)
    look(tree, "soggy_soil", days_ago=2, trained=False)
    told, _recorded = causes_of_tree(tree)
    assert {one.clue for one in told.read.known if one.so} >= {"dry_soil"}
    assert "soggy_soil" not in {one.clue for one in told.read.known}


def test_an_answer_about_the_tree_counts_before_one_about_its_site(tree):
    noted(tree, "grass_to_trunk", so=True, days_ago=1, of_site=True)
    noted(tree, "grass_to_trunk", so=False, days_ago=9)
    assert known(tree)["grass_to_trunk"] is False
    assert kinds(tree, "grass_to_trunk") == {"check"}


def test_the_side_toward_the_street_is_sunny_where_the_street_lies_south(tree):
    tree.street_bearing = 190
    tree.save()
    look(tree, {"sign": "bark_sunken", "side": "street", "extent": "quarter_to_half"})
    assert known(tree)["sunny_side"] is True
    assert known(tree)["all_round"] is False


def test_the_look_at_delivery_settles_what_was_there_before(tree):
    made = look(tree, days_ago=700, channel="acceptance")
    sides = dict.fromkeys(("base_street", "base_path", "base_left", "base_right"), "whole")
    accepted = Acceptance.objects.create(
        look=made, **sides, flare="visible", ties="loose", accepted=True
    )
    assert known(tree)["came_wounded"] is False
    accepted.base_left = "marked"
    accepted.save()
    assert known(tree)["came_wounded"] is True


def test_happenings_and_weather_are_clues_of_the_record(tree):
    Happening.objects.create(
        site=tree.site,
        kind="mowing",
        from_day=TODAY - timedelta(days=9),
        to_day=TODAY - timedelta(days=9),
        entered_at=NOON,
    )
    for back in range(25):
        Weather.objects.create(
            area=tree.area, day=TODAY - timedelta(days=back), rain_mm=0, low_c=12, high_c=35
        )
    told = known(tree)
    assert told["grass_tool_seen"] is True
    assert told["dry_spell"] is True
    assert told["wet_spell"] is False
    assert told["heat_wave"] is True
    assert told["after_hard_frost"] is False


def test_once_stakes_are_off_what_they_did_is_no_longer_seen(tree):
    look(tree, "stake_rubs", "bark_wound", days_ago=60)
    assert "stake_rubs" in known(tree)
    gone = TODAY - timedelta(days=30)
    Happening.objects.create(
        tree=tree, kind="stake_off", from_day=gone, to_day=gone, entered_at=NOON
    )
    assert "stake_rubs" not in known(tree)
    assert "bark_wound" in known(tree)
    look(tree, "stake_rubs", days_ago=3)
    assert "stake_rubs" in known(tree)


def test_ties_that_were_taken_off_are_known_to_be_gone_until_they_are_on_again(tree):
    def event(kind, days_ago):
        day = TODAY - timedelta(days=days_ago)
        Happening.objects.create(tree=tree, kind=kind, from_day=day, to_day=day, entered_at=NOON)

    assert "ties_gone" not in known(tree)
    day = TODAY - timedelta(days=30)
    CareGiven.objects.create(
        tree=tree, care="remove_ties", given_from=day, given_to=day, given_precision="day",
        entered_at=NOON,
    )  # fmt: skip
    assert known(tree)["ties_gone"]
    event("stake_on", 20)
    assert "ties_gone" not in known(tree)
    event("stake_off", 10)
    assert known(tree)["ties_gone"]
    look(tree, "stake_rubs", days_ago=3)
    assert "ties_gone" not in known(tree)


def test_a_few_days_of_weather_say_nothing(tree):
    Weather.objects.create(area=tree.area, day=TODAY, rain_mm=0, low_c=-9, high_c=40)
    assert not {"dry_spell", "after_hard_frost", "heat_wave"} & set(known(tree))


def test_company_is_counted_at_the_site_and_told_in_numbers(tree):
    look(tree, "bark_wound")
    for number in range(5):
        other = TreeFactory(site=tree.site, planting=tree.planting)
        look(other, *(["bark_wound"] if number < 4 else []))
    recorded = recorded_of(tree, TODAY)
    assert {one.clue: one.so for one in recorded.clues}["same_site_same_sign"] is True
    shared = recorded.details["same_site_same_sign"]
    assert shared.startswith("4 of 5, “")
    assert str(book().signs["bark_wound"].label) in shared
    assert "every look within a year counts" in shared


def test_the_only_tree_with_a_sign_is_told_so(tree):
    look(tree, "bark_wound")
    for _number in range(5):
        look(TreeFactory(site=tree.site, planting=tree.planting))
    assert known(tree)["only_this_tree"] is True


def test_a_sign_that_follows_the_kind_of_tree_is_told(tree):
    look(tree, "spotted_leaves")
    for number in range(8):
        kind = "linden" if number < 4 else "hornbeam"
        other = TreeFactory(site=tree.site, planting=tree.planting, species=kind)
        look(other, *(["spotted_leaves"] if number < 3 else []))
    recorded = recorded_of(tree, TODAY)
    assert recorded.details["same_kind_same_sign"] == "3 of 4, of other kinds 0"
    assert "same_site_same_sign" not in {one.clue for one in recorded.clues}


def test_leaves_and_a_scratched_twig_are_clues_of_a_look(tree):
    look(tree, leaf="bare", scratch="green")
    assert known(tree)["bare_branches"] is True
    assert known(tree)["twigs_bend"] is True
    look(tree, leaf="full", days_ago=1)
    assert known(tree)["bare_branches"] is False


def test_a_kind_of_the_area_brings_its_own_bare_months(tree):
    tree.species = "pellworth_rowan"
    tree.save()
    look(tree, "bare_branches")
    told, _recorded = causes_of_tree(tree)
    assert told.read.bare_is_normal is None
    LocalSpecies.objects.create(
        area=tree.area, code="pellworth_rowan", name="Rowan", bare_months=[6], shoulder_months=[]
    )
    told, _recorded = causes_of_tree(tree)
    assert told.asleep is not None


def test_a_report_is_one_neighbor_and_its_own_look_no_second_one(tree):
    report = report_of(
        tree, "bark_wound", words="Cut in a straight line by the mower, clippings on the trunk"
    )
    mine = look(tree, "bark_wound", days_ago=0, trained=False, channel="complaint")
    report.looks.add(mine)
    told, _recorded = causes_of_report(report)
    mower = told.answer.by_code["mower_or_trimmer"]
    assert (mower.word, mower.cap) == ("possible", "one_report")


def test_three_neighbors_make_likely_what_one_leaves_possible(tree):
    for _number in range(2):
        observer = ObserverFactory(kind="resident")
        look(tree, "bark_wound", trained=False, channel="complaint", observer=observer)
    report = report_of(
        tree, "bark_wound", words="Cut in a straight line by the mower, clippings on the trunk"
    )
    told, _recorded = causes_of_report(report)
    assert told.answer.by_code["mower_or_trimmer"].word == "likely"


def test_a_report_that_names_no_tree_is_told_by_its_words_and_day():
    report = ReportFactory(tree=None, site=None, area=TreeFactory().area, landmark="by the ferry")
    ReportSign.objects.create(report=report, sign="holes_sawdust")
    told, _recorded = causes_of_report(report)
    assert told.answer.named[0].cause == "borers"


def test_nothing_is_asked_while_the_report_is_an_open_danger(tree):
    report = report_of(tree, "wilting", danger="hanging_limb")
    assert causes_of_report(report)[0].asked is None
    report.danger_cleared_at, report.danger_cleared_by = NOON, "person:a"
    assert causes_of_report(report)[0].asked is not None


def test_ticks_that_contradict_each_other_are_refused(tree):
    with pytest.raises(BadFacts, match="contradict"):
        causes_of_report(report_of(tree, "dry_soil", "soggy_soil"))


def test_an_answered_check_settles_what_the_ticks_contradict(tree):
    noted(tree, "soggy_soil")
    told, _recorded = causes_of_report(report_of(tree, "dry_soil", "soggy_soil"))
    assert "dry_soil" not in {one.clue for one in told.read.known}


def test_an_approved_rule_of_the_area_counts(tree):
    weighed_rule(
        area=tree.area,
        code="mower_or_trimmer",
        clue="stained_foot",
        weight=2,
        approved_by="person:b",
        approved_at=NOON,
    )
    noted(tree, "stained_foot")
    told, _recorded = causes_of_tree(tree)
    lines = told.answer.by_code["mower_or_trimmer"].speaks_for
    assert [line.clue for line in lines if line.local] == ["stained_foot"]


def test_the_record_costs_a_fixed_number_of_queries(tree, django_assert_max_num_queries):
    for number in range(8):
        other = TreeFactory(site=tree.site, planting=tree.planting)
        look(other, "bark_wound")
        look(tree, "bark_wound", "wilting", days_ago=number)
        noted(tree, "grass_to_trunk", days_ago=number)
    report = report_of(tree, "bark_wound")
    with django_assert_max_num_queries(13):
        causes_of_report(report)


def test_facts_of_a_report_hold_what_was_ticked_and_said(tree):
    report = report_of(tree, "bark_wound", "no_such_sign", extent="all_round", side="elsewhere")
    facts, _recorded = facts_of_report(report)
    assert facts.signs == {"bark_wound": True}
    assert (facts.extent, facts.side) == ("all_round", "")
    assert facts.month == TODAY.month
    assert facts.age_years == pytest.approx((TODAY - date(2023, 11, 14)).days / 365.25)
