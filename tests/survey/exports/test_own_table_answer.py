"""What an own table says: published figures through the command, and nothing that misleads."""

import csv
import io
import json
import math
from datetime import date
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.utils import translation

from survey.exports.own_table.answer import answer, as_json
from survey.exports.own_table.gather import gather
from survey.exports.reading import UnreadableFile

PUBLISHED = Path(__file__).resolve().parents[3] / "fixtures" / "published"
COSMESIS = PUBLISHED / "cosmesis_1985.csv"
ARMS = {"by": "arm", "column": ["after_month=left", "by_month=right"]}


@pytest.fixture(autouse=True)
def _in_english():
    with translation.override("en"):
        yield


@pytest.fixture
def ask(tmp_path):
    """The command, asked for JSON about a table given as text or as a file."""

    def asked(table, **how):
        file = table
        if isinstance(table, str):
            file = tmp_path / "table.csv"
            file.write_text(table, encoding="utf-8")
        out = io.StringIO()
        call_command("survival", file, stdout=out, stderr=out, **{"format": "json"} | how)
        return json.loads(out.getvalue())

    return asked


def worked(text, **how):
    found = gather(io.BytesIO(text.encode()), today=date(2026, 6, 16), by=how.pop("by", ""))
    return answer(found, **how)


def masses(group):
    return [(cell["left"], cell["right"], cell["mass"]) for cell in group["masses"]]


# Finkelstein & Wolfe 1985, Biometrics 41:933-945, Table 4; masses to four places in Fay & Shaw
# 2010, J. Stat. Softw. 36(2), section 4.1, to ten by four independent programs.
RAD = [
    (4, 5, 0.0463467740), (6, 7, 0.0333633709), (7, 8, 0.0886673681), (11, 12, 0.0707529218),
    (24, 25, 0.0926458366), (33, 34, 0.0817857649), (38, 40, 0.1208798274),
    (46, 48, 0.4655581364),
]  # fmt: skip
RAD_CHEM = [
    (4, 5, 0.0432826277), (5, 8, 0.0432826277), (11, 12, 0.0692055834), (16, 17, 0.1453977153),
    (18, 19, 0.1410948977), (19, 20, 0.1157459257), (24, 25, 0.0998653107),
    (30, 31, 0.0708813765), (35, 36, 0.1608311074), (44, 48, 0.0552064139),
    (48, 60, 0.0552064139),
]  # fmt: skip
POOLED = [
    (4, 5, 0.0449490966), (6, 7, 0.0225930763), (7, 8, 0.0560382887), (11, 12, 0.0790460571),
    (16, 17, 0.0605455591), (18, 19, 0.0215574536), (19, 20, 0.1440716727),
    (24, 25, 0.0497187963), (30, 31, 0.0911257046), (38, 39, 0.1264470773),
    (46, 48, 0.1868581786), (48, 60, 0.1170490392),
]  # fmt: skip


def close(found, wanted):
    assert [cell[:2] for cell in found] == [cell[:2] for cell in wanted]
    assert [cell[2] for cell in found] == pytest.approx([cell[2] for cell in wanted], abs=5e-9)


def test_the_cosmesis_study_comes_out_as_published(ask):
    said = ask(COSMESIS, at="12,24", **ARMS)
    rad, both = said["groups"]
    assert (rad["group"], rad["n"], both["group"], both["n"]) == ("Rad", 46, "RadChem", 48)
    close(masses(rad), RAD)
    close(masses(both), RAD_CHEM)
    assert rad["loglik"] == pytest.approx(-58.0600219540, abs=1e-9)
    assert both["loglik"] == pytest.approx(-65.6369649077, abs=1e-9)
    assert max(rad["gap"], both["gap"]) < 1e-6
    assert [row["age"] for row in rad["survival"]] == [12, 24]
    assert rad["survival"][0]["at_least"] == pytest.approx(0.7608695652, abs=1e-9)
    assert both["survival"][1]["at_most"] == pytest.approx(0.3421253118 + 0.0998653107, abs=1e-9)


def test_without_by_there_is_one_group_and_no_test(ask):
    said = ask(COSMESIS, column=ARMS["column"])
    [group] = said["groups"]
    assert (group["group"], group["n"]) == ("all", 94)
    close(masses(group), POOLED)
    assert group["loglik"] == pytest.approx(-136.9638038739, abs=1e-9)
    assert said["tests"] == {"sun_logrank": None, "finkelstein_logrank": None, "wilcoxon": None}


def test_the_three_tests_of_the_cosmesis_study_come_out_as_published(ask):
    """Fay & Shaw 2010, J. Stat. Softw. 36(2), sections 4.2 to 4.5."""
    tests = ask(COSMESIS, **ARMS)["tests"]
    assert tests["sun_logrank"]["statistic"] == pytest.approx(2.6684, abs=5e-5)
    assert tests["sun_logrank"]["p"] == pytest.approx(0.007622, abs=5e-7)
    assert tests["finkelstein_logrank"]["statistic"] == pytest.approx(2.6839, abs=5e-5)
    assert tests["finkelstein_logrank"]["p"] == pytest.approx(0.007277, abs=5e-7)
    assert tests["wilcoxon"]["statistic"] == pytest.approx(2.1672, abs=5e-5)
    assert tests["wilcoxon"]["p"] == pytest.approx(0.03022, abs=5e-6)


def test_the_answer_has_these_keys_and_no_others(ask):
    said = ask(COSMESIS, at="12", **ARMS)
    assert list(said) == ["groups", "tests"]
    for group in said["groups"]:
        assert list(group) == ["group", "n", "masses", "loglik", "gap", "survival"]
        assert {tuple(cell) for cell in group["masses"]} == {("left", "right", "mass")}
        assert [list(row) for row in group["survival"]] == [
            ["age", "at_least", "at_most", "lo", "hi", "at_risk"]
        ]


def rows_of(name):
    with (PUBLISHED / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def exact(entry, leave, ended):
    return f"{entry},{leave},{leave if ended == '1' else ''}\n"


def test_the_leukemia_trial_comes_out_as_published(ask):
    """Freireich et al. 1963; survival of the treated arm: Klein & Moeschberger, Table 4.1."""
    text = "arm,left,right\n" + "".join(
        f"{row['arm']},{row['weeks']},{row['weeks'] if row['relapsed'] == '1' else 'inf'}\n"
        for row in rows_of("leukaemia_1963.csv")
    )
    said = ask(text, by="arm", at="6,7,10,13,16,22,23")
    treated = next(group for group in said["groups"] if group["group"] == "6-MP")
    found = [row["at_least"] for row in treated["survival"]]
    assert found == pytest.approx(
        [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482], abs=6e-5
    )


def test_thirty_with_late_entry_come_out_as_published(ask):
    """Klein & Moeschberger, exercise 4.7: the product limit with entry."""
    text = "entry,left,right\n" + "".join(
        exact(row["entry"], row["exit"], row["died"]) for row in rows_of("delayed_entry_thirty.csv")
    )
    said = ask(text, at="60,62,66,72,77")
    [group] = said["groups"]
    assert [row["at_least"] for row in group["survival"]] == pytest.approx(
        [0.666666667, 0.555555556, 0.340277778, 0.121487603, 0.065821855], abs=1e-9
    )
    assert any("Fewer than 5" in note for note in said["notes"])


def channing():
    return "entry,left,right\n" + "".join(
        exact(row["entry_month"], row["exit_month"], row["died"])
        for row in rows_of("channing_house_men.csv")
    )


def test_channing_house_is_told_from_the_age_at_which_enough_are_watched(ask):
    """Hyde 1977, Biometrika 64:225-230. Two men are watched at 777 months and one dies, then the
    other: unconditionally the curve is 0 for ever, although 44 deaths follow. Given alive at 68
    years, S(75), S(80), S(85), S(90) are as below (nobody died between 68 years and where it
    begins here)."""
    said = ask(channing(), at="781,800,900,960,1020,1080")
    [group] = said["groups"]
    early, still_early, *told = group["survival"]
    assert early["at_least"] is None
    assert still_early["lo"] is None
    assert [row["at_least"] for row in told] == pytest.approx(
        [0.804531129, 0.637761403, 0.454373346, 0.222707313], abs=5e-9
    )
    assert sum(cell["mass"] for cell in group["masses"]) == pytest.approx(1)
    assert min(cell["left"] for cell in group["masses"]) > 781
    assert any("were alive at that age" in note for note in said["notes"])


def test_late_entry_and_intervals_come_out_as_two_independent_programs_found(ask):
    """Left truncation and interval censoring (cells of Frydman 1994, J. R. Stat. Soc. B 56:71);
    the values were found by EM with ghost counts and by direct maximization from 60 starts."""
    entry = [0, 0, 0, 0, 6, 6, 12, 12, 12, 18, 18, 24, 24, 30]
    left = [3, 6, 9, 24, 6, 18, 12, 24, 36, 18, 30, 24, 36, 30]
    right = [6, 12, 12, "", 12, 24, 24, "", "", 30, 36, 30, "", ""]
    rows = zip(entry, left, right, strict=True)
    said = ask("entry,left,right\n" + "".join(f"{a},{b},{c}\n" for a, b, c in rows), at="12,36")
    [group] = said["groups"]
    wanted = [
        (3, 6, 1 / 4), (9, 12, 9 / 20), (18, 24, 4 / 35), (24, 30, 2 / 35), (30, 36, 3 / 70),
        (36, None, 3 / 35),
    ]  # fmt: skip
    close(masses(group), wanted)
    assert group["loglik"] == pytest.approx(-14.2138406562, abs=1e-9)
    assert [row["at_least"] for row in group["survival"]] == pytest.approx([0.30, 3 / 35])


def test_nobody_dead_is_all_mass_beyond_the_last_look(ask):
    said = ask("left,right\n12,\n24,inf\n24,\n", at="12,24")
    [group] = said["groups"]
    assert masses(group) == [(24, None, 1)]
    assert [row["at_least"] for row in group["survival"]] == [1, 1]
    assert group["survival"][1]["lo"] < 1


def test_a_small_exact_set_is_the_product_limit_from_the_right(ask):
    """Reverse product limit, answer by hand: 5/24 on (0,3], at 4, 6 and 8, and 1/6 at 12."""
    said = ask("left,right\n0,3\n4,4\n6,6\n8,8\n12,12\n0,10\n")
    close(
        masses(said["groups"][0]),
        [(0, 3, 5 / 24), (4, 4, 5 / 24), (6, 6, 5 / 24), (8, 8, 5 / 24), (12, 12, 1 / 6)],
    )


def test_trees_that_join_after_all_others_are_gone_say_nothing_about_them():
    rows = "0,30,36\n" * 20 + "60,70,\n" * 3
    told = worked("entry,left,right\n" + rows, ages=[24, 36, 65])
    [group] = told.groups
    before, at, after = group.rows
    assert before.at_least == 1
    assert at.at_least is None
    assert after.at_least is None
    assert {note.code for note in group.notes} >= {"ends_early"}


def test_a_handful_with_an_early_gap_has_counts_and_no_zero():
    told = worked("entry,left,right\n0,3,3\n5,10,\n", ages=[3, 8])
    [group] = told.groups
    assert group.masses == ()
    assert [row.at_least for row in group.rows] == [None, None]
    assert [(row.alive, row.lost) for row in group.rows] == [(1, 1), (1, 1)]
    assert {note.code for note in group.notes} >= {"emptied"}


def test_later_than_the_last_look_nothing_is_to_be_quoted():
    told = worked("left,right\n" + "12,\n" * 6 + "6,12\n", ages=[12, 24])
    assert [row.can_be_quoted for row in told.groups[0].rows] == [True, False]
    assert "not_seen" in {note.code for note in told.groups[0].notes}


def test_a_figure_needs_five_trees_under_watch_and_the_curve_ends_with_them():
    rows = "3,6\n" * 8 + "12,\n" * 6 + "24,\n" * 4
    told = worked("left,right\n" + rows, ages=[12, 24], with_curve=True)
    [group] = told.groups
    assert [row.why for row in group.rows] == ["", "too_few"]
    assert group.curve[-1][0] == 12
    all_lost = worked("left,right\n" + "3,6\n" * 8 + "20,24\n", ages=[24], with_curve=True)
    assert all_lost.groups[0].rows[0].can_be_quoted
    assert all_lost.groups[0].curve[-1][0] == 24


def test_an_empty_group_is_named_and_the_others_are_told(ask):
    text = "tree,planted,day,seen,crew\n" + "".join(
        f"{n},2023-11,2024-04-02,alive,A\n" for n in range(6)
    )
    said = ask(text + "9,2023-11,2024-04-02,never planted,B\n", by="crew", at="3")
    assert [group["group"] for group in said["groups"]] == ["A"]
    assert any("“B”" in note for note in said["notes"])
    assert said["tests"]["wilcoxon"] is None
    with pytest.raises(UnreadableFile, match="No row"):
        worked("tree,planted,day,seen\n9,2023-11,2024-04-02,never planted\n")


def test_ages_asked_for_by_default_are_those_of_trees_or_where_the_curve_turns(ask):
    trees = "planted,last_alive,first_dead\n2020-01,2023-06,\n2020-01,2020-04,2020-11\n"
    assert [row["age"] for row in ask(trees)["groups"][0]["survival"]] == [12, 24, 36]
    ages = ask("left,right\n1,2\n3,4\n5,\n")["groups"][0]["survival"]
    assert [row["age"] for row in ages] == [2, 4]


def test_the_same_table_in_another_order_gives_the_same_text(ask):
    lines = COSMESIS.read_text(encoding="utf-8").splitlines()
    turned = "\n".join([lines[0], *reversed(lines[1:])]) + "\n"
    assert json.dumps(ask(turned, at="12,24", **ARMS)) == json.dumps(
        ask(COSMESIS, at="12,24", **ARMS)
    )


def test_a_million_alike_weigh_as_a_million(ask):
    said = ask("left,right,count\n0,12,600000\n12,,400000\n", at="12")
    [group] = said["groups"]
    assert group["n"] == 1_000_000
    assert group["survival"][0]["at_least"] == pytest.approx(0.4)


def test_nothing_is_worked_out_from_a_table_with_bad_rows_unless_asked(ask, tmp_path):
    text = "left,right\n1,2\n9,3\n3,\n"
    file = tmp_path / "bad.csv"
    file.write_text(text, encoding="utf-8")
    err = io.StringIO()
    with pytest.raises(CommandError, match="1 of 3 rows"):
        call_command("survival", file, stdout=io.StringIO(), stderr=err)
    assert err.getvalue().startswith("line 3, right: ")
    out = io.StringIO()
    call_command(
        "survival", file, stdout=out, stderr=io.StringIO(), format="json", leave_out_bad_rows=True
    )
    said = json.loads(out.getvalue())
    assert said["groups"][0]["n"] == 2
    assert "1 row that cannot be read is left out" in said["notes"][0]


def test_the_table_on_the_command_line_tells_the_same(tmp_path):
    out = io.StringIO()
    call_command("survival", COSMESIS, at="12,60", stdout=out, **ARMS)
    said = out.getvalue()
    assert "Rad: 46 counted, 21 of them known to have ended; log-likelihood -58.060022" in said
    assert "0.761" in said
    assert "nobody seen alive so late" in said
    assert "Sun: statistic 2.6684, p 0.0076" in said
    assert said.startswith("94 rows, read as ages: after_month = left, by_month = right.")
    assert all("0.000" not in line for line in said.splitlines() if line.split()[:1] == ["60"])


def test_no_sign_in_a_strange_table_can_steer_the_terminal(tmp_path):
    file = tmp_path / "steer.csv"
    file.write_text("left,right,crew\n1,2,\x1b[2Jgone\n1,,\x1b[2Jgone\n", encoding="utf-8")
    out = io.StringIO()
    call_command("survival", file, by="crew", stdout=out)
    assert "\x1b" not in out.getvalue()


@pytest.mark.parametrize(
    "how",
    [
        {"at": "twelve"},
        {"at": "-1"},
        {"at": ",".join(str(n) for n in range(50))},
        {"by": "nothing"},
        {"column": ["left"]},
        {"column": ["left=left", "right=left"]},
        {"column": ["left=sideways"]},
        {"form": "looks"},
    ],
)
def test_a_wrong_question_is_an_error_in_words(tmp_path, how):
    file = tmp_path / "table.csv"
    file.write_text("left,right\n1,2\n", encoding="utf-8")
    with pytest.raises(CommandError, match=r"\S"):
        call_command("survival", file, stdout=io.StringIO(), stderr=io.StringIO(), **how)


def test_a_file_that_is_not_there_is_an_error_in_words(tmp_path):
    with pytest.raises(CommandError, match="No such file"):
        call_command("survival", tmp_path / "nothing.csv", stdout=io.StringIO())


def test_no_number_in_the_answer_is_infinite_or_not_a_number():
    told = worked("left,right\n0,0\n0,5\n5,\n", ages=[0, 5, 1e9])
    text = json.dumps(as_json(told), allow_nan=False)
    assert all(math.isfinite(value) for value in (told.groups[0].loglik, told.groups[0].gap))
    assert "null" in text
