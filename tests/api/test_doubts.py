"""A walk to the doubtful trees, asked of the interface by whoever may walk."""

from datetime import date

import pytest

from survey.condition.models import Belief
from tests.factories import AreaFactory, ReportFactory, SiteFactory, TreeFactory
from tests.survey.belief_rows import belief

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/walks/doubts/"
JUNE, MAY = date(2026, 6, 1), date(2027, 5, 1)


@pytest.fixture
def site():
    """Three trees in doubt on one street: a look, a scratch test, and one to wait for."""
    site = SiteFactory(name="Ferry Road", ref="ferry")
    for tag, settle, month in (("1", "look", JUNE), ("2", "scratch", JUNE), ("3", "leaf", MAY)):
        tree = TreeFactory(site=site, tag=tag, ref=f"tree-{tag}")
        belief(tree=tree, lost=0.4, thriving=0.13, dead=0.4, settle=settle, settle_month=month,
               settle_gain=0.1)  # fmt: skip
    return site


def test_it_tells_stops_in_walking_order_and_what_to_do(client_as, site):
    body = client_as("volunteer").get(ADDRESS, {"minutes": 60}).json()
    assert (body["area"], body["as_of"], body["closed"]) == ("pellworth", "2026-06-16", False)
    [ferry] = body["sites"]
    assert (ferry["site"], ferry["name"]) == ("ferry", "Ferry Road")
    assert (ferry["listed"], ferry["unsure"]) == (2, 2)
    assert ferry["stops"] == [
        {"tree": "tree-1", "tag": "1", "look": "look"},
        {"tree": "tree-2", "tag": "2", "look": "scratch"},
    ]
    assert 0 <= ferry["settled"] <= 2
    assert body["minutes"] == pytest.approx(10 + 1.5 + 2.5)
    assert body["later"] == [
        {"month": "2027-05-01", "trees": 1, "at_least": False, "first": ["tree-3"]}
    ]
    assert body["photos"] == []


def test_nothing_that_is_believed_of_a_tree_goes_with_whoever_sees_it(client_as, site):
    said = client_as("staff").get(ADDRESS).content.decode()
    for word in ("thriving", "lost", "shares", "0.4"):
        assert word not in said


def test_a_photo_and_a_site_can_be_asked_for(client_as, site):
    Belief.objects.filter(tree__tag="2").update(settle="photo")
    body = client_as("crew").get(ADDRESS, {"site": "ferry", "minutes": 30}).json()
    assert body["photos"] == ["tree-2"]
    assert [stop["tree"] for stop in body["sites"][0]["stops"]] == ["tree-1"]


def test_a_closed_site_is_never_walked(client_as, site):
    ReportFactory(tree=site.trees.first(), danger="limb")
    client = client_as("volunteer")
    body = client.get(ADDRESS).json()
    assert (body["sites"], body["later"], body["closed"]) == ([], [], False)
    assert client.get(ADDRESS, {"site": "ferry"}).json()["closed"] is True


def test_a_danger_without_a_place_is_counted(client_as, site):
    area = AreaFactory()
    ReportFactory(tree=None, site=None, area=area, landmark="by the bench", danger="limb")
    assert client_as("volunteer").get(ADDRESS).json()["dangers_without_place"] == 1


@pytest.mark.parametrize(
    ("query", "field"),
    [
        *((f"minutes={text}", "minutes") for text in
          ("abc", "0", "-60", "61", "1e9", "1000000000", "", "60.0", "%00",
           "%D9%A6%D9%A0", "[60]")),
        *((f"site={text}", "site") for text in
          ("nowhere", "", "%00", "..%2Ferry", "%27%3B--", "x" * 5000)),
        *((f"area={text}", "area") for text in ("nowhere", "", "%00")),
        ("time=60", "time"),
        ("minutes=60&cursor=1", "cursor"),
    ],
)  # fmt: skip
def test_what_cannot_be_answered_is_refused_by_name(client_as, site, query, field):
    response = client_as("volunteer").get(f"{ADDRESS}?{query}")
    assert response.status_code == 400
    assert response["Content-Type"] == "application/problem+json"
    assert set(response.json()["errors"]) == {field}


def test_a_site_of_another_town_is_not_of_this_one(client_as, site):
    other = AreaFactory(ref="elsewhere", name="Elsewhere", is_home=False)
    SiteFactory(area=other, ref="theirs")
    client = client_as("volunteer")
    assert client.get(ADDRESS, {"site": "theirs"}).status_code == 400
    assert client.get(ADDRESS, {"site": "theirs", "area": "elsewhere"}).json()["sites"] == []


def test_it_costs_as_much_for_many_trees_as_for_few(client_as, site, django_assert_num_queries):
    client = client_as("volunteer")
    for more in (0, 20):
        for tree in TreeFactory.create_batch(more, site=site):
            belief(tree=tree, settle="look", settle_month=JUNE, settle_gain=0.1)
        with django_assert_num_queries(7):
            client.get(ADDRESS)


def test_the_description_names_every_part(client):
    schema = client.get("/api/schema/?format=json").json()
    assert {"DoubtsOut", "SiteDoubtsOut", "StopOut", "LaterOut"} <= set(
        schema["components"]["schemas"]
    )
    asked = schema["paths"][ADDRESS]["get"]["parameters"]
    assert {one["name"] for one in asked} == {"minutes", "site", "area"}
    [minutes] = [one for one in asked if one["name"] == "minutes"]
    assert minutes["schema"]["enum"] == ["30", "60", "120"]
