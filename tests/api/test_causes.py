"""Causes told to other programs: of plain facts, of a tree, of a report."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from survey.reports.models import ReportSign
from tests.factories import ReportFactory, TreeFactory
from tests.survey.cause_rows import verdict

pytestmark = pytest.mark.django_db
FACTS = {
    "signs": ["bark_wound", "wilting"],
    "clues": {"grass_to_trunk": True, "mulch_ring_whole": False},
    "month": 7,
    "latitude": 40.5,
    "species": "linden",
    "age_years": 1.5,
    "words": "no rain for weeks, clippings on the trunk",
}


def ask(client, **facts):
    return client.post("/api/v1/causes/", facts, format="json")


def test_plain_facts_get_words_lines_and_one_question(client_as):
    body = ask(client_as("nobody"), **FACTS).json()
    assert body["word"] == "possible"
    first = body["causes"][0]
    assert first["cause"] == "mower_or_trimmer"
    assert (first["word"], first["says"]) == ("possible", "possible")
    assert {line["clue"] for line in first["speaks_for"]} >= {"bark_wound", "clippings_on_trunk"}
    assert body["question"]["after_yes"] != body["question"]["after_no"]
    assert {"dry_spell", "clippings_on_trunk"} <= set(body["heard"])


def test_no_number_is_told_of_a_cause(client_as):
    body = ask(client_as("nobody"), **FACTS).json()

    def numbers(value):
        if isinstance(value, dict):
            return [one for inner in value.values() for one in numbers(inner)]
        if isinstance(value, list):
            return [one for inner in value for one in numbers(inner)]
        return [value] if isinstance(value, int | float) and not isinstance(value, bool) else []

    assert numbers(body) == []


def test_nothing_at_all_is_cannot_tell(client_as):
    body = ask(client_as("nobody")).json()
    assert (body["word"], body["causes"]) == ("cannot_tell", [])
    assert body["summary"] == "Nobody can tell the cause yet."


def test_trained_facts_can_be_likely_and_ask_for_trained_checks(client_as):
    body = ask(client_as("nobody"), signs=["loose_ball"], seen_by="trained", who="trained").json()
    assert body["causes"][0]["word"] == "likely"


def test_with_a_danger_open_nothing_is_asked(client_as):
    assert ask(client_as("nobody"), **FACTS, in_danger=True).json()["question"] is None


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"month": 13}, "month"),
        ({"month": "June"}, "month"),
        ({"latitude": 95}, "latitude"),
        ({"latitude": "NaN"}, "latitude"),
        ({"age_years": -1}, "age"),
        ({"species": "baobab"}, "species"),
        ({"signs": ["bark_gone_blue"]}, "signs"),
        ({"signs": "bark_wound"}, "signs"),
        ({"signs": {"bark_wound": "yes"}}, "signs"),
        ({"signs": ["dry_soil", "soggy_soil"]}, "signs"),
        ({"clues": {"moon": True}}, "clues"),
        ({"side": "upside"}, "side"),
        ({"extent": "twice"}, "extent"),
        ({"latitude": -34, "month": 1, "season": "winter"}, "season"),
        ({"words": "x" * 5001}, "words"),
        ({"who": "wizard"}, "who"),
        ({"colour": "blue"}, "colour"),
    ],
)
def test_what_cannot_be_right_is_refused_by_field_and_nothing_is_ranked(client_as, facts, field):
    answer = ask(client_as("nobody"), **facts)
    assert answer.status_code == 400
    assert answer["Content-Type"].startswith("application/problem+json")
    assert field in answer.json()["errors"]
    assert "causes" not in answer.json()


@pytest.mark.parametrize("body", ["[]", '"x"', "null", "{", "1e400"])
def test_a_body_that_is_no_table_is_a_problem(client_as, body):
    answer = client_as("nobody").post("/api/v1/causes/", body, content_type="application/json")
    assert answer.status_code == 400
    assert answer.json()["status"] == 400


VALUES = (
    st.none()
    | st.booleans()
    | st.integers()
    | st.text(max_size=9)
    | st.lists(st.text(max_size=5), max_size=2)
)
NAMES = st.sampled_from(
    ["signs", "clues", "extent", "side", "month", "latitude", "species", "words"]
)


@given(st.dictionaries(NAMES, VALUES, max_size=4))
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_no_body_breaks_it(client_as, body):
    assert client_as("nobody").post("/api/v1/causes/", body, format="json").status_code in (
        200,
        400,
    )


def test_it_costs_no_query(client_as, django_assert_num_queries):
    client = client_as("nobody")
    with django_assert_num_queries(0):
        ask(client, **FACTS)


def test_a_tree_and_a_report_tell_their_causes(client_as):
    report = ReportFactory(tree=TreeFactory(), words="sawdust at the foot")
    ReportSign.objects.create(report=report, sign="holes_sawdust")
    desk = client_as("staff")
    of_report = desk.get(f"/api/v1/reports/{report.pk}/causes/").json()
    assert of_report["causes"][0]["cause"] == "borers"
    assert of_report["causes"][0]["word"] == "possible"
    of_tree = desk.get(f"/api/v1/trees/{report.tree.ref}/causes/").json()
    assert of_tree["word"] == "cannot_tell"
    assert desk.get("/api/v1/trees/no-such-tree/causes/").status_code == 404


def test_a_danger_at_the_tree_asks_nothing(client_as):
    report = ReportFactory(danger="wire")
    desk = client_as("staff")
    assert desk.get(f"/api/v1/reports/{report.pk}/causes/").json()["question"] is None
    assert desk.get(f"/api/v1/trees/{report.tree.ref}/causes/").json()["question"] is None


def test_what_was_confirmed_or_ruled_out_stands_apart_and_names_nobody(client_as):
    report = ReportFactory(words="The mower cut it in a straight line")
    ReportSign.objects.create(report=report, sign="bark_wound")
    verdict(tree=report.tree, cause="mower_or_trimmer", by="person:secret")
    verdict(tree=report.tree, cause="deer_rub", was="ruled_out", by="person:secret")
    desk = client_as("staff")
    for where in (f"reports/{report.pk}", f"trees/{report.tree.ref}"):
        answer = desk.get(f"/api/v1/{where}/causes/")
        told = answer.json()
        assert {(one["cause"], one["was"]) for one in told["judged"]} == {
            ("mower_or_trimmer", "confirmed"),
            ("deer_rub", "ruled_out"),
        }
        assert not {"mower_or_trimmer", "deer_rub"} & {one["cause"] for one in told["causes"]}
        assert told["summary"].startswith("Confirmed: mower or trimmer.")
        assert "secret" not in answer.content.decode()
