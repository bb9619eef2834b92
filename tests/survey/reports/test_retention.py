"""How long a neighbor's address is kept."""

from datetime import timedelta

import pytest

from survey.chores.clock import tick
from survey.chores.models import Chore
from survey.chores.rounds import do_due
from survey.people.models import Contact
from survey.reports.models import Decision, Report
from survey.reports.retention import CONTACT_KEPT, contacts_to_erase
from tests.factories import NOON, AreaFactory, ContactFactory, ReportFactory

pytestmark = pytest.mark.django_db

LONG_AGO = NOON - CONTACT_KEPT - timedelta(hours=1)
JUST_NOW = NOON - CONTACT_KEPT + timedelta(hours=1)


def closed(at, state="answered", outcome="answer", **fields):
    report = ReportFactory(contact=ContactFactory(), state=state, **fields)
    decided(report, at, outcome)
    return report


def decided(report, at, outcome="answer", undone_at=None):
    return Decision.objects.create(
        report=report,
        outcome=outcome,
        at=at,
        by="person:desk",
        reason="seen",
        undone_at=undone_at,
        undone_by="person:desk" if undone_at else "",
    )


def erasable():
    return set(contacts_to_erase(AreaFactory(), NOON))


def test_an_address_is_kept_until_ninety_days_after_the_report_was_closed():
    assert timedelta(days=90) == CONTACT_KEPT  # own rule of this project
    gone = {closed(LONG_AGO, s, o).contact for s, o in
            (("answered", "answer"), ("set_aside", "set_aside"), ("ordered", "order"))}  # fmt: skip
    closed(JUST_NOW)
    assert erasable() == gone


@pytest.mark.parametrize(
    "fields",
    [
        {"state": "new"},
        {"state": "asked", "outcome": "ask"},
        {"danger": "wire"},
    ],
)
def test_an_open_report_keeps_its_address(fields):
    closed(LONG_AGO, **fields)
    assert erasable() == set()


def test_a_cleared_danger_keeps_nothing():
    report = closed(LONG_AGO, danger="wire")
    Report.objects.update(danger_cleared_at=LONG_AGO, danger_cleared_by="person:q")
    assert erasable() == {report.contact}


def test_a_decision_that_was_taken_back_counts_for_nothing():
    report = closed(LONG_AGO)
    decided(report, JUST_NOW, "ask", undone_at=JUST_NOW)
    assert erasable() == {report.contact}


def test_a_joined_report_is_as_open_as_its_first():
    first = closed(LONG_AGO, state="new")
    joined = closed(LONG_AGO, "joined", "join", joined_to=first)
    assert erasable() == set()
    Report.objects.filter(pk=first.pk).update(state="answered")
    assert erasable() == {first.contact, joined.contact}
    decided(first, JUST_NOW)
    assert erasable() == set()


def test_one_address_with_two_reports_is_kept_for_the_open_one():
    report = closed(LONG_AGO)
    ReportFactory(contact=report.contact)
    assert erasable() == set()


def test_by_night_the_house_forgets_and_says_so_once():
    # The area's clock stands on one day but not at one hour.
    report = closed(LONG_AGO - timedelta(days=1))
    kept = closed(JUST_NOW + timedelta(days=1))
    tick(NOON)
    Chore.objects.exclude(kind="erase_old_contacts").delete()
    while do_due():
        pass
    assert Chore.objects.get(kind="erase_old_contacts").state == "done"
    erased = Contact.objects.get(pk=report.contact.pk)
    assert (erased.email, erased.erased_at is not None) == ("", True)
    assert Contact.objects.get(pk=kept.contact.pk).email
