"""What the desk decides: reason, message, the second person, ten minutes, danger."""

from datetime import date, timedelta

import pytest
from django.core import mail
from django.core.exceptions import PermissionDenied, ValidationError
from django.utils import timezone

from survey.audit import outdated
from survey.audit.models import Entry
from survey.chores.models import Chore
from survey.chores.rounds import do_due
from survey.people.actions import erase_contact
from survey.people.models import Mail
from survey.reports.actions import triage
from survey.reports.models import Decision, DeskNote, Report
from tests.factories import (
    NOON,
    TODAY,
    AreaFactory,
    ContactFactory,
    PersonFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db

WORDS = {"reason": "cut bark, seen on the photo", "message": "We will come and look."}


@pytest.fixture
def desk():
    return PersonFactory(sign_in="desk")


@pytest.fixture
def report():
    return ReportFactory(contact=ContactFactory(email="nora@pellworth.example"))


def decide(outcome, report, by, **changed):
    """One decision of every kind, valid as it stands."""
    report = Report.objects.get(pk=report.pk)
    given = {"report": report, "version": report.version, "by": by, "at": NOON, **WORDS}
    if outcome == "join":
        given["other"] = changed.pop("other", None) or ReportFactory()
    if outcome in ("danger", "clear"):
        given.pop("message")
    if outcome == "danger":
        given["danger"] = "hanging_limb"
    action = {
        "answer": triage.answer_report,
        "ask": triage.ask_back,
        "set_aside": triage.set_aside_report,
        "join": triage.join_report,
        "order": triage.mark_ordered,
        "danger": triage.mark_danger,
        "clear": triage.clear_danger,
    }[outcome]
    return action(**given | changed)


def time_passes(decision, delta=timedelta(minutes=11)):
    """As if the decision had been made that much earlier, by the real clock."""
    Decision.objects.filter(pk=decision.pk).update(undo_until=decision.undo_until - delta)
    for letter in Mail.objects.filter(key__startswith=f"decision:{decision.pk}:"):
        Mail.objects.filter(pk=letter.pk).update(due_at=letter.due_at - delta)
        chore = Chore.objects.get(kind="send_mail", key=str(letter.pk))
        Chore.objects.filter(pk=chore.pk).update(due_at=chore.due_at - delta)
    decision.refresh_from_db()


def run_chores():
    for _ in range(20):
        if not do_due():
            return


AFTER = {
    "answer": "answered",
    "ask": "asked",
    "set_aside": "set_aside",
    "join": "joined",
    "order": "ordered",
    "danger": "new",
}


@pytest.mark.parametrize(("outcome", "state"), AFTER.items())
def test_each_decision_leaves_a_state_a_reason_and_an_audit_line(outcome, state, report, desk):
    decision = decide(outcome, report, desk)
    report.refresh_from_db()
    assert (report.state, report.version) == (state, 1)
    assert (decision.reason, decision.by) == (WORDS["reason"], f"person:{desk.key}")
    line = Entry.objects.about(f"report:{report.client_ref}").get()
    assert (line.act, line.who) == (f"report.{outcome}", f"person:{desk.key}")
    assert line.detail["decision"] == decision.pk
    assert (line.detail["before"], line.detail["after"]) == ("new", state)


@pytest.mark.parametrize("outcome", AFTER)
@pytest.mark.parametrize("reason", ["", "  \n ", "x" * 501])
def test_without_a_short_reason_nothing_is_decided(outcome, reason, report, desk):
    with pytest.raises(ValidationError) as told:
        decide(outcome, report, desk, reason=reason)
    assert list(told.value.message_dict) == ["reason"]
    report.refresh_from_db()
    assert (report.state, report.version) == ("new", 0)
    assert not Decision.objects.exists()
    assert not Entry.objects.exists()


@pytest.mark.parametrize("outcome", ["answer", "ask"])
def test_an_answer_and_a_question_need_words_for_the_neighbor(outcome, report, desk):
    with pytest.raises(ValidationError) as told:
        decide(outcome, report, desk, message=" ", reason="")
    assert set(told.value.message_dict) == {"message", "reason"}, "both are told at once"


def test_a_message_as_long_as_a_book_is_refused(report, desk):
    with pytest.raises(ValidationError) as told:
        decide("answer", report, desk, message="x" * 4001)
    assert list(told.value.message_dict) == ["message"]


def test_letters_that_no_database_takes_are_left_out(report, desk):
    decision = decide("answer", report, desk, reason="cut\x00 bark\ud800", message="We\x00 come.")
    decision.refresh_from_db()
    assert (decision.reason, decision.message) == ("cut bark?", "We come.")


@pytest.mark.parametrize("outcome", AFTER)
@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_only_the_desk_decides(outcome, role, report):
    with pytest.raises(PermissionDenied):
        decide(outcome, report, PersonFactory(role=role))
    with pytest.raises(PermissionDenied):
        decide(outcome, report, None)


def test_a_keeper_who_left_decides_nothing(report):
    with pytest.raises(PermissionDenied):
        decide("answer", report, PersonFactory(role="keeper", is_active=False))


@pytest.mark.parametrize("outcome", AFTER)
def test_the_second_of_two_people_is_told_what_the_first_decided(outcome, report, desk):
    first = decide("answer", report, desk)
    second = PersonFactory(sign_in="second")
    with pytest.raises(triage.Outdated) as told:
        decide(outcome, report, second, version=0)
    assert isinstance(told.value, outdated.Outdated)
    assert told.value.last == first
    assert told.value.current.state == "answered"
    assert Decision.objects.count() == 1
    assert Mail.objects.count() == 1


def test_what_was_typed_is_kept_until_the_same_person_decides(report, desk):
    second = PersonFactory(sign_in="second")
    for who, words in ((desk, "mine"), (second, "theirs")):
        triage.keep_desk_note(
            report=report, fields={"reason": words}, seen_version=0, by=who, at=timezone.now()
        )
    triage.keep_desk_note(
        report=report, fields={"reason": "mine, longer"}, seen_version=0, by=desk, at=timezone.now()
    )
    decide("answer", report, second)
    note = DeskNote.objects.get()
    assert (note.person, note.fields, note.seen_version) == (desk, {"reason": "mine, longer"}, 0)


def test_what_nobody_types_by_hand_is_not_kept(report, desk):
    for fields in ({"message": "x" * 20_001}, {f"f{n}": "x" for n in range(41)}):
        with pytest.raises(ValidationError):
            triage.keep_desk_note(
                report=report, fields=fields, seen_version=0, by=desk, at=timezone.now()
            )
    triage.keep_desk_note(
        report=report, fields={"message": "a\x00b"}, seen_version=0, by=desk, at=timezone.now()
    )
    assert DeskNote.objects.get().fields == {"message": "ab"}


def test_a_volunteer_keeps_no_note_on_a_docket(report):
    with pytest.raises(PermissionDenied):
        triage.keep_desk_note(
            report=report,
            fields={},
            seen_version=0,
            by=PersonFactory(role="volunteer"),
            at=timezone.now(),
        )


# ------------------------------------------------------------------ messages and the ten minutes


def test_a_message_leaves_only_after_ten_minutes(report, desk):
    decision = decide("answer", report, desk)
    letter = decision.mail
    assert letter.due_at - timezone.now() > timedelta(minutes=10)
    run_chores()
    assert mail.outbox == []
    time_passes(decision, timedelta(minutes=10, seconds=20))
    run_chores()
    assert mail.outbox == [], "an undo at the last moment must not be overtaken"
    time_passes(decision, timedelta(minutes=1))
    run_chores()
    assert [(sent.to, sent.body) for sent in mail.outbox] == [
        (["nora@pellworth.example"], "We will come and look.")
    ]
    letter.refresh_from_db()
    assert letter.state == "sent"
    run_chores()
    assert len(mail.outbox) == 1


def test_a_waiting_message_is_a_row_so_a_restart_loses_nothing(report, desk):
    """All that survives a restart is the database: a chore that is due, and the letter's text."""
    decision = decide("answer", report, desk)
    chore = Chore.objects.get(kind="send_mail")
    assert (chore.state, chore.key) == ("waiting", str(decision.mail.pk))
    assert chore.due_at == decision.undo_until + triage.GRACE
    # A runner died in the middle of it: its lease ran out long ago.
    time_passes(decision)
    Chore.objects.filter(pk=chore.pk).update(
        state="claimed",
        claimed_by="00000000-0000-4000-8000-000000000001",
        lease_until=timezone.now() - timedelta(minutes=1),
        attempts=1,
    )
    run_chores()
    assert len(mail.outbox) == 1


def test_undo_within_ten_minutes_withdraws_the_mail_and_opens_the_report_again(report, desk):
    decision = decide("answer", report, desk, look_due=TODAY + timedelta(days=30))
    colleague = PersonFactory(sign_in="colleague")
    back = triage.undo_decision(decision=decision, by=colleague, at=NOON)
    assert (back.state, back.look_due, back.version) == ("new", None, 2)
    report.refresh_from_db()
    assert (report.state, report.look_due) == ("new", None)
    decision.refresh_from_db()
    assert (decision.undone_at, decision.undone_by) == (NOON, f"person:{colleague.key}")
    assert decision.mail.state == "withdrawn"
    time_passes(decision)
    run_chores()
    assert mail.outbox == []
    acts = [line.act for line in Entry.objects.about(f"report:{report.client_ref}")]
    assert acts == ["report.answer", "report.undone"]


@pytest.mark.parametrize("outcome", ["answer", "ask", "set_aside", "join"])
def test_undo_gives_back_exactly_what_was_before(outcome, report, desk):
    decide("answer", report, desk, look_due=TODAY + timedelta(days=9))
    report.refresh_from_db()
    decision = decide(outcome, report, desk)
    triage.undo_decision(decision=decision, by=desk, at=NOON)
    report.refresh_from_db()
    assert (report.state, report.look_due) == ("answered", TODAY + timedelta(days=9))
    assert report.joined_to is None


def test_after_an_undo_the_same_decision_can_be_made_again_and_is_told_once(report, desk):
    triage.undo_decision(decision=decide("answer", report, desk), by=desk, at=NOON)
    again = decide("answer", report, desk, message="We come on Saturday.")
    time_passes(again)
    run_chores()
    assert [sent.body for sent in mail.outbox] == ["We come on Saturday."]


def test_after_ten_minutes_it_is_too_late(report, desk):
    decision = decide("answer", report, desk)
    time_passes(decision, timedelta(minutes=10))
    with pytest.raises(triage.TooLate):
        triage.undo_decision(decision=decision, by=desk, at=NOON)
    report.refresh_from_db()
    assert report.state == "answered"
    decision.mail.refresh_from_db()
    assert decision.mail.state == "waiting", "what could not be undone is still told"


def test_a_message_that_left_cannot_be_taken_back(report, desk):
    decision = decide("answer", report, desk)
    Mail.objects.update(state="sent", settled_at=timezone.now())
    with pytest.raises(triage.TooLate):
        triage.undo_decision(decision=decision, by=desk, at=NOON)
    report.refresh_from_db()
    assert report.state == "answered"


def test_one_sent_message_of_several_is_too_late_and_stops_none_of_the_others(report, desk):
    ReportFactory(contact=ContactFactory(), state="joined", joined_to=report)
    decision = decide("answer", report, desk)
    gone = Mail.objects.order_by("pk").first()
    Mail.objects.filter(pk=gone.pk).update(state="sent", settled_at=timezone.now())
    with pytest.raises(triage.TooLate):
        triage.undo_decision(decision=decision, by=desk, at=NOON)
    assert set(Mail.objects.values_list("state", flat=True)) == {"sent", "waiting"}


def test_an_erased_neighbor_does_not_keep_a_decision_from_being_undone(report, desk):
    decision = decide("answer", report, desk)
    erase_contact(contact=report.contact, at=timezone.now(), by=desk)
    triage.undo_decision(decision=decision, by=desk, at=NOON)
    report.refresh_from_db()
    assert report.state == "new"


def test_another_decision_came_after(report, desk):
    first = decide("answer", report, desk)
    report.refresh_from_db()
    decide("ask", report, desk)
    with pytest.raises(triage.TooLate):
        triage.undo_decision(decision=first, by=desk, at=NOON)


def test_a_decision_is_undone_once(report, desk):
    decision = decide("answer", report, desk)
    triage.undo_decision(decision=decision, by=desk, at=NOON)
    with pytest.raises(triage.TooLate):
        triage.undo_decision(decision=decision, by=desk, at=NOON)


def test_the_order_of_decisions_is_not_the_order_of_a_frozen_clock(report, desk):
    """On an area with a data date the clock goes back to midnight every night."""
    decide("answer", report, desk, at=NOON + timedelta(hours=11))
    report.refresh_from_db()
    second = decide("ask", report, desk, at=NOON)
    triage.undo_decision(decision=second, by=desk, at=NOON - timedelta(hours=1))
    report.refresh_from_db()
    assert report.state == "answered"
    second.refresh_from_db()
    assert second.undone_at == second.at


def test_a_stranger_undoes_nothing(report, desk):
    decision = decide("answer", report, desk)
    with pytest.raises(PermissionDenied):
        triage.undo_decision(decision=decision, by=PersonFactory(role="crew"), at=NOON)


def test_the_neighbor_sees_a_decision_only_when_it_can_no_longer_be_undone(report, desk):
    decision = decide("answer", report, desk)
    assert list(report.decisions.told(timezone.now())) == []
    time_passes(decision)
    assert list(report.decisions.told(timezone.now())) == [decision]


# ------------------------------------------------------------------------------------- joining


def test_whoever_was_joined_is_told_too_each_under_their_own_name_and_once(report, desk):
    other = ReportFactory(contact=ContactFactory(email="oli@pellworth.example"), language="en")
    decide("join", other, desk, other=report, message="")
    twice = ReportFactory(contact=ContactFactory(email="NORA@pellworth.example"))
    decide("join", twice, desk, other=report, message="")
    silent = ReportFactory()
    decide("join", silent, desk, other=report, message="")
    decision = decide("answer", report, desk)
    assert [(m.contact.email, m.body) for m in Mail.objects.order_by("pk")] == [
        ("nora@pellworth.example", "We will come and look."),
        ("oli@pellworth.example", "We will come and look."),
    ]
    assert f"note {other.number}" in Mail.objects.last().subject
    triage.undo_decision(decision=decision, by=desk, at=NOON)
    assert set(Mail.objects.values_list("state", flat=True)) == {"withdrawn"}


def test_a_question_goes_to_the_one_who_is_asked(report, desk):
    other = ReportFactory(contact=ContactFactory())
    decide("join", other, desk, other=report, message="")
    decide("ask", report, desk)
    assert Mail.objects.get().contact == report.contact


def test_joining_to_a_joined_one_leads_to_its_first(report, desk):
    middle = ReportFactory()
    decide("join", middle, desk, other=report)
    middle.refresh_from_db()
    last = ReportFactory()
    decide("join", last, desk, other=middle)
    last.refresh_from_db()
    assert last.joined_to == report


def test_reports_are_never_joined_in_a_ring_or_a_chain(report, desk):
    other = ReportFactory()
    decide("join", other, desk, other=report)
    with pytest.raises(ValidationError):
        decide("join", report, desk, other=other)
    with pytest.raises(ValidationError):
        decide("join", report, desk, other=report)
    with pytest.raises(ValidationError):
        decide("join", report, desk, other=ReportFactory())


def test_a_first_that_was_joined_meanwhile_is_not_joined_to(report, desk):
    stale = ReportFactory()
    known = Report.objects.get(pk=stale.pk)
    decide("join", stale, desk, other=ReportFactory())
    with pytest.raises(ValidationError) as told:
        decide("join", report, desk, other=known)
    assert list(told.value.message_dict) == ["other"]


def test_a_report_from_another_town_is_not_joined_to(report, desk):
    far = AreaFactory(ref="birchfield", name="Birchfield", is_home=False)
    tree = TreeFactory(planting__area=far, site__area=far)
    with pytest.raises(ValidationError):
        decide("join", report, desk, other=ReportFactory(tree=tree))


# -------------------------------------------------------------------------------------- danger


def qualified(**changed):
    return PersonFactory(qualified_until=TODAY, **changed)


def test_only_somebody_qualified_today_clears_a_danger(report, desk):
    decide("danger", report, desk)
    report.refresh_from_db()
    assert list(Report.objects.in_danger()) == [report]
    for by in (
        desk,
        PersonFactory(qualified_until=TODAY - timedelta(days=1)),
        PersonFactory(role="crew", qualified_until=TODAY),
        PersonFactory(role="keeper"),
    ):
        with pytest.raises(PermissionDenied):
            decide("clear", report, by)
    by = qualified()
    decide("clear", report, by)
    report.refresh_from_db()
    assert (report.danger_cleared_at, report.danger_cleared_by) == (NOON, f"person:{by.key}")
    assert not Report.objects.in_danger().exists()


@pytest.mark.parametrize("outcome", ["answer", "ask", "set_aside", "join", "order"])
def test_no_other_decision_clears_a_danger(outcome, report, desk):
    decide("danger", report, desk)
    report.refresh_from_db()
    decide(outcome, report, desk)
    report.refresh_from_db()
    assert list(Report.objects.in_danger()) == [report]
    assert report in Report.objects.on_the_desk()


def test_a_danger_that_is_not_open_cannot_be_cleared(report):
    by = qualified()
    with pytest.raises(ValidationError):
        decide("clear", report, by)
    Report.objects.filter(pk=report.pk).update(danger="wire")
    decide("clear", report, by)
    report.refresh_from_db()
    with pytest.raises(ValidationError):
        decide("clear", report, by)


def test_an_unknown_danger_is_refused(report, desk):
    with pytest.raises(ValidationError):
        decide("danger", report, desk, danger="wet paint")


def test_a_slip_of_the_key_is_taken_back_by_the_same_person_or_a_qualified_one(report, desk):
    slip = decide("danger", report, desk)
    with pytest.raises(PermissionDenied):
        triage.undo_decision(decision=slip, by=PersonFactory(), at=NOON)
    report.refresh_from_db()
    assert report.danger == "hanging_limb"
    triage.undo_decision(decision=slip, by=desk, at=NOON)
    report.refresh_from_db()
    assert report.danger == ""
    triage.undo_decision(decision=decide("danger", report, desk), by=qualified(), at=NOON)
    report.refresh_from_db()
    assert report.danger == ""


def test_taking_back_a_mark_never_clears_what_the_neighbor_reported(report, desk):
    Report.objects.filter(pk=report.pk).update(danger="wire")
    report.refresh_from_db()
    mark = decide("danger", report, desk, danger="crack")
    triage.undo_decision(decision=mark, by=desk, at=NOON)
    report.refresh_from_db()
    assert report.danger == "wire"
    assert list(Report.objects.in_danger()) == [report]


def test_a_cleared_danger_that_is_marked_again_is_open_again(report, desk):
    Report.objects.filter(pk=report.pk).update(danger="wire")
    decide("clear", report, qualified())
    report.refresh_from_db()
    mark = decide("danger", report, desk, danger="crack")
    assert Report.objects.in_danger().exists()
    triage.undo_decision(decision=mark, by=desk, at=NOON)
    report.refresh_from_db()
    assert (report.danger, report.danger_cleared_at) == ("wire", NOON)


def test_clearing_is_taken_back_by_anybody_at_the_desk(report, desk):
    Report.objects.filter(pk=report.pk).update(danger="wire")
    clear = decide("clear", report, qualified())
    triage.undo_decision(decision=clear, by=desk, at=NOON)
    assert Report.objects.in_danger().exists()


# ------------------------------------------------------------------------------ orders, places


def test_an_order_is_undone_by_dropping_it_alone(report, desk):
    decision = decide("order", report, desk)
    with pytest.raises(ValidationError):
        triage.undo_decision(decision=decision, by=desk, at=NOON)
    triage.unmark_ordered(report=report, by=desk, at=NOON)
    report.refresh_from_db()
    decision.refresh_from_db()
    assert (report.state, decision.undone_by) == ("new", f"person:{desk.key}")
    assert decision.mail.state == "withdrawn"
    triage.unmark_ordered(report=report, by=desk, at=NOON)
    report.refresh_from_db()
    assert report.version == 2, "a second drop changes nothing"


def test_an_order_dropped_long_after_its_message_left_still_opens_the_report(report, desk):
    decision = decide("order", report, desk)
    time_passes(decision)
    run_chores()
    assert len(mail.outbox) == 1
    triage.unmark_ordered(report=report, by=desk, at=NOON)
    report.refresh_from_db()
    assert report.state == "new"


def test_placing_a_report_names_its_tree_and_asks_for_a_new_match(report, desk):
    other = ReportFactory()
    Report.objects.filter(pk=report.pk).update(likely_same_as=other)
    Chore.objects.all().delete()
    tree = TreeFactory()
    triage.place_report(report=report, version=0, tree=tree, by=desk, at=NOON)
    report.refresh_from_db()
    assert (report.tree, report.site, report.version) == (tree, tree.site, 1)
    assert report.likely_same_as is None
    chore = Chore.objects.get()
    assert (chore.kind, chore.key) == ("match_report", str(report.pk))
    site = SiteFactory()
    triage.place_report(report=report, version=1, site=site, by=desk, at=NOON)
    report.refresh_from_db()
    assert (report.tree, report.site) == (None, site)


def test_a_report_is_placed_somewhere_in_its_own_town(report, desk):
    far = AreaFactory(ref="birchfield", name="Birchfield", is_home=False)
    for place in ({}, {"site": SiteFactory(area=far)}):
        with pytest.raises(ValidationError):
            triage.place_report(report=report, version=0, by=desk, at=NOON, **place)
    with pytest.raises(triage.Outdated) as told:
        triage.place_report(report=report, version=7, site=SiteFactory(), by=desk, at=NOON)
    assert told.value.last is None


def test_a_look_in_the_past_is_no_watching(report, desk):
    with pytest.raises(ValidationError) as told:
        decide("answer", report, desk, look_due=date(2026, 6, 15))
    assert list(told.value.message_dict) == ["look_due"]


# -------------------------------------------------------------------------- two at one docket


def test_a_docket_that_a_colleague_has_open_says_so_for_ten_minutes(report, desk):
    now = timezone.now()
    assert triage.open_docket(report=report, by=desk, at=now) is None
    assert triage.open_docket(report=report, by=desk, at=now) is None
    second = PersonFactory(sign_in="second")
    soon = now + timedelta(minutes=9)
    assert triage.open_docket(report=report, by=second, at=soon) == desk
    later = now + timedelta(minutes=11)
    assert triage.open_docket(report=report, by=second, at=later) is None
    assert triage.open_docket(report=report, by=desk, at=later) == second
    with pytest.raises(PermissionDenied):
        triage.open_docket(report=report, by=PersonFactory(role="liaison"), at=now)


def test_how_an_answer_reaches_the_neighbor():
    assert triage.message_reaches(ReportFactory()) == ""
    assert triage.message_reaches(ReportFactory(contact=ContactFactory())) == "email"
    by_phone = ContactFactory(email="", phone="555 0100")
    assert triage.message_reaches(ReportFactory(contact=by_phone)) == "phone"
    erased = ContactFactory(email="", erased_at=NOON)
    assert triage.message_reaches(ReportFactory(contact=erased)) == ""
