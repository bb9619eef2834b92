"""Tables to take away: what stands in them, and that the same record gives the same bytes."""

import csv
import io
from datetime import date
from pathlib import Path

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.utils import translation

from survey.condition import learning
from survey.exports.columns import Column, Table
from survey.exports.dictionary import END, START, NoMarkers, in_markdown, put_into
from survey.exports.kinds import EXPORTS, IMPORTS
from survey.exports.writing import csv_lines, written
from survey.survival.models import Group
from tests.factories import LookFactory, PlantingFactory, SiteFactory, TreeFactory

NOTE = Table("note", "Note", "A row.", (Column("text", "Words."), Column("n", "Number.", "number")))


def lines(*rows, **how):
    return "".join(csv_lines(NOTE, rows, **how))


@pytest.fixture
def planting(db):
    """Ten trees of which two were found dead between 7 and 19 months of age."""
    planting, site = PlantingFactory(name="=Ferry Road 2023"), SiteFactory(name="Ferry Road")
    for n, tree in enumerate(TreeFactory.create_batch(10, planting=planting, site=site)):
        LookFactory(tree=tree, day=date(2024, 6, 3))
        LookFactory(tree=tree, day=date(2025, 6, 3) if n < 2 else date(2026, 6, 3), dead=n < 2)
    return planting


def export(tmp_path, table, *more):
    path = tmp_path / f"{table}.csv"
    call_command("export", table, "--fresh", "--output", str(path), *more)
    return path.read_bytes()


def read(data):
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"))))


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠"])
def test_a_cell_that_a_spreadsheet_would_run_is_disarmed(start):
    [_, row] = list(csv.reader(io.StringIO(lines([f"{start}1+1", 1]), newline="")))
    assert row[0] == f"'{start}1+1"


def test_numbers_keep_their_minus_sign():
    assert lines(["a", -1.5]).endswith("a,-1.5\r\n")


def test_quotes_commas_line_ends_and_nul_survive_or_are_replaced():
    text = 'he said "no", then\nleft\0'
    [_, row] = list(csv.reader(io.StringIO(lines([text, None]), newline="")))
    assert row == ['he said "no", then\nleft\ufffd', ""]


def test_a_mark_is_written_for_spreadsheets_alone():
    assert lines(for_spreadsheets=True) == "\ufefftext,n\r\n"
    assert lines() == "text,n\r\n"


@pytest.mark.parametrize(
    ("value", "text"),
    [(None, ""), (True, "yes"), (False, "no"), (12.0, "12"), (0.0, "0"), (0.8, "0.8"),
     (1 / 3, "0.333333"), (100.0, "100"), (date(2026, 6, 16), "2026-06-16")],
)  # fmt: skip
def test_values_are_written_one_way_only(value, text):
    assert written(value) == text


def test_the_survival_table_says_what_hand_counting_says(planting, tmp_path):
    rows = read(export(tmp_path, "survival", "--by", "planting"))
    assert len(rows) == 10  # two curves, five ages
    row = next(r for r in rows if (r["curve"], r["milestone"]) == ("loss", "second_summer"))
    assert row["label"] == "'=Ferry Road 2023"
    assert (row["survival_at_least"], row["survival_at_most"]) == ("0.8", "0.8")
    assert (row["known_alive"], row["known_lost"], row["not_known"]) == ("8", "2", "0")
    assert (row["age_months"], row["trees_in_rates"], row["withheld"]) == ("22", "10", "")
    assert float(row["limit_low"]) < 0.8 < float(row["limit_high"])
    late = next(r for r in rows if (r["curve"], r["milestone"]) == ("loss", "60"))
    assert (late["withheld"], late["survival_at_least"]) == ("not_old_enough", "")


def test_the_table_of_trees_says_how_each_counts(planting, tmp_path):
    rows = read(export(tmp_path, "trees"))
    assert len(rows) == 10
    lost = [row for row in rows if row["lost_by_months"]]
    assert [(r["alive_until_months"], r["lost_by_months"], r["outcome"]) for r in lost] == [
        ("7", "19", "died")
    ] * 2
    assert {row["in_rates"] for row in rows} == {"yes"}


def test_the_table_of_trends_has_a_row_for_each_condition(planting, tmp_path):
    rows = [r for r in read(export(tmp_path, "trends")) if r["month"] == "2025-06-01"]
    assert {r["condition"]: r["trees"] for r in rows} == {
        "thriving": "0", "holding": "0", "slipping": "0", "failing": "0", "dead": "2",
    }  # fmt: skip


@pytest.mark.parametrize("table", sorted(EXPORTS))
def test_the_same_record_gives_the_same_bytes(planting, tmp_path, table):
    once = export(tmp_path, table)
    Group.objects.all().delete()
    assert export(tmp_path, table) == once


def test_with_all_evidence_weighed_every_group_has_a_second_set_of_rows(planting, tmp_path):
    alone = read(export(tmp_path, "survival"))
    assert {row["reading"] for row in alone} == {"verified"}
    learning.keep(learning.work_out(str(planting.area_id)))
    rows = read(export(tmp_path, "survival"))
    assert [row["reading"] for row in rows] == ["verified"] * 10 + ["weighed"] * 10
    assert rows[:10] == alone
    for row, beside in zip(rows[10:], alone, strict=True):
        same = ("key", "label", "as_of", "curve", "milestone", "age_months", "trees_in_rates")
        assert [row[name] for name in same] == [beside[name] for name in same]
        assert row["survival_at_least"] == row["survival_at_most"]
        assert row["pooled_survival"] == row["annual_mortality"] == row["median_gap_days"] == ""
    told = next(r for r in rows[10:] if (r["curve"], r["milestone"]) == ("loss", "24"))
    assert 0 < float(told["limit_low"]) < float(told["survival_at_least"]) < 1
    # each of the two was found dead once only: that may have been a mistake
    assert int(told["known_alive"]) + int(told["known_lost"]) == 10
    assert (int(told["known_alive"]) >= 8, told["not_known"]) == (True, "0")


def test_the_same_record_weighed_gives_the_same_bytes(planting, tmp_path):
    learning.keep(learning.work_out(str(planting.area_id)))
    once = export(tmp_path, "survival")
    Group.objects.all().delete()
    assert export(tmp_path, "survival") == once


def test_something_that_does_not_matter_changes_no_byte(planting, tmp_path):
    once = export(tmp_path, "survival")
    other = PlantingFactory(name="Elsewhere", planted_from=date(2026, 3, 1))
    call_command("export", "survival", "--fresh", "--output", str(tmp_path / "x.csv"))
    planting.note = "the gate is on the left"
    planting.save()
    assert export(tmp_path, "survival") == once
    assert not other.trees.exists()


def test_something_that_matters_changes_the_row(planting, tmp_path):
    once = export(tmp_path, "survival")
    tree = planting.trees.order_by("pk").last()
    LookFactory(tree=tree, day=date(2026, 6, 10), gone=True)
    changed = export(tmp_path, "survival")
    assert changed != once
    assert {row["trees_in_rates"] for row in read(changed)} == {"10"}


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_table_does_not_depend_on_the_readers_language(planting, tmp_path, language):
    english = export(tmp_path, "survival")
    with translation.override(language):
        assert export(tmp_path, "survival") == english


def test_an_export_of_what_is_behind_the_record_says_so(planting, capsys, tmp_path):
    call_command("export", "survival", "--output", str(tmp_path / "s.csv"))
    said = capsys.readouterr().err
    assert "1 plantings and 0 groups wait" in said
    call_command("export", "survival", "--fresh", "--output", str(tmp_path / "s.csv"))
    call_command("export", "survival", "--output", str(tmp_path / "s.csv"))
    assert "wait" not in capsys.readouterr().err


def test_an_unknown_area_is_refused_with_those_there_are(planting):
    with pytest.raises(CommandError, match="pellworth"):
        call_command("export", "survival", "--area", "atlantis")


def test_a_folder_that_is_not_there_is_said_to_be_missing(planting, tmp_path):
    with pytest.raises(CommandError, match="No such file"):
        call_command("export", "trees", "--output", str(tmp_path / "none" / "t.csv"))


def test_every_column_of_every_table_is_explained():
    text = in_markdown()
    tables = [*EXPORTS.values(), *(kind.table for kind in IMPORTS.values())]
    for table in tables:
        assert len(set(table.names)) == len(table.names)
        for column in table.columns:
            assert f"| `{column.name}` |" in text
            assert len(str(column.meaning)) > 4
            for choice in column.choices:
                assert choice in text


def test_the_readme_holds_the_dictionary_as_it_is_now():
    readme = Path(__file__).parents[3] / "README.md"
    text = readme.read_text(encoding="utf-8")
    assert put_into(text) == text


def test_a_text_without_markers_is_left_alone(tmp_path):
    with pytest.raises(NoMarkers):
        put_into(f"only {START}")
    path = tmp_path / "README.md"
    path.write_text(f"before\n{START}\nquite stale\n{END}\nafter\n", encoding="utf-8")
    call_command("data_dictionary", str(path))
    text = path.read_text(encoding="utf-8")
    assert text.startswith("before\n")
    assert text.endswith("\nafter\n")
    assert "quite stale" not in text
    call_command("data_dictionary", str(path))
    assert path.read_text(encoding="utf-8") == text
