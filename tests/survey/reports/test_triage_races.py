"""Several people decide about one report at the same moment: one of them wins."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.exceptions import ValidationError
from django.db import connections

from survey.people.models import Mail
from survey.reports.actions import triage
from survey.reports.models import Decision, Report
from tests.factories import NOON, AreaFactory, ContactFactory, PersonFactory, ReportFactory

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("emptied_audit"),
]


def at_once(work, times):
    """Call `work(n)` from that many threads at once; return what each returns or raises."""
    start = threading.Barrier(times)

    def one(n):
        try:
            start.wait(20)
            return work(n)
        except Exception as trouble:  # noqa: BLE001 - handed to the test, which looks at it
            return trouble
        finally:
            connections.close_all()

    with ThreadPoolExecutor(times) as pool:
        return list(pool.map(one, range(times)))


def test_eight_people_decide_and_seven_are_told():
    people = PersonFactory.create_batch(8)
    for _ in range(5):
        report = ReportFactory(contact=ContactFactory())
        actions = [triage.answer_report, triage.ask_back, triage.set_aside_report]

        def decide(n, report=report, actions=actions):
            return actions[n % 3](
                report=report, version=0, reason=f"{n}", message=f"{n}", by=people[n], at=NOON
            )

        ended = at_once(decide, 8)
        won = [end for end in ended if isinstance(end, Decision)]
        lost = [end for end in ended if isinstance(end, triage.Outdated)]
        assert (len(won), len(lost)) == (1, 7), ended
        assert {end.last.pk for end in lost} == {won[0].pk}
        report.refresh_from_db()
        assert report.version == 1
        assert Mail.objects.filter(contact=report.contact).count() == 1


def test_two_reports_joined_to_each_other_make_no_ring():
    by = PersonFactory()
    for _ in range(10):
        one, two = ReportFactory.create_batch(2)

        def join(n, pair=(one, two)):
            return triage.join_report(
                report=pair[n],
                other=pair[1 - n],
                version=0,
                reason="the same",
                message="",
                by=by,
                at=NOON,
            )

        ended = at_once(join, 2)
        assert sorted(isinstance(end, Decision) for end in ended) == [False, True], ended
        assert sum(isinstance(end, ValidationError) for end in ended) == 1, ended
        joined = Report.objects.filter(pk__in=[one.pk, two.pk]).exclude(joined_to=None)
        assert joined.count() == 1


def test_a_chain_of_joins_at_once_stays_one_step_deep():
    by = PersonFactory()
    AreaFactory()
    for _ in range(10):
        row = ReportFactory.create_batch(4)

        def join(n, row=row):
            return triage.join_report(
                report=row[n],
                other=row[n + 1],
                version=0,
                reason="the same",
                message="",
                by=by,
                at=NOON,
            )

        at_once(join, 3)
        deep = Report.objects.filter(joined_to__joined_to__isnull=False)
        assert not deep.exists()


def test_an_undo_and_a_new_decision_at_once_leave_one_of_them():
    by = PersonFactory()
    for _ in range(10):
        report = ReportFactory(contact=ContactFactory())
        first = triage.answer_report(
            report=report, version=0, reason="a", message="a", by=by, at=NOON
        )

        def act(n, report=report, first=first):
            if n:
                return triage.undo_decision(decision=first, by=by, at=NOON)
            return triage.set_aside_report(
                report=report, version=1, reason="b", message="", by=by, at=NOON
            )

        ended = at_once(act, 2)
        troubles = [end for end in ended if isinstance(end, Exception)]
        assert len(troubles) == 1, ended
        assert isinstance(troubles[0], triage.TooLate | triage.Outdated)
        report.refresh_from_db()
        assert report.version == 2


def test_a_note_saved_by_two_windows_at_once_is_one_note():
    by = PersonFactory()
    report = ReportFactory()
    ended = at_once(
        lambda n: triage.keep_desk_note(
            report=report, fields={"reason": str(n)}, seen_version=0, by=by, at=NOON
        ),
        4,
    )
    assert not [end for end in ended if isinstance(end, Exception)], ended
    assert report.desk_notes.count() == 1
