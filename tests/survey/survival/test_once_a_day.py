"""Care is compared and looks are weighed once a day, and stored so that a page need not."""

import json
from datetime import date, timedelta

import pytest

from survey.chores.models import Chore
from survey.science.sample_size import trees_to_sample
from survey.survival import helped, roll_up, stands, weighing
from survey.survival.keys import name_of
from survey.survival.models import CareCompared, LooksWeighed
from survey.survival.tasks import areas_of_another_day, roll_up_survival
from survey.trees.models import Area, CareGiven, Site
from tests.factories import NOON, AreaFactory, LookFactory, SiteFactory, TreeFactory


@pytest.fixture
def area(db):
    """Two sites of four, seen in spring 2024; one tree was watered."""
    area = AreaFactory()
    for name in ("Ferry Road", "Mill Lane"):
        for tree in TreeFactory.create_batch(4, site=SiteFactory(name=name), area=area):
            LookFactory(tree=tree, day=date(2024, 4, 3))
    given = date(2024, 6, 1)
    CareGiven.objects.create(
        tree=tree, care="water", given_from=given, given_to=given, given_precision="day",
        entered_at=NOON,
    )  # fmt: skip
    return area


def key(area):
    return str(area.pk)


def test_every_site_is_weighed_for_each_time(area):
    weighing.keep(weighing.work_out(key(area)))
    rows = LooksWeighed.objects.order_by("site__name")
    assert [row.site.name for row in rows] == ["Ferry Road", "Mill Lane"]
    assert {(row.trees, row.see, row.as_of) for row in rows} == {
        (4, trees_to_sample(margin=0.1, population=4), area.today())
    }
    walk = rows[0].walks["60"]
    assert set(rows[0].walks) == {"30", "60", "120"}
    assert (walk["trees"], walk["of"], walk["minutes"]) == (4, 4, 16.0)
    trees = Site.objects.get(name="Ferry Road").trees.order_by("walk_order", "tag", "pk")
    assert walk["refs"] == [tree.ref for tree in trees]
    assert walk["before"][0] <= walk["after"][0] <= walk["after"][1] <= walk["before"][1] == 4
    assert walk["gain"] > 0


def test_small_heaps_of_sites_weigh_the_same(area, monkeypatch):
    whole = weighing.work_out(key(area)).rows
    monkeypatch.setattr(weighing, "TREES_AT_ONCE", 1)
    parts = weighing.work_out(key(area)).rows
    assert len(list(weighing._sites(area))) == 2
    assert [row.walks for row in parts] == [row.walks for row in whole]


def test_a_new_weighing_takes_the_place_of_the_old_and_is_asked_for_on_another_day(area):
    weighing.keep(weighing.work_out(key(area)))
    assert ("weigh_looks", key(area)) not in set(areas_of_another_day())
    LooksWeighed.objects.update(as_of=area.today() - timedelta(days=1))
    assert ("weigh_looks", key(area)) in set(areas_of_another_day())
    weighing.keep(weighing.work_out(key(area)))
    assert LooksWeighed.objects.count() == 2


def test_every_kind_of_care_given_is_compared_and_stored_as_plain_numbers(area):
    helped.keep(helped.work_out(key(area)))
    [row] = CareCompared.objects.filter(area=area)
    assert (row.care, row.as_of) == ("water", area.today())
    assert row.told["effect"] is None
    assert {one["code"] for one in row.told["missing"]} >= {"treated", "losses_without"}
    json.dumps(row.told, allow_nan=False)
    assert ("compare_care", key(area)) not in set(areas_of_another_day())
    CareGiven.objects.update(care="remove_dead_tree")
    assert set(areas_of_another_day()) == {("weigh_looks", key(area))}
    helped.keep(helped.work_out(key(area)))
    assert not CareCompared.objects.exists()


def test_an_area_without_trees_or_without_care_is_not_asked_for(area):
    AreaFactory(ref="alder", name="Alder", is_home=False)
    assert set(areas_of_another_day()) == {
        ("compare_care", key(area)), ("weigh_looks", key(area)),
    }  # fmt: skip
    CareGiven.objects.all().delete()
    assert set(areas_of_another_day()) == {("weigh_looks", key(area))}


def test_an_area_that_is_gone_is_no_error(area):
    for part in (weighing, helped):
        assert part.work_out("987654") is None
        part.keep(None)
    assert Area.objects.count() == 1


def test_the_first_curve_of_a_town_asks_for_both_and_a_group_of_it_for_neither(area):
    for planting in area.plantings.all():
        stands.keep(stands.count(str(planting.pk)))
    Chore.objects.all().delete()
    asked = Chore.objects.filter(kind__in=["compare_care", "weigh_looks"])
    for by, name, number in (("site", Site.objects.first().ref, 0), ("town", "all", 2)):
        chore = name_of(area, by, name)
        roll_up_survival(chore, roll_up.work_out(chore))
        assert asked.count() == number
    weighing.keep(weighing.work_out(key(area)))
    helped.keep(helped.work_out(key(area)))
    asked.delete()
    chore = name_of(area, "town", "all")
    roll_up_survival(chore, roll_up.work_out(chore))
    assert not asked.exists()


def test_no_site_costs_a_question(area, django_assert_num_queries):
    for site in SiteFactory.create_batch(6):
        TreeFactory.create_batch(2, site=site, area=area)
    with django_assert_num_queries(6):
        weighing.work_out(key(area))
