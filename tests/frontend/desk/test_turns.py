"""A site that turned down stands on the desk until somebody puts it aside with a reason."""

import re
from datetime import date
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from survey.condition.models import Turn
from tests.factories import AreaFactory, PersonFactory, SiteFactory, TreeFactory
from tests.survey.belief_rows import put_aside, turn

pytestmark = pytest.mark.django_db


def words_of(response):
    page = response.content.decode().split("<main", 1)[1]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


@pytest.fixture(autouse=True)
def area():
    return AreaFactory()


@pytest.fixture
def desk(client):
    client.force_login(PersonFactory(name="Ben Ruiz"))
    return client


@pytest.fixture
def site():
    return SiteFactory(name="Quarry Green", ref="quarry")


@pytest.fixture
def down(site):
    trees = [TreeFactory(site=site, tag=tag) for tag in ("0407", "0412")]
    driven = [{"tree": tree.ref, "before": 88, "after": 60} for tree in trees]
    return turn(site=site, kind="trend", since=date(2026, 4, 1), driven_by=driven)


def test_the_desk_reads_since_when_by_how_much_and_from_which_trees(desk, down):
    response = desk.get("/desk/")
    page = words_of(response)
    assert "Quarry Green has gone down since April 2026: by its walks, 84 before, 75 now" in page
    assert re.search(r"driven by trees 0407 , 0412", page)
    assert "why is not known from this" in page
    assert 'href="/trends/quarry/"' in response.content.decode()


def test_a_fall_at_once_is_told_as_one(desk, site):
    turn(site=site, kind="step", since=date(2026, 4, 1))
    assert "Quarry Green went down in April 2026: by its walks, 84 before, 75 now" in words_of(
        desk.get("/desk/")
    )


def test_many_trees_are_counted_and_not_all_listed(desk, site):
    trees = TreeFactory.create_batch(9, site=site)
    turn(site=site, driven_by=[{"tree": tree.ref, "before": 88, "after": 60} for tree in trees])
    page = words_of(desk.get("/desk/"))
    assert "and 3 more" in page
    assert str(trees[8]) not in page


def test_what_was_put_aside_or_has_come_round_is_not_on_the_desk(desk, site):
    put_aside(site=site)
    turn(site=SiteFactory(name="Mill Steps"), over_on=date(2026, 6, 10))
    page = words_of(desk.get("/desk/"))
    assert "down in" not in page


def test_another_towns_turn_is_not_on_this_desk(desk):
    other = AreaFactory(ref="elsewhere", name="Elsewhere", is_home=False)
    found = turn(site=SiteFactory(area=other, name="Far Road"))
    assert "Far Road" not in words_of(desk.get("/desk/"))
    assert desk.get(f"/desk/turns/{found.pk}/").status_code == 404


def test_it_is_put_aside_with_a_reason(desk, down):
    answer = desk.post(f"/desk/turns/{down.pk}/", {"reason": "Rings are ordered"}, follow=True)
    assert answer.redirect_chain == [("/desk/", 302)]
    down.refresh_from_db()
    assert down.put_aside_reason == "Rings are ordered"
    assert "has gone down" not in words_of(answer)
    assert "“Rings are ordered”" in words_of(desk.get(f"/desk/turns/{down.pk}/"))


@pytest.mark.parametrize("reason", ["", " \n ", "y" * 401, "a\0b"])
def test_a_reason_that_cannot_be_kept_puts_nothing_aside_and_stays_typed(desk, down, reason):
    answer = desk.post(f"/desk/turns/{down.pk}/", {"reason": reason})
    assert answer.status_code == 422
    assert "Error:" in answer.content.decode()
    assert len(reason) < 400 or reason in answer.content.decode()
    assert Turn.objects.to_be_seen().count() == 1


def test_a_reason_that_looks_like_a_page_is_only_words(desk, down):
    desk.post(f"/desk/turns/{down.pk}/", {"reason": "<img src=x onerror=alert(1)>"})
    page = desk.get(f"/desk/turns/{down.pk}/").content.decode()
    assert "<img src=x" not in page
    assert "&lt;img src=x" in page


def test_the_queue_asks_as_much_for_five_turns_as_for_one(desk, down):
    asked = []
    for more in (0, 4):
        for _ in range(more):
            site = SiteFactory()
            driven = {"tree": TreeFactory(site=site).ref, "before": 90, "after": 50}
            turn(site=site, driven_by=[driven])
        with CaptureQueriesContext(connection) as questions:
            desk.get("/desk/")
        asked.append(len(questions))
    assert asked[0] == asked[1]
