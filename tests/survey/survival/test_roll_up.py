"""From new evidence to a group's row, by chores, and back to order when something was missed."""

import json
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from survey.chores.actions import write_chore
from survey.chores.models import Chore
from survey.chores.rounds import do_due
from survey.survival import roll_up, stands
from survey.survival.cautions import CODES, in_words
from survey.survival.fates import Fates
from survey.survival.keys import name_of
from survey.survival.models import Figure, Group, Stand
from survey.survival.tasks import groups_behind_their_stands, plantings_behind_the_record
from survey.trees.models import Look, Tree
from tests.factories import (
    AreaFactory,
    LookFactory,
    ObserverFactory,
    PlantingFactory,
    SiteFactory,
    TreeFactory,
)


@pytest.fixture
def planting(db):
    """Ten trees seen alive in June 2024 and June 2026, but two: found dead in June 2025."""
    planting = PlantingFactory()
    site, observer = SiteFactory(), ObserverFactory()
    for n, tree in enumerate(TreeFactory.create_batch(10, planting=planting, site=site)):
        LookFactory(tree=tree, observer=observer, day=date(2024, 6, 3))
        if n < 2:
            LookFactory(tree=tree, observer=observer, day=date(2025, 6, 3), dead=True)
        else:
            LookFactory(tree=tree, observer=observer, day=date(2026, 6, 3))
    return planting


def count(planting):
    stands.keep(stands.count(str(planting.pk)))


def behind(area):
    """What waits, by the nightly questions: plantings to count, groups to work out."""
    return list(stands.behind(area)), list(roll_up.out_of_date(area))


def test_a_group_row_says_what_hand_counting_says(planting):
    count(planting)
    roll_up.keep(roll_up.work_out(name_of(planting.area, "planting", planting.ref)))
    group = Group.objects.get(by="planting", key=planting.ref)
    assert (group.label, group.as_of) == (planting.name, planting.area.data_date)
    assert group.counts["statuses"]["standing_dead"] == 2
    assert group.counts["planted"] == 10
    second = group.figures.get(curve="loss", milestone="second_summer")
    # planted November 2023: 30 September 2025 is 22 months; both losses lie before it
    assert (second.age_months, second.at_least, second.at_most) == (22, 0.8, 0.8)
    assert (second.count_alive, second.count_lost, second.count_unknown) == (8, 2, 0)
    assert {c["code"] for c in group.cautions} >= {"invented", "small"}


def test_one_new_look_changes_the_rows_of_its_groups_by_chores_alone(planting):
    area = planting.area
    roll_up.catch_up(area)
    Chore.objects.all().delete()
    tree = Tree.objects.filter(planting=planting).order_by("pk").last()
    LookFactory(tree=tree, day=date(2026, 6, 10), dead=True)
    count(planting)
    waiting = Chore.objects.waiting().filter(kind="roll_up_survival")
    assert {c.key.split("|")[1] for c in waiting} == {
        "planting", "species", "site", "year", "supplier", "town",
    }  # fmt: skip
    for chore in waiting:
        roll_up.keep(roll_up.work_out(chore.key))
    figure = Figure.objects.get(
        group__by="planting", group__key=planting.ref, curve="loss", milestone="24"
    )
    assert figure.events == 2  # the third loss lies between 31 and 31 months, after 24
    group = Group.objects.get(by="planting", key=planting.ref)
    assert group.counts["losses"] == 3


def test_a_planting_counted_anew_with_nothing_new_asks_for_nothing(planting):
    roll_up.catch_up(planting.area)
    Chore.objects.all().delete()
    count(planting)
    assert not Chore.objects.exists()


def test_a_species_that_lost_its_tree_is_worked_out_again_and_goes_when_it_is_empty(planting):
    area = planting.area
    roll_up.catch_up(area)
    Chore.objects.all().delete()
    assert Group.objects.filter(by="species", key="linden").exists()
    Tree.objects.filter(planting=planting).update(species="hornbeam")
    count(planting)
    asked = Chore.objects.waiting().filter(kind="roll_up_survival")
    names = {name_of(area, "species", key) for key in ("linden", "hornbeam")}
    assert names <= set(asked.values_list("key", flat=True))
    for chore in asked:
        roll_up.keep(roll_up.work_out(chore.key))
    assert set(Group.objects.filter(by="species").values_list("key", flat=True)) == {"hornbeam"}


def test_a_supplier_written_otherwise_moves_its_trees_to_another_group(planting):
    area = planting.area
    roll_up.catch_up(area)
    planting.supplier = "Saltmarsh Nursery"
    planting.save()
    assert behind(area)[0] == [planting.pk]
    roll_up.catch_up(area)
    assert set(Group.objects.filter(by="supplier").values_list("key", flat=True)) == {
        "saltmarsh-nursery"
    }


def test_a_stand_keeps_what_distinct_lives_there_are(planting):
    count(planting)
    [stand] = Stand.objects.all()
    fates = Fates.from_rows(stand.fates, stand.newest)
    assert (stand.trees, fates.trees, len(fates.counted)) == (10, 10, 2)
    assert fates.newest == date(2026, 6, 3)
    assert Fates.together([fates, fates]).trees == 20
    assert fates.as_rows() == json.loads(json.dumps(stand.fates))


def test_a_planting_that_lost_its_last_tree_loses_its_stands_and_groups(planting):
    roll_up.catch_up(planting.area)
    Look.objects.all().delete()
    Tree.objects.all().delete()
    assert behind(planting.area)[0] == [planting.pk]
    roll_up.catch_up(planting.area)
    assert not Stand.objects.exists()
    assert not Group.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_the_runner_carries_a_tree_to_its_groups(planting, emptied_audit):
    tree = Tree.objects.filter(planting=planting).first()
    write_chore(kind="count_planting", key=str(tree.planting_id))
    while do_due():
        pass
    assert Group.objects.count() == 6
    assert not Chore.objects.exclude(state="done").exists()


def test_the_same_record_gives_the_same_row_and_is_not_written_again(planting):
    area = planting.area
    roll_up.catch_up(area)
    before = list(Group.objects.order_by("pk").values())
    assert behind(area) == ([], [])
    name = name_of(area, "planting", planting.ref)
    roll_up.keep(roll_up.work_out(name))
    assert list(Group.objects.order_by("pk").values()) == before
    Group.objects.all().delete()
    roll_up.catch_up(area)
    kept = ("counts", "curves", "mortality", "cautions", "evidence")
    assert [{k: row[k] for k in kept} for row in Group.objects.order_by("pk").values()] == [
        {k: row[k] for k in kept} for row in before
    ]


def test_the_nightly_question_finds_what_a_bug_let_slip(planting):
    roll_up.catch_up(planting.area)
    assert list(plantings_behind_the_record()) == list(groups_behind_their_stands()) == []
    tree = Tree.objects.filter(planting=planting).last()
    Look.objects.bulk_create(
        [
            Look(
                tree=tree,
                observer=ObserverFactory(),
                day=date(2026, 6, 12),
                channel="walk",
                trained=True,
                presence="gone",
                entered_at=tree.created_at,
            )
        ]
    )  # no chore was written for it
    assert list(plantings_behind_the_record()) == [("count_planting", str(planting.pk))]
    count(planting)
    waiting = {key for _, key in groups_behind_their_stands()}
    assert name_of(planting.area, "planting", planting.ref) in waiting


def test_a_new_day_counts_everything_and_fits_only_what_it_changed(planting):
    area = planting.area
    roll_up.catch_up(area)
    fitted = dict(Group.objects.values_list("pk", "computed_at"))
    area.data_date += timedelta(days=1)
    area.save()
    [(kind, name)] = plantings_behind_the_record()
    assert (kind, name) == ("count_plantings", f"{area.pk}|{planting.pk}|{planting.pk}")
    roll_up.catch_up(area)
    # one day on nobody is a month older, so the figures stand; only their day moves on
    assert dict(Group.objects.values_list("pk", "computed_at")) == fitted
    assert set(Group.objects.values_list("as_of", flat=True)) == {area.data_date}
    area.data_date += timedelta(days=31)
    area.save()
    roll_up.catch_up(area)
    assert all(at > fitted[pk] for pk, at in Group.objects.values_list("pk", "computed_at"))


def test_a_group_that_lost_its_last_tree_loses_its_row(planting):
    area = planting.area
    roll_up.catch_up(area)
    Tree.objects.filter(planting=planting).update(species="hornbeam")
    roll_up.catch_up(area)
    assert set(Group.objects.filter(by="species").values_list("key", flat=True)) == {"hornbeam"}


def test_an_area_that_is_gone_is_no_error(db):
    roll_up.keep(roll_up.work_out("999999|planting|nothing"))
    assert not Group.objects.exists()


def test_a_key_may_hold_the_stroke_that_parts_names(db):
    area = AreaFactory()
    assert roll_up.work_out(name_of(area, "supplier", "a|b")).key == "a|b"


def test_every_caution_of_a_group_can_be_said(planting):
    for code in CODES:
        said = in_words(
            {"code": code, "trees": 3, "of": 9, "unseen": 3, "months": 9, "days": 80, "share": 0.5}
        )
        assert said != code
        assert "%" not in said


def test_a_range_counts_as_its_plantings_do_one_by_one(planting):
    more = [PlantingFactory(name=f"More {n}") for n in range(3)]
    for other in more:
        TreeFactory(planting=other)
    [name] = stands.ranges_of(planting.area)
    stands.keep_range(stands.count_range(name))
    at_once = {s.planting_id: s.evidence for s in Stand.objects.all()}
    Stand.objects.all().delete()
    for one in (planting, *more):
        count(one)
    assert {s.planting_id: s.evidence for s in Stand.objects.all()} == at_once
    assert len(at_once) == 4


@pytest.mark.parametrize("state", ["waiting", "claimed", "done"])
def test_a_range_leaves_alone_what_was_counted_since_it_began_to_read(planting, state):
    [name] = stands.ranges_of(planting.area)
    old = stands.count_range(name)
    number = write_chore(kind="count_planting", key=str(planting.pk))
    LookFactory(tree=planting.trees.last(), day=date(2026, 6, 10), gone=True)
    count(planting)
    newer = Stand.objects.get().evidence
    more = {
        "waiting": {},
        "claimed": {"claimed_by": uuid4(), "lease_until": timezone.now()},
        "done": {"done_at": timezone.now()},
    }[state]
    Chore.objects.filter(pk=number).update(state=state, **more)
    stands.keep_range(old)
    assert Stand.objects.get().evidence == newer


def test_a_range_of_an_area_that_is_gone_is_no_error(db):
    stands.keep_range(stands.count_range("999999|1|5"))
    assert not Stand.objects.exists()
