"""Hazards that were typed and not ticked: on top, and set aside by anybody at the desk."""

import uuid
from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.people.models import Person
from survey.reports import queue
from survey.reports.actions import triage
from survey.reports.actions.intake import enter_report_for_caller, submit_report, write_reply
from survey.reports.danger import (
    MOST_WORDS_KEPT,
    parts_around,
    said_to_be_no_danger,
    typed_danger,
)
from survey.reports.models import Decision, Report
from tests.factories import NOON, AreaFactory, PersonFactory, ReportFactory, TreeFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def desk():
    return PersonFactory(sign_in="desk")


def send(**answers):
    given = {"client_ref": uuid.uuid4(), "area": AreaFactory(), "at": NOON, "landmark": "bakery"}
    return submit_report(**given | answers)[0]


def test_a_typed_hazard_marks_the_report_with_the_words_that_say_so():
    report = send(words="Please come. The big branch\nis hanging over the bench!")
    assert (report.danger, report.danger_words) == ("hanging_limb", "branch is hanging")
    assert report in Report.objects.in_danger()
    line = Entry.objects.about(f"report:{report.client_ref}").get()
    assert line.detail["danger_typed"] is True
    assert "hanging" not in str({k: v for k, v in line.detail.items() if k != "danger"})


def test_a_typed_hazard_is_read_in_spanish_whatever_the_page_spoke():
    assert send(words="echa chispas", language="en").danger == "wire"


def test_what_was_ticked_stands_whatever_the_words_say():
    report = send(danger="fire", words="the branch is hanging")
    assert (report.danger, report.danger_words) == ("fire", "")


def test_the_place_in_words_is_read_too():
    report = send(landmark="the tree that fell on a car at 12 Oak St", words="please help")
    assert report.danger == "on_something"
    assert "fell" in report.danger_words


def test_harmless_words_mark_nothing():
    report = send(words="The branch is not hanging. There is a crack in the sidewalk.")
    assert (report.danger, report.danger_words) == ("", "")


def test_a_call_that_is_typed_in_is_read_too(desk):
    report = enter_report_for_caller(
        client_ref=uuid.uuid4(), area=AreaFactory(), came="call", by=desk, at=NOON,
        landmark="bakery", words="caller says the trunk is split in two",
    )  # fmt: skip
    assert (report.danger, report.danger_words) == ("crack", "trunk is split in two")


def test_it_stands_on_top_under_the_heading_of_dangers():
    area = AreaFactory()
    heavy = send(area=area, signs=("fungus", "bark_wound"), extent="all_round")
    typed = send(area=area, words="la rama está colgando")
    shown = queue.groups(area, queue.Asked(), most=5)
    assert shown[0].why == "danger"
    assert shown[0].keys == (typed.pk,)
    assert heavy.pk not in shown[0].keys
    assert next(iter(Report.objects.in_queue_order())) == typed


def test_sent_again_it_is_not_read_again(desk):
    ref = uuid.uuid4()
    report = send(client_ref=ref, words="the branch is hanging")
    triage.set_danger_words_aside(
        report=report, version=report.version, reason="a swing", by=desk, at=NOON
    )
    again = send(client_ref=ref, area=report.area, words="the branch is hanging")
    assert again.pk == report.pk
    assert Report.objects.get(pk=report.pk).danger == ""


def test_anybody_at_the_desk_sets_words_aside_and_the_decision_keeps_them(desk):
    report = send(words="the branch is hanging")
    decision = triage.set_danger_words_aside(
        report=report, version=report.version, reason="it is a painted branch", by=desk, at=NOON
    )
    report.refresh_from_db()
    assert (report.danger, report.danger_words, report.state) == ("", "", "new")
    assert not Report.objects.in_danger().exists()
    assert decision.before["danger_words"] == "branch is hanging"
    assert decision.before["danger"] == "hanging_limb"
    assert said_to_be_no_danger(decision)
    assert Entry.objects.filter(act="report.clear").count() == 1


def test_setting_words_aside_can_be_taken_back(desk):
    report = send(words="the branch is hanging")
    decision = triage.set_danger_words_aside(
        report=report, version=report.version, reason="a swing", by=desk, at=NOON
    )
    back = triage.undo_decision(decision=decision, by=desk, at=NOON)
    assert (back.danger, back.danger_words) == ("hanging_limb", "branch is hanging")
    assert back in Report.objects.in_danger()


def test_who_may_not_decide_sets_no_words_aside():
    report = send(words="the branch is hanging")
    walker = PersonFactory(sign_in="walker", role=Person.Role.VOLUNTEER)
    with pytest.raises(PermissionDenied):
        triage.set_danger_words_aside(
            report=report, version=report.version, reason="no", by=walker, at=NOON
        )


def test_it_needs_a_reason_and_the_version_that_was_seen(desk):
    report = send(words="the branch is hanging")
    with pytest.raises(ValidationError, match="Say why"):
        triage.set_danger_words_aside(
            report=report, version=report.version, reason=" ", by=desk, at=NOON
        )
    with pytest.raises(triage.Outdated):
        triage.set_danger_words_aside(
            report=report, version=report.version + 1, reason="a swing", by=desk, at=NOON
        )
    report.refresh_from_db()
    assert report.danger == "hanging_limb"


def test_a_ticked_danger_is_not_set_aside_as_words(desk):
    report = send(danger="wire", words="the branch is hanging")
    with pytest.raises(ValidationError, match="No danger was read"):
        triage.set_danger_words_aside(
            report=report, version=report.version, reason="a swing", by=desk, at=NOON
        )


def test_once_the_desk_marked_it_only_somebody_qualified_ends_it(desk):
    report = send(words="the branch is hanging")
    triage.mark_danger(
        report=report, version=report.version, danger="crack", reason="seen", by=desk, at=NOON
    )
    report.refresh_from_db()
    assert report.danger_words == ""
    with pytest.raises(ValidationError):
        triage.set_danger_words_aside(
            report=report, version=report.version, reason="a swing", by=desk, at=NOON
        )
    with pytest.raises(PermissionDenied):
        triage.clear_danger(
            report=report, version=report.version, reason="looked", by=desk, at=NOON
        )


def test_an_answer_that_speaks_of_a_hazard_marks_the_report():
    report = ReportFactory(state="asked")
    write_reply(report=report, words="Now the trunk is split.", client_ref=uuid.uuid4(), at=NOON)
    report.refresh_from_db()
    assert (report.danger, report.danger_words, report.state) == ("crack", "trunk is split", "new")


def test_an_answer_leaves_an_open_danger_as_it_is():
    report = ReportFactory(state="asked", danger="wire")
    write_reply(report=report, words="The trunk is split.", client_ref=uuid.uuid4(), at=NOON)
    report.refresh_from_db()
    assert (report.danger, report.danger_words) == ("wire", "")


def test_an_answer_without_a_hazard_opens_no_cleared_danger():
    cleared = {"danger": "wire", "danger_cleared_at": NOON, "danger_cleared_by": "person:x"}
    report = ReportFactory(state="asked", **cleared)
    write_reply(report=report, words="Thank you.", client_ref=uuid.uuid4(), at=NOON)
    report.refresh_from_db()
    assert report.danger_cleared_at == NOON


def test_a_hazard_written_after_the_clearing_is_open_again():
    cleared = {"danger": "wire", "danger_cleared_at": NOON, "danger_cleared_by": "person:x"}
    report = ReportFactory(state="asked", **cleared)
    later = NOON + timedelta(days=1)
    write_reply(report=report, words="The trunk is split.", client_ref=uuid.uuid4(), at=later)
    report.refresh_from_db()
    assert report in Report.objects.in_danger()
    line = Entry.objects.filter(act="report.replied").get()
    assert line.detail["danger_before"] == "wire"


def test_placing_a_report_reads_no_words_again(desk):
    report = send(words="the branch is hanging")
    triage.set_danger_words_aside(
        report=report, version=report.version, reason="a swing", by=desk, at=NOON
    )
    report.refresh_from_db()
    tree = TreeFactory(site__area=report.area, planting__area=report.area)
    triage.place_report(report=report, version=report.version, by=desk, at=NOON, tree=tree)
    report.refresh_from_db()
    assert report.danger == ""


def test_what_is_kept_of_a_long_phrase_is_cut_between_words():
    gap = "x" * 90
    danger, words = typed_danger(f"branch {gap} {gap} {gap} hanging")
    assert danger == "hanging_limb"
    assert len(words) <= MOST_WORDS_KEPT
    assert words == f"branch {gap} {gap}"


def test_the_phrase_is_found_again_in_its_text():
    text = "Look: the branch\n is hanging."
    _danger, words = typed_danger(text)
    assert parts_around(text, words) == ("Look: the ", "branch\n is hanging", ".")
    assert parts_around("something else", words) is None
    assert parts_around("anything", "") is None


def test_an_ordinary_clearing_is_not_taken_for_words_set_aside():
    decision = Decision(outcome="clear", before={"danger_cleared_at": None})
    assert not said_to_be_no_danger(decision)
