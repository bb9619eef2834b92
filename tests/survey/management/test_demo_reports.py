"""Reports, mail and orders of the demo towns agree with each other."""

from collections import Counter
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Count, Exists, F, OuterRef

from survey.chores.models import Chore
from survey.chores.registry import questions
from survey.handbook.book import book
from survey.people.models import Contact, Mail, Person
from survey.reports.matching import as_seen
from survey.reports.models import Decision, Report, ReportSign
from survey.trees.models import (
    Area,
    CareGiven,
    Permission,
)
from survey.workorders.models import OrderLine, WorkOrder

TODAY = date(2026, 6, 16)
NOW = datetime.combine(TODAY, time(0, 35), ZoneInfo("Atlantic/Azores"))


def _reports(**where):
    return Report.objects.filter(area__ref="pellworth", **where)


class TestReports:
    def test_every_state_occurs(self, demo):
        states = Counter(_reports().values_list("state", flat=True))
        assert set(states) == set(Report.State.values)
        assert states["answered"] > 300
        assert states["ordered"] > 150
        assert states["joined"] > 80

    def test_they_are_numbered_through_each_day_in_the_order_they_came(self, demo):
        for area in Area.objects.all():
            by_day = {}
            for report in Report.objects.filter(area=area).order_by("submitted_at", "number"):
                by_day.setdefault(report.day, []).append(report)
            for day, reports in by_day.items():
                assert [r.number for r in reports] == list(range(1, len(reports) + 1)), day
                zone = ZoneInfo(area.time_zone)
                assert {r.submitted_at.astimezone(zone).date() for r in reports} == {day}

    def test_the_desk_finds_a_mornings_work_of_many_kinds(self, demo):
        waiting = _reports().undecided()
        assert 28 <= waiting.count() <= 40
        assert waiting.filter(state="asked").count() >= 3
        assert waiting.filter(state="new", replies__isnull=False).distinct().count() >= 3
        kinds = set(ReportSign.objects.filter(report__in=waiting).values_list("sign", flat=True))
        assert len(kinds) >= 8
        assert waiting.filter(language="es").exists()
        assert waiting.exclude(photos=None).exists()
        assert waiting.exclude(likely_same_as=None).exists()

    def test_a_few_dangers_are_open_and_all_others_were_cleared_by_somebody_qualified(self, demo):
        open_now = _reports().in_danger()
        assert 2 <= open_now.count() <= 6
        assert min(open_now.values_list("day", flat=True)) >= TODAY - timedelta(days=1)
        qualified = {f"person:{p.key}" for p in Person.objects.exclude(qualified_until=None)}
        cleared = Report.objects.exclude(danger_cleared_at=None)
        assert cleared.count() >= 20
        assert set(cleared.values_list("danger_cleared_by", flat=True)) <= qualified
        without = cleared.exclude(decisions__outcome="clear")
        assert not without.exists()

    def test_a_report_is_ordered_exactly_when_an_order_and_a_decision_stand_behind_it(self, demo):
        live = WorkOrder.objects.exclude(state="dropped").filter(reports=OuterRef("pk"))
        decided = Decision.objects.standing().filter(report=OuterRef("pk"), outcome="order")
        for report in Report.objects.annotate(
            has_order=Exists(live), was_decided=Exists(decided)
        ).only("state", "client_ref"):
            ordered = report.state == "ordered"
            assert report.has_order == ordered, report.client_ref
            assert report.was_decided == ordered, report.client_ref

    def test_the_last_standing_decision_says_the_state(self, demo):
        said = {"answer": "answered", "ask": "asked", "join": "joined", "order": "ordered"}
        for report in Report.objects.prefetch_related("decisions", "replies"):
            standing = [
                d
                for d in report.decisions.all()
                if d.undone_at is None and d.outcome not in ("danger", "clear")
            ]
            if not standing:
                assert report.state == "new"
                continue
            last = standing[-1]
            replied = any(reply.at > last.at for reply in report.replies.all())
            expected = "new" if replied else said.get(last.outcome, last.outcome)
            assert report.state == expected, report.client_ref

    def test_the_version_counts_what_changed_the_report(self, demo):
        for report in Report.objects.prefetch_related("decisions", "replies"):
            undone = sum(d.undone_at is not None for d in report.decisions.all())
            changes = report.decisions.all().count() + report.replies.all().count() + undone
            assert report.version == changes

    def test_decisions_come_after_the_report_and_before_now(self, demo):
        assert not Decision.objects.filter(at__lte=F("report__submitted_at")).exists()
        assert not Decision.objects.filter(report__area__ref="pellworth", at__gt=NOW).exists()

    def test_joined_reports_lead_to_one_that_is_not_joined_itself(self, demo):
        joined = Report.objects.filter(state="joined")
        assert not joined.exclude(joined_to__joined_to=None).exists()
        assert not joined.exclude(tree=F("joined_to__tree")).exists()
        chains = Report.objects.annotate(n=Count("joined")).filter(n__gte=3)
        assert chains.exists()

    def test_a_report_of_a_known_tree_made_the_look_that_the_reports_room_would_make(self, demo):
        checked = 0
        reports = Report.objects.select_related("tree").prefetch_related("signs", "looks__signs")
        for report in reports:
            seen = as_seen(report)
            looks = list(report.looks.all())
            if seen is None or report.seen_on < report.tree.planted_from:
                assert not looks
                continue
            (look,) = looks
            assert (look.tree_id, look.day, look.trained, look.channel) == (
                report.tree_id,
                report.seen_on,
                False,
                "complaint",
            )
            assert (look.presence, look.condition) == (seen.presence, seen.condition)
            assert {(s.sign, s.extent, s.side) for s in look.signs.all()} == {
                (s.sign, s.extent, s.side) for s in seen.signs
            }
            assert look.repeat_key == f"report:{report.client_ref}"
            checked += 1
        assert checked > 900

    def test_nothing_is_left_for_the_nightly_questions_to_mend(self, demo):
        known = {
            name
            for name in questions
            if name.startswith(("survey.reports", "survey.photos", "survey.workorders"))
        }
        assert known
        assert {name: found for name in known if (found := list(questions[name]()))} == {}


class TestMail:
    def test_mail_was_sent_waits_and_is_told_by_phone(self, demo):
        states = Counter(Mail.objects.values_list("state", flat=True))
        assert states["sent"] > 500
        assert states["waiting"] >= 1
        assert states["by_phone"] >= 2

    def test_every_waiting_letter_has_its_chore(self, demo):
        waiting = {str(pk) for pk in Mail.objects.waiting().values_list("pk", flat=True)}
        chores = Chore.objects.filter(kind="send_mail", state="waiting")
        assert waiting == set(chores.values_list("key", flat=True))

    def test_a_letter_says_what_its_decision_says(self, demo):
        told = Decision.objects.exclude(mail=None).select_related("mail")
        assert told.count() > 500
        assert all(decision.mail.body == decision.message for decision in told)

    def test_contacts_are_invented_and_erased_after_a_year(self, demo):
        for contact in Contact.objects.filter(erased_at=None):
            assert contact.email.endswith(".example") or contact.phone.startswith("555 ")
        old = Contact.objects.filter(
            reports__area__ref="pellworth", created_at__lt=NOW - timedelta(days=366)
        )
        assert old.exists()
        assert not old.filter(erased_at=None).exists()


class TestOrders:
    def test_every_state_occurs(self, demo):
        orders = WorkOrder.objects.filter(area__ref="pellworth")
        assert set(orders.values_list("state", flat=True)) == set(WorkOrder.State.values)

    def test_they_are_numbered_from_one_in_the_order_they_were_written(self, demo):
        orders = WorkOrder.objects.filter(area__ref="pellworth").order_by("created_at", "number")
        assert [o.number for o in orders] == list(range(1, orders.count() + 1))

    def test_an_order_is_confirmed_exactly_when_every_given_line_was_looked_at(self, demo):
        for order in WorkOrder.objects.filter(state__in=["done", "confirmed"]):
            given = order.lines.filter(outcome="given")
            seen = given.exists() and not given.filter(look=None).exists()
            assert seen == (order.state == "confirmed"), order

    def test_done_work_had_leave_from_the_owner_of_the_ground(self, demo):
        workers = {"volunteer": "volunteer", "crew": "crew", "arborist": "crew"}
        done = OrderLine.objects.filter(outcome="given").select_related("order", "tree__site")
        for line in done:
            leave = Permission.objects.filter(
                land_manager=line.tree.site.land_manager_id, care=line.care
            ).on(line.order.done_on)
            assert leave.for_workers(workers[line.order.who]).exists(), line
            assert line.order.who in book().care[line.care].who

    def test_care_given_is_on_the_trees_record(self, demo):
        assert CareGiven.objects.count() == OrderLine.objects.filter(outcome="given").count() > 300
