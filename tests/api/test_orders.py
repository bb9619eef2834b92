"""Doses and refusals of an order by the interface."""

from datetime import date, timedelta

import pytest

from survey.trees.models import LookSign, Permission, StemMeasure
from tests.factories import (
    TODAY,
    LandManagerFactory,
    LookFactory,
    OrderLineFactory,
    SiteFactory,
    TreeFactory,
    WorkOrderFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def order():
    site = SiteFactory(land_manager=LandManagerFactory())
    order = WorkOrderFactory(window_from=TODAY, window_to=TODAY + timedelta(days=60))
    for tag, inches in (("0401", 8), ("0402", 9)):
        tree = TreeFactory(site=site, ref=f"t-{tag}", tag=tag)
        look = LookFactory(tree=tree, day=TODAY - timedelta(days=3))
        StemMeasure.objects.create(look=look, girth_m=inches * 0.0254)
        OrderLineFactory(order=order, tree=tree, care="mulch_ring")
    Permission.objects.create(
        land_manager=site.land_manager,
        care="mulch_ring",
        who="anybody",
        from_day=date(2026, 1, 1),
        to_day=date(2027, 1, 1),
    )
    return order


def test_doses_come_in_si_with_operands_and_in_the_readers_words(client_as, order):
    told = client_as("volunteer").get(f"/api/v1/orders/{order.pk}/doses/?units=us").json()
    (ring,) = told["doses"]
    assert ring["care"] == "mulch_ring"
    steps = {step["code"]: step for step in ring["trees"][0]["steps"]}
    volume = steps["ring_volume"]
    uses = {use["name"]: use["value"] for use in volume["uses"]}
    assert volume["unit"] == "m3"
    assert volume["value"] == pytest.approx(uses["ring_area"] * uses["depth"])
    assert volume["working"].endswith("sq ft × 0.25 ft")
    together = {total["code"]: total["value"] for total in ring["together"]}
    each = [
        step["value"]
        for tree in ring["trees"]
        for step in tree["steps"]
        if step["code"] == "ring_volume"
    ]
    assert together["ring_volume"] == pytest.approx(sum(each))
    assert ring["to_bring"][0].startswith("Wood chips: ")
    assert {row["what"] for row in told["not_given"]} >= {"Fertilizer", "Cardboard under chips"}
    metric = client_as("crew").get(f"/api/v1/orders/{order.pk}/doses/?units=metric").json()
    shown = {s["code"]: s for s in metric["doses"][0]["trees"][0]["steps"]}["ring_volume"]
    assert shown["value"] == volume["value"]
    assert shown["shown"].endswith("m³")


def test_a_refused_tree_says_why_and_prints_no_number(client_as, order):
    look = LookFactory(tree=order.lines.first().tree, day=TODAY - timedelta(days=1))
    LookSign.objects.create(look=look, sign="dry_soil")
    (ring,) = client_as("staff").get(f"/api/v1/orders/{order.pk}/doses/").json()["doses"]
    refused = next(tree for tree in ring["trees"] if not tree["steps"])
    assert refused["because"] == ["dry_ball"]
    assert refused["not_given"] == "the root ball is dry: soak first"


def test_refusals_of_a_day_say_what_opens_them_again(client_as, order):
    client = client_as("staff")
    assert client.get(f"/api/v1/orders/{order.pk}/refusals/?day=2026-06-20").json() == []
    order.lines.update(care="turf_back")
    refused = client.get(f"/api/v1/orders/{order.pk}/refusals/?day=2026-07-20").json()
    codes = {row["code"] for row in refused}
    assert codes == {"no_leave", "needs_ticket", "out_of_season"}
    assert all(row["opens"] for row in refused)


@pytest.mark.parametrize("day", ["", "yesterday", "2026-13-01", "2026-06-31"])
def test_a_day_that_is_none_is_a_400_with_the_field(client_as, order, day):
    answer = client_as("staff").get(f"/api/v1/orders/{order.pk}/refusals/", {"day": day})
    assert answer.status_code == 400
    assert "day" in str(answer.json())


def test_units_that_nobody_uses_are_a_400(client_as, order):
    answer = client_as("staff").get(f"/api/v1/orders/{order.pk}/doses/?units=cubits")
    assert answer.status_code == 400


@pytest.mark.parametrize("pk", ["0", "999999", "x", "９", "9" * 30])
def test_an_order_that_is_not_there_is_a_404(client_as, order, pk):
    assert client_as("staff").get(f"/api/v1/orders/{pk}/doses/").status_code == 404
