"""A simulated town comes in whole, once, and as what it is."""

import shutil
from datetime import date
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from survey.chores.models import Chore
from survey.people.models import Observer
from survey.reports.models import Report
from survey.survival import stands
from survey.trees.models import Area, CareGiven, Look, Planting, Site, Tree
from survey.trees.species import kinds_in
from tests.factories import AreaFactory

pytestmark = pytest.mark.django_db
TOWNS = Path(__file__).parents[3] / "fixtures" / "towns"

FILES = {
    "town.csv": "key,value\nmonths,30\nlast_month,29\n",
    "species.csv": (
        "species,deciduous,leaf_off_months,shoulder_months\nspecies_A,1,11;12;1;2;3,4;10\n"
    ),
    "trees.csv": (
        "tree_id,site_id,cohort_id,species,planted_month,registered_month,x_m,y_m\n"
        "T00001,S001,C00,species_A,2,2,0,0\n"
        "T00002,S001,C00,species_A,3,9,100,200\n"
    ),
    "reports.csv": (
        "report_id,month,day,tree_id,reporter_id,reporter_group,channel,condition,scratch,leaf,"
        "signs\n"
        "R000001,2,5,T00001,P1,volunteer,registration,thriving,,bare,\n"
        "R000002,9,7,T00002,P2,staff,registration,holding,,full,dieback;fungus\n"
        "R000003,12,7,T00001,P3,resident,adopter,dead,,bare,\n"
        "R000004,18,9,T00002,P1,volunteer,survey,slipping,green,full,\n"
        "R000005,20,9,T00002,P2,staff,crew,gone,,,\n"
    ),
    "care.csv": "tree_id,month\nT00001,10\n",
}


@pytest.fixture
def folder(tmp_path):
    for name, text in FILES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def come(folder, name="Tinytown"):
    call_command("import_town", str(folder), "--as", name)
    return Area.objects.get(name=name)


def test_a_town_is_an_area_of_its_own_that_lives_on_its_last_day(folder):
    home = AreaFactory()
    area = come(folder)
    assert (area.ref, area.data_date, area.invented) == ("tinytown", date(2021, 6, 30), True)
    assert Area.objects.get(is_home=True) == home
    assert Site.objects.get().ref == "tinytown-s001"
    planting = Planting.objects.get()
    assert (planting.planted_from, planting.planted_to) == (date(2019, 3, 1), date(2019, 4, 30))
    assert kinds_in(area)["species_A"].is_leaf_off(10)
    assert not kinds_in(area)["species_A"].is_leaf_off(7)


def test_trees_keep_their_months_and_meters(folder):
    area = come(folder)
    first, second = Tree.objects.order_by("tag")
    assert (first.planted_from, first.planted_to) == (date(2019, 3, 1), date(2019, 3, 31))
    assert (first.planted_precision, first.registered_because) == ("month", "planting_record")
    assert (second.registered_because, second.registered_on) == ("inventory", date(2019, 10, 7))
    assert (first.latitude, first.longitude) == (area.latitude, area.longitude)
    # 200 m north and 100 m east at 40 degrees, on a sphere of 6,371,008.8 m
    assert second.latitude - first.latitude == pytest.approx(0.00179864, abs=1e-8)
    assert second.longitude - first.longitude == pytest.approx(0.00117398, abs=1e-8)


def test_rows_become_looks_with_their_channel_and_never_reports_on_the_desk(folder):
    come(folder)
    assert not Report.objects.exists()
    looks = Look.objects.order_by("repeat_key")
    assert list(looks.values_list("channel", "trained", "presence", "condition")) == [
        ("registration", True, "standing", "thriving"),
        ("registration", True, "standing", "holding"),
        ("adopter", False, "standing", "dead"),
        ("walk", True, "standing", "slipping"),
        ("crew", True, "gone", ""),
    ]
    assert looks[0].repeat_key == "tinytown:R000001"
    assert set(looks[1].signs.values_list("sign", flat=True)) == {"dieback", "fungus"}
    assert Observer.objects.get(key="tinytown:P3").kind == "resident"
    assert CareGiven.objects.get().given_to == date(2019, 11, 30)


def test_a_crews_log_of_a_removal_lets_the_tree_leave_after_its_last_look_alive(folder):
    come(folder)
    tree = Tree.objects.get(tag="T00002")
    assert (tree.left, tree.left_from, tree.left_to) == (
        "died", date(2020, 7, 9), date(2020, 9, 9),
    )  # fmt: skip
    assert Tree.objects.get(tag="T00001").left == ""


def test_a_log_about_the_wrong_tree_is_seen_through(folder):
    with (folder / "reports.csv").open("a") as file:
        file.write("R000006,24,9,T00002,P1,volunteer,survey,holding,,full,\n")
    come(folder)
    assert Tree.objects.get(tag="T00002").left == ""


def test_the_same_town_twice_is_the_same_town(folder):
    come(folder)
    before = [model.objects.count() for model in (Site, Planting, Tree, Look, CareGiven, Observer)]
    come(folder)
    assert before == [
        model.objects.count() for model in (Site, Planting, Tree, Look, CareGiven, Observer)
    ]


def test_a_town_that_has_grown_brings_in_what_is_new(folder):
    come(folder)
    (folder / "town.csv").write_text("key,value\nmonths,32\n")
    with (folder / "reports.csv").open("a") as file:
        file.write("R000007,31,9,T00001,P1,volunteer,survey,holding,,full,\n")
    assert come(folder).data_date == date(2021, 8, 31)
    assert Look.objects.count() == 6


def test_two_towns_do_not_mix(folder):
    come(folder, "One")
    come(folder, "Two")
    assert Tree.objects.count() == 4
    assert Look.objects.filter(tree__area__ref="one").count() == 5


def test_everything_in_it_is_to_be_worked_out(folder):
    come(folder)
    assert Chore.objects.filter(kind="roll_up_trend").count() == 1
    counted = set(Chore.objects.filter(kind="count_plantings").values_list("key", flat=True))
    assert counted == set(stands.ranges_of(Area.objects.get()))


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("reports.csv", "R000004,18", "R000004,30", "reports.csv, 5"),
        ("reports.csv", "R000004,18", "R000004,x", "reports.csv, 5"),
        ("reports.csv", "T00002,P1", "T99999,P1", "reports.csv, 5"),
        ("reports.csv", "survey", "gossip", "reports.csv, 5"),
        ("reports.csv", "slipping", "poorly", "reports.csv, 5"),
        ("reports.csv", "18,9", "18,32", "reports.csv, 5"),
        ("reports.csv", "report_id,", "id,", "lacks the columns report_id"),
        ("trees.csv", "3,9,", "9,3,", "trees.csv, 3"),
        ("trees.csv", "100,200", "100,far", "trees.csv, 3"),
        ("trees.csv", "C00,species_A,3", "C00,palm,3", "unknown species"),
        ("species.csv", "11;12", "11;13", "species.csv, 2"),
        ("town.csv", "months,30", "months,many", "how many months"),
        ("care.csv", "T00001", "T77777", "care.csv, 2"),
    ],
)
def test_a_bad_line_keeps_the_whole_town_out_and_is_named(folder, file, old, new, said, capsys):
    text = (folder / file).read_text()
    assert old in text
    (folder / file).write_text(text.replace(old, new, 1))
    with pytest.raises(CommandError, match="nothing is kept"):
        come(folder)
    assert said in capsys.readouterr().err
    assert not Area.objects.exists()
    assert not Observer.objects.exists()


def test_a_folder_without_the_files_is_refused(tmp_path, capsys):
    with pytest.raises(CommandError):
        come(tmp_path)
    assert "trees.csv is missing" in capsys.readouterr().err


def test_bytes_that_are_no_text_are_refused(folder):
    (folder / "reports.csv").write_bytes(b"report_id,month\n\xff\xfe\x00")
    with pytest.raises(CommandError):
        come(folder)
    assert not Area.objects.exists()


def test_the_home_town_is_not_overwritten(folder):
    AreaFactory(ref="tinytown")
    with pytest.raises(CommandError):
        come(folder)
    assert not Tree.objects.exists()


@pytest.mark.parametrize(("town", "trees"), [("alder", 388), ("birchfield", 861)])
def test_both_towns_come_in_whole(town, trees, tmp_path):
    shutil.copytree(TOWNS / town, tmp_path / town)
    area = come(tmp_path / town, town.capitalize())
    assert area.trees.count() == trees
    rows = (TOWNS / town / "reports.csv").read_text().count("\n") - 1
    assert Look.objects.filter(tree__area=area).count() == rows
