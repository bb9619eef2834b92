"""The public page for a table of one's own: nothing kept, nothing lost, nothing that breaks it."""

import csv
import io
import json
import re
from html import unescape

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import translation
from django.utils.translation import trans_real
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from frontend.liaison.own_table import views
from frontend.liaison.own_table.asked import EXAMPLE
from frontend.liaison.own_table.pictures import _axis
from frontend.liaison.own_table.said import age_said, chance_said
from frontend.liaison.own_table.upload import LARGEST
from survey.exports.own_table.gather import Bounds
from tests.factories import AreaFactory, PersonFactory
from tests.frontend.liaison.test_survival_spanish import Missed

pytestmark = pytest.mark.django_db
PAGE = "/survival/own/"
AGES = "left,right,arm,count\n" + "".join(
    f"{left},{right},{arm},2\n"
    for arm, rows in (
        ("Rad", [(4, 11), (6, 10), (0, 7), (45, ""), (46, ""), (24, 36), (17, "")]),
        ("<b>Both</b>", [(8, 12), (0, 22), (24, 31), (13, ""), (16, 24), (5, 8), (11, 17)]),
    )
    for left, right in rows
)
TREES = "tag,planted,last_alive,first_dead\n" + "".join(
    f"{n},2020-03,{'2020-11' if n < 5 else '2023-04'},{'2021-04' if n < 5 else ''}\n"
    for n in range(20)
)


@pytest.fixture(autouse=True)
def town():
    cache.clear()
    with translation.override("en"):  # a page in Spanish leaves its language behind
        yield AreaFactory()


def page_of(response, status=200):
    assert response.status_code == status, response.content[:2000]
    return unescape(response.content.decode())


def fields(response):
    """What a browser would send back from the form with the choices, as it stands."""
    page = response.content.decode()
    form = page[page.index('name="text"') - 40 :]
    found = {
        name: unescape(value)
        for name, value in re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', form)
    }
    for name, options in re.findall(r'<select id="[\w-]+" name="([\w-]+)".*?>(.*?)</select>', form):
        chosen = re.search(r'<option value="([^"]*)" selected', options)
        found[name] = unescape(chosen[1]) if chosen else ""
    found["at"] = unescape(re.search(r'name="at" value="([^"]*)"', form)[1])
    return found


def test_anybody_may_look_and_nothing_is_said_of_a_table_yet(client):
    page = page_of(client.get(PAGE))
    assert "Work out survival from your own table" in page
    assert "Nothing is kept" in page
    assert 'name="text"' not in page
    assert client.head(PAGE).status_code == 200
    assert client.put(PAGE).status_code == 405


def test_it_is_found_from_the_first_page_and_from_the_survival_pages(client):
    assert PAGE in page_of(client.get("/"))
    client.force_login(PersonFactory(role="liaison"))
    assert PAGE in page_of(client.get("/survival/"))


def test_a_pasted_table_is_answered_with_sentence_curve_table_and_cautions(client):
    response = client.post(PAGE, {"pasted": TREES})
    page = page_of(response)
    assert "At least 7 in 10 of the trees in your table still stood after 2 years" in page
    assert "Of 20 trees that count, 5 are known to be lost; 15 were alive when last seen." in page
    assert "read as: One row for each tree" in page
    assert page.count("<svg") >= 3
    assert "every tree counts from planting" in page
    assert "How this was worked out" in page
    assert response.headers["Cache-Control"] == "no-store"


def test_an_uploaded_file_is_answered_however_it_is_written(client):
    for data in (TREES.encode(), TREES.encode("utf-16"), TREES.replace(",", "\t").encode()):
        file = SimpleUploadedFile("my trees.csv", data)
        assert "after 2 years" in page_of(client.post(PAGE, {"table": file}))


def test_a_strict_client_needs_no_token_and_gets_no_cookie():
    client = Client(enforce_csrf_checks=True)
    response = client.post(PAGE, {"pasted": TREES})
    page_of(response)
    assert not response.cookies


def test_nothing_of_a_table_is_kept(client, django_assert_num_queries, settings, tmp_path):
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path)
    file = SimpleUploadedFile("trees.csv", TREES.encode())
    with django_assert_num_queries(1) as asked:  # which town this is
        page_of(client.post(PAGE, {"table": file}))
    assert asked.captured_queries[0]["sql"].startswith("SELECT")
    assert list(tmp_path.iterdir()) == []


def test_the_table_goes_along_so_that_groups_and_ages_can_be_chosen(client):
    first = client.post(PAGE, {"pasted": AGES})
    sent = fields(first)
    assert sent["text"].replace("\r\n", "\n") == AGES
    assert (sent["kind"], sent["column-left"], sent["column-count"]) == ("ages", "left", "count")
    again = client.post(PAGE, sent | {"by": "arm", "at": "12, 24", "unit": "months"})
    page = page_of(again)
    assert "The difference between the groups by “arm” could easily be chance" in page
    assert "after 1 year" in page or "after 2 years" in page
    assert "Wilcoxon" in page
    assert "A difference says nothing about who or what made it." in page
    assert b"<b>Both</b>" not in again.content
    assert fields(again)["by"] == "arm"


def test_the_figures_go_along_as_csv_and_json_and_are_the_same(client):
    sent = fields(client.post(PAGE, {"pasted": AGES})) | {"by": "arm", "at": "12,24"}
    answer = client.post(PAGE, sent | {"want": "json"})
    said = json.loads(answer.content)
    assert answer.headers["Content-Disposition"].endswith('filename="survival-of-your-table.json"')
    table = client.post(PAGE, sent | {"want": "csv"})
    rows = list(csv.DictReader(io.StringIO(table.content.decode())))
    assert [(row["group"], float(row["age"])) for row in rows] == [
        (group["group"], row["age"]) for group in said["groups"] for row in group["survival"]
    ]
    for row, told in zip(rows, (r for g in said["groups"] for r in g["survival"]), strict=True):
        assert float(row["at_least"]) == pytest.approx(told["at_least"], abs=1e-6)
    page = page_of(client.post(PAGE, sent))
    assert f"<b>{int(said['groups'][0]['survival'][0]['at_least'] * 100 + 1e-9)}</b>" in page


def test_a_name_that_a_spreadsheet_would_run_is_made_harmless(client):
    text = AGES.replace("Rad", "=1+1")
    sent = fields(client.post(PAGE, {"pasted": text})) | {"by": "arm", "want": "csv"}
    assert "'=1+1" in client.post(PAGE, sent).content.decode()


def test_columns_of_other_names_are_asked_for_and_then_used(client):
    text = TREES.replace("planted", "since").replace("last_alive", "ok").replace("first_dead", "ko")
    first = client.post(PAGE, {"pasted": text})
    assert "Which column is which?" in page_of(first)
    sent = fields(first) | {"kind": "trees"}
    if sent["kind_shown"] != "trees":
        first = client.post(PAGE, sent)
        sent = fields(first)
    missing = client.post(PAGE, sent | {"column-planted": "since"})
    page = page_of(missing, 422)
    assert "Say which column is: last_alive / first_dead" in page
    assert page.index("Error:") < page.index("</title>")
    assert fields(missing)["column-planted"] == "since"
    chosen = {"column-planted": "since", "column-last_alive": "ok", "column-first_dead": "ko"}
    assert "At least 7 in 10" in page_of(client.post(PAGE, sent | chosen))


def test_another_kind_of_table_asks_for_other_columns(client):
    sent = fields(client.post(PAGE, {"pasted": TREES})) | {"kind": "looks"}
    page = page_of(client.post(PAGE, sent))
    assert 'name="column-day"' in page
    assert 'name="column-last_alive"' not in page


def test_bad_rows_are_listed_and_nothing_is_told_until_they_are_left_out(client):
    text = TREES + "77,2020-03,2019-01,\n78,2020-03,31/12/2021,\n"
    first = client.post(PAGE, {"pasted": text})
    page = page_of(first, 422)
    assert "2 of 22 rows cannot be read; nothing was worked out" in page
    assert "That is before the tree was planted." in page
    assert "At least" not in page
    sent = fields(first)
    assert "2 of 22 rows" in page_of(client.post(PAGE, sent), 422)
    page = page_of(client.post(PAGE, sent | {"leave_out": "on"}))
    assert "At least 7 in 10" in page
    assert "2 rows that cannot be read are left out, and 2 trees with them." in page


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({}, "Choose a file, or paste a table."),
        ({"pasted": "left,right\n"}, "no rows"),
        ({"pasted": "left,right,left\n1,2,3\n"}, "same name"),
        ({"pasted": "left,right\n" + "1,2\n" * 20_001}, "more than 20000 rows"),
        ({"pasted": "x" * (LARGEST + 1)}, "larger than 1 MB"),
        ({"text": AGES, "kind": "ages", "at": "soon"}, "“soon” is not a number."),
        ({"text": AGES, "by": "left" * 200}, "no column"),
        ({"text": "left,right\n1,2\n\0", "kind": "ages"}, "cannot be read"),
    ],
)
def test_what_is_wrong_is_said_and_what_was_sent_is_kept(client, sent, said):
    response = client.post(PAGE, sent)
    page = page_of(response, 422)
    assert said in page
    if "text" in sent:
        assert fields(response)["text"].replace("\0", "") == sent["text"].replace("\0", "")
    if "pasted" in sent and len(sent["pasted"]) < 100:
        assert sent["pasted"] in page


def test_a_file_that_is_no_table_is_refused_and_one_too_large_never_held(client):
    zipped = SimpleUploadedFile("trees.xlsx", b"PK\x03\x04" + b"\0" * 100)
    assert "This is a spreadsheet" in page_of(client.post(PAGE, {"table": zipped}), 422)
    large = SimpleUploadedFile("trees.csv", b"left,right\n" + b"1,2\n" * 300_000)
    assert "larger than 1 MB" in page_of(client.post(PAGE, {"table": large}), 422)


def test_too_many_groups_or_ages_are_refused_before_anything_is_worked_out(client, monkeypatch):
    monkeypatch.setattr(views, "BOUNDS", Bounds(rows=100, groups=1))
    sent = fields(client.post(PAGE, {"pasted": AGES})) | {"by": "arm"}
    assert "more than 1 groups" in page_of(client.post(PAGE, sent), 422)
    monkeypatch.setattr(views, "MOST_WORK", 5)
    assert "tells apart too many ages" in page_of(client.post(PAGE, {"pasted": AGES}), 422)


def test_one_network_may_ask_so_often_and_then_waits(client, monkeypatch):
    monkeypatch.setattr(views, "WORKING", views.Limit("own table", 2))
    for _ in range(2):
        page_of(client.post(PAGE, {"pasted": TREES}))
    response = client.post(PAGE, {"pasted": TREES})
    assert response.status_code == 429
    assert int(response.headers["Retry-After"]) > 0
    page_of(client.get(PAGE))


def test_the_invented_trees_work_and_say_what_they_are(client):
    page = page_of(client.post(PAGE, {"example": ""}))
    assert "from 48 trees" in page
    rows = list(csv.DictReader(io.StringIO(EXAMPLE.read_text(encoding="utf-8"))))
    assert all("Invented" in row["site"] for row in rows)


@pytest.mark.parametrize(
    "sent",
    [
        {},
        {"pasted": TREES},
        {"pasted": AGES},
        {"text": AGES, "by": "arm", "at": "12,24", "unit": "weeks"},
        {"pasted": TREES + "77,2020-03,2019-01,\n"},
        {"pasted": "one,two\n1,2\n"},
    ],
)
def test_the_page_speaks_spanish_too(monkeypatch, sent):
    english = Missed()
    monkeypatch.setattr(trans_real.translation("es"), "_fallback", english)
    client = Client(headers={"accept-language": "es"})
    page = client.post(PAGE, sent).content.decode() if sent else client.get(PAGE).content.decode()
    assert '<html lang="es">' in page
    assert english.asked == set()


def test_a_group_watched_only_from_a_later_age_is_told_from_there(client):
    rows = "1,2,2\n2,3,3\n" + "".join(f"20,{30 + n},{30 + n}\n" for n in range(12))
    page = page_of(client.post(PAGE, {"pasted": "entry,left,right\n" + rows}))
    assert "of those alive at 20" in page
    assert "were alive at that age, not about all that were planted" in page


def test_four_trees_get_counts_and_no_rate(client):
    page = page_of(client.post(PAGE, {"pasted": "left,right\n12,\n12,\n12,\n3,6\n"}))
    assert "3 of 4 trees in your table were alive when last seen" in page
    assert "too few for a rate" in page
    assert "too few trees under watch to draw a curve" in page


def test_ages_are_said_as_people_say_them():
    assert age_said(24, "months") == "2 years"
    assert age_said(12, "months") == "1 year"
    assert age_said(14, "months") == "14 months"
    assert age_said(1, "weeks") == "1 week"
    assert age_said(2.5, "years") == "2.5 years"
    assert age_said(24, "") == "24"


@pytest.mark.parametrize(
    ("p", "said"), [(0.00001, "fewer than 1 of 10,000"), (0.0076, "1 of 132"), (0.42, "4 of 10")]
)
def test_chance_is_said_as_so_many_of_such_tables(p, said):
    assert said in chance_said(p)


@settings(max_examples=200, deadline=None)
@given(st.floats(0, 1e6), st.floats(1e-6, 1e6))
def test_the_axis_begins_before_the_curve_and_has_a_handful_of_lines(first, long):
    last = first + long
    step, origin = _axis(first, last, "")
    assert 0 <= origin <= first * (1 + 1e-12)  # but for rounding
    assert 0.99 <= (last - origin) / step <= 14


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.text(max_size=60),
    st.dictionaries(
        st.sampled_from(["kind", "kind_shown", "by", "at", "unit", "column-left", "want"]),
        st.sampled_from(["ages", "trees", "left", "right", "json", "12", "\0", "months", "é,;"]),
    ),
)
def test_whatever_is_sent_the_page_stands(client, extra, chosen):
    cache.clear()
    response = client.post(PAGE, {"text": f"left,right\n1,2\n{extra}"} | chosen)
    assert response.status_code in (200, 422)
