"""Causes on the docket and on a tree's page: told in words, answered by a button, judged once."""

import re
from html import unescape

import pytest
from django.utils.translation import override

from survey.causes.models import ClueNoted, Verdict
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.reports.models import ReportSign
from tests.factories import NOON, AreaFactory, LookFactory, PersonFactory, ReportFactory
from tests.survey.cause_rows import verdict

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def area():
    return AreaFactory()


@pytest.fixture
def person():
    return PersonFactory(sign_in="desk", name="Ben Ruiz")


@pytest.fixture
def desk(client, person):
    client.force_login(person)
    return client


@pytest.fixture
def report():
    made = ReportFactory(
        words="The mower cut it in a straight line, and the leaves hang down, no rain for weeks"
    )
    for sign in ("bark_wound", "wilting"):
        ReportSign.objects.create(report=made, sign=sign)
    return made


def words_of(response):
    page = response.content.decode().split("<main", 1)[1]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def question_of(response):
    form = re.search(r'action="(/trees/[^"]+/answers/([a-z_]+)/)"', response.content.decode())
    return form.group(1), form.group(2)


def test_the_docket_names_causes_with_what_speaks_for_them(desk, report):
    page = words_of(desk.get(f"/desk/{report.pk}/"))
    assert "Several can be true at once" in page
    assert "Mower or trimmer possible one report or photo only" in page
    assert "The marks are level or scalloped, with clean edges one report" in page
    assert "The one question" in page
    assert "In words only: numbers come when 30 causes" in page


def test_the_question_is_answered_by_a_button_and_the_docket_moves_on(desk, report):
    address, check = question_of(desk.get(f"/desk/{report.pk}/"))
    back = desk.post(address, {"answer": "yes", "report": report.pk})
    assert back["Location"] == f"/desk/{report.pk}/#question"
    assert ClueNoted.objects.exists()
    page = desk.get(f"/desk/{report.pk}/")
    assert "Written down:" in unescape(page.content.decode())
    assert question_of(page)[1] != check


def test_what_either_answer_changes_stands_beside_it(desk, report):
    page = desk.get(f"/desk/{report.pk}/").content.decode()
    block = page.split('id="question"', 1)[1].split("</form>", 1)[0]
    changes = re.findall(r"<dd>(.*?)</dd>", block)
    assert len(changes) == 2
    assert all(change.strip() for change in changes)
    assert changes[0] != changes[1]


def test_asking_back_is_prefilled_with_the_question_in_the_language_of_the_note(desk, report):
    report.language = "es"
    report.save()
    _address, check = question_of(desk.get(f"/desk/{report.pk}/"))
    page = unescape(desk.get(f"/desk/{report.pk}/?do=ask").content.decode())
    message = re.search(r'<textarea name="ask-message"[^>]*>(.*?)</textarea>', page, re.DOTALL)
    with override("es"):
        question = str(said(book().checks[check].asks))
    assert question in message.group(1)


def test_while_a_danger_is_open_nothing_is_asked_and_nothing_can_be_answered(desk, report):
    report.danger = "hanging_limb"
    report.save()
    assert 'id="question"' not in desk.get(f"/desk/{report.pk}/").content.decode()
    desk.post(f"/trees/{report.tree.ref}/answers/ball_dry/", {"answer": "yes"})
    assert not ClueNoted.objects.exists()


def test_a_danger_beside_the_tree_keeps_the_question_back_too(desk, report):
    ReportFactory(tree=report.tree, danger="wire")
    page = desk.get(f"/desk/{report.pk}/").content.decode()
    assert 'id="question"' not in page


def test_ticks_that_contradict_rank_nothing_and_say_so(desk, report):
    for sign in ("dry_soil", "soggy_soil"):
        ReportSign.objects.create(report=report, sign=sign)
    page = words_of(desk.get(f"/desk/{report.pk}/"))
    assert "contradict each other" in page
    assert "Until that is settled nothing is ranked." in page
    assert "Speaks for it" not in page


def test_a_note_without_a_tree_shows_causes_and_no_buttons(desk, area):
    report = ReportFactory(tree=None, site=None, area=area, landmark="by the pump", words="sawdust")
    page = desk.get(f"/desk/{report.pk}/")
    assert "Boring insects" in words_of(page)
    assert "/answers/" not in page.content.decode()


@pytest.mark.parametrize("answer", ["", "maybe", "<script>"])
def test_an_answer_that_is_none_is_told(desk, report, answer):
    page = desk.post(
        f"/trees/{report.tree.ref}/answers/ball_dry/",
        {"answer": answer, "report": report.pk},
        follow=True,
    )
    assert "Choose one of the two answers." in page.content.decode()


@pytest.mark.parametrize("where", ["0", "x", "99999999999999999999", "-1"])
def test_a_docket_that_is_none_leads_back_to_the_tree(desk, report, where):
    back = desk.post(
        f"/trees/{report.tree.ref}/answers/ball_dry/", {"answer": "no", "report": where}
    )
    assert back["Location"] == f"/trees/{report.tree.ref}/#question"


def test_a_check_that_the_handbook_does_not_have_is_refused(desk, report):
    page = desk.post(
        f"/trees/{report.tree.ref}/answers/crystal_ball/", {"answer": "yes"}, follow=True
    )
    assert "The handbook has no such check." in page.content.decode()


def test_a_cause_is_confirmed_with_the_word_that_stood_there(desk, report):
    address = f"/trees/{report.tree.ref}/causes/mower_or_trimmer/?report={report.pk}"
    page = words_of(desk.get(address))
    assert "Mower or trimmer: is it so?" in page
    assert "The tool says: possible." in page
    assert "What did you find?" in page
    back = desk.post(address, {"was": "confirmed", "reason": "Fresh cuts.", "report": report.pk})
    assert back["Location"] == f"/desk/{report.pk}/"
    assert Verdict.objects.get().said == "possible"
    for where in (f"/desk/{report.pk}/", f"/trees/{report.tree.ref}/"):
        page = words_of(desk.get(where))
        assert "Mower or trimmer confirmed Confirmed by Ben Ruiz on" in page
        assert "Confirmed: mower or trimmer." in page
        assert "Possible: mower" not in page
        assert "It counts until" in page


def test_what_was_typed_stands_when_a_verdict_is_refused(desk, report):
    address = f"/trees/{report.tree.ref}/causes/drought/"
    page = desk.post(address, {"reason": "The ball was dust."})
    assert page.status_code == 422
    assert "The ball was dust." in page.content.decode()
    assert not Verdict.objects.exists()


def test_a_verdict_is_taken_back_with_a_reason(desk, report):
    given = verdict(tree=report.tree, cause="drought", at=NOON)
    address = f"/trees/{report.tree.ref}/causes/drought/"
    assert "Take it back" in words_of(desk.get(address))
    assert desk.post(address, {"reason": ""}).status_code == 422
    desk.post(address, {"reason": "It was another tree."})
    given.refresh_from_db()
    assert given.withdrawn_at is not None


def test_a_verdict_on_a_cause_that_is_not_listed_is_shown_all_the_same(desk, report):
    verdict(tree=report.tree, cause="deer_rub", was="ruled_out", reason="No deer here.")
    page = words_of(desk.get(f"/desk/{report.pk}/"))
    assert "ruled out Ruled out by somebody who has left on June 1, 2026." in page
    assert "Ruled out: deer rub" in page


def test_nobody_untrained_is_offered_to_judge(client, report):
    client.force_login(PersonFactory(sign_in="walker", role="volunteer"))
    page = client.get(f"/trees/{report.tree.ref}/")
    assert page.status_code == 200
    assert "Confirm or rule out" not in page.content.decode()
    assert client.get(f"/trees/{report.tree.ref}/causes/drought/").status_code == 403


def test_an_unknown_cause_or_tree_is_not_found(desk, report):
    assert desk.get(f"/trees/{report.tree.ref}/causes/curse/").status_code == 404
    assert desk.get("/trees/no-such-tree/causes/drought/").status_code == 404


def test_the_page_of_a_tree_tells_its_causes_to_staff_and_not_to_the_public(desk, client, report):
    look = LookFactory(tree=report.tree, day=report.seen_on)
    look.signs.create(sign="holes_sawdust")
    page = words_of(desk.get(f"/trees/{report.tree.ref}/"))
    assert "Boring insects" in page
    client.logout()
    public = client.get(f"/trees/{report.tree.ref}/").content.decode()
    assert "Boring insects" not in public


def test_the_words_show_numbers_once_enough_were_judged(desk, report):
    for number in range(30):
        verdict(said="possible", was="confirmed" if number < 24 else "ruled_out")
    page = words_of(desk.get(f"/desk/{report.pk}/"))
    assert (
        "Of 30 causes called possible and judged here, 24 were confirmed (between 61 and 92" in page
    )
