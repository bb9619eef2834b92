"""The command that holds what is believed against a known truth, and that reads none unasked."""

import csv
import shutil
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from survey.exports.town_answer import ANSWER_FILES

TOWNS = Path(__file__).parents[3] / "fixtures" / "towns"


@pytest.fixture
def alder(tmp_path):
    folder = tmp_path / "alder"
    shutil.copytree(TOWNS / "alder", folder)
    return folder


def lines_of(capsys):
    return capsys.readouterr().out.splitlines()


def table(path):
    with path.open(newline="") as opened:
        return list(csv.DictReader(opened))


def test_beside_the_truth_stand_four_methods(alder, capsys):
    call_command("evaluate", str(alder), "--truth")
    lines = lines_of(capsys)
    assert lines[0].startswith("388 trees on the list, 8 sites, 5 plantings, 60 months")
    brier = next(line for line in lines if "Brier" in line).split()[-4:]
    # fixtures/towns/reference_scores.csv, the rows of alder
    assert brier[:2] == ["0.0595", "0.0524"]
    latent, ours = map(float, brier[2:])
    assert ours < 0.6 * float(brier[1])
    assert ours < latent
    dated = next(line for line in lines if "trees dated" in line)
    assert dated.split()[-2] == "–"  # the static model dates nothing
    assert "The truth was not read." not in lines


def test_without_being_asked_it_reads_no_truth_and_says_so(alder, capsys):
    call_command("evaluate", str(alder))
    told = lines_of(capsys)
    (alder / "truth" / "truth_trees.csv").write_bytes(b"\xff\x00 no table")
    call_command("evaluate", str(alder))
    assert lines_of(capsys) == told
    shutil.rmtree(alder / "truth")
    call_command("evaluate", str(alder))
    assert lines_of(capsys) == told
    assert told[-1] == "The truth was not read."
    summed = [float(line.split()[-1]) for line in told if line.startswith("  ")][:5]
    assert sum(summed) == pytest.approx(388, abs=0.3)
    with pytest.raises(CommandError, match="holds no truth"):
        call_command("evaluate", str(alder), "--truth")


def test_the_answer_is_five_whole_files_and_twice_the_same(alder, tmp_path):
    out = tmp_path / "out" / "deep"
    call_command("evaluate", str(alder), "--answer", str(out))
    first = {path.name: path.read_bytes() for path in out.iterdir()}
    assert set(first) == set(ANSWER_FILES)
    (out / "notes.txt").write_text("mine")
    (out / "sites.csv").write_text("old")
    call_command("evaluate", str(alder), "--answer", str(out))
    assert {path.name: path.read_bytes() for path in out.iterdir()} == first | {
        "notes.txt": b"mine"
    }

    status = table(out / "posterior.csv")
    assert len(status) == 388
    assert {row["month"] for row in status} == {"59"}
    shares = [[float(row[name]) for name in ANSWER_FILES["posterior.csv"][2:]] for row in status]
    assert all(abs(sum(row) - 1) < 1e-9 and min(row) >= 0 for row in shares)
    for row in table(out / "death.csv"):
        low, median, high = (float(row[f"death_{end}"]) for end in ("lo", "median", "hi"))
        assert 0 <= low <= median <= high <= 59
    for row in table(out / "survival.csv"):
        assert 0 <= float(row["lo"]) <= float(row["survival"]) <= float(row["hi"]) <= 1
    by_cohort = {}
    for row in table(out / "survival.csv"):
        by_cohort.setdefault(row["cohort_id"], []).append(float(row["survival"]))
    assert all(shares == sorted(shares, reverse=True) for shares in by_cohort.values())
    assert {row["site_id"] for row in table(out / "sites.csv")} == {f"S{n:03d}" for n in range(8)}
    assert all(0 < float(row["reliability"]) < 1 for row in table(out / "reporters.csv"))


def test_a_bad_town_leaves_no_answer_and_names_its_lines(alder, tmp_path, capsys):
    reports = (alder / "reports.csv").read_text()
    (alder / "reports.csv").write_text(reports.replace("holding", "\x1b[31mgrand", 1))
    out = tmp_path / "out"
    with pytest.raises(CommandError, match="1 problem; nothing was worked out or written"):
        call_command("evaluate", str(alder), "--answer", str(out))
    said = capsys.readouterr().err
    assert said.startswith("reports.csv, 2: ")
    assert "\x1b" not in said
    assert not out.exists()


def test_a_thousand_bad_lines_are_told_in_short(alder, capsys):
    with (alder / "reports.csv").open("a") as opened:
        for number in range(1200):
            opened.write(f"X{number},1,1,T00000,P1,{'mayor' * 20_000},survey,dead,,,\n")
    with pytest.raises(CommandError, match="1000 problems"):
        call_command("evaluate", str(alder))
    said = capsys.readouterr().err.splitlines()
    assert len(said) == 51
    assert said[-1] == "… and more."
    assert max(map(len, said)) < 250


def test_a_bad_truth_leaves_no_answer(alder, tmp_path):
    (alder / "truth" / "truth_sites.csv").write_text("site_id,month\n")
    out = tmp_path / "out"
    with pytest.raises(CommandError):
        call_command("evaluate", str(alder), "--truth", "--answer", str(out))
    assert not out.exists()


def test_an_answer_that_cannot_be_kept_is_refused(alder, tmp_path):
    file = tmp_path / "file"
    file.write_text("something else")
    for out in (file, file / "below"):
        with pytest.raises(CommandError):
            call_command("evaluate", str(alder), "--answer", str(out))
    assert file.read_text() == "something else"


def test_a_town_of_one_tree_and_no_report_is_believed_too(tmp_path, capsys):
    for name, text in {
        "town.csv": "key,value\nmonths,3\n",
        "species.csv": "species,deciduous,leaf_off_months,shoulder_months\npalm,0,,\n",
        "trees.csv": (
            "tree_id,site_id,cohort_id,species,planted_month,registered_month,x_m,y_m\n"
            "T1,S1,C1,palm,0,0,0,0\n"
        ),
        "reports.csv": (
            "report_id,month,day,tree_id,reporter_id,reporter_group,channel,condition,scratch,"
            "leaf,signs\n"
        ),
        "care.csv": "tree_id,month\n",
    }.items():
        (tmp_path / name).write_text(text)
    call_command("evaluate", str(tmp_path), "--answer", str(tmp_path / "out"))
    assert "1 trees on the list" in capsys.readouterr().out
    assert len(table(tmp_path / "out" / "posterior.csv")) == 1
    assert table(tmp_path / "out" / "survival.csv") == []


def test_a_town_without_trees_is_no_error(tmp_path, capsys):
    shutil.copytree(TOWNS / "alder", tmp_path / "bare")
    for name in ("trees.csv", "reports.csv", "care.csv"):
        path = tmp_path / "bare" / name
        path.write_text(path.read_text().split("\n", 1)[0] + "\n")
    call_command("evaluate", str(tmp_path / "bare"), "--answer", str(tmp_path / "out"))
    assert "0 trees on the list" in capsys.readouterr().out
    assert table(tmp_path / "out" / "posterior.csv") == []
