"""What a passer-by reads on a tree's page: how its kind fares, how to help, and what is new."""

import re
from datetime import date, timedelta
from html import unescape

import pytest

from frontend.field.public import HELPS, SHOWN_EVENTS, helps_for
from survey.handbook.book import book
from survey.trees.models import LookSign
from tests.factories import NOON, TODAY, LookFactory, ReportFactory, TreeFactory
from tests.frontend.liaison.made import TOLD, group

pytestmark = pytest.mark.django_db


def words_of(html):
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def page(client, tree, **more):
    return client.get(f"/trees/{tree.ref}/", **more).content.decode()


def codes(helps):
    return {one.advice.code for one in helps}


@pytest.fixture
def young(home):
    return TreeFactory(planted_from=date(2025, 11, 1), planted_to=date(2025, 11, 1))


def test_a_young_tree_can_be_helped_and_the_handbook_says_why(client, young):
    html = page(client, young)
    told = words_of(html)
    assert "How to help" in told
    for code, when in HELPS:
        assert book().advice[code].headline in told
        assert f'href="/handbook/advice/#{code}"' in html
        assert str(when) in told


def test_water_is_not_offered_to_an_old_tree_nor_to_one_that_drowns(home, young):
    old = TreeFactory(planted_from=date(2015, 11, 1), planted_to=date(2015, 11, 1))
    assert "water_if_dry" in codes(helps_for(young, set(), TODAY, in_danger=False))
    assert "water_if_dry" not in codes(helps_for(old, set(), TODAY, in_danger=False))
    assert "water_if_dry" not in codes(helps_for(young, {"soggy_soil"}, TODAY, in_danger=False))


def test_a_sign_seen_this_year_takes_unsafe_help_away_and_an_old_one_does_not(client, young):
    look = LookFactory(tree=young, day=TODAY - timedelta(days=30))
    sign = LookSign.objects.create(look=look, sign="soggy_soil")
    water = book().advice["water_if_dry"].headline
    assert water not in words_of(page(client, young))
    sign.delete()
    assert water in words_of(page(client, young))


def test_nobody_is_sent_near_a_danger(client, young):
    helps = helps_for(young, set(), TODAY, in_danger=True)
    assert {one.advice.kind for one in helps} == {"do_not"}
    ReportFactory(tree=young, danger="wire")
    told = words_of(page(client, young))
    assert "Danger near here" in told
    assert book().advice["keep_tools_away"].headline not in told
    assert book().advice["water_if_dry"].headline not in told


def test_a_tree_that_is_gone_is_not_helped(client, home):
    gone = TreeFactory(left="died", left_from=date(2024, 5, 1), left_to=date(2024, 5, 1))
    assert "How to help" not in page(client, gone)


def test_a_new_note_says_by_when_somebody_looks(client, young):
    LookFactory(tree=young, day=TODAY - timedelta(days=8))
    report = ReportFactory(tree=young, seen_on=TODAY, day=TODAY, submitted_at=NOON)
    told = words_of(page(client, young))
    assert "New since then: June 16, note" in told
    assert "We look by June 26." in told
    report.state = "answered"
    report.save()
    assert "New since then" not in words_of(page(client, young))


def test_a_note_from_before_the_last_trained_look_is_not_new(client, young):
    ReportFactory(tree=young, seen_on=TODAY - timedelta(days=9))
    LookFactory(tree=young, day=TODAY - timedelta(days=8))
    assert "New since then" not in words_of(page(client, young))


def test_how_its_kind_fared_is_told_with_its_range_and_drawn(client, young):
    assert "our own record" not in page(client, young)
    group(by="species", key=young.species, label="Linden", told=TOLD)
    html = page(client, young)
    told = words_of(html)
    assert "At least 8 in 10 of the trees of the kind Linden stood" in told
    assert "somewhere between 6 and 9 in 10" in told
    assert "From our own record of this town." in told
    saplings = html[html.index('class="saplings"') :].partition("</svg>")[0]
    assert "At least 8 in 10" in saplings  # said to who cannot see the drawing


def test_a_long_life_is_folded_and_nothing_of_it_is_lost(client, young):
    days = [TODAY - timedelta(days=n) for n in range(1, SHOWN_EVENTS + 9)]
    for day in days:
        LookFactory(tree=young, day=day)
    html = page(client, young)
    told = words_of(html)
    assert "9 earlier events" in told  # eight looks and the planting
    assert html.count('class="when"') >= len(days) + 1
    first = html[: html.index("<details")]
    assert first.count("Trained look<") + first.count("Trained look.") >= 1


def test_a_short_life_is_not_folded(client, young):
    LookFactory(tree=young, day=TODAY)
    assert "earlier event" not in page(client, young)


def test_it_can_be_read_in_the_other_language_by_a_button(client, young):
    assert "Español" in page(client, young)
    html = page(client, young, headers={"Accept-Language": "es"})
    assert '<html lang="es">' in html
    assert ">English</button>" in html
