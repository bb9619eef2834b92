"""Somebody's own table, whatever they send: which column is which, what no tree can have done."""

import io
import math
from datetime import date

import pytest
from django.utils import translation
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.exports.own_table.answer import answer, as_json
from survey.exports.own_table.columns import ColumnsWanted
from survey.exports.own_table.gather import Bounds, gather
from survey.exports.reading import UnreadableFile

TODAY = date(2026, 6, 16)
TREES = "tag,planted,first_seen,last_seen_alive,first_seen_dead,outcome\n"
LOOKS = "tree,planted,day,seen\n"
AGES = "entry,left,right,count\n"


@pytest.fixture(autouse=True)
def _in_english():
    with translation.override("en"):
        yield


def read(text, **how):
    data = text if isinstance(text, bytes) else text.encode()
    return gather(io.BytesIO(data), today=TODAY, **how)


def lives(text, **how):
    """The lives of a table without a bad row."""
    found = read(text, **how)
    assert found.problems == []
    return dict(found.groups["all"].lives) if "all" in found.groups else {}


def told(text, **how):
    return [(problem.line, problem.column) for problem in read(text, **how).problems]


def test_a_row_of_a_tree_is_a_life_in_whole_months():
    text = TREES + "1,2023-11-14,,2024-05-01,2024-09-30,died\n2,2023-11-14,,2025-06-01,,alive\n"
    assert lives(text) == {(-math.inf, 6, 10): 1, (-math.inf, 19, math.inf): 1}


def test_a_tree_that_came_on_the_list_later_counts_from_then_on():
    assert lives(TREES + "1,2023-11,2025-01-05,2025-06-01,,\n") == {(14, 19, math.inf): 1}
    # first seen, and nothing after: it was alive then
    assert lives(TREES + "1,2023-11,2025-01-05,,,\n") == {(14, 14, math.inf): 1}


def test_a_tree_that_was_dead_when_it_came_on_the_list_is_left_out_and_counted():
    found = read(TREES + "1,2023-11,2025-01-05,,2025-01-05,died\n2,2023-11,,2024-01-05,,\n")
    assert found.groups["all"].left_out == {"found_dead": 1}
    assert found.trees == 1


def test_a_vague_day_widens_the_interval_and_never_narrows_it():
    assert lives(TREES + "1,2022,,2023,2024,died\n") == {(-math.inf, 1, 35): 1}
    assert lives(TREES + "1,3/2022,,6/2023,11/30/2023,died\n") == {(-math.inf, 15, 20): 1}


def test_seen_alive_and_dead_in_one_month_fell_within_that_month():
    text = (
        TREES + "1,2023-11-14,,2024-05-01,2024-05-20,died\n2,2023-11-14,,2023-11-20,2023-11-30,\n"
    )
    assert lives(text) == {(-math.inf, 5, 6): 1, (-math.inf, 0, 0): 1}


@pytest.mark.parametrize(
    ("row", "column"),
    [
        ("1,2023-11,,,2023-10-31,died", "first_seen_dead"),  # dead before planted
        ("1,2023-11,,2025-02-01,2025-01-01,died", "last_seen_alive"),  # alive after dead
        ("1,2023-11,2025-03-01,,2025-01-01,died", "first_seen"),  # on the list after dead
        ("1,2023-11,2025-03-01,2025-01-01,,", "last_seen_alive"),  # alive only before entry
        ("1,2023-11,2023-01-01,2025-01-01,,", "first_seen"),  # on the list before planting
        ("1,2023-11,,2024-01-01,,died", "first_seen_dead"),  # dead, but when?
        ("1,2023-11,,2024-01-01,2025-01-01,alive", "outcome"),
        ("1,2023-11,,2024-01-01,2025-01-01,lost from sight", "outcome"),
        ("1,2023-11,,,,alive", "last_seen_alive"),  # alive, but when?
        ("1,,,2024-01-01,,", "planted"),
        ("1,2023-11,,2031-01-01,,", "last_seen_alive"),  # has not come yet
        ("1,1066-10,,2024-01-01,,", "planted"),
        ("1,2023-02-30,,2024-01-01,,", "planted"),
        ("1,14/11/2023,,2024-01-01,,", "planted"),  # the month comes first
        ("1,11/14/23,,2024-01-01,,", "planted"),
        ("1,45244,,2024-01-01,,", "planted"),  # a day as a spreadsheet counts it
        ("1,=TODAY(),,2024-01-01,,", "planted"),
        ("1,2023-11,,-A1,,", "last_seen_alive"),
        ("1,2023-11,,NaN,,", "last_seen_alive"),
        ("1,2023-11,,2024-01-01,,unlucky", "outcome"),
    ],
)
def test_what_no_tree_can_have_done_is_named_by_line_and_column(row, column):
    assert told(TREES + "9,2023-11,,2024-01-01,,\n" + row + "\n") == [(3, column)]


def test_a_tag_that_comes_twice_is_two_rows_for_one_tree():
    text = TREES + "1,2023-11,,2024-01-01,,\n1,2023-11,,2024-01-01,,\n,2023-11,,2024-01-01,,\n"
    assert told(text) == [(3, "tag")]


def test_the_end_is_the_first_look_of_the_unbroken_final_run():
    rows = [
        "7,2023-11-14,2024-04-02,dead",
        "7,2023-11-14,2025-08-01,gone",
        "7,2023-11-14,2024-09-01,alive",
        "7,2023-11-14,2025-03-01,standing dead",
        "7,2023-11-14,2025-05-01,not found",
    ]
    for order in (rows, rows[::-1]):
        found = read(LOOKS + "\n".join(order))
        assert found.groups["all"].lives == {(-math.inf, 10, 16): 1}
        assert found.groups["all"].misjudged == 1


def test_a_look_that_could_not_find_the_tree_says_nothing():
    text = LOOKS + "7,2023-11,2024-04-02,alive\n7,2023-11,2025-04-02,could not look\n"
    found = read(text)
    assert found.groups["all"].lives == {(-math.inf, 5, math.inf): 1}
    assert found.groups["all"].lost == 1


def test_a_tree_listed_later_needs_a_look_that_found_it_alive_then():
    head = "tree,planted,registered,day,seen\n"
    text = head + "1,2023-11,2025-01-05,2024-04-02,alive\n1,2023-11,2025-01-05,2025-04-02,dead\n"
    found = read(text + "2,2023-11,2025-01-05,2025-04-02,alive\n")
    assert found.groups["all"].left_out == {"not_found_alive": 1}
    assert found.groups["all"].lives == {(14, 17, math.inf): 1}


def test_one_bad_look_leaves_its_whole_tree_out_because_half_a_story_is_wrong():
    text = LOOKS + "1,2023-11,2024-04-02,alive\n1,2023-11,2025-04-02,dad\n2,2023-11,2024-04,alive\n"
    found = read(text)
    assert [(p.line, p.column) for p in found.problems] == [(3, "seen")]
    assert (found.bad_rows, found.bad_trees, found.trees) == (1, 1, 1)


@pytest.mark.parametrize(
    ("rows", "where"),
    [
        ("1,2023-11,2023-10-01,alive", (2, "day")),
        ("1,2023-11,2024-01-01,alive\n1,2023-12,2024-02-01,alive", (3, "planted")),
        (",2023-11,2024-01-01,alive", (2, "tree")),
        ("1,,2024-01-01,alive", (2, "planted")),
        ("1,2023-11,,alive", (2, "day")),
        # nobody can tell which of these came first
        ("1,2023-11,2024-05,dead\n1,2023-11,2024-05-20,alive", (3, "day")),
        ("1,2023-11,2024,alive\n1,2023-11,2024-05-20,dead", (3, "day")),
    ],
)
def test_looks_that_cannot_be_are_named(rows, where):
    assert told(LOOKS + rows + "\n") == [where]


def test_a_tree_stands_in_one_group_only():
    text = (
        "tree,planted,day,seen,crew\n1,2023-11,2024-01-01,alive,A\n1,2023-11,2024-02-01,alive,B\n"
    )
    assert told(text, by="crew") == [(3, "crew")]


def test_plain_ages_are_read_as_published_sets_write_them():
    text = AGES + ",0,7,\n,46,,2\n,45,inf,1\n,3,3,1\n6,6,12,1\n"
    assert lives(text) == {
        (-math.inf, 0, 7): 1,
        (-math.inf, 46, math.inf): 2,
        (-math.inf, 45, math.inf): 1,
        (-math.inf, 3, 3): 1,
        (6, 6, 12): 1,
    }
    assert lives("left,right\n2.5,1e1\n") == {(-math.inf, 2.5, 10): 1}


@pytest.mark.parametrize(
    ("row", "column"),
    [
        (",8,7,1", "right"),
        (",-1,7,1", "left"),
        (",NaN,7,1", "left"),
        (",inf,inf,1", "left"),
        (",,7,1", "left"),
        (",1,nan,1", "right"),
        (",1,NA,1", "right"),
        (",1,-inf,1", "right"),
        ("-inf,1,2,1", "entry"),
        ("7,3,9,1", "entry"),  # entry after it was last alive
        ("5,5,5,1", "entry"),  # entry at the end
        ('"1,5",3,9,1', "entry"),  # a comma for a point
        (",3,9,0", "count"),
        (",3,9,-2", "count"),
        (",3,9,1.5", "count"),
        (",3,9,99999999999", "count"),
        (",1e99,,1", "left"),
    ],
)
def test_ages_that_cannot_be_are_named(row, column):
    assert told(AGES + row + "\n") == [(2, column)]


@pytest.mark.parametrize(
    "data",
    [
        "\ufefftree,planted,day,seen\n1,2023-11,2024-04-02,alive\n".encode(),
        b"tree;planted;day;seen\n1;2023-11;2024-04-02;alive\n",
        b"tree\tplanted\tday\tseen\r\n1\t2023-11\t2024-04-02\talive\r\n",
        b'"Tree" , "Planted" , "Day" , "Seen"\n"1","2023-11","2024-04-02","Alive"\n'.replace(
            b'" , "', b'","'
        ),
        "tree,planted,day,seen\n1,2023-11,2024-04-02,alive\n".encode("utf-16"),
        b"tree,planted,day,seen,street\n1,2023-11,2024-04-02,alive,Allee f\xfcr B\xe4ume\n",
        b"\n".join([b"tree,planted,day,seen,,", b"1,2023-11,2024-04-02,alive,,", b",,,,,"]),
        b"tree,planted,day,seen\n1,11/1/2023 0:00,4/2/2024 12:30:00 PM,alive\n",
    ],
)
def test_a_table_is_read_however_it_is_written(data):
    assert lives(data) == {(-math.inf, 5, math.inf): 1}


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"left,right\n", "no rows"),
        (b"left,right,left\n1,2,3\n", "same name"),
        (b"PK\x03\x04", "spreadsheet"),
        (b"l\0ft,right\n1,2\n", "no text"),
        (b"a" * 1_100_000, "longer than a million"),
        (",".join(f"c{n}" for n in range(400)).encode() + b"\n1\n", "400 columns"),
    ],
)
def test_a_table_that_cannot_be_read_says_why(data, said):
    with pytest.raises(UnreadableFile, match=said):
        read(data)


def test_a_row_of_the_wrong_length_or_with_an_open_quotation_mark_is_named():
    assert told(AGES + ",1,2\n,1,2,1\n") == [(2, "")]
    assert told(AGES + ',1,2,1\n,1,"2,1\n') == [(3, "")]


def test_columns_are_matched_by_hand_before_anything_is_guessed():
    text = "who,since,seen_to,over\n1,2023-11,2024-05-01,2024-09-01\n"
    with pytest.raises(ColumnsWanted) as wanted:
        read(text)
    assert "since" in str(wanted.value)
    columns = {"planted": "Since", "last_alive": "seen to", "first_dead": "over"}
    assert lives(text, columns=columns) == {(-math.inf, 6, 10): 1}
    with pytest.raises(UnreadableFile, match="no column “until”"):
        read(text, columns=columns | {"first_dead": "until"})
    with pytest.raises(UnreadableFile, match="No kind of table"):
        read(text, columns={"planted": "since", "left": "over"})
    with pytest.raises(ColumnsWanted, match="two things"):
        read(text, columns={"planted": "since", "last_alive": "since"})


def test_a_name_that_means_two_things_is_taken_by_one():
    text = "tree,planted,first_seen,last_alive\n1,2023-11,2025-01-05,2025-06-01\n"
    found = read(text)
    assert found.form.name == "trees"
    assert found.mapping["tag"] == "tree"
    without = read(text, form="trees", columns={"first_seen": ""})
    assert without.groups["all"].lives == {(-math.inf, 19, math.inf): 1}


def test_too_many_rows_or_groups_are_refused():
    rows = AGES + ",1,2,1\n" * 11
    assert read(rows, bounds=Bounds(rows=11)).rows == 11
    with pytest.raises(UnreadableFile, match="more than 10 rows"):
        read(rows, bounds=Bounds(rows=10))
    crews = "left,right,crew\n" + "".join(f"1,2,{n}\n" for n in range(6))
    with pytest.raises(UnreadableFile, match="more than 5 groups"):
        read(crews, by="crew", bounds=Bounds(groups=5))


def test_no_list_of_errors_is_endless():
    found = read(AGES + ",9,2,1\n" * 3000)
    assert (found.bad_rows, len(found.problems)) == (3000, 1000)


def test_many_equal_rows_are_one_life_with_a_count():
    assert lives(AGES + ",1,2,1\n" * 20_000 + ",1,2,1000000\n") == {(-math.inf, 1, 2): 1_020_000}


CELLS = st.sampled_from(
    [
        "", "0", "1", "3", "12", "-1", "-0", "inf", "NaN", "1e3", "1e-3", "x", "'",
        "99999999999999999",
        "2023", "2023-11", "2023-11-14", "11/14/2023", "2024-02-30", "0001-01-01", "9999-12-31",
        "alive", "dead", "gone", "removed for another reason", "not found", "never planted", "=A1",
        '"', "\0", "\ufffd", "a\nb", "é", "tree", "٣", "１２", " 7 ", "2023-11-14T00:00:00Z",
    ]
)  # fmt: skip
HEADERS = st.sampled_from(
    [
        "tree,planted,day,seen", "tree,planted,registered,day,seen",
        "planted,last_alive,first_dead", "tag,planted,first_seen,last_alive,first_dead,outcome",
        "left,right", "entry,left,right,count",
    ]
)  # fmt: skip


def check(data, **how):
    """A table is refused in words or answered, and what is answered can be."""
    try:
        found = read(data, **how)
        said = as_json(answer(found, ages=[0, 1, 12, 1e6]))
    except UnreadableFile:
        return
    assert all(str(problem) for problem in found.problems)
    for group in said["groups"]:
        assert group["n"] == found.groups[group["group"]].n > 0
        assert group["gap"] < 1e-6
        if group["masses"]:
            assert sum(cell["mass"] for cell in group["masses"]) == pytest.approx(1, abs=1e-6)
        for row in group["survival"]:
            if row["at_least"] is not None:
                ends = (0, row["lo"], row["at_least"], row["at_most"], row["hi"], 1)
                assert list(ends) == sorted(ends)


@settings(max_examples=120, deadline=None)
@given(HEADERS, st.data())
def test_rows_of_anything_are_answered_or_refused_and_never_break(header, data):
    width = header.count(",") + 1
    rows = data.draw(st.lists(st.lists(CELLS, min_size=width, max_size=width), max_size=8))
    check("\n".join([header, *(",".join(row) for row in rows)]).encode())


@settings(max_examples=150, deadline=None)
@given(
    st.binary(max_size=200), st.sampled_from([b"", b"left,right\n", b"\xef\xbb\xbf", b"\xff\xfe"])
)
def test_bytes_of_anything_are_answered_or_refused_and_never_break(data, head):
    check(head + data)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(0, 30), st.integers(0, 30), st.integers(0, 40), st.sampled_from([0, 1, 2])
        ),
        min_size=1,
        max_size=12,
    )
)
def test_possible_ages_are_all_counted_and_only_they(rows):
    """Each row is right or wrong by the definition of a spell alone."""
    lines, good = [], {}
    for entry, left, right, kind in rows:
        started = float(entry) if kind == 1 else -math.inf
        ended = float(right) if kind < 2 else math.inf
        lines.append(f"{entry if kind == 1 else ''},{left},{right if kind < 2 else ''},1")
        if left <= ended and started <= left and started < ended:
            life = (started, float(left), ended)
            good[life] = good.get(life, 0) + 1
    found = read(AGES + "\n".join(lines) + "\n")
    assert dict(found.groups["all"].lives if found.groups else {}) == good
    assert found.bad_rows == len(rows) - sum(good.values())


def test_errors_are_said_in_the_language_of_the_page():
    with translation.override("es"):
        assert told(AGES + ",9,2,1\n") == [(2, "right")]
