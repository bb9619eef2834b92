"""Lists, filters, pages and the survival table."""

import csv
import io

import pytest

from survey.exports.survival import SURVIVAL
from tests.factories import LookFactory, PlantingFactory, TreeFactory
from tests.survey_rows import survival_group

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "path",
    [
        "sites",
        "plantings",
        "trees",
        "reports",
        "orders",
        "findings",
        "survival",
        "trends",
        "outlooks",
        "learnings",
    ],
)
def test_an_unknown_filter_is_refused(client_as, path):
    response = client_as("keeper").get(f"/api/v1/{path}/", {"speceis": "linden"})
    assert response.status_code == 400
    assert "speceis" in response.json()["errors"]


def test_an_unknown_filter_on_the_csv_is_refused(client_as):
    response = client_as("liaison").get("/api/v1/survival.csv", {"by": "planting", "yaer": 2024})
    assert response.status_code == 400
    assert response["Content-Type"] == "application/problem+json"


@pytest.mark.parametrize("by", ["", "continent", "planting;drop"])
def test_the_csv_says_by_what_it_can_group(client_as, by):
    response = client_as("liaison").get("/api/v1/survival.csv", {"by": by} if by else {})
    assert response.status_code == 400
    assert "by" in response.json()["errors"]


def test_pages_follow_each_other_by_key_and_miss_nothing(client_as):
    planting = PlantingFactory()
    refs = [TreeFactory(planting=planting).ref for _ in range(7)]
    client, seen, url = client_as("nobody"), [], "/api/v1/trees/?limit=3"
    while url:
        page = client.get(url).data
        seen += [tree["ref"] for tree in page["results"]]
        url = page["next"]
    assert seen == refs


def test_trees_are_found_by_tag_and_by_whether_they_stand(client_as):
    tree = TreeFactory(tag="0407")
    TreeFactory(left="died", left_from="2024-05-01", left_to="2024-06-01")
    client = client_as("nobody")
    assert [t["ref"] for t in client.get("/api/v1/trees/?tag=0407").data["results"]] == [tree.ref]
    assert len(client.get("/api/v1/trees/?in_place=false").data["results"]) == 1


def both_readings():
    verified = survival_group(PlantingFactory())
    return verified, survival_group(
        verified.area.plantings.get(), reading="weighed", method="weighed by hand"
    )


def test_a_list_of_groups_is_of_verified_looks_until_another_reading_is_asked_for(client_as):
    verified, weighed = both_readings()
    client = client_as("liaison")
    for asked, wanted in (("", verified), ("?reading=", verified), ("?reading=weighed", weighed)):
        [found] = client.get(f"/api/v1/survival/{asked}").data["results"]
        assert (found["id"], found["reading"]) == (wanted.pk, wanted.reading)
        assert found["figures"]
    assert client.get(f"/api/v1/survival/{weighed.pk}/").data["reading"] == "weighed"


@pytest.mark.parametrize("reading", ["guessed", "verified;drop", "weighed,verified", "é" * 9000])
def test_a_reading_that_there_is_not_is_refused(client_as, reading):
    client = client_as("liaison")
    for path, more in (("survival/", {}), ("survival.csv", {"by": "planting"})):
        response = client.get(f"/api/v1/{path}", {"reading": reading} | more)
        assert response.status_code == 400
        assert "reading" in response.json()["errors"]


def test_the_survival_table_holds_both_readings_and_says_which_is_which(client_as):
    both_readings()
    client = client_as("liaison")

    def rows(more=""):
        got = client.get(f"/api/v1/survival.csv?by=planting{more}")
        text = b"".join(got.streaming_content).decode()
        return [row["reading"] for row in csv.DictReader(io.StringIO(text))]

    assert rows() == ["verified", "weighed"]
    assert rows("&reading=weighed") == ["weighed"]
    assert rows("&reading=verified") == ["verified"]


def test_a_tree_shows_its_last_trained_look(client_as):
    look = LookFactory(condition="slipping", day="2025-06-01")
    LookFactory(tree=look.tree, trained=False, condition="dead", day="2026-02-01")
    tree = client_as("nobody").get(f"/api/v1/trees/{look.tree.ref}/").data
    assert (tree["last_condition"], tree["last_look"]) == ("slipping", "2025-06-01")


def test_the_tree_list_costs_the_same_few_questions_however_long(
    client_as, django_assert_max_num_queries
):
    for _ in range(20):
        LookFactory()
    client = client_as("nobody")
    with django_assert_max_num_queries(2):
        assert len(client.get("/api/v1/trees/").data["results"]) == 20


def test_the_survival_table_is_streamed_with_its_columns_and_the_same_bytes(client_as):
    survival_group(PlantingFactory(name="=HYPERLINK(1)"))
    client = client_as("liaison")
    first = client.get("/api/v1/survival.csv?by=planting")
    assert first.streaming
    assert first["Content-Type"].startswith("text/csv")
    body = b"".join(first.streaming_content)
    assert body == b"".join(client.get("/api/v1/survival.csv?by=planting").streaming_content)
    rows = list(csv.DictReader(io.StringIO(body.decode())))
    assert list(rows[0]) == SURVIVAL.names
    assert rows[0]["label"] == "'=HYPERLINK(1)"
    assert rows[0]["survival_at_least"] == "0.8"


def test_the_table_for_spreadsheets_begins_with_a_mark(client_as):
    response = client_as("liaison").get("/api/v1/survival.csv?by=planting&for=spreadsheets")
    assert b"".join(response.streaming_content).startswith("\ufeff".encode())


def test_the_description_is_whole_and_the_page_to_read_it_opens(client):
    schema = client.get("/api/schema/?format=json").json()
    assert "/api/v1/survival.csv" in schema["paths"]
    assert client.get("/api/docs/").status_code == 200
