"""Several people act on orders at the same moment."""

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest
from django.db import connections

from survey.audit.outdated import Outdated
from survey.trees.models import CareGiven
from survey.workorders.actions import LineResult, draft_order, report_done
from survey.workorders.models import WorkOrder
from tests.factories import NOON, TODAY, OrderLineFactory, PersonFactory, TreeFactory

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
        except Outdated as told:
            return told
        finally:
            connections.close_all()

    with ThreadPoolExecutor(times) as pool:
        return list(pool.map(one, range(times)))


def test_orders_drafted_at_once_get_numbers_in_a_row():
    tree, by = TreeFactory(), PersonFactory()

    def draft(n):
        return draft_order(
            area=tree.area,
            why=f"reason {n}",
            who="crew",
            window_from=TODAY,
            window_to=date(2026, 7, 16),
            lines=[(tree, "water", "")],
            by=by,
            at=NOON,
        )

    assert sorted(order.number for order in at_once(draft, 6)) == [1, 2, 3, 4, 5, 6]


def test_work_reported_by_several_at_once_is_written_down_once():
    line, by = OrderLineFactory(), PersonFactory(role="crew")

    def done(n):
        return report_done(
            order=line.order,
            version=0,
            done_on=TODAY,
            done_by=f"Team {n}",
            results={line.pk: LineResult("given", "the owner was there")},
            by=by,
            at=NOON,
        )

    ended = at_once(done, 4)
    assert sum(isinstance(end, WorkOrder) for end in ended) == 1
    assert sum(isinstance(end, Outdated) for end in ended) == 3
    assert CareGiven.objects.count() == 1
