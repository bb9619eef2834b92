"""What is missing, the sign-off, walks side by side, and one's own agreement."""

from datetime import date, timedelta

import pytest

from survey.audit.models import Entry
from survey.people.models import PairedWalk
from survey.trees.models import Look
from tests.factories import NOON, TODAY, AreaFactory, PersonFactory, SiteFactory, TreeFactory
from tests.survey.condition.walked import (
    AGREED,
    DAY,
    learner,
    look,
    partner,
    practiced,
    ready,
    walk,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines():
    AreaFactory()
    return learner(sign_in="ines")


@pytest.fixture
def tom(ines):
    return partner(sign_in="tom")


@pytest.fixture
def desk(client, ines):
    person = PersonFactory(sign_in="desk", name="Marisol")
    client.force_login(person)
    return person


def page_of(client, address):
    return client.get(address).content.decode()


def sign_off(client, person, **more):
    given = {"form": "sign_off", "on": TODAY.isoformat(), "reason": ""}
    return client.post(f"/training/of/{person.key}/", given | more)


# --- one's own page ----------------------------------------------------------------------------


def test_a_beginner_is_told_what_is_missing(client, ines):
    client.force_login(ines)
    page = page_of(client, "/training/")
    assert "Practice, and 2 paired walks to go" in page
    assert "No round yet." in page
    assert "Write one down" not in page
    assert "Who learns" not in page


@pytest.mark.parametrize(
    ("right", "walks", "finding"),
    [
        (7, 0, "2 paired walks to go"),
        (5, 1, "Practice, and one paired walk to go"),
        (7, 1, "One paired walk to go"),
        (5, 2, "Only practice to go"),
        (7, 2, "All done: the desk can sign you off"),
    ],
)
def test_the_page_opens_with_what_is_left(client, ines, tom, right, walks, finding):
    practiced(ines, right=right)
    for number in range(walks):
        walk(ines, tom, AGREED, DAY + timedelta(days=number))
    client.force_login(ines)
    assert finding in page_of(client, "/training/")


def test_a_walk_on_which_they_differed_says_why_it_does_not_count_yet(client, ines, tom):
    walk(ines, tom, [("dead", "holding")] * 5)
    client.force_login(ines)
    page = page_of(client, "/training/")
    assert "4 in 5" in page
    assert "talk about those that differ" in page


def test_fewer_than_five_comparable_looks_say_so(client, ines, tom):
    walk(ines, tom, [("dead", "holding")] * 4)
    client.force_login(ines)
    page = page_of(client, "/training/")
    assert "Too little to say: 4 looks" in page
    assert "where others said" not in page


def test_agreement_is_told_with_its_number_its_limits_and_what_to_see_twice(client, ines, tom):
    for number in range(8):
        tree = TreeFactory()
        look(ines, tree, "dead" if number < 3 else "holding", signs=["bark_wound"] * (number < 2))
        look(tom, tree, "holding")
    client.force_login(ines)
    page = page_of(client, "/training/")
    # Wilson 1927: 5 of 8, by hand 0.306 to 0.863
    assert "You and others used the same word in 5 of 8 looks: about 6 in 10." in page
    assert "from 3 to 9 in 10" in page
    assert "You said “dead” where others said “holding”: 3 times." in page
    assert "<b>Bark is gone</b>: You saw it 2 times where others did not." in page


def test_nobody_but_the_desk_opens_the_page_of_another(client, ines, tom):
    for person in (ines, tom, PersonFactory(role="crew"), PersonFactory(role="liaison")):
        client.force_login(person)
        for key in (tom.key, ines.key):
            assert client.get(f"/training/of/{key}/").status_code == 403
            assert sign_off(client, ines, reason="me").status_code == 403
    ines.refresh_from_db()
    assert ines.trained_on is None


def test_the_page_is_reached_from_the_account_the_walks_and_the_people(client, ines, desk):
    keeper = PersonFactory(role="keeper")
    client.force_login(keeper)
    assert "/people/observers/" in page_of(client, "/people/")
    for address in ("/account/", "/walks/", "/people/"):
        assert 'href="/training/"' in page_of(client, address)
    client.force_login(PersonFactory(role="liaison"))
    assert 'href="/training/"' not in page_of(client, "/account/")


# --- the desk ----------------------------------------------------------------------------------


def test_the_desk_sees_who_learns_and_who_is_ready(client, ines, tom, desk):
    ready(ines, tom)
    page = page_of(client, "/training/")
    assert "all done, to be signed off" in page
    assert f"/training/of/{ines.key}/" in page
    assert f"/training/of/{tom.key}/" in page


def test_signing_off_when_all_is_there(client, ines, tom, desk):
    ready(ines, tom)
    assert sign_off(client, ines).status_code == 302
    ines.refresh_from_db()
    assert ines.trained_on == TODAY
    page = page_of(client, f"/training/of/{ines.key}/")
    assert "Trained since June 16, 2026" in page
    assert "Signed off by Marisol" in page
    assert not Look.objects.filter(observer__person=ines, trained=True).exists()


def test_something_missing_asks_for_a_reason_and_keeps_what_was_typed(client, ines, desk):
    refused = sign_off(client, ines, on="2026-03-07")
    page = refused.content.decode()
    assert refused.status_code == 422
    assert "Something is missing. Give a reason" in page
    assert 'value="2026-03-07"' in page
    assert "a practice round with 6 of 8 told apart; 2 walks on which both agreed" in page
    assert (
        sign_off(client, ines, on="2026-03-07", reason="Trained in Southmere.").status_code == 302
    )
    ines.refresh_from_db()
    assert ines.trained_on == date(2026, 3, 7)


@pytest.mark.parametrize(
    "given",
    [
        {"on": "2026-06-17", "reason": "tomorrow"},
        {"on": "yesterday", "reason": "x"},
        {"on": "", "reason": "x"},
        {"on": "9999-99-99", "reason": "x"},
        {"reason": "x" * 301},
        {"reason": "a\0b"},
        {"form": "something"},
    ],
)
def test_a_sign_off_that_cannot_be_changes_nothing(client, ines, desk, given):
    assert sign_off(client, ines, **given).status_code in (200, 422)
    ines.refresh_from_db()
    assert ines.trained_on is None
    assert not Entry.objects.filter(act="training.signed_off").exists()


def test_words_are_shown_and_never_run(client, ines, desk):
    sign_off(client, ines, reason="<script>alert(1)</script>")
    page = page_of(client, f"/training/of/{ines.key}/")
    assert "&lt;script&gt;alert(1)" in page
    assert "<script>alert" not in page


def test_taking_back_asks_why(client, tom, desk):
    address = f"/training/of/{tom.key}/"
    assert client.post(address, {"form": "take_back", "reason": " "}).status_code == 422
    assert client.post(address, {"form": "take_back", "reason": "Moved."}).status_code == 302
    tom.refresh_from_db()
    assert tom.trained_on is None
    page = page_of(client, address)
    assert "Taken back by Marisol" in page
    assert "Moved." in page


def test_nobody_decides_over_themselves_or_over_staff(client, ines, desk):
    page = page_of(client, f"/training/of/{desk.key}/")
    assert 'value="sign_off"' not in page
    assert sign_off(client, desk, reason="x").status_code == 403
    other = PersonFactory(role="staff", trained_on=None)
    assert sign_off(client, other, reason="x").status_code == 422
    assert client.get("/training/of/nobody00/").status_code == 404


# --- walks -------------------------------------------------------------------------------------


def note(client, person, site, /, **more):
    given = {"person": person.key, "site": site.ref, "day": DAY.isoformat(), "note": ""}
    return client.post("/training/walks/new/", given | more)


def test_a_trained_volunteer_writes_down_a_walk_and_never_chooses_another_partner(
    client, ines, tom
):
    client.force_login(tom)
    una = partner(sign_in="una", name="Una")
    site = SiteFactory()
    assert 'name="partner"' not in page_of(client, "/training/walks/new/")
    assert note(client, ines, site, partner=una.key).status_code == 302
    assert PairedWalk.objects.get().partner == tom


def test_somebody_who_learns_writes_down_no_walk(client, ines, tom):
    client.force_login(ines)
    assert client.get("/training/walks/new/").status_code == 403
    assert note(client, ines, SiteFactory(), partner=tom.key).status_code == 403


def test_the_desk_writes_down_a_walk_of_two(client, ines, tom, desk):
    page = page_of(client, f"/training/walks/new/?person={ines.key}")
    assert f'<option value="{ines.key}" selected>' in page
    assert note(client, ines, SiteFactory(), partner=tom.key).status_code == 302
    assert PairedWalk.objects.get().partner == tom


def test_a_partner_who_was_not_trained_that_day_is_refused_at_their_name(client, ines, tom, desk):
    refused = note(client, ines, SiteFactory(), partner=tom.key, day="2025-02-28")
    assert refused.status_code == 422
    assert "was not trained on that day yet" in refused.content.decode()
    client.force_login(tom)
    refused = note(client, ines, SiteFactory(), day="2025-02-28")
    assert "You were not trained on that day yet." in refused.content.decode()
    assert not PairedWalk.objects.exists()


@pytest.mark.parametrize(
    "given",
    [
        {"day": "2026-06-17"},
        {"day": "soon"},
        {"site": "no-such-site"},
        {"site": "a\0b"},
        {"person": "nobody00"},
        {"person": ""},
        {"partner": "nobody00"},
        {"note": "x" * 301},
        {"note": "a\0b"},
    ],
)
def test_a_walk_that_cannot_have_been_keeps_what_was_typed(client, ines, tom, desk, given):
    refused = note(client, ines, SiteFactory(), **({"partner": tom.key, "note": "Windy"} | given))
    assert refused.status_code == 422
    assert not PairedWalk.objects.exists()
    if "note" not in given:
        assert 'value="Windy"' in refused.content.decode()


def test_a_site_of_another_town_is_no_choice(client, ines, tom, desk):
    other = SiteFactory(area=AreaFactory(ref="southmere", name="Southmere", is_home=False))
    assert note(client, ines, other, partner=tom.key).status_code == 422


def test_what_both_saw_stands_side_by_side_with_where_they_differ(client, ines, tom):
    kept = walk(ines, tom, [("holding", "holding"), ("slipping", "holding"), ("dead", "holding")])
    seen = Look.objects.filter(observer__person=ines).first()
    seen.signs.create(sign="bark_wound")
    client.force_login(ines)
    page = page_of(client, f"/training/walks/{kept.pk}/")
    assert "Of 3 trees that both looked at, both said the same of 1." in page
    assert "Of 1 more they were one step apart." in page
    assert "alive or not? Look again together" in page
    assert "only Ines saw it, at 1 tree" in page
    assert "A walk counts when both looked at 5 trees or more." in page


def test_a_walk_without_looks_says_what_to_do(client, ines, tom):
    kept = PairedWalk.objects.create(
        person=ines, partner=tom, day=DAY, where=SiteFactory().ref, at=NOON
    )
    client.force_login(tom)
    page = page_of(client, f"/training/walks/{kept.pk}/")
    assert "No tree there has a look by both" in page
    assert "Enter the looks of May 20, 2026 first" in page


def test_a_walk_is_seen_by_the_two_and_the_desk_and_dropped_by_the_desk(client, ines, tom, desk):
    kept = walk(ines, tom, AGREED)
    for person, status in [(ines, 200), (tom, 200), (partner(sign_in="una"), 403)]:
        client.force_login(person)
        assert client.get(f"/training/walks/{kept.pk}/").status_code == status
        assert client.post(f"/training/walks/{kept.pk}/drop/").status_code == 403
    client.force_login(desk)
    assert "Take this walk out" in page_of(client, f"/training/walks/{kept.pk}/")
    assert client.get(f"/training/walks/{kept.pk}/drop/").status_code == 405
    assert client.post(f"/training/walks/{kept.pk}/drop/").status_code == 302
    assert not PairedWalk.objects.exists()
    assert client.get(f"/training/walks/{kept.pk}/").status_code == 404


def test_the_pages_speak_spanish_where_they_have_words_and_never_break(client, ines, tom, desk):
    ready(ines, tom)
    client.cookies["django_language"] = "es"
    for address in ("/training/", "/training/practice/", f"/training/of/{ines.key}/"):
        assert client.get(address, headers={"accept-language": "es"}).status_code == 200
