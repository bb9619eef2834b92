"""Findings by the interface: read only, for the desk, nobody named."""

import pytest

from tests import factories as make
from tests.survey.cause_rows import finding, judged
from tests.survey.finding_rows import quarry_green

pytestmark = pytest.mark.django_db


def test_a_finding_is_told_with_its_counts_its_trees_and_what_it_was_weighed_from(client_as):
    town = quarry_green()
    [found] = town.search()
    client = client_as("staff")
    [listed] = client.get("/api/v1/findings/").json()["results"]
    assert listed["said"].startswith("13 of 14 trees at Quarry Green have bark gone")
    assert (listed["with_sign"], listed["of_trees"], listed["elsewhere"]) == (13, 14, [3, 40])
    assert (listed["site"], listed["follows"], listed["standing"]) == (
        "quarry-green",
        "site",
        "alone",
    )
    assert "trees" not in listed
    one = client.get(f"/api/v1/findings/{found.pk}/").json()
    assert sorted(one["trees"]) == sorted(found.trees.values_list("ref", flat=True))
    assert one["evidence"]["held"][0]["axis"] == "planting"
    assert "judged" not in one["evidence"]


@pytest.mark.parametrize(
    ("asked", "numbers"),
    [
        ({"state": "confirmed"}, [2]),
        ({"sign": "dieback"}, [1]),
        ({"follows": "planting"}, [2]),
        ({"area": "nowhere"}, []),
        ({"gone": "false"}, [1, 2]),
        ({"gone": "true"}, []),
    ],
)
def test_findings_are_found_by_what_they_are(client_as, asked, numbers):
    finding(sign="dieback")
    judged(number=2, follows="planting")
    answer = client_as("staff").get("/api/v1/findings/", asked).json()
    assert sorted(row["number"] for row in answer["results"]) == numbers


def test_a_word_nobody_knows_is_refused(client_as):
    answer = client_as("staff").get("/api/v1/findings/", {"state": "guilty"})
    assert answer.status_code == 400
    assert "state" in answer.json()["errors"]


@pytest.mark.parametrize("method", ["post", "put", "patch", "delete"])
def test_nothing_is_written_this_way(client_as, method):
    row = finding()
    answer = getattr(client_as("keeper"), method)(f"/api/v1/findings/{row.pk}/", {})
    assert answer.status_code == 405


def test_whoever_judged_is_not_named(client_as):
    row = judged(facts={"earlier": [{"by": "person:x", "reason": "no"}], "judged": {"trees": []}})
    text = client_as("staff").get(f"/api/v1/findings/{row.pk}/").content.decode()
    assert "person:" not in text


def test_the_questions_do_not_grow_with_the_list(client_as, django_assert_max_num_queries):
    area = make.AreaFactory()
    for n in range(1, 13):
        site = make.SiteFactory(area=area)
        finding(area=area, number=n, subject=site.ref, site=site)
    client = client_as("staff")
    with django_assert_max_num_queries(6):
        assert len(client.get("/api/v1/findings/").json()["results"]) == 12
