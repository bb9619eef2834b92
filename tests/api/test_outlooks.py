"""Outlooks in the interface: the newest month of each place, and all months of one."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from tests.factories import PlantingFactory, SiteFactory
from tests.frontend.liaison.outlook_made import SHARES, a_year_down, month, outlook_of
from tests.survey_rows import trend_month

pytestmark = pytest.mark.django_db


def test_the_list_has_the_newest_month_and_is_narrowed_by_kind_and_key(client_as):
    outlook_of(SiteFactory(ref="quarry"))
    outlook_of(PlantingFactory(ref="ferry-2023"))
    client = client_as("liaison")
    rows = client.get("/api/v1/outlooks/?by=site&key=quarry").data["results"]
    (row,) = rows
    assert (row["outlook"], row["low"], row["high"]) == (75.0, 69.0, 81.0)
    assert (row["standing"], row["trees"], row["walked"]) == (13, 14, True)
    assert "months" not in row
    assert len(client.get("/api/v1/outlooks/").data["results"]) == 2


def test_one_place_has_all_its_months_with_their_shares(client_as):
    row = outlook_of(SiteFactory())
    months = client_as("liaison").get(f"/api/v1/outlooks/{row.pk}/").data["months"]
    assert len(months) == len(a_year_down())
    assert months[-1]["outlook"] == 75.0
    assert list(months[-1]["shares"].values()) == SHARES
    assert months[0]["month"] == "2025-06-01"


def test_a_sites_month_says_what_all_evidence_weighed_says_of_it(client_as):
    site = SiteFactory()
    found = trend_month(site)
    client = client_as("liaison")
    assert client.get(f"/api/v1/trends/{found.pk}/").data["weighed"] is None
    outlook_of(site, [month(2026, 5, 77.0)])
    told = client.get(f"/api/v1/trends/{found.pk}/").data["weighed"]
    assert told == {
        "outlook": 77.0, "low": 71.0, "high": 83.0, "standing": 13, "looks": 3, "walked": True,
    }  # fmt: skip
    assert client.get("/api/v1/trends/").data["results"][0]["weighed"] == told


def test_a_page_of_trends_asks_as_much_for_ten_sites_as_for_one(client_as):
    client, asked = client_as("liaison"), []
    for more in (1, 9):
        for _ in range(more):
            site = SiteFactory()
            trend_month(site)
            outlook_of(site)
        with CaptureQueriesContext(connection) as questions:
            client.get("/api/v1/trends/")
        asked.append(len(questions))
    assert asked[0] == asked[1]


def test_another_towns_outlook_of_a_site_named_alike_is_not_taken(client_as):
    found = trend_month(SiteFactory(ref="quarry"))
    outlook_of(SiteFactory(area__ref="elsewhere", area__is_home=False, ref="other"), key="quarry")
    assert client_as("liaison").get(f"/api/v1/trends/{found.pk}/").data["weighed"] is None
