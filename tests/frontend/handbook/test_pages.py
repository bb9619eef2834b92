"""The handbook as anybody reads it: all of it, each entry with what it rests on."""

import re
import xml.etree.ElementTree as ET
from html import unescape

import pytest
from django.conf import settings
from django.urls import reverse

from frontend.drawings.season import season
from frontend.handbook import telling
from frontend.handbook.chapters import (
    CHAPTER_OF,
    CHAPTERS,
    OWN_PAGE,
    SHELVES,
    address_of,
    anchor_of,
    index,
)
from survey.handbook.book import book
from survey.handbook.causes import Cause, Weighed
from tests.factories import AreaFactory, PersonFactory

pytestmark = pytest.mark.django_db

ENTRIES = [(shelf, code) for shelf in CHAPTER_OF for code in getattr(book(), shelf)]
PAGES = [
    "/handbook/",
    "/handbook/a-to-z/",
    *(f"/handbook/{chapter.key}/" for chapter in CHAPTERS),
    *(f"/handbook/causes/{code}/" for code in book().causes),
    *(f"/handbook/care/{code}/" for code in book().care),
]


@pytest.fixture
def area():
    return AreaFactory()


@pytest.fixture(scope="module")
def read():
    """Pages already read, by address: they say the same to every test that changes nothing."""
    return {}


@pytest.fixture
def page(client, area, read):
    def opened(url):
        path = url.partition("#")[0]
        if path not in read:
            response = client.get(path)
            assert response.status_code == 200, path
            read[path] = response.content.decode()
        return read[path]

    return opened


def words_of(html):
    """What a reader sees, without markup and with single spaces."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def said(text):
    return " ".join(text.split())


def part_of(html, anchor):
    """The page from an entry's place to its grounds."""
    start = html.index(f'id="{anchor}"')
    return html[start : html.index("</p>", html.index('class="grounds"', start))]


def test_every_file_of_the_handbook_has_its_chapter():
    assert set(CHAPTER_OF) == set(SHELVES)


@pytest.mark.parametrize(("shelf", "code"), ENTRIES, ids=["/".join(entry) for entry in ENTRIES])
def test_every_entry_stands_somewhere_and_shows_what_it_rests_on(page, shelf, code):
    html = page(address_of(shelf, code))
    entry = getattr(book(), shelf)[code]
    if shelf == "sources":
        place = html[html.index(f'id="{code}"') :].partition("</li>")[0]
        assert said(entry.citation) in words_of(place)
        read_as = {"itself": "read itself", "quoted": "read only as another text quotes it"}
        assert read_as[entry.read] in words_of(place)
        return
    anchor = "main" if shelf in OWN_PAGE else anchor_of(shelf, code)
    place = part_of(html, anchor)
    told = words_of(place)
    for ground in book().grounds(entry):
        assert said(ground) in told
    for source in entry.sources:
        assert f"{reverse('frontend:handbook-sources')}#{source}" in place
    if entry.mark:
        assert f'class="ground-mark">{entry.mark}<' in place


@pytest.mark.parametrize("shelf", ["causes", "care"])
def test_a_list_of_a_chapter_leads_to_every_page_of_its_own(page, shelf):
    html = page(f"/handbook/{shelf}/")
    for code in getattr(book(), shelf):
        assert f'href="{address_of(shelf, code)}"' in html
        assert f'id="{code}"' in html


@pytest.mark.parametrize("url", PAGES)
def test_a_page_has_one_heading_says_who_goes_first_and_holds_no_name_twice(page, url):
    html = page(url)
    assert html.count("<h1") == 1
    assert "licensed people go before anything in this handbook" in html
    ids = re.findall(r'\sid="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    assert " style=" not in html
    for svg in re.findall(r"<svg.*?</svg>", html, flags=re.DOTALL):
        ET.fromstring(svg)


@pytest.mark.parametrize("url", PAGES)
def test_every_link_within_the_handbook_leads_somewhere(page, url):
    for href in sorted(set(re.findall(r'href="(/handbook/[^"]*)"', page(url)))):
        target, _hash, anchor = href.partition("#")
        html = page(target)
        assert not anchor or f'id="{anchor}"' in html, href


@pytest.mark.parametrize("code", list(book().causes))
def test_a_cause_is_told_whole(page, code):
    cause = book().causes[code]
    told = words_of(page(f"/handbook/causes/{code}/"))
    wanted = [cause.label, cause.trade_term, cause.says, cause.look, *cause.do, *cause.do_not]
    wanted += [cause.confirmed_by, cause.confirmed_when, cause.act_when, cause.closed_when]
    wanted += [book().checks[check].asks for check in cause.checks]
    wanted += [book().checks[check].how for check in cause.checks]
    wanted += [book().causes[alike].label for alike in cause.look_alikes]
    wanted += [book().clues[weighed.clue].label for weighed in cause.clues]
    wanted += [book().care[care].label for care in cause.care]
    wanted += [cause.report_to] if cause.report_to else []
    for text in wanted:
        assert said(text) in told, text


@pytest.mark.parametrize("code", list(book().care))
def test_care_says_dose_window_who_and_what_is_not_given(page, code):
    care = book().care[code]
    told = words_of(page(f"/handbook/care/{code}/"))
    wanted = [care.label, care.purpose, care.dose, care.working, care.follow_up]
    wanted += [*care.closed_when, *care.materials]
    wanted += [line for refusal in care.refusals for line in (refusal.what, refusal.why)]
    for text in wanted:
        assert said(text) in told, text


@pytest.mark.parametrize(
    ("shelf", "code"),
    [("care", code) for code in book().care] + [("causes", code) for code in book().causes],
)
def test_cautions_stand_in_full_where_the_work_is_told_and_behind_no_link(page, shelf, code):
    html = page(address_of(shelf, code))
    told = words_of(html)
    entry = getattr(book(), shelf)[code]
    cares = [entry] if shelf == "care" else [book().care[care] for care in entry.care]
    for care in cares:
        for caution in care.cautions:
            for line in book().cautions[caution].lines:
                assert said(line) in told
    assert "<details" not in html


def test_the_disputes_page_takes_no_side(page):
    told = words_of(page("/handbook/disputes/"))
    for dispute in book().disputes.values():
        for text in (dispute.claim, dispute.known, dispute.practice):
            assert said(text) in told
    assert "We take no side" in told
    assert not re.search(
        r"\b(a myth|(is|are) (wrong|false)|nonsense|debunk\w*)\b", told, re.IGNORECASE
    )


@pytest.mark.parametrize("url", PAGES)
def test_no_page_rates_a_risk(page, url):
    told = words_of(page(url))
    assert not re.search(r"\b(low|moderate|high|extreme)\s+risk\b", told, re.IGNORECASE)


@pytest.mark.parametrize(
    "url",
    [
        "/handbook/causes/nobody-knows-this/",
        "/handbook/care/nobody-knows-this/",
        "/handbook/signs/nobody-knows-this/",
        "/handbook/nobody-knows-this/",
        "/handbook/nobody/knows-this/",
        "/handbook/causes/%00/",
        "/handbook/causes/<script>alert(1)</script>/",
        "/handbook/causes/" + "x" * 3000 + "/",
        "/handbook/__class__/",
        "/handbook/grounds/x/",
        "/handbook/files/x/",
        "/handbook/causes/mower_or_trimmer/",
    ],
)
def test_a_name_that_is_not_in_it_is_answered_in_words(client, area, url):
    response = client.get(url)
    if "mower" in url:
        assert response.status_code == 200
        return
    assert response.status_code == 404
    told = words_of(response.content.decode())
    assert "has no entry of this name" in told or "There is no such page" in told
    assert "<script" not in response.content.decode()


def test_every_entry_has_one_address_of_its_own(client, area):
    for shelf, code in ENTRIES:
        url = reverse("frontend:handbook-entry", args=[shelf, code])
        response = client.get(url)
        if shelf in OWN_PAGE:
            assert response.status_code == 200
        else:
            assert response.headers["Location"] == address_of(shelf, code)


def test_before_the_house_is_set_up_the_handbook_can_be_read(client):
    assert client.get("/handbook/").status_code == 200
    assert client.get("/handbook/causes/mower_or_trimmer/").status_code == 200
    assert client.get("/handbook/species/").status_code == 200


@pytest.mark.parametrize("url", PAGES)
def test_a_page_asks_the_record_the_same_few_questions_whoever_reads(
    client, area, url, django_assert_max_num_queries
):
    with django_assert_max_num_queries(2):  # the area and its local rules
        client.get(url)
    client.force_login(PersonFactory())
    with django_assert_max_num_queries(4):  # and the session and the person
        client.get(url)


def test_the_index_is_sorted_without_minding_accents_and_names_trade_terms():
    letters = index()
    assert [letter for letter, _lines in letters] == sorted(letter for letter, _lines in letters)
    names = [line.name for _letter, lines in letters for line in lines]
    assert "Mower or string-trimmer wound" in names
    assert "Tilia cordata" in names


# months ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("months", "told"),
    [
        ((), "in no month"),
        (range(1, 13), "all year"),
        ((5,), "May"),
        ((3, 4, 5), "March to May"),
        ((11, 12, 1, 2), "November to February"),
        ((4, 10, 11), "April; October to November"),
        ((1, 12), "December to January"),
    ],
)
def test_months_are_told_as_people_tell_them(months, told):
    assert telling.months_said(months) == told


def test_months_of_the_south_are_six_away_and_mirror_back():
    north = (3, 4, 5)
    south = telling.months_here(north, "south")
    assert south == (9, 10, 11)
    assert telling.months_here(south, "south") == north
    assert telling.months_here(north, "north") == north


def test_the_strip_shows_the_months_of_the_readers_hemisphere(client, area):
    cause = book().causes["mower_or_trimmer"]
    url = "/handbook/causes/mower_or_trimmer/"
    north = client.get(url).content.decode()
    area.hemisphere, area.latitude = "south", -36.6
    area.save()
    south = client.get(url).content.decode()
    for html, hemisphere in ((north, "north"), (south, "south")):
        here = telling.months_said(telling.months_here(cause.shows_months, hemisphere))
        assert f"<title>Seen: {here}</title>" in html
    assert north.count("d-mark-fill") == south.count("d-mark-fill")
    assert "six months later" in words_of(south)
    assert "six months later" not in words_of(north)


@pytest.mark.parametrize("hemisphere", ["north", "south"])
def test_a_kind_of_tree_is_bare_when_it_is_bare_here(client, area, hemisphere):
    area.hemisphere = hemisphere
    area.save()
    html = client.get("/handbook/species/").content.decode()
    for code, species in book().species.items():
        place = part_of(html, code)
        months = [m for m in range(1, 13) if species.is_bare(m, hemisphere)]
        assert f"<title>Bare: {telling.months_said(months)}</title>" in place


def test_the_strip_draws_a_block_for_each_month_a_hatch_beside_it_and_a_ring_for_now():
    drawn = season({3, 4}, {5}, 4, title="x")
    ET.fromstring(drawn)
    assert drawn.count("d-mark-fill") == 2
    assert drawn.count("season-now") == 1
    assert drawn.count("is-on") == 2
    assert "d-mark-fine" in drawn
    assert season({3}, title="x") == season({3}, title="x")


# what speaks for a cause -----------------------------------------------------------------------


def test_what_speaks_against_is_told_apart_from_what_speaks_for():
    cause = book().causes["mower_or_trimmer"]
    speaks_for, against = telling.for_and_against(cause)
    assert {line.weight > 0 for line in speaks_for} == {True}
    assert {line.weight < 0 for line in against} == {True}
    lines = len(cause.clues) + sum(weighed.absent != 0 for weighed in cause.clues)
    assert len(speaks_for) + len(against) == lines
    weights = [line.weight for line in speaks_for]
    assert weights == sorted(weights, reverse=True)


def test_a_clue_that_is_missed_speaks_in_the_words_of_its_absence():
    so, missed = telling.speaks(Weighed(clue="grass_to_trunk", weight=1, absent=-2))
    clue = book().clues["grass_to_trunk"]
    assert (so.words, so.weight, so.was_looked_for) == (clue.label, 1, False)
    assert (missed.words, missed.weight, missed.was_looked_for) == (clue.absent, -2, True)


def test_look_alikes_are_named_from_either_side():
    causes = book().causes
    for cause in causes.values():
        named = {alike.cause.code for alike in telling.look_alikes_of(cause)}
        assert named >= set(cause.look_alikes)
        for code in named:
            back = {alike.cause.code for alike in telling.look_alikes_of(causes[code])}
            assert cause.code in back


def test_every_word_for_who_and_kind_is_known():
    causes: list[Cause] = list(book().causes.values())
    for cause in causes:
        assert telling.who_said(cause.who)
        assert cause.kind in telling.KINDS
        assert cause.often in telling.OFTEN
    for check in book().checks.values():
        assert telling.who_said(check.who)
    for care in book().care.values():
        assert telling.who_said(care.who)
    for species in book().species.values():
        assert species.leaf_habit in telling.HABITS
        assert species.sunscald in telling.DEGREES
        assert species.bark in telling.BARKS
        assert species.water_use is None or species.water_use in telling.DEGREES


def test_heights_come_in_the_towns_units(client, area):
    assert telling.height_said(15.24, 21.336, "us") == "50 to 70 ft"
    assert telling.height_said(15.24, 21.336, "metric") == "15 to 21 m"


# the other language ----------------------------------------------------------------------------


def test_the_language_is_chosen_by_a_button_and_leads_back_to_the_page(client, area):
    assert "Español" in client.get("/handbook/").content.decode()
    response = client.post("/language/", {"language": "es", "back": "/handbook/?x=1"})
    assert (response.status_code, response.headers["Location"]) == (302, "/handbook/?x=1")
    assert client.cookies[settings.LANGUAGE_COOKIE_NAME].value == "es"
    html = client.get("/handbook/").content.decode()
    assert '<html lang="es">' in html
    assert ">English</button>" in html


@pytest.mark.parametrize(
    "back", ["https://evil.example/", "//evil.example", "/\\evil.example", "", "javascript:x", "x"]
)
def test_the_way_back_never_leaves_the_house(client, back):
    response = client.post("/language/", {"language": "es", "back": back})
    assert response.headers["Location"] == "/"


@pytest.mark.parametrize("language", ["", "xx", "es; drop", "e\x00s", "é" * 5000])
def test_a_language_that_is_not_spoken_here_changes_nothing(client, language):
    response = client.post("/language/", {"language": language, "back": "/handbook/"})
    assert response.status_code == 302
    assert settings.LANGUAGE_COOKIE_NAME not in response.cookies


def test_hazards_are_shown_as_words_that_people_type_and_not_as_patterns(page):
    html = page("/handbook/hazards/")
    told = words_of(" ".join(re.findall(r'typed-words"[^>]*>(.*?)</p>', html)))
    assert not re.search(r"[@?|+]", told)
    assert "branch · branches · limb · limbs" in told
    assert "rama · ramas" in told
