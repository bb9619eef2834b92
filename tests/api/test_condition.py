"""What is believed of a tree, and why, for anybody to read, without anybody in it."""

from datetime import date

import pytest

from survey.condition import beliefs
from survey.condition.models import Overruling
from tests.factories import NOON, LookFactory, ObserverFactory, PersonFactory, TreeFactory
from tests.survey_rows import learning_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def tree():
    tree = TreeFactory()
    person = PersonFactory(name="Ada Osei", role="volunteer")
    observer = ObserverFactory(person=person, key=f"person:{person.key}")
    LookFactory(tree=tree, day=date(2025, 9, 8), condition="thriving", observer=observer)
    LookFactory(
        tree=tree,
        day=date(2026, 5, 20),
        condition="dead",
        trained=False,
        channel="complaint",
        note="Mr. Quill next door poisoned it",
        observer=ObserverFactory(kind="resident"),
    )
    learning_of(tree.area)
    beliefs.keep(beliefs.work_out(str(tree.pk)))
    return tree


def test_a_tree_carries_what_is_believed_of_it(client_as, tree):
    body = client_as("nobody").get(f"/api/v1/trees/{tree.ref}/").json()
    belief = body["belief"]
    assert sum(belief["shares"].values()) == pytest.approx(1)
    assert belief["lost"] == pytest.approx(belief["shares"]["dead"] + belief["shares"]["gone"])
    assert belief["as_of"] == "2026-06-01"
    assert (belief["version"], belief["looks"]) == (1, 2)
    assert (belief["lost"] > 0.05) == (belief["died_about"] is not None)
    versions = client_as("nobody").get("/api/v1/learnings/").json()["results"]
    assert [(v["number"], v["area"], v["trees"]) for v in versions] == [(1, "pellworth", 1)]
    assert "learnt" not in versions[0]


def test_the_death_of_a_tree_believed_lost_is_dated(client_as, tree):
    LookFactory(tree=tree, day=date(2026, 6, 8), condition="dead", scratch="brown")
    beliefs.keep(beliefs.work_out(str(tree.pk)))
    belief = client_as("nobody").get(f"/api/v1/trees/{tree.ref}/").json()["belief"]
    assert belief["lost"] > 0.5
    assert belief["died_from"] <= belief["died_about"] <= belief["died_to"] <= "2026-06-01"


def test_a_tree_that_was_not_weighed_yet_has_no_belief(client_as):
    tree = TreeFactory()
    assert client_as("nobody").get(f"/api/v1/trees/{tree.ref}/").json()["belief"] is None


def test_beliefs_cost_the_list_no_further_question(client_as, tree, django_assert_max_num_queries):
    TreeFactory()
    with django_assert_max_num_queries(2):
        rows = client_as("nobody").get("/api/v1/trees/").json()["results"]
    assert [row["belief"] is None for row in rows] == [False, True]


def test_the_reasons_add_up_to_the_belief(client_as, tree):
    client = client_as("nobody")
    reasons = client.get(f"/api/v1/trees/{tree.ref}/why/").json()
    belief = client.get(f"/api/v1/trees/{tree.ref}/").json()["belief"]
    assert reasons["tree"] == tree.ref
    assert (reasons["claim"], reasons["as_of"]) == ("lost", belief["as_of"])
    assert reasons["share"] == pytest.approx(belief["lost"], abs=1e-9)
    assert reasons["low"] < reasons["share"] < reasons["high"]
    assert sum(row["points"] for row in reasons["rows"]) == pytest.approx(
        reasons["points"] - reasons["start"], abs=1e-9
    )
    assert reasons["months"][-1]["claim"] == pytest.approx(reasons["share"])
    assert reasons["version"] == 1
    seen = [row for row in reasons["rows"] if row["kind"] == "looks"]
    assert [len(row["look_ids"]) for row in seen] == [1, 1]
    assert "A neighbor said in May that it looked dead." in seen[1]["words"]


@pytest.mark.parametrize("role", ["nobody", "volunteer", "staff"])
def test_no_person_and_no_free_text_is_in_the_reasons(client_as, tree, role):
    Overruling.objects.create(
        tree=tree,
        state="failing",
        day=date(2026, 6, 10),
        reason="Ms. Fenn showed me live buds",
        by_key="person:ben",
        by_name="Ben Okri",
        at=NOON,
    )
    said = client_as(role).get(f"/api/v1/trees/{tree.ref}/why/").content.decode()
    assert "Decided by trained staff" in said
    for word in ("Quill", "poisoned", "Ada", "Fenn", "buds", "Ben", "person:"):
        assert word not in said


def test_the_claim_and_the_month_can_be_asked_for(client_as, tree):
    client = client_as("nobody")
    worse = client.get(f"/api/v1/trees/{tree.ref}/why/?claim=worse").json()
    assert "slipping or worse" in worse["finding"]
    back = client.get(f"/api/v1/trees/{tree.ref}/why/?at=2025-12-24").json()
    assert (back["as_of"], back["share"] < 0.1) == ("2025-12-01", True)


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("claim=dead", "claim"),
        ("claim=", "claim"),
        ("claim=%00", "claim"),
        ("at=yesterday", "at"),
        ("at=99999-01-01", "at"),
        ("at=2020-01-01", "at"),
        ("at=0001-01-01", "at"),
        ("month=3", "month"),
    ],
)
def test_what_cannot_be_explained_is_refused_by_name(client_as, tree, query, field):
    response = client_as("nobody").get(f"/api/v1/trees/{tree.ref}/why/?{query}")
    assert response.status_code == 400
    assert response["Content-Type"] == "application/problem+json"
    assert set(response.json()["errors"]) == {field}


def test_a_day_to_come_is_explained_as_today(client_as, tree):
    reasons = client_as("nobody").get(f"/api/v1/trees/{tree.ref}/why/?at=9999-12-31").json()
    assert reasons["as_of"] == "2026-06-01"


def test_the_reasons_of_no_tree_are_not_found(client_as):
    assert client_as("nobody").get("/api/v1/trees/nowhere/why/").status_code == 404


def test_the_description_names_every_part_of_a_belief(client):
    schema = client.get("/api/schema/?format=json").json()
    parts = schema["components"]["schemas"]
    assert {"BeliefOut", "WhyOut", "RowOut", "LearningOut"} <= set(parts)
    assert "/api/v1/trees/{ref}/why/" in schema["paths"]
    asked = schema["paths"]["/api/v1/trees/{ref}/why/"]["get"]["parameters"]
    assert {one["name"] for one in asked} == {"claim", "at", "ref"}
