"""The desk's queue: who stands where, why, and how the desk keeps up."""

from datetime import timedelta

import pytest

from survey.reports import queue
from survey.reports.models import Decision, Reply, Report
from survey.reports.queue import Asked
from tests.factories import (
    NOON,
    TODAY,
    AreaFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def area():
    return AreaFactory()


def waited(days, **fields):
    moment = NOON - timedelta(days=days)
    return ReportFactory(day=moment.date(), submitted_at=moment, **fields)


def why(area, report, asked=Asked()):  # noqa: B008 - a frozen record
    found = [group.why for group in queue.groups(area, asked, most=50) if report.pk in group.keys]
    return found[0] if found else None


def test_each_report_is_here_for_the_first_reason_that_fits(area):
    replied = ReportFactory()
    Reply.objects.create(report=replied, words="Yes.", at=NOON)
    first = ReportFactory(weight=1)
    ReportFactory(state="joined", joined_to=first)
    likely = ReportFactory(likely_same_as=ReportFactory(state="answered"))
    told_twice = ReportFactory()
    ReportFactory(likely_same_as=told_twice, weight=8)
    expected = {
        ReportFactory(danger="wire", weight=0): "danger",
        ReportFactory(danger="wire", state="answered"): "danger",
        replied: "replied",
        first: "voices",
        likely: "voices",
        told_twice: "voices",
        ReportFactory(weight=4): "heavy",
        waited(4, weight=3.9): "waited",
        waited(3, weight=3.9): "new",
        ReportFactory(weight=0): "new",
        ReportFactory(state="asked", weight=8): "asked",
        ReportFactory(state="answered"): None,
        ReportFactory(
            state="answered", danger="wire", danger_cleared_at=NOON, danger_cleared_by="person:q"
        ): None,
    }
    for report, reason in expected.items():
        assert why(area, report) == reason, (report.pk, reason)


def test_a_repeat_that_was_put_aside_makes_no_second_voice(area):
    report = ReportFactory(weight=0)
    ReportFactory(likely_same_as=report, state="set_aside")
    assert why(area, report) == "new"


def test_inside_a_reason_weight_comes_first_or_age_where_age_is_the_reason(area):
    light, heavy = ReportFactory(weight=1), ReportFactory(weight=2)
    older_heavy = ReportFactory(weight=2, submitted_at=NOON - timedelta(hours=1))
    young, old = waited(5, weight=3), waited(9, weight=0)
    keys = {group.why: group.keys for group in queue.groups(area, Asked(), most=9)}
    assert keys["new"] == (older_heavy.pk, heavy.pk, light.pk)
    assert keys["waited"] == (old.pk, young.pk)
    assert list(queue.of_reason(area, Asked(), "waited")) == [old, young]
    assert list(queue.of_reason(area, Asked(), "new")) == [older_heavy, heavy, light]


def test_groups_count_all_and_show_some_but_hide_no_danger(area):
    ReportFactory.create_batch(8, weight=1)
    ReportFactory.create_batch(8, danger="crack")
    shown = {group.why: group for group in queue.groups(area, Asked(), most=3)}
    assert (shown["new"].count, len(shown["new"].keys), shown["new"].hidden) == (8, 3, 5)
    assert (shown["danger"].count, shown["danger"].hidden) == (8, 0)


def test_the_sentence_narrows_what_is_shown(area):
    site = SiteFactory()
    here = ReportFactory(tree=TreeFactory(site=site), language="es")
    there, wire = ReportFactory(), ReportFactory(danger="wire")
    done = ReportFactory(state="answered")
    far = AreaFactory(ref="birchfield", name="Birchfield", is_home=False)
    ReportFactory(tree=TreeFactory(planting__area=far, site__area=far))
    cases = {
        Asked(): {here, there, wire},
        Asked(site=site): {here},
        Asked(language="es"): {here},
        Asked(danger=True): {wire},
        Asked(state="answered"): {done},
        Asked(state="all"): {here, there, wire, done},
    }
    for asked, expected in cases.items():
        assert set(queue.chosen(area, asked)) == expected, asked


def test_what_to_take_next_leaves_out_the_one_at_hand(area):
    new, danger = ReportFactory(weight=1), ReportFactory(danger="wire")
    assert queue.next_keys(area, most=5) == [(danger.pk, "danger"), (new.pk, "new")]
    assert queue.next_keys(area, most=5, but=danger.pk) == [(new.pk, "new")]


def test_what_follows_a_report_is_what_stands_below_it(area):
    light, heavy = ReportFactory(weight=1), ReportFactory(weight=2)
    twin, danger = ReportFactory(weight=1), ReportFactory(danger="wire")
    done = ReportFactory(state="answered")
    lined_up = [(danger.pk, "danger"), (heavy.pk, "new"), (light.pk, "new"), (twin.pk, "new")]
    assert queue.next_keys(area, most=9) == lined_up
    for n, (key, _why) in enumerate(lined_up):
        assert queue.keys_from(area, key, most=9) == lined_up[n:]
    assert queue.keys_from(area, heavy.pk, most=2) == lined_up[1:3]
    assert queue.keys_from(area, done.pk, most=9) == []


def test_the_pace_counts_days_of_the_town_not_of_the_server(area):
    report = waited(1)
    waited(40)

    def decided(at, undone=False):
        Decision.objects.create(
            report=report,
            outcome="answer",
            at=at,
            by="person:desk",
            reason="seen",
            undone_at=at if undone else None,
            undone_by="person:desk" if undone else "",
        )

    # In June the Azores are at UTC (summer time of UTC-1), so their day is that of UTC.
    decided(NOON)
    decided(NOON.replace(hour=23, minute=59))
    decided(NOON, undone=True)
    decided(NOON - timedelta(days=27))
    decided(NOON - timedelta(days=28))
    pace = queue.pace(area)
    assert (len(pace.days), pace.days[-1]) == (28, TODAY)
    assert (pace.came[-2], sum(pace.came)) == (1, 1)
    assert (pace.today, pace.decided[0], sum(pace.decided)) == (2, 1, 3)


def test_days_waited_counts_what_waits_for_the_desk(area):
    waited(0)
    waited(2)
    waited(2)
    waited(5, state="asked")
    waited(7, state="answered")
    assert queue.days_waited(area, Asked()) == [1, 0, 2]
    Report.objects.update(state="answered")
    assert queue.days_waited(area, Asked()) == []


def test_what_arrived_since_is_counted(area):
    newest = queue.newest_key(area)
    assert (newest, queue.arrived_since(area, newest)) == (0, 0)
    report = ReportFactory()
    assert queue.newest_key(area) == report.pk
    assert queue.arrived_since(area, newest) == 1


def test_questions_stay_few_however_many_reports_there_are(area, django_assert_num_queries):
    ReportFactory.create_batch(12, weight=1)
    with django_assert_num_queries(2):
        queue.groups(area, Asked(), most=5)
    with django_assert_num_queries(1):
        queue.next_keys(area, most=9)
    with django_assert_num_queries(2):
        queue.pace(area)


def test_voices_replies_and_photos_are_counted_apart(area):
    first = ReportFactory()
    for _ in range(3):
        ReportFactory(state="joined", joined_to=first)
    for n in range(2):
        Reply.objects.create(report=first, words="x", at=NOON + timedelta(hours=n))
    row = Report.objects.with_queue_place().get(pk=first.pk)
    assert (row.voices, row.photo_count, row.is_danger) == (3, 0, False)
    assert row.replied_at == NOON + timedelta(hours=1)
