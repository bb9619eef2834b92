"""What may be behind a report, on the receipt and the private page, and the one question."""

import re
from html import unescape

import pytest

from frontend.neighbor.behind import behind_of
from survey.audit.models import Entry
from survey.causes.models import ClueNoted
from survey.handbook.book import book
from survey.reports.actions.answer_check import answer_check
from survey.reports.answered import answered_by
from survey.reports.causes import causes_of_report
from survey.reports.models import Report
from tests.factories import NOON, TODAY, PersonFactory, ReportFactory

pytestmark = pytest.mark.django_db


def words_of(html):
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


@pytest.fixture
def receipt(neighbor, tree):
    """A neighbor at the receipt of a report of bark that is gone."""
    return neighbor.answers_all(tree).send()


def asked_on(page):
    found = re.search(r'name="check" value="([a-z_]+)"', page.html)
    return found.group(1) if found else ""


def fields_of(page):
    """The hidden fields of the question."""
    form = page.html[page.html.index('class="ask"') :].partition("</form>")[0]
    fields: dict = {}
    for name, value in re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form):
        fields.setdefault(name, []).append(value)
    return {name: values if name == "unseen" else values[0] for name, values in fields.items()}


def address_of_answer(page):
    return re.search(r'action="(/note/[\w-]+/answer/)"', page.html).group(1)


def test_the_receipt_names_what_is_possible_in_words_and_blames_nobody(receipt):
    told = words_of(receipt.html)
    assert "What may be behind it" in told
    assert "It is possible:" in told
    assert "nobody is blamed" in told
    part = told[told.index("What may be behind it") : told.index("Today you can")]
    assert not re.search(r"\b(likely|probably|surely|certain\w*|per cent)\b|%", part)
    assert not re.search(r"\d+ in \d+", part)


def test_one_report_never_says_more_than_possible(receipt):
    report = Report.objects.get()
    told, _recorded = causes_of_report(report)
    assert told.answer.word in ("possible", "cannot_tell", "unlikely")
    for _ in range(12):  # whatever the same neighbor answers
        told, _recorded = causes_of_report(report)
        if told.asked is None:
            break
        answer_check(report=report, check=told.asked.question.code, yes=True, at=NOON)
        told, _recorded = causes_of_report(report)
        assert all(one.word != "likely" for one in told.answer.causes)
    assert ClueNoted.objects.exists()


def test_an_answer_is_kept_and_leads_back_to_the_receipt(receipt):
    check, hidden, url = asked_on(receipt), fields_of(receipt), address_of_answer(receipt)
    assert book().checks[check].who == "anyone"
    assert "Look behind you first" in receipt.html
    receipt.send(url, **hidden, answer="yes")
    assert "/sent/" in receipt.url
    assert "Your answer is kept" in receipt.html
    assert asked_on(receipt) != check
    report = Report.objects.get()
    rows = ClueNoted.objects.all()
    known = book().checks[check]
    assert {(row.clue, row.so) for row in rows} == {
        *((clue, True) for clue in known.yes_means),
        *((clue, False) for clue in known.yes_denies),
    }
    assert {(row.by, row.day, row.trained) for row in rows} == {
        (f"report:{report.client_ref}", TODAY, False)
    }
    assert Entry.objects.filter(act="clue.noted", subject=f"report:{report.pk}").exists()


def test_it_can_be_answered_on_the_private_page_too(receipt):
    receipt.open(receipt.link("Follow this report"))
    receipt.send(address_of_answer(receipt), **fields_of(receipt), answer="no")
    assert receipt.url.startswith("/note/")
    assert "Your answer is kept" in receipt.html
    assert ClueNoted.objects.exists()


def test_what_could_not_be_seen_is_not_kept_and_another_question_comes(receipt):
    seen = []
    while asked_on(receipt) and len(seen) < 6:
        assert asked_on(receipt) not in seen
        seen.append(asked_on(receipt))
        receipt.send(address_of_answer(receipt), **fields_of(receipt), answer="unseen")
        receipt.url = receipt.url.partition("#")[0]
    assert len(seen) >= 2
    assert not ClueNoted.objects.exists()


def test_an_answer_changed_the_same_day_takes_the_place_of_the_first(receipt):
    report, check = Report.objects.get(), asked_on(receipt)
    for yes in (True, True, False):
        answer_check(report=report, check=check, yes=yes, at=NOON)
    known = book().checks[check]
    assert {(row.clue, row.so) for row in ClueNoted.objects.all()} == {
        *((clue, True) for clue in known.no_means),
        *((clue, False) for clue in known.no_denies),
    }


@pytest.mark.parametrize(
    "fields",
    [
        {"check": "", "answer": "yes"},
        {"check": "nobody_knows", "answer": "yes"},
        {"check": "x\x00y", "answer": "no"},
        {"check": "<script>alert(1)</script>", "answer": "yes"},
        {"check": "é" * 5000, "answer": "yes"},
        {"answer": "yes"},
    ],
)
def test_a_question_that_was_never_asked_is_refused_in_words(receipt, fields):
    receipt.send(address_of_answer(receipt), **fields)
    assert receipt.page.status_code == 422
    assert "was not kept" in receipt.html
    assert "Your report is safe" in receipt.html
    assert "<script" not in receipt.html
    assert not ClueNoted.objects.exists()


@pytest.mark.parametrize("answer", ["", "maybe", "\x00", "YES", "é" * 5000])
def test_an_answer_that_is_none_keeps_nothing_and_leads_back(receipt, answer):
    receipt.send(address_of_answer(receipt), **fields_of(receipt) | {"answer": answer})
    assert receipt.page.status_code == 200
    assert not ClueNoted.objects.exists()


@pytest.mark.parametrize("key", ["../../desk", "a\x00b", "x" * 9000, "https://evil.example/", "é"])
def test_the_way_back_never_leaves_the_pages_of_reports(receipt, key):
    fields = fields_of(receipt) | {"answer": "unseen", "key": key}
    receipt.send(address_of_answer(receipt), follow=False, **fields)
    assert re.match(r"/(note|report)/", receipt.page.headers["Location"])


def test_a_check_for_trained_people_is_not_taken_from_a_neighbor(receipt):
    check = next(code for code, one in book().checks.items() if one.who == "trained")
    receipt.send(address_of_answer(receipt), check=check, answer="yes")
    assert receipt.page.status_code == 422
    assert not ClueNoted.objects.exists()


def test_nothing_is_supposed_and_nothing_asked_about_a_danger(neighbor, tree):
    neighbor.begins("hanging" if "hanging" in book().dangers else next(iter(book().dangers)))
    neighbor.send().open(f"/report/{neighbor.key}/where/at/{tree.site.ref}/").send(tree=tree.ref)
    neighbor.send(words="It hangs")
    neighbor.send()
    report = Report.objects.get()
    assert report.danger
    assert behind_of(report) is None
    assert "What may be behind it" not in neighbor.html
    assert 'class="ask"' not in neighbor.html


def test_a_danger_takes_no_answer(receipt, tree):
    url, check = address_of_answer(receipt), asked_on(receipt)
    Report.objects.update(danger="wire")
    receipt.send(url, check=check, answer="yes")
    assert receipt.page.status_code == 422
    assert "Stay away" in receipt.html
    assert not ClueNoted.objects.exists()


def test_an_open_danger_near_it_keeps_everybody_away(receipt, tree):
    url, check, sent = address_of_answer(receipt), asked_on(receipt), receipt.url
    ReportFactory(tree=tree, danger="wire", number=99)
    receipt.open(sent)
    told = words_of(receipt.html)
    assert "open danger near it. Stay away." in told
    assert "What may be behind it" not in told
    assert "Today you can" not in told
    receipt.send(url, check=check, answer="yes")
    assert receipt.page.status_code == 422
    assert "Stay away" in receipt.html
    assert not ClueNoted.objects.exists()


def test_a_report_that_was_decided_asks_no_more(receipt):
    report = Report.objects.get()
    report.state = Report.State.ANSWERED
    assert behind_of(report) is None


def test_without_a_tree_it_names_causes_and_asks_nothing(receipt):
    report = Report.objects.get()
    report.tree = None
    behind = behind_of(report)
    assert behind is not None
    assert behind.question is None


def test_signs_that_contradict_each_other_name_no_cause(receipt):
    report = Report.objects.get()
    for sign in ("dry_soil", "soggy_soil"):
        report.signs.create(sign=sign)
    assert behind_of(report) is None
    assert receipt.open(receipt.url).page.status_code == 200


def test_why_leads_to_the_handbook(receipt):
    assert re.search(r'class="why" href="/handbook/causes/[a-z_]+/"', receipt.html)
    assert "/handbook/advice/" in receipt.html


def test_it_is_asked_in_spanish(neighbor, tree):
    neighbor.client.defaults["HTTP_ACCEPT_LANGUAGE"] = "es"
    neighbor.answers_all(tree).send()
    assert '<html lang="es">' in neighbor.html
    assert 'class="ask"' in neighbor.html


def test_what_not_to_do_stands_in_full_beside_what_is_drawn_small(receipt):
    told = words_of(receipt.html)
    report = Report.objects.get()
    advice = book().advice_for([sign.sign for sign in report.signs.all()], age_years=1)
    for one in advice:
        assert one.headline in told
    assert 'class="advice-set"' in receipt.html


def test_an_answer_is_listed_and_at_most_one_more_is_asked(receipt, client):
    report = Report.objects.get()
    receipt.open(receipt.link("Follow this report"))
    first = asked_on(receipt)
    receipt.send(address_of_answer(receipt), **fields_of(receipt), answer="yes")
    told = words_of(receipt.html)
    check = book().checks[first]
    assert f"{check.asks} {check.yes}" in told[told.index("What you told us") :]
    assert "Your answer is kept" in told
    second = asked_on(receipt)
    if second:
        assert "One more would help, and it is the last." in told
        receipt.url = receipt.url.partition("#")[0]
        receipt.send(address_of_answer(receipt), **fields_of(receipt), answer="no")
        assert book().checks[second].no in words_of(receipt.html)
    assert len(answered_by(report)) == (2 if second else 1)
    assert asked_on(receipt) == ""
    client.force_login(PersonFactory(role="staff"))
    page = words_of(client.get(f"/desk/{report.pk}/").content.decode())
    assert check.asks in page[page.index("What was said") :]


def test_the_last_answer_to_a_question_is_the_one_that_is_told(receipt):
    report, check = Report.objects.get(), asked_on(receipt)
    for yes in (True, False):
        answer_check(report=report, check=check, yes=yes, at=NOON)
    (one,) = answered_by(report)
    assert (one.check, one.answer) == (check, book().checks[check].no)
