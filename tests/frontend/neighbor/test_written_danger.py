"""A neighbor who writes of a hazard and ticked none is told to stay away, in their language."""

from datetime import date

import pytest

from survey.reports.actions import triage
from survey.reports.models import Report
from tests.factories import NOON, LookFactory, PersonFactory
from tests.survey.belief_rows import belief as believe

pytestmark = pytest.mark.django_db


def test_the_receipt_says_what_not_to_do_and_whom_to_call(neighbor, tree):
    neighbor.answers_all(tree, words="It is dry. And the branch is hanging!").send()
    assert neighbor.heading == "Thank you. We have it."
    assert "You wrote “branch is hanging”." in neighbor.html
    assert "Do not stand or walk under it. Stay two tree heights away." in neighbor.html
    assert 'href="tel:' in neighbor.html
    assert "Somebody reads it today" not in neighbor.html
    neighbor.open(neighbor.link("Follow this report"))
    assert neighbor.heading == "We have it, and it counts as a danger."
    assert "Do not stand or walk under it." in neighbor.html


def test_nobody_is_sent_near_with_a_bucket(neighbor, tree):
    neighbor.answers_all(tree, words="cable caído").send()
    assert Report.objects.get().danger == "wire"
    assert "Today you can" not in neighbor.html


def test_harmless_words_get_the_ordinary_receipt(neighbor, tree):
    neighbor.answers_all(tree, words="The branch is not hanging.").send()
    assert "You wrote" not in neighbor.html
    assert "is-alarm" not in neighbor.html


@pytest.mark.parametrize("word", ["low risk", "moderate", "high risk", "extreme", "risk rating"])
def test_no_page_rates_what_was_written(neighbor, tree, word):
    neighbor.answers_all(tree, words="The trunk is split in two.").send()
    pages = [neighbor.html, neighbor.open(neighbor.link("Follow this report")).html]
    assert not any(word in page.lower() for page in pages)


def test_set_aside_words_are_told_as_that_and_not_as_a_cleared_danger(neighbor, tree):
    neighbor.answers_all(tree, words="The branch is hanging.").send()
    neighbor.open(neighbor.link("Follow this report"))
    report = Report.objects.get()
    decision = triage.set_danger_words_aside(
        report=report, version=report.version, reason="a swing", by=PersonFactory(), at=NOON
    )
    type(decision).objects.filter(pk=decision.pk).update(undo_until=NOON)
    neighbor.open(neighbor.url)
    assert "We read your words again: they are not about a danger to people" in neighbor.html
    assert "A qualified person" not in neighbor.html
    assert "is-alarm" not in neighbor.html


def test_before_it_is_sent_the_check_page_says_what_was_read(neighbor, tree):
    neighbor.answers_all(tree, words="rama quebrada colgando")
    assert neighbor.url.endswith("/check/")
    assert "You wrote “rama quebrada colgando”. We will treat that as a danger" in neighbor.html
    assert "Do not stand or walk under it. Stay two tree heights away." in neighbor.html
    assert "Nobody is in danger" not in neighbor.html
    assert 'href="tel:' in neighbor.html
    neighbor.client.defaults["HTTP_ACCEPT_LANGUAGE"] = "es"
    neighbor.open(neighbor.url)
    assert "is-alarm" in neighbor.html
    assert '<html lang="es">' in neighbor.html


def test_harmless_words_bring_no_alarm_on_the_check_page(neighbor, tree):
    neighbor.answers_all(tree, words="The branch is not hanging.")
    assert "Nobody is in danger" in neighbor.html
    assert "is-alarm" not in neighbor.html


def test_beside_a_danger_or_bare_wood_it_says_when_somebody_last_looked(neighbor, tree):
    believe(tree=tree)
    LookFactory(tree=tree, day=date(2026, 5, 2), trained=True, condition="thriving")
    neighbor.answers_all(tree).send()
    neighbor.open(neighbor.link("Follow this report"))
    assert "We think it is" not in neighbor.html
    assert "A trained person last looked at this tree on May 2, 2026." in neighbor.html
