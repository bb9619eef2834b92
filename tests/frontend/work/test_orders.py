"""Orders as a timetable, one order on its page, and its sheet."""

import re
from datetime import date

import pytest

from survey.trees.models import Permission
from tests.factories import (
    NOON,
    LandManagerFactory,
    OrderLineFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
    WorkOrderFactory,
)
from tests.survey.test_constraints import care as given_care


@pytest.fixture
def site():
    owner = LandManagerFactory()
    for care in ("water", "mulch_ring", "turf_back"):
        Permission.objects.create(
            land_manager=owner,
            care=care,
            who="anybody",
            from_day=date(2026, 1, 1),
            to_day=date(2026, 12, 31),
        )
    return SiteFactory(name="Quarry Green", ref="quarry", land_manager=owner, walk_from="the gate")


def order_at(site, *cares, trees=1, **more):
    order = WorkOrderFactory(**more)
    for _ in range(trees):
        tree = TreeFactory(site=site)
        for care in cares or ("water",):
            OrderLineFactory(order=order, tree=tree, care=care)
    return order


def read(client, address) -> str:
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


def bands(response) -> dict[str, list[int]]:
    return {band.key: [row.order.number for row in band.rows] for band in response.context["bands"]}


def test_what_is_over_presses_nobody_and_says_its_year_and_how_many_there_are(sign_in, site):
    past = {"window_from": date(2025, 9, 1), "window_to": date(2025, 9, 30)}
    seen = {"done_on": date(2025, 9, 16), "done_by": "A", "confirmed_at": NOON}
    for _ in range(31):  # a page holds 30
        order_at(site, state="confirmed", **past, **seen)
    page = read(sign_in(), "/orders/?state=confirmed")
    assert page.count("Sep 16, 2025") == 30
    assert ' clock"' not in page
    assert '<td rowspan="30" class="why-count">31</td>' in page
    late = order_at(site, **past)
    page = read(sign_in(), "/orders/")
    assert f"order {late.number}" in page
    assert ' clock">to Sep 30, 2025' in page
    assert '1 <span class="only-folded">tree</span>' in page


def test_orders_stand_under_what_they_wait_for(sign_in, site):
    ready = order_at(site)
    ticket = order_at(site, "turf_back", window_from=date(2026, 4, 1))
    held = order_at(site)
    ReportFactory(tree=held.lines.get().tree, danger="hanging_limb", latitude=36.7, longitude=-34.9)
    for order in (ready, ticket):  # far from the danger
        tree = order.lines.get().tree
        tree.latitude = 36.65
        tree.save()
    planned = order_at(
        SiteFactory(land_manager=site.land_manager), state="planned", planned_for=date(2026, 6, 20)
    )
    planned_tree = planned.lines.get().tree
    planned_tree.latitude = 36.66
    planned_tree.save()
    due = order_at(
        site, state="done", done_on=date(2026, 5, 1), done_by="A", look_due=date(2026, 6, 5)
    )
    waiting = order_at(
        site, state="done", done_on=date(2026, 6, 1), done_by="A", look_due=date(2026, 7, 6)
    )
    order_at(site, state="dropped", dropped_at=NOON, dropped_because="rain")
    assert bands(sign_in().get("/orders/")) == {
        "danger": [held.number],
        "missing": [ticket.number],
        "drafted": [ready.number],
        "planned": [planned.number],
        "look": [due.number],
        "done": [waiting.number],
    }


def test_the_filters_are_the_address(sign_in, site):
    dropped = order_at(site, state="dropped", dropped_at=NOON, dropped_because="it rained")
    elsewhere = order_at(SiteFactory(ref="mill"))
    client = sign_in()
    page = client.get("/orders/", {"state": "dropped"})
    assert bands(page) == {"dropped": [dropped.number]}
    assert "it rained" in page.content.decode()
    found = client.get("/orders/", {"site": "mill"})
    assert bands(found) == {"missing": [elsewhere.number]}
    assert bands(client.get("/orders/", {"state": "nonsense", "site": "\x00"}))


def test_an_empty_list_says_where_orders_come_from(sign_in):
    assert "Orders come from reports on the desk" in read(sign_in(), "/orders/")


@pytest.mark.parametrize("count", [2, 20])
def test_a_list_asks_as_many_questions_however_long_it_is(
    sign_in, site, django_assert_num_queries, count
):
    for _ in range(count):
        order_at(site, trees=2)
    ReportFactory(tree=TreeFactory(site=site), danger="hanging_limb")
    client = sign_in()
    client.get("/orders/")
    with django_assert_num_queries(22):
        client.get("/orders/")


def test_an_order_is_worked_with_the_handbooks_words_and_its_own_dose(sign_in, site):
    order = order_at(site, "mulch_ring", "water", trees=3)
    order.lines.filter(care="water").update(dose="6 gal, two buckets")
    page = read(sign_in("volunteer"), f"/orders/{order.number}/")
    assert "Water, mulch ring: 3 trees at Quarry Green" in page
    assert "6 gal, two buckets" in page
    assert "A bare gap of 4 in round the trunk" in page
    assert "Mulch against the bark" in page
    assert page.index("First, what not to do") < page.index("Doses, worked")


def test_what_stands_in_the_way_is_said(sign_in):
    order = order_at(SiteFactory(name="Kiln Bank"), "turf_back")
    page = read(sign_in(), f"/orders/{order.number}/")
    assert "who owns the ground at Kiln Bank" in page
    assert "Digging needs an answered utility ticket first" in page
    assert "out of season" in page


def test_a_danger_closes_the_tree_on_the_order(sign_in, site):
    order = order_at(site)
    report = ReportFactory(tree=order.lines.get().tree, danger="hanging_limb")
    page = read(sign_in(), f"/orders/{order.number}/")
    assert "Open danger near here" in page
    assert f"/desk/{report.pk}/" in page
    assert f"/desk/{report.pk}/" not in read(sign_in("crew"), f"/orders/{order.number}/")


def test_a_done_order_shows_what_became_of_each_tree(sign_in, site):
    order = order_at(
        site,
        state="done",
        done_on=date(2026, 6, 1),
        done_by="Team A",
        look_due=date(2026, 7, 6),
        done_notes="<b>two</b> buckets",
    )
    tree = TreeFactory(site=site)
    OrderLineFactory(order=order, tree=tree, outcome="given", given=given_care())
    order.lines.exclude(tree=tree).update(outcome="not_done", remark="the ball was wet")
    page = read(sign_in(), f"/orders/{order.number}/")
    assert "&lt;b&gt;two&lt;/b&gt; buckets" in page
    assert "the ball was wet" in page
    assert f"/trees/{tree.ref}/look/?channel=followup" in page
    assert "July 6, 2026" in page


@pytest.mark.parametrize("number", [0, 99, 2**31, 10**30])
@pytest.mark.parametrize("page", ["", "sheet/", "plan/", "done/", "drop/", "change/"])
def test_an_order_that_is_not_there_is_not_found(sign_in, number, page):
    assert sign_in().get(f"/orders/{number}/{page}").status_code == 404


def test_the_sheet_carries_tags_cautions_boxes_and_a_code_but_no_neighbor(sign_in, site, settings):
    settings.PUBLIC_ADDRESS = "https://trees.pellworth.example"
    order = order_at(
        site,
        "water",
        "turf_back",
        trees=2,
        state="planned",
        planned_for=date(2026, 6, 20),
        team="Team A",
    )
    order.reports.add(ReportFactory(words="Mrs. Hale is cross", tree=order.lines.first().tree))
    page = read(sign_in("crew"), f"/orders/{order.number}/sheet/")
    for line in order.lines.all():
        assert f'class="tag">{line.tree.tag}<' in page
    assert page.count('class="tick"') == 2 * 3
    assert "Utilities have all answered ticket no." in page
    assert "stop, step back, call" in page
    assert f"trees.pellworth.example<br>/orders/{order.number}/" in page
    assert 'class="qr"' in page
    assert "Saturday, June 20, 2026, Team A" in page
    assert "Quarry Green begins at the gate." in page
    assert "Hale" not in page
    assert re.search(r"Data of Tue, June 16, 2026, \d\d:\d\d", page)


def test_the_sheet_of_an_unplanned_order_says_do_not_go(sign_in, site):
    order = order_at(site)
    assert "Not planned yet: do not go." in read(sign_in(), f"/orders/{order.number}/sheet/")


def test_the_sheet_has_no_boxes_where_a_danger_is(sign_in, site):
    order = order_at(site)
    ReportFactory(tree=order.lines.get().tree, danger="hanging_limb")
    page = read(sign_in(), f"/orders/{order.number}/sheet/")
    assert "CLOSED FOR DANGER" in page
    assert 'class="tick"' not in page


@pytest.mark.parametrize(
    ("page", "statuses"),
    [
        ("/orders/", {None: 302, "liaison": 403, "volunteer": 200, "crew": 200, "staff": 200}),
        ("/orders/new/", {None: 302, "liaison": 403, "volunteer": 403, "crew": 403, "staff": 200}),
        ("/orders/1/", {None: 302, "liaison": 403, "volunteer": 200, "crew": 200}),
        ("/orders/1/sheet/", {None: 302, "liaison": 403, "volunteer": 200, "crew": 200}),
        ("/orders/1/done/", {None: 302, "liaison": 403, "volunteer": 200, "crew": 200}),
        ("/orders/1/plan/", {None: 302, "liaison": 403, "volunteer": 403, "crew": 403}),
        ("/orders/1/change/", {None: 302, "liaison": 403, "volunteer": 403, "crew": 403}),
        ("/orders/1/drop/", {None: 302, "liaison": 403, "volunteer": 403, "crew": 403}),
    ],
)
def test_who_may_see_and_do_what(client, sign_in, site, page, statuses):
    order_at(site, number=1)
    for role, status in statuses.items():
        if role:
            sign_in(role)
        assert client.get(page).status_code == status, role
        if status != 200:
            assert client.post(page, {"version": 0}).status_code == status, role
