"""Outlooks of sites, plantings and species are kept by month; a site that turns down is named."""

from datetime import date

import pytest

from survey.condition import learning, outlooks
from survey.condition.models import Outlook, Turn
from survey.condition.outlooks import FURTHER, months_of, rounds_kept
from tests.factories import NOON, LookFactory, ObserverFactory, SiteFactory, TreeFactory
from tests.survey.belief_rows import turn

pytestmark = pytest.mark.django_db


def roll_up(site):
    name = f"{site.area_id}|site|{site.pk}"
    outlooks.keep(outlooks.work_out(name))
    return Outlook.objects.filter(by="site", key=site.ref).first()


def walk(trees, day, conditions, observer):
    for tree, condition in zip(trees, conditions, strict=True):
        LookFactory(tree=tree, observer=observer, day=day, condition=condition)


@pytest.fixture
def sites():
    """Two sites walked six times by two people: one stays as it is, the other falls at the end."""
    people = ObserverFactory.create_batch(2)
    steady, falling = SiteFactory(name="Steady Walk"), SiteFactory(name="Falling Row")
    trees = {site: TreeFactory.create_batch(10, site=site) for site in (steady, falling)}
    days = [date(2024, 5, 3), date(2024, 7, 3), date(2024, 9, 3)]
    days += [date(2025, 5, 3), date(2025, 7, 3), date(2025, 9, 3)]
    for number, day in enumerate(days):
        walk(trees[steady], day, ["holding"] * 10, people[number % 2])
        worse = ["failing"] * 7 + ["dead"] * 3 if number > 3 else ["holding"] * 10
        walk(trees[falling], day, worse, people[number % 2])
    learning.keep(learning.work_out(str(steady.area_id)))
    return steady, falling


def test_a_place_has_a_month_for_each_since_its_first_tree(sites):
    row = roll_up(sites[0])
    months = months_of(row)
    assert [months[0].first_day, months[-1].first_day] == [date(2023, 11, 1), date(2026, 6, 1)]
    assert len(months) == 32
    assert (row.trees, row.looks_in_year) == (10, 20)
    assert 9 <= row.standing <= 10
    assert row.surveyed
    for month in months:
        assert month.low <= month.outlook <= month.high
        assert sum(month.shares) == pytest.approx(1, abs=0.001)
    assert [month.looks for month in months if month.looks] == [10] * 6


def test_rounds_stand_on_their_own_labels(sites):
    rounds = rounds_kept(roll_up(sites[0]))
    assert len(rounds) == 6
    assert {one.outlook for one in rounds} == {89.0}
    assert {one.trees for one in rounds} == {10}


def test_a_site_that_falls_is_found_and_names_the_trees_that_drive_it(sites):
    roll_up(sites[1])
    found = Turn.objects.get()
    assert found.site == sites[1]
    assert found.since == date(2025, 7, 1)
    assert found.before == 89
    assert found.after < 60
    assert found.rounds == 6
    assert len(found.driven_by) == 10
    assert all(driver["before"] > driver["after"] for driver in found.driven_by)


def test_a_site_that_stays_as_it_is_is_not(sites):
    roll_up(sites[0])
    assert not Turn.objects.exists()


def test_working_out_again_keeps_one_turn(sites):
    roll_up(sites[1])
    first = Turn.objects.get()
    roll_up(sites[1])
    assert Turn.objects.get().pk == first.pk


def test_a_turn_is_over_when_it_is_not_found_any_more(sites):
    row = turn(site=sites[0])
    roll_up(sites[0])
    row.refresh_from_db()
    assert row.over_on == sites[0].area.today()


@pytest.mark.parametrize(("further", "rows"), [(FURTHER - 1, 1), (FURTHER + 1, 2)])
def test_a_turn_put_aside_comes_back_only_when_the_site_falls_much_further(sites, further, rows):
    roll_up(sites[1])
    row = Turn.objects.get()
    row.after += further
    row.put_aside_at, row.put_aside_by, row.put_aside_reason = NOON, "person:a", "rings ordered"
    row.save()
    roll_up(sites[1])
    assert Turn.objects.count() == rows
    assert Turn.objects.to_be_seen().count() == rows - 1


def test_a_turn_long_past_stands_and_is_no_news_for_the_desk():
    turn(since=date(2025, 5, 1), found_on=date(2026, 6, 1))
    turn(since=date(2025, 8, 1), found_on=date(2026, 6, 1))
    assert [row.since for row in Turn.objects.to_be_seen()] == [date(2025, 8, 1)]
    assert Turn.objects.standing().count() == 2


def test_looks_after_work_go_to_trees_in_trouble_and_make_no_round(sites):
    trees = list(sites[0].trees.all())
    somebody = ObserverFactory()
    for tree in trees[:6]:
        fields = {"channel": "followup", "condition": "failing", "day": date(2026, 2, 2)}
        LookFactory(tree=tree, observer=somebody, **fields)
    assert len(rounds_kept(roll_up(sites[0]))) == 6


def test_plantings_and_species_have_outlooks_too(sites):
    area = sites[0].area
    for name in learning.groups_of(area):
        outlooks.keep(outlooks.work_out(name))
    assert set(Outlook.objects.values_list("by", flat=True)) == {"site", "planting", "species"}
    assert Outlook.objects.get(by="species").trees == 20
    assert list(outlooks.behind(area)) == []


def test_a_heap_of_places_says_of_each_what_it_says_alone(sites):
    area = sites[0].area
    for name in learning.groups_of(area):
        outlooks.keep(outlooks.work_out(name))
    alone = {(row.by, row.key): (row.months, row.rounds) for row in Outlook.objects.all()}
    turned = Turn.objects.values("site", "since", "before", "after", "driven_by").get()
    Outlook.objects.all().delete()
    Turn.objects.all().delete()
    for name in learning.heaps_of(area):
        outlooks.keep(outlooks.work_out(name))
    assert {(row.by, row.key): (row.months, row.rounds) for row in Outlook.objects.all()} == alone
    assert Turn.objects.values("site", "since", "before", "after", "driven_by").get() == turned


def test_many_places_that_are_behind_are_asked_for_in_heaps(sites, monkeypatch):
    area = sites[0].area
    monkeypatch.setattr(outlooks, "FEW", 100)
    assert [name for _, name in outlooks.wishes(area)] == learning.groups_of(area)
    monkeypatch.setattr(outlooks, "FEW", 3)
    assert [name for _, name in outlooks.wishes(area)] == learning.heaps_of(area)


def test_what_is_missing_or_of_another_learning_is_asked_for(sites):
    area = sites[0].area
    everything = list(outlooks.behind(area))
    assert everything == learning.groups_of(area)
    roll_up(sites[0])
    assert len(list(outlooks.behind(area))) == len(everything) - 1
    learning.keep(learning.work_out(str(area.pk)))
    assert list(outlooks.behind(area)) == everything


def test_a_place_with_complaints_alone_was_not_surveyed():
    site = SiteFactory()
    tree = TreeFactory(site=site)
    neighbor = ObserverFactory(kind="resident")
    fields = {"channel": "complaint", "trained": False, "condition": "failing"}
    LookFactory(tree=tree, observer=neighbor, day=date(2026, 5, 2), **fields)
    learning.keep(learning.work_out(str(site.area_id)))
    assert not roll_up(site).surveyed


def test_a_place_without_trees_loses_its_row(sites):
    row = roll_up(sites[0])
    empty = SiteFactory()
    Outlook.objects.filter(pk=row.pk).update(key=empty.ref)
    assert roll_up(empty) is None
    assert outlooks.work_out("999|site|1") is None
    outlooks.keep(None)


def test_an_older_result_is_not_put_in_place_of_a_newer_one(sites):
    old = outlooks.work_out(f"{sites[0].area_id}|site|{sites[0].pk}")
    newer = roll_up(sites[0])
    outlooks.keep(old)
    assert Outlook.objects.get(by="site", key=sites[0].ref).pk == newer.pk
