"""The handbook by API: every entry of every file, with what it rests on, in either language."""

import pytest

from survey.causes.actions.local_rules import approve_local_rule, propose_local_rule
from survey.handbook.book import book
from tests.factories import NOON, AreaFactory, PersonFactory

pytestmark = pytest.mark.django_db
FILES = {file.removesuffix(".toml"): records for file, records in book().files()}


def test_it_lists_every_file(client_as):
    listed = client_as("nobody").get("/api/v1/handbook/").json()
    assert {row["shelf"]: row["entries"] for row in listed} == {
        name: len(records) for name, records in FILES.items()
    }


@pytest.mark.parametrize("shelf", list(FILES))
def test_every_entry_says_what_it_rests_on(client_as, shelf):
    rows = client_as("nobody").get(f"/api/v1/handbook/{shelf}/").json()
    assert [row["code"] for row in rows] == list(FILES[shelf])
    for row in rows:
        assert row["grounds"]
        assert row["sources"] or row["mark"]
        assert row["entry"]
        one = client_as("nobody").get(f"/api/v1/handbook/{shelf}/{row['code']}/")
        if row is rows[0]:
            assert one.json() == row


def test_a_cause_comes_with_its_clues_and_their_weights(client_as):
    cause = book().causes["mower_or_trimmer"]
    told = client_as("nobody").get("/api/v1/handbook/causes/mower_or_trimmer/").json()["entry"]
    assert told["label"] == cause.label
    assert told["shows_months"] == list(cause.shows_months)
    assert told["clues"] == [
        {"clue": one.clue, "weight": one.weight, "absent": one.absent} for one in cause.clues
    ]


def test_texts_come_in_the_language_asked_for(client_as):
    url = "/api/v1/handbook/cautions/road/"
    english = client_as("nobody").get(url)
    spanish = client_as("nobody").get(url, headers={"Accept-Language": "es"})
    assert english["Content-Language"] == "en"
    assert spanish["Content-Language"] == "es"
    assert english.json()["entry"]["do_not"] == book().cautions["road"].do_not
    assert spanish.json()["entry"]["do_not"].startswith("No ")
    assert english.json()["code"] == spanish.json()["code"] == "road"


def test_a_local_rule_stands_beside_its_entry_marked_local_and_names_nobody(client_as):
    area = AreaFactory()
    wren, ash = PersonFactory(name="Wren Alder"), PersonFactory(name="Ash Mills")
    fields = {"about": "cause", "code": "mower_or_trimmer", "text": "Verge cut on Thursdays."}
    weighed = {"source": "Mowing plan", "clue": "grass_to_trunk", "weight": 2}
    rule = propose_local_rule(area=area, by=wren, at=NOON, **fields | weighed)
    url = "/api/v1/handbook/causes/mower_or_trimmer/"
    assert client_as("nobody").get(url).json()["local_rules"] == []
    approve_local_rule(rule=rule, by=ash, at=NOON)
    answer = client_as("nobody").get(url)
    [told] = answer.json()["local_rules"]
    assert told == {
        "ref": rule.ref,
        "text": "Verge cut on Thursdays.",
        "text_es": "",
        "source": "Mowing plan",
        "clue": "grass_to_trunk",
        "weight": 2,
        "in_force_since": "2026-06-16",
        "local": True,
    }
    assert "Wren" not in answer.content.decode()
    assert wren.key not in answer.content.decode()


@pytest.mark.parametrize(
    "path",
    [
        "nobody/",
        "causes/nobody/",
        "__class__/",
        "grounds/",
        "causes/a%00b/",
        "causes/%3Cscript%3E/",
        "causes/" + "x" * 3000 + "/",
    ],
)
def test_what_is_not_in_it_is_said_to_be_missing(client_as, path):
    response = client_as("nobody").get(f"/api/v1/handbook/{path}")
    assert response.status_code == 404
    assert "<script" not in response.content.decode()


@pytest.mark.parametrize("shelf", ["causes", "signs", "sources"])
def test_a_file_costs_two_questions_however_long(client_as, shelf, django_assert_max_num_queries):
    AreaFactory()
    client = client_as("nobody")
    with django_assert_max_num_queries(2):
        client.get(f"/api/v1/handbook/{shelf}/")


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
def test_it_is_read_only(client_as, method):
    response = getattr(client_as("keeper"), method)("/api/v1/handbook/causes/")
    assert response.status_code == 405
