"""A simulated town read from its folder: what comes out, and what is refused."""

import random
import shutil
from pathlib import Path

import numpy as np
import pytest

from survey.exports.town_folder import MONTH_0, BadTown, evidence_of, read_town
from survey.exports.town_truth import has_truth, read_truth
from survey.science.condition.records import FAILING, GONE, NOT_SAID, THRIVING
from tests.survey.exports.test_town import FILES

TOWNS = Path(__file__).parents[3] / "fixtures" / "towns"


@pytest.fixture
def folder(tmp_path):
    for name, text in FILES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def add(folder, line, file="reports.csv"):
    with (folder / file).open("a") as opened:
        opened.write(line + "\n")


def test_the_model_reads_trees_looks_care_and_logged_removals(folder):
    evidence = evidence_of(read_town(folder))
    trees, looks = evidence.trees, evidence.looks
    assert (trees.planted - MONTH_0).tolist() == [2, 3]
    assert (trees.first - MONTH_0).tolist() == [2, 9]
    assert (trees.last - MONTH_0).tolist() == [29, 29]
    assert trees.is_from_planting.tolist() == [True, False]
    # a crew's line "gone" is the log of a removal and no look
    assert (looks.month - MONTH_0).tolist() == [2, 12, 9, 18]
    assert evidence.removals.tolist() == [[1, MONTH_0 + 20]]
    assert evidence.care.tolist() == [[0, MONTH_0 + 10]]
    assert looks.leaf_off.tolist() == [True, True, True, False]  # March, January, October, July
    assert looks.signs.tolist() == [0, 0, 2, 0]
    assert evidence.observers.tolist() == [1, 2, 0]  # P1 volunteer, P2 staff, P3 resident
    assert not evidence.south


def test_looks_from_before_the_tree_came_on_the_list_are_left_out(folder):
    add(folder, "R000009,5,1,T00002,P1,volunteer,survey,dead,,bare,")
    evidence = evidence_of(read_town(folder))
    assert (evidence.looks.month >= evidence.trees.first[evidence.looks.tree]).all()
    assert evidence.looks.number == 4


def test_who_looks_twice_in_a_month_is_heard_once(folder):
    add(folder, "R000010,18,20,T00002,P1,volunteer,complaint,failing,,,")
    looks = evidence_of(read_town(folder)).looks
    mine = np.flatnonzero(looks.month == MONTH_0 + 18)
    assert looks.label[mine].tolist() == [FAILING]
    assert looks.scratch[mine].tolist() == [1]  # the green of the first time stands
    assert looks.complaint[mine].tolist() == [True]


def test_a_line_that_comes_twice_counts_once(folder):
    before = evidence_of(read_town(folder)).looks
    text = (folder / "reports.csv").read_text()
    (folder / "reports.csv").write_text(text + text.split("\n", 1)[1])
    after = evidence_of(read_town(folder)).looks
    assert after.number == before.number
    assert (after.label == before.label).all()


def test_nothing_is_seen_on_a_tree_that_is_gone(folder):
    add(folder, "R000011,25,2,T00001,P3,resident,survey,gone,brown,bare,fungus")
    looks = evidence_of(read_town(folder)).looks
    gone = np.flatnonzero(looks.label == GONE)
    assert looks.scratch[gone].tolist() == [0]
    assert looks.leaf[gone].tolist() == [0]


def test_a_look_may_say_nothing_of_the_condition(folder):
    add(folder, "R000012,25,2,T00001,P3,resident,adopter,,,full,")
    looks = evidence_of(read_town(folder)).looks
    assert (looks.label == NOT_SAID).sum() == 1


def test_trees_that_stand_bare_in_july_stand_in_the_south(folder):
    species = FILES["species.csv"].replace("11;12;1;2;3,4;10", "5;6;7;8;9,4;10")
    (folder / "species.csv").write_text(species)
    assert read_town(folder).south
    (folder / "town.csv").write_text("key,value\nmonths,30\nhemisphere,north\n")
    assert not read_town(folder).south


def test_the_order_of_lines_means_nothing(folder):
    town = TOWNS / "alder"
    shutil.copytree(town, folder, dirs_exist_ok=True)
    before = evidence_of(read_town(folder))
    dice = random.Random(7)
    for file in ("reports.csv", "care.csv"):
        head, *lines = (folder / file).read_text().splitlines()
        dice.shuffle(lines)
        (folder / file).write_text("\n".join([head, *lines]) + "\n")
    after = evidence_of(read_town(folder))
    assert (before.care == after.care).all()
    for name in ("tree", "month", "observer", "complaint"):
        assert (getattr(before.looks, name) == getattr(after.looks, name)).all()


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("reports.csv", "R000004,18", "R000004,30", "reports.csv, 5"),
        ("reports.csv", "R000004,18", "R000004,-1", "reports.csv, 5"),
        ("reports.csv", "R000004,18", "R000004," + "9" * 5000, "reports.csv, 5"),
        ("reports.csv", "R000004,18", "R000004,1e1", "reports.csv, 5"),
        ("reports.csv", "T00002,P1", "T99999,P1", "reports.csv, 5"),
        ("reports.csv", "T00002,P1,vol", "T00002,,vol", "reports.csv, 5"),
        ("reports.csv", "volunteer,survey", "mayor,survey", "reports.csv, 5"),
        ("reports.csv", "survey", "gossip", "reports.csv, 5"),
        ("reports.csv", "slipping", "poorly", "reports.csv, 5"),
        ("reports.csv", "slipping,green", "slipping,blue", "reports.csv, 5"),
        ("reports.csv", "18,9", "18,32", "reports.csv, 5"),
        ("reports.csv", "R000003,12", "R000003,1", "reports.csv, 4"),
        ("trees.csv", "3,9,", "9,3,", "trees.csv, 3"),
        ("trees.csv", "100,200", "nan,200", "trees.csv, 3"),
        ("trees.csv", "100,200", "100,inf", "trees.csv, 3"),
        ("trees.csv", "T00002", "T00001", "trees.csv, 3"),
        ("trees.csv", "species_A,3", "palm,3", "trees.csv, 3"),
        ("species.csv", "11;12", "11;13", "species.csv, 2"),
        ("town.csv", "months,30", "months,many", "how many months"),
        ("town.csv", "months,30", "months,100000000", "how many months"),
        ("town.csv", "last_month,29", "hemisphere,east", "north or south"),
        ("care.csv", "T00001", "T77777", "care.csv, 2"),
        ("care.csv", "T00001,10", "T00001", "care.csv, 2"),
    ],
)
def test_what_cannot_be_is_named_by_file_and_line(folder, file, old, new, said):
    text = (folder / file).read_text()
    assert old in text
    (folder / file).write_text(text.replace(old, new, 1))
    with pytest.raises(BadTown) as trouble:
        read_town(folder)
    assert said in "\n".join(trouble.value.problems)


@pytest.mark.parametrize("file", sorted(FILES))
def test_bytes_that_are_no_table_are_refused(folder, file):
    for bytes_ in (b"", b"\xff\xfe\x00\x01", b"\x00" * 50, b'a,"b\n', b"," * 200_000):
        (folder / file).write_bytes(bytes_)
        with pytest.raises(BadTown):
            read_town(folder)


def test_a_file_that_is_a_folder_is_missing(folder):
    (folder / "care.csv").unlink()
    (folder / "care.csv").mkdir()
    with pytest.raises(BadTown, match=r"care\.csv is missing"):
        read_town(folder)


def test_a_thousand_wrong_lines_are_enough(folder):
    for number in range(1500):
        add(folder, f"X{number},x,1,T00001,P1,volunteer,survey,dead,,,")
    with pytest.raises(BadTown) as trouble:
        read_town(folder)
    assert len(trouble.value.problems) == 1000


def test_the_truth_of_both_towns_fits_their_lists():
    for name, trees in (("alder", 388), ("birchfield", 861)):
        town = read_town(TOWNS / name)
        truth = read_truth(TOWNS / name, town)
        assert len(truth.state) == len(truth.died) == trees
        assert ((truth.died == NOT_SAID) == (truth.state <= FAILING)).all()
        assert truth.state.min() == THRIVING


def test_a_folder_without_truth_says_so(folder):
    assert not has_truth(folder)
    with pytest.raises(BadTown, match="is missing"):
        read_truth(folder, read_town(folder))


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("truth_trees.csv", "T00000,S006,C02,1,14", "T99999,S006,C02,1,14"),
        ("truth_trees.csv", "1111111222222232222", "111111122222223222"),
        ("truth_trees.csv", "1111111222222232222", "1111111922222232222"),
        ("truth_sites.csv", "91.500", "high"),
        ("truth_cohorts.csv", "0.95895", ""),
        ("truth_reporters.csv", "reports", "times"),
    ],
)
def test_a_truth_that_cannot_be_is_refused(folder, file, old, new):
    shutil.copytree(TOWNS / "alder", folder, dirs_exist_ok=True)
    path = folder / "truth" / file
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    with pytest.raises(BadTown):
        read_truth(folder, read_town(folder))
