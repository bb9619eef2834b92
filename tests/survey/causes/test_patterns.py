"""The nightly search: what counts as a look, what it finds, and what comes back."""

from datetime import date, timedelta

import pytest

from survey.audit.models import Entry
from survey.causes import kept_findings, patterns
from survey.causes.actions.judge_finding import judge_finding
from survey.causes.models import Finding
from survey.causes.tasks import areas_to_search
from survey.trees.models import Acceptance, Happening, LookSign
from tests import factories as make
from tests.factories import NOON, TODAY
from tests.survey.finding_rows import WALKED, Town, quarry_green, trees_of

pytestmark = pytest.mark.django_db


def test_thirteen_of_fourteen_at_one_site_follow_the_site():
    [found] = quarry_green().search()
    assert (found.sign, found.follows, found.subject) == ("bark_wound", "site", "quarry-green")
    assert (found.with_sign, found.of_trees) == (13, 14)
    assert found.site.ref == "quarry-green"
    assert found.facts["standing"] == "alone"
    assert found.facts["there"]["with"] == 3
    assert found.facts["there"]["of"] == 40
    assert found.facts["looked_at"] == 54
    assert found.facts["observers"] == 2
    assert len(trees_of(found)) == 13
    assert found.after_many >= found.chance
    assert found.found_on == found.weighed_on == TODAY


def test_a_load_that_came_wounded_is_named_and_its_sites_are_not():
    town = Town()
    town.plant("mill-steps", "farrow", 12, 9, supplier="Farrow Hill Trees")
    town.plant("kiln-bank", "farrow", 12, 8, supplier="Farrow Hill Trees")
    town.plant("mill-steps", "others", 25, 1)
    town.plant("kiln-bank", "others", 25, 2)
    [found] = town.search()
    assert (found.follows, found.subject) == ("planting", "farrow")
    assert found.planting.ref == "farrow"
    assert {row["site"] for row in found.facts["places"]} == {s.pk for s in town.sites.values()}


def test_one_load_in_one_place_is_left_open_until_looks_at_planting_speak():
    town = Town()
    here = town.plant("quarry-green", "one-load", 14, 13)
    town.plant("mill-steps", "older-load", 30, 2)
    town.plant("ferry-road", "other-load", 20, 1, supplier="Lower Isle Growers")
    [found] = town.search()
    assert (found.follows, found.facts["standing"]) == ("site", "cannot_tell")
    whole = dict.fromkeys(("base_street", "base_path", "base_left", "base_right"), "whole")
    for tree in here:
        look = make.LookFactory(tree=tree, day=date(2023, 11, 14), channel="acceptance")
        Acceptance.objects.create(look=look, flare="visible", ties="loose", accepted=True, **whole)
    [found] = town.search()
    assert found.facts["standing"] == "alone"
    assert found.facts["came"] == {"whole": 13, "marked": 0, "hidden": 0, "of": 13}


@pytest.mark.parametrize(
    "look",
    [
        {"trained": False},
        {"channel": "complaint"},
        {"channel": "followup"},
        {"presence": "not_seen", "condition": ""},
        {"day": TODAY - timedelta(days=366)},
    ],
    ids=["untrained", "a note", "after work", "not seen", "over a year ago"],
)
def test_only_looks_that_would_have_noted_a_sign_anywhere_count(look):
    town = Town()
    town.plant("mill-steps", "maples", 30, 2)
    for _tree in range(14):
        town.look(make.TreeFactory(site=town.site("quarry-green"), area=town.area), **look)
    assert town.search() == []


def test_trees_that_were_written_about_are_counted_apart():
    town = quarry_green()
    town.plant("quarry-green", "maples", 7, 7, registered_because="report", species="field_maple")
    [found] = town.search()
    assert (found.with_sign, found.of_trees) == (13, 14)
    assert found.facts["called"] == [7, 7]


def test_the_newest_look_counts_and_a_corrected_one_does_not():
    town = Town()
    trees = town.plant("quarry-green", "maples", 14, 0)
    town.plant("mill-steps", "maples", 30, 2)
    for tree in trees:
        slip = town.look(tree, day=WALKED + timedelta(days=1))
        make.LookFactory(tree=tree, day=slip.day, supersedes=slip)
    assert town.search() == []
    for tree in trees:
        town.look(tree, day=WALKED + timedelta(days=2))
    [found] = town.search()
    assert found.with_sign == 14


def test_a_bare_tree_shows_nothing_about_its_leaves():
    town = Town(sign="crisp_edges")
    winter = date(2026, 1, 17)
    for site, signed in (("quarry-green", True), ("mill-steps", False)):
        for _tree in range(12):
            tree = make.TreeFactory(
                site=town.site(site), planting=town.planting("maples"), species="field_maple"
            )
            town.look(tree, day=winter, signed=signed)
    assert town.search() == []


def test_leaves_are_compared_in_the_same_month_only():
    town = Town(sign="crisp_edges")
    for site, day, signed in (
        ("quarry-green", date(2025, 8, 16), 12),
        ("mill-steps", date(2026, 5, 16), 0),
    ):
        for n in range(12):
            tree = make.TreeFactory(site=town.site(site), planting=town.planting("maples"))
            town.look(tree, day=day, signed=n < signed)
    assert town.search() == []


def test_under_five_trees_nothing_is_found():
    town = Town()
    town.plant("quarry-green", "maples", 4, 4)
    town.plant("mill-steps", "maples", 60, 0)
    assert town.search() == []


def test_an_area_without_trees_or_none_at_all_is_searched_without_trouble():
    area = make.AreaFactory()
    assert patterns.work_out(str(area.pk)).patterns == ()
    assert patterns.work_out("987654") is None
    kept_findings.keep(None)


def test_a_second_run_changes_nothing():
    town = quarry_green()
    [first] = town.search()
    [again] = town.search()
    assert (again.pk, again.number, again.version) == (first.pk, first.number, first.version)
    assert again.evidence == first.evidence


def test_a_finding_that_is_no_longer_found_is_gone_and_may_return_under_its_number():
    town = quarry_green()
    [found] = town.search()
    ticks = LookSign.objects.filter(look__tree__site__ref="quarry-green")
    kept = list(ticks.values_list("look_id", flat=True))
    ticks.delete()
    assert town.search() == []
    found.refresh_from_db()
    assert found.gone_on == TODAY
    LookSign.objects.bulk_create(LookSign(look_id=look, sign="bark_wound") for look in kept)
    [back] = town.search()
    assert (back.pk, back.number, back.gone_on) == (found.pk, found.number, None)


def judged(town, word="dismissed"):
    [found] = town.search()
    return judge_finding(
        finding=found,
        version=found.version,
        word=word,
        reason="It was the flood of 2024.",
        by=make.PersonFactory(),
        at=NOON,
    )


def test_a_judged_finding_stays_judged_while_it_rests_on_the_same_trees():
    town = quarry_green()
    found = judged(town)
    # the same trees, looked at once more
    for tree in found.trees.all():
        town.look(tree, day=WALKED + timedelta(days=3))
    [again] = town.search()
    assert again.state == "dismissed"
    assert again.reason == "It was the flood of 2024."


def test_more_trees_with_the_sign_open_a_judged_finding_again():
    town = quarry_green()
    found = judged(town)
    town.plant("quarry-green", "maples", 1, 1, species="field_maple")
    [again] = town.search()
    assert again.pk == found.pk
    assert (again.state, again.reason, again.judged_by, again.judged_at) == ("open", "", "", None)
    [earlier] = again.facts["earlier"]
    assert (earlier["state"], earlier["new_trees"]) == ("dismissed", 1)
    assert earlier["reason"] == "It was the flood of 2024."
    assert Entry.objects.filter(act="finding.reopened").count() == 1
    assert again.version > found.version


def test_fewer_trees_are_no_new_evidence():
    town = quarry_green()
    judged(town, "confirmed")
    LookSign.objects.filter(look__tree__site__ref="quarry-green").first().delete()
    [again] = town.search()
    assert again.with_sign == 12
    assert again.state == "confirmed"


def test_another_conclusion_opens_a_judged_finding_again():
    town = Town()
    here = town.plant("quarry-green", "one-load", 14, 13)
    town.plant("mill-steps", "older-load", 30, 2)
    town.plant("ferry-road", "other-load", 20, 1, supplier="Lower Isle Growers")
    judged(town, "watched")
    whole = dict.fromkeys(("base_street", "base_path", "base_left", "base_right"), "whole")
    for tree in here:
        look = make.LookFactory(tree=tree, day=date(2023, 11, 14), channel="acceptance")
        Acceptance.objects.create(look=look, flare="visible", ties="loose", accepted=True, **whole)
    [again] = town.search()
    assert again.state == "open"
    assert again.facts["earlier"][0]["was"] == "cannot_tell"


def test_first_seen_is_told_with_the_last_look_before_and_changes_stand_beside_it():
    town = quarry_green()
    site = town.site("quarry-green")
    for tree in site.trees.all():
        town.look(tree, day=date(2026, 3, 1), signed=False)
    Happening.objects.create(
        site=site,
        kind="new_contractor",
        from_day=date(2026, 4, 1),
        to_day=date(2026, 4, 1),
        entered_at=NOON,
    )
    [found] = town.search()
    seen = found.facts["first_seen"]
    assert seen["on"] == WALKED.isoformat()
    assert seen["clean_until"] == "2026-03-01"
    [change] = found.facts["times"]
    # every tree was whole in March and marked in May: the change lies between, and nobody can tell
    assert (change["before"], change["straddling"], change["after"]) == (0, 13, 0)
    assert change["verdict"] == "not_shown"


def test_onsets_are_told_of_the_trees_of_the_finding_and_others_are_told_apart():
    town = quarry_green()
    site = town.site("quarry-green")
    trees = list(site.trees.all())
    for tree in trees:
        town.look(tree, day=date(2026, 3, 1), signed=False)
    # the first two are seen without it again: they had it once
    for tree in trees[:2]:
        town.look(tree, day=date(2026, 6, 1), signed=False)
    Happening.objects.create(
        site=site, kind="stake_off", from_day=date(2026, 4, 1), to_day=date(2026, 4, 1),
        entered_at=NOON,
    )  # fmt: skip
    [found] = town.search()
    [change] = found.facts["times"]
    assert found.with_sign == len(trees_of(found)) == 11
    assert change["before"] + change["straddling"] + change["after"] == 11
    assert change["once"] == 2


def test_a_sign_that_begins_after_a_change_over_the_whole_town_is_a_finding_of_time():
    town = Town()
    trees = [
        *town.plant("quarry-green", "maples", 20, 19),
        *town.plant("quarry-green", "lindens", 20, 18),
    ]
    for tree in trees:
        for day in (date(2025, 6, 1), date(2025, 9, 1), date(2025, 12, 1), date(2026, 3, 20)):
            town.look(tree, day=day, signed=False)
    Happening.objects.create(
        site=town.site("quarry-green"),
        kind="new_contractor",
        from_day=date(2026, 3, 15),
        to_day=date(2026, 3, 15),
        entered_at=NOON,
    )
    [found] = town.search()
    assert (found.follows, found.subject) == ("time", "quarry-green:new_contractor:2026-03-15")
    assert found.facts["question"]["after"] == 37
    assert found.site.ref == "quarry-green"


def test_a_sign_on_the_street_side_everywhere_is_a_finding_of_side():
    town = Town()
    for site in ("quarry-green", "mill-steps", "ferry-road"):
        for planting in ("maples", "lindens"):
            for tree in town.plant(site, planting, 10, 0):
                town.look(tree, day=WALKED + timedelta(days=1), signed=tree.pk % 2, side="street")
    [found] = town.search()
    assert (found.follows, found.subject) == ("side", "street")
    assert found.facts["question"]["street"] == found.facts["question"]["of"]


def test_the_number_of_questions_does_not_grow_with_the_trees(django_assert_max_num_queries):
    town = quarry_green()
    town.plant("ferry-road", "farrow", 60, 5, supplier="Farrow Hill Trees")
    with django_assert_max_num_queries(11):
        searched = patterns.work_out(str(town.area.pk))
    assert len(searched.patterns) == 1
    with django_assert_max_num_queries(30):  # of one finding: its row, its rules, its trees
        kept_findings.keep(searched)


def test_another_area_is_left_alone():
    other = make.AreaFactory(ref="southmere", name="Southmere", is_home=False)
    quarry_green().search()
    assert not Finding.objects.filter(area=other).exists()


def test_every_night_asks_for_each_area_that_was_looked_at():
    quiet = make.AreaFactory(ref="southmere", name="Southmere", is_home=False)
    town = quarry_green()
    assert list(areas_to_search()) == [("find_patterns", str(town.area.pk))]
    assert quiet.pk != town.area.pk
