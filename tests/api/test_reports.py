"""Sending a report from another program, and deciding it."""

import uuid

import pytest
from redis.exceptions import ConnectionError as RedisConnectionError

from api.throttles import ReportsFromOnePlace
from survey.reports.models import Report
from tests.factories import AreaFactory, ReportFactory, TreeFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def sent():
    AreaFactory()
    return {
        "client_ref": str(uuid.uuid4()),
        "landmark": "by the third bench",
        "words": "The bark is cut",
        "signs": ["bark_wound"],
        "email": "rosa@pellworth.example",
    }


def test_a_report_is_received_with_its_name_and_its_private_page(client_as, sent):
    response = client_as("nobody").post("/api/v1/reports/", sent, format="json")
    assert response.status_code == 201
    assert response.data["name"] == "June 16, note 1"
    assert "/note/" in response.data["private_page"]


def test_a_resent_report_is_the_same_report_and_gives_no_secret_away(client_as, sent):
    client_as("nobody").post("/api/v1/reports/", sent, format="json")
    again = client_as("nobody").post("/api/v1/reports/", sent, format="json")
    assert again.status_code == 200
    assert again.data["private_page"] is None
    assert Report.objects.count() == 1


def test_fields_that_are_not_the_senders_are_ignored(client_as, sent):
    client_as("nobody").post("/api/v1/reports/", sent | {"state": "answered"}, format="json")
    assert Report.objects.get().state == "new"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"landmark": ""}, "where"),
        ({"seen_on": "2031-01-01"}, "seen_on"),
        ({"signs": ["<script>"]}, "signs"),
        ({"signs": "x" * 50_000}, "signs"),
        ({"words": "x" * 1_000_000}, "words"),
        ({"latitude": 89.0, "longitude": 10.0}, "latitude"),
        ({"latitude": "north"}, "latitude"),
        ({"client_ref": "1; DROP TABLE"}, "client_ref"),
        ({"tree": "no-such-tree"}, "tree"),
        ({"danger": "volcano"}, "danger"),
        ({"email": "rosa at home"}, "email"),
    ],
)
def test_bad_input_names_its_field_and_writes_nothing(client_as, sent, change, field):
    response = client_as("nobody").post("/api/v1/reports/", sent | change, format="json")
    assert response.status_code == 400
    assert response["Content-Type"] == "application/problem+json"
    assert field in response.json()["errors"]
    assert not Report.objects.exists()


def test_a_body_that_is_no_json_is_a_clear_error(client_as):
    response = client_as("nobody").post(
        "/api/v1/reports/", b"{'words': ", content_type="application/json"
    )
    assert response.status_code == 400


def test_the_second_of_two_people_is_told(client_as):
    report = ReportFactory()
    decision = {"version": 0, "reason": "seen", "message": "We looked."}
    first = client_as("staff").post(f"/api/v1/reports/{report.pk}/answer/", decision, format="json")
    second = client_as("staff").post(f"/api/v1/reports/{report.pk}/ask/", decision, format="json")
    assert (first.status_code, second.status_code) == (200, 409)
    report.refresh_from_db()
    assert (report.state, report.version) == ("answered", 1)


def test_a_decision_without_a_reason_is_refused(client_as):
    report = ReportFactory()
    response = client_as("staff").post(
        f"/api/v1/reports/{report.pk}/set-aside/", {"version": 0, "reason": "  "}, format="json"
    )
    assert response.status_code == 400
    assert "reason" in response.json()["errors"]


def test_the_list_never_says_how_to_reach_a_neighbor(client_as, sent):
    client_as("nobody").post("/api/v1/reports/", sent, format="json")
    page = client_as("staff").get("/api/v1/reports/")
    assert page.data["results"][0]["words"] == sent["words"]
    assert b"rosa@" not in page.content


def test_the_list_costs_the_same_few_questions_however_long(
    client_as, django_assert_max_num_queries
):
    tree = TreeFactory()
    for _ in range(30):
        ReportFactory(tree=tree)
    client = client_as("staff")
    with django_assert_max_num_queries(3):
        assert len(client.get("/api/v1/reports/").data["results"]) == 30


def test_a_flood_from_one_address_is_slowed_down(client_as, sent):
    client = client_as("nobody")
    answers = [
        client.post("/api/v1/reports/", sent | {"client_ref": str(uuid.uuid4())}, format="json")
        for _ in range(61)
    ]
    assert {a.status_code for a in answers[:60]} == {201}
    assert answers[60].status_code == 429
    assert int(answers[60]["Retry-After"]) > 0


def test_a_report_is_taken_in_when_the_cache_is_out_of_reach(client_as, sent, monkeypatch):
    def broken(*_args, **_kwargs):
        raise RedisConnectionError

    for name in ("get", "set"):
        monkeypatch.setattr(ReportsFromOnePlace.cache, name, broken, raising=False)
    response = client_as("nobody").post("/api/v1/reports/", sent, format="json")
    assert response.status_code == 201
