"""The same report sent many times at once is one; many at once get each a number of their own."""

import threading
import uuid
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connections
from django.utils import timezone

from survey.chores.models import Chore
from survey.reports.actions.drafts import start_draft, submit_draft
from survey.reports.actions.intake import submit_report, write_reply
from survey.reports.models import Draft, Reply, Report
from tests.factories import NOON, AreaFactory, ReportFactory

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("emptied_audit"),
]


def at_once(work, times=8):
    """Call `work(n)` from that many threads at once; return what each returns."""
    start = threading.Barrier(times)

    def one(n):
        try:
            start.wait(20)
            return work(n)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(times) as pool:
        return list(pool.map(one, range(times)))


def test_eight_clicks_on_send_are_one_report_and_one_receipt():
    area = AreaFactory()
    for _ in range(3):
        _draft, key = start_draft(
            area=area,
            at=timezone.now(),
            answers={"landmark": "by the well", "seen_on": "2026-06-16"},
        )
        before = Report.objects.count()
        ended = at_once(lambda _n, key=key: submit_draft(key=key, at=NOON, language="en"))
        assert Report.objects.count() == before + 1
        assert {(report.pk, secret) for report, secret in ended} == {
            (ended[0][0].pk, ended[0][1]),
        }
        assert not Draft.objects.exists()


def test_one_phone_that_sends_eight_times_over_makes_one_report():
    area, ref = AreaFactory(), uuid.uuid4()
    ended = at_once(
        lambda _n: submit_report(client_ref=ref, area=area, at=NOON, landmark="by the well")
    )
    report = Report.objects.get()
    assert {found.pk for found, _secret in ended} == {report.pk}
    assert sum(secret is not None for _found, secret in ended) == 1
    assert Chore.objects.filter(kind="match_report").count() == 1


def test_eight_neighbors_at_once_get_eight_numbers_without_a_gap():
    area = AreaFactory()
    ended = at_once(
        lambda n: submit_report(client_ref=uuid.uuid4(), area=area, at=NOON, landmark=f"{n}")
    )
    assert sorted(report.number for report, _secret in ended) == list(range(1, 9))


def test_a_reply_sent_eight_times_is_one_reply():
    report, ref = ReportFactory(state="asked"), uuid.uuid4()
    ended = at_once(lambda _n: write_reply(report=report, words="Yes", client_ref=ref, at=NOON))
    assert Reply.objects.count() == 1
    assert len({reply.pk for reply in ended}) == 1
    report.refresh_from_db()
    assert report.version == 1
