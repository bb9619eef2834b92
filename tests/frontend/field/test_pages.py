"""The pages of a tree, a planting and a site."""

from datetime import date

import pytest

from survey.reports.models import ReportSign
from survey.trees.actions.look import record_happening
from survey.trees.models import LookSign
from tests.factories import (
    NOON,
    TODAY,
    LookFactory,
    OrderLineFactory,
    PersonFactory,
    PhotoFactory,
    ReportFactory,
    TreeFactory,
)

READY = {"state": "ready", "picture": "p.jpg", "small": "s.jpg", "width": 4, "height": 3}


def read(client, address) -> str:
    response = client.get(address)
    assert response.status_code == 200
    return response.content.decode()


@pytest.fixture
def tree():
    tree = TreeFactory(tag="0407")
    look = LookFactory(tree=tree, day=date(2026, 6, 8), condition="slipping", note="Mrs. Hale saw")
    LookSign.objects.create(look=look, sign="bark_wound", extent="half_or_more", side="street")
    report = ReportFactory(tree=tree, number=12, words="my neighbor Hale cut it")
    ReportSign.objects.create(report=report, sign="wilting")
    return tree


def test_anybody_may_read_how_a_tree_is_doing_and_how_it_was(client, tree):
    page = read(client, f"/trees/{tree.ref}/")
    assert "Last seen slipping." in page
    assert "June 8, 2026, 8 days ago" in page
    assert "Bark is gone (half or more, street)" in page
    assert "June 16, note 12" in page
    assert f"?tree={tree.ref}" in page


def test_nobodys_words_are_shown_to_strangers(client, tree):
    page = read(client, f"/trees/{tree.ref}/")
    assert "Hale" not in page


def test_a_liaison_reads_what_strangers_read(sign_in, tree):
    assert "Hale" not in read(sign_in("liaison"), f"/trees/{tree.ref}/")


def test_whoever_is_signed_in_reads_notes_and_orders(sign_in, tree):
    line = OrderLineFactory(tree=tree)
    page = read(sign_in("volunteer"), f"/trees/{tree.ref}/")
    assert "Mrs. Hale saw" in page
    assert f"/orders/{line.order.number}/" in page
    assert "cut it" not in page


def test_words_typed_on_a_look_never_become_markup(sign_in):
    look = LookFactory(note="<script>alert(1)</script>")
    page = read(sign_in(), f"/trees/{look.tree.ref}/")
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


def test_only_accepted_photos_are_shown_to_strangers(client, sign_in, tree):
    look = tree.looks.get()
    look.photos.add(
        PhotoFactory(key="open", shown="accepted", **READY),
        PhotoFactory(key="hidden", **READY),
        PhotoFactory(key="declined", shown="declined", **READY),
    )
    page = read(client, f"/trees/{tree.ref}/")
    assert "/photos/open/" in page
    assert "/photos/hidden/" not in page
    page = read(sign_in(), f"/trees/{tree.ref}/")
    assert "/photos/hidden/" in page
    assert "/photos/declined/" not in page
    page = read(sign_in("volunteer"), f"/trees/{tree.ref}/")
    assert "/photos/open/" in page
    assert "/photos/hidden/" not in page, "a picture that volunteers cannot open is not shown"


def test_what_a_neighbor_wrote_is_read_at_the_desk_alone(client, sign_in):
    look = LookFactory(channel="complaint", trained=False, note="my neighbor cut it at night")
    address = f"/trees/{look.tree.ref}/"
    assert "cut it at night" not in read(client, address)
    for role in ("volunteer", "crew", "liaison"):
        assert "cut it at night" not in read(sign_in(role), address)
    assert "cut it at night" in read(sign_in(), address)


def test_a_look_that_was_corrected_is_not_told(client, tree):
    old = tree.looks.get()
    LookFactory(tree=tree, day=date(2026, 6, 8), condition="holding", supersedes=old)
    page = read(client, f"/trees/{tree.ref}/")
    assert "Last seen holding." in page
    assert "slipping" not in page.lower()


def test_an_untrained_look_moves_no_gauge(client):
    tree = TreeFactory()
    LookFactory(tree=tree, trained=False, condition="dead")
    assert "Nobody trained has looked at it yet." in read(client, f"/trees/{tree.ref}/")


def test_an_open_danger_stands_on_the_page_and_offers_no_look(client, sign_in):
    tree = TreeFactory()
    ReportFactory(tree=tree, danger="hanging_limb")
    assert "Danger near here" in read(client, f"/trees/{tree.ref}/")
    page = read(sign_in(), f"/trees/{tree.ref}/")
    assert "Open danger near here" in page
    assert f"/trees/{tree.ref}/look/" not in page


@pytest.mark.parametrize("word", ["low risk", "moderate", "high risk", "extreme"])
def test_a_danger_is_never_given_a_grade(client, word):
    tree = TreeFactory()
    ReportFactory(tree=tree, danger="hanging_limb")
    assert word not in read(client, f"/trees/{tree.ref}/").lower()


def test_a_tree_that_left_says_how_and_leads_to_the_one_in_its_place(client):
    old = TreeFactory(left="died", left_from=date(2025, 8, 1), left_to=date(2025, 9, 1))
    new = TreeFactory(replaces=old)
    page = read(client, f"/trees/{old.ref}/")
    assert "This tree is gone: died." in page
    assert f"/trees/{new.ref}/" in page
    assert "?tree=" not in page
    assert f"/trees/{old.ref}/" in read(client, f"/trees/{new.ref}/")


def test_a_place_tells_what_happened_there(sign_in):
    tree = TreeFactory()
    for place in (tree.site, tree.planting):
        record_happening(
            place=place,
            kind="storm",
            from_day=TODAY,
            to_day=TODAY,
            note="roof tiles",
            by=PersonFactory(),
            at=NOON,
        )
    client = sign_in("volunteer")
    for address in (f"/sites/{tree.site.ref}/", f"/plantings/{tree.planting.ref}/"):
        page = read(client, address)
        assert "Storm" in page
        assert "roof tiles" in page


def test_strangers_read_a_site_without_its_notes_or_leave(client):
    tree = TreeFactory()
    record_happening(
        place=tree.site,
        kind="storm",
        from_day=TODAY,
        to_day=TODAY,
        note="roof tiles",
        by=PersonFactory(),
        at=NOON,
    )
    page = read(client, f"/sites/{tree.site.ref}/")
    assert "Storm" in page
    assert "roof tiles" not in page
    assert "Leave to work here" not in page


@pytest.mark.parametrize("address", ["/trees/no-such/", "/sites/no-such/", "/plantings/no-such/"])
def test_a_place_that_is_not_there_is_not_found(client, address):
    assert client.get(address).status_code == 404


def test_a_report_and_the_look_it_made_are_one_line(client):
    report = ReportFactory(number=12)
    look = LookFactory(
        tree=report.tree,
        day=report.day,
        trained=False,
        channel="complaint",
        condition="slipping",
        observer__kind="resident",
    )
    LookSign.objects.create(look=look, sign="bark_wound", extent="half_or_more")
    report.looks.add(look)
    page = client.get(f"/trees/{report.tree.ref}/").content.decode()
    assert page.count("A neighbor told us: June 16, note 12") == 1
    assert "Slipping. Bark is gone (half or more)" in " ".join(page.split())
    assert "Look by a neighbor" not in page


@pytest.mark.parametrize(
    ("role", "address", "queries"),
    [
        (None, "/trees/{tree.ref}/", 25),
        ("staff", "/trees/{tree.ref}/", 38),  # eleven of them weigh the causes
        ("staff", "/sites/{tree.site.ref}/", 9),
        ("staff", "/plantings/{tree.planting.ref}/", 8),
    ],
)
def test_a_page_asks_the_same_number_of_questions_after_many_looks(
    client, sign_in, django_assert_num_queries, role, address, queries
):
    tree = TreeFactory()
    for n in range(10):
        look = LookFactory(tree=tree, day=date(2025, 6, n + 1))
        LookSign.objects.create(look=look, sign="bark_wound")
        ReportFactory(tree=tree)
        TreeFactory(site=tree.site, planting=tree.planting)
    if role:
        sign_in(role)
    address = address.format(tree=tree)
    client.get(address)
    with django_assert_num_queries(queries):
        client.get(address)


def mow(tree, *days, by=None, note=""):
    for day in days:
        record_happening(
            place=tree.site, kind="mowing", from_day=day, to_day=day, note=note, by=by, at=NOON
        )


def test_mowing_week_after_week_is_one_line_and_a_winter_ends_it(client, tree):
    by = PersonFactory(role="volunteer")
    mow(tree, date(2025, 9, 4), date(2025, 9, 18), date(2025, 10, 2), by=by)
    mow(tree, date(2026, 3, 5), date(2026, 3, 19), by=by)
    page = read(client, f"/trees/{tree.ref}/")
    assert page.count("Mowing") == 2
    assert "September 4 to October 2, 2025" in page
    assert "Mowing, 3 times" in page
    assert "March 5 to 19, 2026" in page
    assert "Mowing, 2 times" in page


def test_a_note_on_a_mowing_keeps_its_own_line_for_those_who_may_read_it(client, sign_in, tree):
    by = PersonFactory(role="volunteer")
    mow(tree, date(2026, 5, 1), by=by, note="Long Meadow")
    mow(tree, date(2026, 5, 15), by=by, note="wet ground, deep ruts")
    mow(tree, date(2026, 5, 29), by=by, note="Long Meadow")
    assert read(client, f"/trees/{tree.ref}/").count("Mowing") == 1
    page = read(sign_in("volunteer"), f"/trees/{tree.ref}/")
    assert page.count("<b>Mowing</b>") == 1
    assert page.count("<b>Mowing, 2 times</b>") == 1
    assert page.count("Long Meadow") == 1
    assert "deep ruts" in page
