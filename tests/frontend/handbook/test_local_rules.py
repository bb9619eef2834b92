"""Rules of the place on the page: proposed beside an entry, approved by another, shown as local."""

from html import escape

import pytest

from survey.causes.models import LocalRule
from tests.factories import AreaFactory, PersonFactory, ReportFactory
from tests.survey.cause_rows import local_rule

pytestmark = pytest.mark.django_db

ENTRY = "/handbook/causes/mower_or_trimmer/"
NEW = "/handbook/local/about/cause/mower_or_trimmer/"
TYPED = {
    "text": "The verge on Ferry Road is cut every second Thursday.",
    "text_es": "El zacate de Ferry Road se corta cada dos jueves.",
    "rests_on": "published",
    "source": "Town Gardens, mowing plan 2026",
}


@pytest.fixture
def area():
    return AreaFactory()


@pytest.fixture
def wren(area, client):
    person = PersonFactory(name="Wren Alder")
    client.force_login(person)
    return person


def approved(client, **more):
    """A rule that two people have put in force."""
    client.post(NEW, TYPED | more)
    client.force_login(PersonFactory(name="Ash Mills"))
    rule = LocalRule.objects.get()
    client.post(f"/handbook/local/{rule.ref}/approve/")
    rule.refresh_from_db()
    return rule


def test_from_the_entry_to_a_rule_in_force_and_out_again(client, wren):
    assert NEW in client.get(ENTRY).content.decode()
    response = client.post(NEW, TYPED, follow=True)
    assert "counts once a second trained person" in response.content.decode()
    rule = LocalRule.objects.get()
    assert TYPED["text"] not in client.get(ENTRY).content.decode()

    own = client.post(f"/handbook/local/{rule.ref}/approve/")
    assert own.status_code == 422
    assert "second trained person" in own.content.decode()

    client.force_login(PersonFactory(name="Ash Mills"))
    client.post(f"/handbook/local/{rule.ref}/approve/")
    client.logout()
    html = client.get(ENTRY).content.decode()
    assert TYPED["text"] in html
    assert 'class="local-mark">local<' in html
    assert "June 16, 2026" in html
    assert TYPED["source"] in html
    assert "Wren" not in html
    assert "Ash Mills" not in html

    client.force_login(wren)
    gone = client.post(
        f"/handbook/local/{rule.ref}/withdraw/", {"reason": "The contract ended."}, follow=True
    )
    told = gone.content.decode()
    assert "The contract ended." in told
    assert "Wren Alder" in told
    assert TYPED["text"] not in client.get(ENTRY).content.decode()


@pytest.mark.parametrize(
    ("about", "code", "url"),
    [
        ("care", "mulch_ring", "/handbook/care/mulch_ring/"),
        ("sign", "bark_wound", "/handbook/signs/"),
        ("species", "linden", "/handbook/species/"),
    ],
)
def test_a_rule_stands_on_whatever_it_is_about(client, wren, about, code, url):
    client.post(f"/handbook/local/about/{about}/{code}/", TYPED)
    rule = LocalRule.objects.get()
    client.force_login(PersonFactory())
    client.post(f"/handbook/local/{rule.ref}/approve/")
    client.logout()
    html = client.get(url).content.decode()
    assert html.count(TYPED["text"]) == 1


def test_it_is_told_in_spanish_to_readers_of_spanish(client, wren):
    approved(client)
    client.logout()
    html = client.get(ENTRY, headers={"Accept-Language": "es"}).content.decode()
    assert f'lang="es">{TYPED["text_es"]}<' in html
    assert TYPED["text"] not in html


def test_without_spanish_it_stands_in_english_and_says_that_it_is_english(client, wren):
    approved(client, text_es="")
    client.logout()
    html = client.get(ENTRY, headers={"Accept-Language": "es"}).content.decode()
    assert f'lang="en">{TYPED["text"]}<' in html


def test_a_mark_may_stand_in_the_place_of_a_source(client, wren):
    rule = approved(client, rests_on="common practice, no source", source="")
    assert rule.source == "common practice, no source"
    client.logout()
    assert "Rests on: common practice, no source" in client.get(ENTRY).content.decode()


def test_a_clue_may_weigh_more_here(client, wren):
    rule = approved(client, clue="grass_to_trunk", weight="2")
    assert (rule.clue, rule.weight) == ("grass_to_trunk", 2)
    assert "Grass runs up to the trunk" in client.get("/handbook/local/").content.decode()


HOSTILE = [
    ({"text": ""}, "text"),
    ({"text": "   "}, "text"),
    ({"text": "x" * 501}, "text"),
    ({"text": "a\x00b"}, "text"),
    ({"text": "\u200b\u202e"}, "text"),
    ({"text_es": "ñ" * 501}, "text_es"),
    ({"rests_on": ""}, "rests_on"),
    ({"rests_on": "hearsay"}, "rests_on"),
    ({"source": ""}, "source"),
    ({"source": "x" * 301}, "source"),
    ({"rests_on": "own rule of this project"}, "source"),
    ({"clue": "no_such_clue", "weight": "1"}, "clue"),
    ({"clue": "grass_to_trunk"}, "weight"),
    ({"weight": "2"}, "clue"),
    ({"clue": "grass_to_trunk", "weight": "0"}, "weight"),
    ({"clue": "grass_to_trunk", "weight": "9"}, "weight"),
    ({"clue": "grass_to_trunk", "weight": "<b>"}, "weight"),
]


@pytest.mark.parametrize(("more", "field"), HOSTILE)
def test_what_is_wrong_is_said_at_its_field_and_all_that_was_typed_is_still_there(
    client, wren, more, field
):
    typed = TYPED | {"text": "Cut <b>short</b> & often"} | more
    response = client.post(NEW, typed)
    html = response.content.decode()
    assert response.status_code == 422
    assert "Error:" in html
    assert f'id="id_{field}_error"' in html or f'id="id_{field}-error-1"' in html
    assert not LocalRule.objects.exists()
    for name in ("text", "text_es", "source"):
        kept = typed[name].replace("\x00", "")
        if kept.strip() and "\x00" not in typed[name]:
            assert escape(kept) in html, name
    assert "<b>short" not in html


def test_the_same_form_sent_twice_is_one_rule(client, wren):
    for _ in range(2):
        client.post(NEW, TYPED)
    assert LocalRule.objects.count() == 1


def test_a_withdrawal_without_a_reason_keeps_the_rule(client, wren):
    client.post(NEW, TYPED)
    rule = LocalRule.objects.get()
    response = client.post(f"/handbook/local/{rule.ref}/withdraw/", {"reason": " "})
    assert response.status_code == 422
    assert f'id="id_{rule.ref}_reason_error"' in response.content.decode()
    rule.refresh_from_db()
    assert rule.withdrawn_at is None


@pytest.mark.parametrize(
    "url",
    [
        "/handbook/local/about/cause/nobody/",
        "/handbook/local/about/moon/mower_or_trimmer/",
        "/handbook/local/about/sources/nmsu_2007/",
    ],
)
def test_what_takes_no_rule_is_answered_in_words(client, wren, url):
    response = client.get(url)
    assert response.status_code == 404
    assert "no entry of this name" in response.content.decode()


def test_a_rule_of_another_place_is_neither_shown_nor_touched_here(client, wren):
    other = AreaFactory(ref="elsewhere", is_home=False)
    rule = local_rule(area=other, code="mower_or_trimmer", text="Elsewhere only.")
    assert client.post(f"/handbook/local/{rule.ref}/approve/").status_code == 404
    assert "Elsewhere only." not in client.get("/handbook/local/").content.decode()


def test_the_list_costs_the_same_few_questions_however_long(
    client, wren, django_assert_max_num_queries
):
    for n in range(12):
        client.post(NEW, TYPED | {"text": f"Rule {n}"})
    client.get("/handbook/local/")
    with django_assert_max_num_queries(9):
        client.get("/handbook/local/")
    with django_assert_max_num_queries(4):
        client.get("/handbook/")


def test_it_stands_on_the_docket_beside_its_cause_dated_and_marked_local(client, wren):
    rule = approved(client, clue="grass_to_trunk", weight="2")
    report = ReportFactory()
    report.signs.create(sign="bark_wound")
    html = client.get(f"/desk/{report.pk}/").content.decode()
    cause = html[html.index("/handbook/causes/mower_or_trimmer/") :].partition("</th>")[0]
    assert "<b>local</b>" in cause
    assert rule.text in cause
    assert "since June 16, 2026" in cause
    assert rule.source in cause


def test_nobody_is_offered_to_propose_but_trained_staff(client, area):
    for role in ("volunteer", "crew", "liaison"):
        client.force_login(PersonFactory(role=role))
        assert "/handbook/local/" not in client.get(ENTRY).content.decode()
    client.logout()
    assert "/handbook/local/" not in client.get(ENTRY).content.decode()
