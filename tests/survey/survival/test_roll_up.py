"""From new evidence to a group's row, by chores, and back to order when something was missed."""

from datetime import date, timedelta

import pytest

from survey.chores.actions import write_chore
from survey.chores.models import Chore
from survey.chores.rounds import do_due
from survey.survival import roll_up
from survey.survival.cautions import CODES, in_words
from survey.survival.models import Figure, Group
from survey.survival.tasks import groups_behind_the_record, refresh_species, refresh_survival
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


def work_out_all(area):
    names = list(roll_up.out_of_date(area))
    for name in names:
        roll_up.keep(roll_up.work_out(name))
    return names


def test_a_group_row_says_what_hand_counting_says(planting):
    roll_up.keep(roll_up.work_out(roll_up.name_of(planting.area, "planting", planting.ref)))
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
    work_out_all(area)
    tree = Tree.objects.filter(planting=planting).order_by("pk").last()
    LookFactory(tree=tree, day=date(2026, 6, 10), dead=True)
    refresh_survival(str(tree.pk))
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


def test_a_species_that_lost_its_tree_is_worked_out_again_and_goes_when_it_is_empty(planting):
    area = planting.area
    work_out_all(area)
    assert Group.objects.filter(by="species", key="linden").exists()
    Tree.objects.filter(planting=planting).update(species="hornbeam")
    refresh_species(f"{area.pk}|linden")
    chore = Chore.objects.waiting().get(kind="roll_up_survival")
    roll_up.keep(roll_up.work_out(chore.key))
    assert not Group.objects.filter(by="species", key="linden").exists()


@pytest.mark.django_db(transaction=True)
def test_the_runner_carries_a_tree_to_its_groups(planting, emptied_audit):
    tree = Tree.objects.filter(planting=planting).first()
    write_chore(kind="refresh_survival", key=str(tree.pk))
    while do_due():
        pass
    assert Group.objects.count() == 6
    assert not Chore.objects.exclude(state="done").exists()


def test_the_same_record_gives_the_same_row_and_is_not_written_again(planting):
    area = planting.area
    work_out_all(area)
    before = list(Group.objects.order_by("pk").values())
    assert work_out_all(area) == []
    name = roll_up.name_of(area, "planting", planting.ref)
    roll_up.keep(roll_up.work_out(name))
    assert list(Group.objects.order_by("pk").values()) == before
    Group.objects.all().delete()
    work_out_all(area)
    kept = ("counts", "curves", "mortality", "cautions", "evidence")
    assert [{k: row[k] for k in kept} for row in Group.objects.order_by("pk").values()] == [
        {k: row[k] for k in kept} for row in before
    ]


def test_the_nightly_question_finds_what_a_bug_let_slip(planting):
    work_out_all(planting.area)
    assert list(groups_behind_the_record()) == []
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
    kinds = {kind for kind, _ in groups_behind_the_record()}
    keys = {key for _, key in groups_behind_the_record()}
    assert kinds == {"roll_up_survival"}
    assert roll_up.name_of(planting.area, "planting", planting.ref) in keys


def test_a_new_day_asks_for_everything(planting):
    area = planting.area
    work_out_all(area)
    area.data_date += timedelta(days=1)
    area.save()
    assert len(list(groups_behind_the_record())) == Group.objects.count()


def test_a_group_that_lost_its_last_tree_loses_its_row(planting):
    area = planting.area
    work_out_all(area)
    Tree.objects.filter(planting=planting).update(species="hornbeam")
    work_out_all(area)
    assert set(Group.objects.filter(by="species").values_list("key", flat=True)) == {"hornbeam"}


def test_an_area_that_is_gone_is_no_error(db):
    roll_up.keep(roll_up.work_out("999999|planting|nothing"))
    assert not Group.objects.exists()


def test_a_key_may_hold_the_stroke_that_parts_names(db):
    area = AreaFactory()
    assert roll_up.work_out(roll_up.name_of(area, "supplier", "a|b")).key == "a|b"


def test_every_caution_of_a_group_can_be_said(planting):
    for code in CODES:
        said = in_words(
            {"code": code, "trees": 3, "of": 9, "unseen": 3, "months": 9, "days": 80, "share": 0.5}
        )
        assert said != code
        assert "%" not in said
