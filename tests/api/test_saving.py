"""Measured wounds and the decision aid through the interface for programs."""

from datetime import date

import pytest

from survey.causes.actions.measure_wound import MeasuredWound, measure_wounds
from survey.people.actions import observer_of
from tests.factories import NOON, TODAY, LookFactory, PersonFactory, TreeFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def wounded():
    tree, by = TreeFactory(), PersonFactory(role="volunteer")
    measure_wounds(
        tree=tree, by=by, at=NOON, observer=observer_of(by), trained=True, day=TODAY,
        condition="holding", leaf="full",
        wounds=[MeasuredWound(girth_m=0.24, width_m=0.08, from_hour=11, to_hour=3, rim="dry",
                              note="by the gate of No 4")],
    )  # fmt: skip
    return tree


def test_a_look_carries_its_wounds_and_no_words_about_places(client, wounded):
    [look] = client.get(f"/api/v1/trees/{wounded.ref}/looks/").json()
    assert look["wounds"] == [
        {"stem": 1, "number": 1, "girth_m": 0.24, "width_m": 0.08, "from_hour": 11.0,
         "to_hour": 3.0, "low_edge_m": None, "length_m": None, "wood_shows": None, "rim": "dry"}
    ]  # fmt: skip


def test_the_decision_says_state_reasons_and_bark(client, wounded):
    told = client.get(f"/api/v1/trees/{wounded.ref}/saving/").json()
    assert told["state"] == "alive"
    assert told["sentence"].startswith("Alive today. We look again by ")
    assert told["choice"] == "save"
    assert told["bark"][0]["low"] == pytest.approx(1 / 3)
    assert [row["stem"] for row in told["bark"]] == [None, 1]
    assert told["bark"][1]["band_high"] == "quarter_to_half"
    assert told["measured_on"] == "2026-06-16"
    assert all(line["basis"] for line in [*told["why"], *told["reasons"], *told["needs"]])


def test_what_is_still_needed_has_its_day(client):
    tree = TreeFactory()
    LookFactory(tree=tree, day=date(2026, 6, 14), condition="dead", leaf="bare", scratch="brown")
    told = client.get(f"/api/v1/trees/{tree.ref}/saving/").json()
    assert (told["state"], told["choice"]) == ("cannot_tell", "watch")
    assert {need["code"]: (need["from_day"], need["trained"]) for need in told["needs"]} == {
        "second_visit": ("2026-07-12", True), "photo": ("2026-07-12", False),
    }  # fmt: skip


def test_the_spanish_reader_asks_for_the_same_address(client, wounded):
    assert client.get("/api/v1/trees/nobody/saving/").status_code == 404
    english = client.get(f"/api/v1/trees/{wounded.ref}/saving/").json()
    spanish = client.get(f"/api/v1/trees/{wounded.ref}/saving/", headers={"accept-language": "es"})
    assert spanish.json()["state"] == english["state"]
