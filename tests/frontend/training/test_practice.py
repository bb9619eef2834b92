"""Practice in the browser: pictures, answers kept once, and why."""

import re

import pytest

from survey.handbook.book import book
from survey.people.models import PracticeRound
from survey.people.training import pictures_of_round
from tests.factories import NOON, AreaFactory, PersonFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines(client):
    AreaFactory()
    person = PersonFactory(sign_in="ines", role="volunteer", trained_on=None)
    client.force_login(person)
    return person


def answers(person, earlier=0, wrong=0):
    said = {}
    for place, item in enumerate(pictures_of_round(person, earlier)):
        other = next(choice.code for choice in item.choices if choice.code != item.right)
        said[item.code] = other if place < wrong else item.right
    return said | {"earlier": str(earlier)}


def test_a_round_shows_eight_drawings_with_what_they_show_and_no_answer(client, ines):
    page = client.get("/training/practice/").content.decode()
    for item in pictures_of_round(ines, 0):
        assert item.shows in page
        assert item.why not in page
    assert page.count("<svg") >= 8
    assert page.count('type="radio"') == sum(len(i.choices) for i in pictures_of_round(ines, 0))
    assert "checked" not in page


def test_the_answers_come_with_the_reason_and_what_it_rests_on(client, ines):
    kept = client.post("/training/practice/", answers(ines, wrong=2))
    page = client.get(kept.headers["Location"]).content.decode()
    assert "6 of 8 told apart" in page
    assert "That is enough" in page
    assert page.count("Look again:") == 2
    assert page.count("Yes:") == 6
    for item in pictures_of_round(ines, 0):
        assert item.why in page
        assert all(ground.replace("&", "&amp;") in page for ground in book().grounds(item))


def test_too_few_right_is_said_kindly_and_the_next_round_is_another(client, ines):
    kept = client.post("/training/practice/", answers(ines, wrong=5))
    page = client.get(kept.headers["Location"]).content.decode()
    assert "6 are asked for" in page
    first = client.get("/training/practice/").content.decode()
    assert pictures_of_round(ines, 1)[0].shows in first
    assert 'name="earlier" value="1"' in first


def test_an_answer_left_out_keeps_the_others(client, ines):
    said = answers(ines)
    left_out = pictures_of_round(ines, 0)[2].code
    del said[left_out]
    refused = client.post("/training/practice/", said)
    page = refused.content.decode()
    assert refused.status_code == 422
    assert page.count("checked") == 7
    assert re.search(r"Picture 3 <span>Pick one answer", page)
    assert f'href="#id_{left_out}"' in page
    assert f'id="id_{left_out}"' in page
    assert not PracticeRound.objects.exists()


@pytest.mark.parametrize("evil", ["purple", "<script>alert(1)</script>", "a\0b", "x" * 5000])
def test_an_answer_that_is_no_choice_is_refused(client, ines, evil):
    said = answers(ines) | {pictures_of_round(ines, 0)[0].code: evil}
    refused = client.post("/training/practice/", said)
    assert refused.status_code == 422
    assert b"<script>alert" not in refused.content
    assert not PracticeRound.objects.exists()


@pytest.mark.parametrize("earlier", ["", "1", "-1", "x", "1e3", "٣", "9" * 400, "0\0"])
def test_a_round_that_has_not_begun_is_refused(client, ines, earlier):
    refused = client.post("/training/practice/", answers(ines) | {"earlier": earlier})
    assert refused.status_code == 422
    assert b"That round has not begun" in refused.content
    assert not PracticeRound.objects.exists()


def test_a_picture_that_is_not_in_the_round_changes_nothing(client, ines):
    said = answers(ines)
    hidden = next(item for item in book().practice.values() if item.code not in said)
    kept = client.post("/training/practice/", said | {hidden.code: hidden.right, "right": "8"})
    assert kept.status_code == 302
    assert hidden.code not in {a["item"] for a in PracticeRound.objects.get().answers}


def test_the_same_round_sent_twice_shows_what_was_kept(client, ines):
    first = client.post("/training/practice/", answers(ines, wrong=8))
    again = client.post("/training/practice/", answers(ines), follow=True)
    assert again.redirect_chain[-1][0] == first.headers["Location"]
    assert "kept already" in again.content.decode()
    assert PracticeRound.objects.get().right == 0


def test_a_picture_that_left_the_handbook_is_still_counted(client, ines):
    answer = {"item": "unheard_of", "said": "x", "right": True}
    kept = PracticeRound.objects.create(person=ines, answers=[answer], right=1, of=1, at=NOON)
    page = client.get(f"/training/practice/{kept.pk}/").content.decode()
    assert "no longer used" in page
    assert "It was told right." in page


def test_a_round_is_seen_by_whoever_made_it_and_the_desk(client, ines):
    kept = client.post("/training/practice/", answers(ines)).headers["Location"]
    for role, status in [("volunteer", 403), ("crew", 403), ("liaison", 403), ("staff", 200)]:
        client.force_login(PersonFactory(role=role))
        assert client.get(kept).status_code == status
    assert client.get("/training/practice/999999/").status_code == 404
