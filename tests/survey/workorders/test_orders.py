"""Orders are drafted, changed, planned, done, dropped."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.audit.outdated import Outdated
from survey.reports.models import Report
from survey.trees.models import CareGiven, Permission, Tree
from survey.workorders.actions import (
    LineResult,
    change_order,
    draft_dead_tree_orders,
    draft_order,
    drop_order,
    plan_order,
    register_replacement,
    report_done,
)
from survey.workorders.models import WorkOrder
from tests.factories import (
    NOON,
    TODAY,
    AreaFactory,
    LandManagerFactory,
    LookFactory,
    PersonFactory,
    PhotoFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db

LATER = date(2026, 7, 16)


@pytest.fixture
def staff():
    return PersonFactory()


@pytest.fixture
def site():
    owner = LandManagerFactory()
    for care in ("water", "mulch_ring", "find_cause", "remove_dead_tree", "replace", "berm"):
        Permission.objects.create(
            land_manager=owner, care=care, who="anybody", from_day=TODAY, to_day=LATER
        )
    return SiteFactory(land_manager=owner)


@pytest.fixture
def tree(site):
    return TreeFactory(site=site)


def draft(by, *trees, care="water", **more):
    fields = {"area": AreaFactory(), "why": "dry", "who": "crew"}
    fields |= {"window_from": TODAY, "window_to": LATER, "lines": [(t, care, "") for t in trees]}
    return draft_order(by=by, at=NOON, **fields | more)


def plan(order, by, **more):
    fields = {"planned_for": date(2026, 6, 20), "team": "Team A", "version": order.version}
    return plan_order(order=order, by=by, at=NOON, **fields | more)


def done(order, by, *, outcome="given", remark="", left="", **more):
    results = {line.pk: LineResult(outcome, remark, left) for line in order.lines.all()}
    fields = {"version": order.version, "done_on": TODAY, "done_by": "Team A", "results": results}
    return report_done(order=order, by=by, at=NOON, **fields | more)


def refused(error) -> set[str]:
    return set(error.value.error_dict)


def test_orders_are_numbered_one_after_another_in_each_town(staff, tree):
    assert [draft(staff, tree).number for _ in range(3)] == [1, 2, 3]
    elsewhere = AreaFactory(ref="elsewhere", is_home=False)
    other = TreeFactory(planting__area=elsewhere, site__area=elsewhere)
    assert draft(staff, other, area=elsewhere).number == 1


def test_a_number_is_not_used_again(staff, tree):
    drop_order(order=draft(staff, tree), version=0, reason="not needed", by=staff, at=NOON)
    assert draft(staff, tree).number == 2


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"why": "  "}, "why"),
        ({"why": "x" * 501}, "why"),
        ({"who": "anyone"}, "who"),
        ({"window_to": date(2026, 6, 15)}, "window_to"),
        ({"window_from": date(2026, 5, 1), "window_to": date(2026, 5, 2)}, "window_to"),
        ({"lines": []}, "lines"),
    ],
)
def test_an_order_that_makes_no_sense_is_refused_at_its_field(staff, tree, bad, field):
    with pytest.raises(ValidationError) as error:
        draft(staff, tree, **bad)
    assert refused(error) == {field}
    assert not WorkOrder.objects.exists()


@pytest.mark.parametrize(
    "lines",
    [
        lambda tree: [(tree, "singing", "")],
        lambda tree: [(tree, "water", ""), (tree, "water", "5 gal")],
        lambda tree: [(tree, "water", "x" * 161)],
        lambda tree: [
            (TreeFactory(left="died", left_from=TODAY, left_to=TODAY), "water", ""),
        ],
        lambda tree: [
            (TreeFactory(planting__area=AreaFactory(ref="b", is_home=False)), "water", ""),
        ],
    ],
)
def test_a_line_that_makes_no_sense_is_refused(staff, tree, lines):
    with pytest.raises(ValidationError) as error:
        draft(staff, lines=lines(tree))
    assert refused(error) == {"lines"}
    assert not WorkOrder.objects.exists()


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_only_staff_plan_work(role, staff, tree):
    person = PersonFactory(role=role)
    order = draft(staff, tree)
    with pytest.raises(PermissionDenied):
        draft(person, tree)
    with pytest.raises(PermissionDenied):
        plan(order, person)
    with pytest.raises(PermissionDenied):
        drop_order(order=order, version=0, reason="no", by=person, at=NOON)
    with pytest.raises(PermissionDenied):
        change(order, person)


def test_an_order_closes_its_report_and_dropping_it_opens_the_report_again(staff, tree):
    report = ReportFactory(tree=tree)
    order = draft(staff, tree, reports=[report], message="We will water it.")
    report.refresh_from_db()
    assert report.state == Report.State.ORDERED
    assert report.decisions.get().message == "We will water it."
    drop_order(order=order, version=0, reason="it rained", by=staff, at=NOON)
    report.refresh_from_db()
    assert report.state == Report.State.NEW
    assert Entry.objects.filter(act="order.dropped").exists()


def test_a_report_with_two_orders_opens_when_the_last_is_dropped(staff, tree):
    report = ReportFactory(tree=tree)
    first, second = (draft(staff, tree, reports=[report]) for _ in range(2))
    drop_order(order=first, version=0, reason="no", by=staff, at=NOON)
    report.refresh_from_db()
    assert report.state == Report.State.ORDERED
    drop_order(order=second, version=0, reason="no", by=staff, at=NOON)
    report.refresh_from_db()
    assert report.state == Report.State.NEW


def test_a_report_that_was_decided_meanwhile_stops_the_whole_draft(staff, tree):
    report = ReportFactory(tree=tree)
    Report.objects.filter(pk=report.pk).update(version=3, state="answered")
    with pytest.raises(Outdated):
        draft(staff, tree, reports=[report], versions={report.pk: 0})
    assert not WorkOrder.objects.exists()


def test_a_dead_tree_gets_three_orders_each_for_the_right_people(staff, tree):
    report = ReportFactory(tree=tree)
    orders = draft_dead_tree_orders(
        tree=tree,
        why="dead on two visits",
        window_from=TODAY,
        window_to=LATER,
        reports=[report],
        by=staff,
        at=NOON,
    )
    assert [(order.lines.get().care, order.who) for order in orders] == [
        ("find_cause", "volunteer"),
        ("remove_dead_tree", "crew"),
        ("replace", "crew"),
    ]
    assert report.orders.count() == 3


def change(order, by, **more):
    fields = {"why": order.why, "who": order.who}
    fields |= {"window_from": order.window_from, "window_to": order.window_to}
    fields |= {"lines": [(row.tree, row.care, row.dose) for row in order.lines.all()]}
    return change_order(order=order, by=by, at=NOON, **{"version": order.version} | fields | more)


def test_a_changed_order_keeps_the_lines_that_stay(staff, tree, site):
    order = draft(staff, tree)
    kept = order.lines.get()
    other = TreeFactory(site=site)
    changed = change(order, staff, lines=[(tree, "water", "5 gal"), (other, "mulch_ring", "")])
    kept.refresh_from_db()
    assert kept.dose == "5 gal"
    assert set(changed.lines.values_list("tree", "care")) == {
        (tree.pk, "water"),
        (other.pk, "mulch_ring"),
    }
    assert changed.version == 1


def test_a_planned_order_that_is_changed_becomes_a_draft(staff, tree):
    order = plan(draft(staff, tree), staff)
    assert change(order, staff, why="drier").state == "drafted"


def test_a_line_for_a_tree_that_left_may_stay_but_is_not_added(staff, tree, site):
    order = draft(staff, tree)
    Tree.objects.update(left="lost", left_from=TODAY, left_to=TODAY)
    assert change(order, staff, why="other").why == "other"
    order.refresh_from_db()
    with pytest.raises(ValidationError) as error:
        change(order, staff, lines=[(Tree.objects.get(), "mulch_ring", "")])
    assert refused(error) == {"lines"}


def test_an_order_without_lines_is_refused(staff, tree):
    with pytest.raises(ValidationError) as error:
        change(draft(staff, tree), staff, lines=[])
    assert refused(error) == {"lines"}


def test_an_order_is_planned(staff, tree):
    order = plan(draft(staff, tree), staff)
    assert (order.state, order.planned_for, order.team) == ("planned", date(2026, 6, 20), "Team A")


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"planned_for": date(2026, 7, 17)}, "planned_for"),
        ({"planned_for": date(2026, 6, 15)}, "planned_for"),
        ({"utility_ticket": "A12"}, "utility_ticket"),
        ({"utility_ticket_until": TODAY}, "utility_ticket"),
        ({"team": "x" * 121}, "team"),
    ],
)
def test_a_plan_that_makes_no_sense_is_refused_at_its_field(staff, tree, bad, field):
    order = draft(staff, tree)
    with pytest.raises(ValidationError) as error:
        plan(order, staff, **bad)
    assert refused(error) == {field}


def test_a_day_that_is_over_is_not_planned(staff, tree):
    order = draft(staff, tree, window_from=date(2026, 6, 1))
    with pytest.raises(ValidationError) as error:
        plan(order, staff, planned_for=date(2026, 6, 10))
    assert refused(error) == {"planned_for"}


def test_nothing_is_planned_near_an_open_danger_until_it_is_cleared(staff, tree):
    order = draft(staff, tree)
    report = ReportFactory(tree=tree, danger="limb")
    with pytest.raises(ValidationError) as error:
        plan(order, staff)
    assert "Open danger" in str(error.value)
    Report.objects.filter(pk=report.pk).update(danger_cleared_at=NOON, danger_cleared_by="person:x")
    assert plan(order, staff).state == "planned"


def test_every_blocking_reason_is_given_at_once(staff):
    order = draft(staff, TreeFactory(), care="berm")
    with pytest.raises(ValidationError) as error:
        plan(order, staff)
    assert len(error.value.error_dict["planned_for"]) == 2  # nobody owns it, and no ticket


def test_the_second_of_two_people_is_told_and_nothing_is_written(staff, tree):
    order = draft(staff, tree)
    plan(order, staff)
    with pytest.raises(Outdated) as told:
        drop_order(order=order, version=0, reason="no", by=staff, at=NOON)
    assert told.value.current.state == "planned"
    order.refresh_from_db()
    assert order.state == "planned"


def test_a_done_order_is_neither_planned_changed_nor_dropped(staff, tree):
    order = done(draft(staff, tree), staff)
    for act in (
        lambda: plan(order, staff),
        lambda: change(order, staff),
        lambda: done(order, staff),
        lambda: drop_order(order=order, version=order.version, reason="no", by=staff, at=NOON),
    ):
        with pytest.raises(ValidationError, match="cannot be done any more"):
            act()


def test_dropping_needs_a_reason(staff, tree):
    with pytest.raises(ValidationError) as error:
        drop_order(order=draft(staff, tree), version=0, reason=" ", by=staff, at=NOON)
    assert refused(error) == {"reason"}


def test_care_that_was_given_becomes_part_of_the_trees_record(staff, tree, site):
    other = TreeFactory(site=site)
    order = draft(staff, lines=[(tree, "water", "12 gal"), (other, "water", "12 gal")])
    first, second = order.lines.order_by("pk")
    photo = PhotoFactory()
    order = done(
        order,
        PersonFactory(role="crew"),
        results={
            first.pk: LineResult("given"),
            second.pk: LineResult("not_done", remark="the ball was wet"),
        },
        notes="two buckets",
        photos=[photo],
    )
    given = CareGiven.objects.get()
    assert (given.tree, given.dose, given.given_to, given.by_whom) == (
        tree,
        "12 gal",
        TODAY,
        "Team A",
    )
    second.refresh_from_db()
    assert (second.outcome, second.remark, second.given) == ("not_done", "the ball was wet", None)
    assert (order.state, order.done_notes) == ("done", "two buckets")
    assert list(order.photos.all()) == [photo]


def test_the_next_look_is_due_in_five_weeks(staff, tree):
    # four to six weeks after the work: common practice, no source; the middle is this project's
    assert done(draft(staff, tree), staff).look_due == TODAY + timedelta(days=35)


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        ({"done_on": date(2026, 6, 17)}, "done_on"),
        ({"done_on": date(2023, 11, 13)}, "done_on"),
        ({"done_by": " "}, "done_by"),
        ({"results": {}}, "lines"),
        ({"outcome": "not_done", "remark": "rain"}, "lines"),
        ({"outcome": "not_done"}, None),
        ({"outcome": "maybe"}, None),
    ],
)
def test_a_report_of_work_that_makes_no_sense_is_refused(staff, tree, bad, field):
    order = draft(staff, tree)
    with pytest.raises(ValidationError) as error:
        done(order, staff, **bad)
    assert refused(error) == {field or f"line{order.lines.get().pk}"}
    assert not CareGiven.objects.exists()
    order.refresh_from_db()
    assert order.state == "drafted"


def test_a_liaison_reports_no_work(staff, tree):
    with pytest.raises(PermissionDenied):
        done(draft(staff, tree), PersonFactory(role="liaison"))


def test_a_tree_that_is_taken_down_leaves_between_the_looks_that_bound_its_death(staff, tree):
    LookFactory(tree=tree, day=date(2025, 6, 1), condition="failing")
    LookFactory(tree=tree, day=date(2026, 5, 1), condition="dead")
    LookFactory(tree=tree, day=date(2026, 6, 1), condition="dead")
    done(draft(staff, tree, care="remove_dead_tree"), staff, left="died", remark="it leaned")
    tree.refresh_from_db()
    assert (tree.left, tree.left_from, tree.left_to) == (
        "died",
        date(2025, 6, 1),
        date(2026, 5, 1),
    )


def test_a_dead_tree_that_nobody_trained_saw_died_some_time_since_planting(staff, tree):
    done(draft(staff, tree, care="remove_dead_tree"), staff, left="died", remark="it leaned")
    tree.refresh_from_db()
    assert (tree.left_from, tree.left_to) == (tree.planted_from, TODAY)


def test_a_living_tree_that_is_taken_down_leaves_on_that_day(staff, tree):
    done(
        draft(staff, tree, care="remove_dead_tree"),
        staff,
        left="removed_health",
        remark="it leaned",
    )
    tree.refresh_from_db()
    assert (tree.left, tree.left_from, tree.left_to) == ("removed_health", TODAY, TODAY)


@pytest.mark.parametrize("left", ["", "lost", "sold"])
def test_it_must_be_said_whether_a_felled_tree_was_dead(staff, tree, left):
    order = draft(staff, tree, care="remove_dead_tree")
    with pytest.raises(ValidationError) as error:
        done(order, staff, left=left)
    assert refused(error) == {f"line{order.lines.get().pk}"}


def test_a_new_tree_stands_in_a_planting_of_its_own(staff, tree):
    done(draft(staff, tree, care="remove_dead_tree"), staff, left="died", remark="it leaned")
    order = done(draft(staff, tree, care="replace"), staff, remark="a gap")
    new = register_replacement(
        line=order.lines.get(),
        species="hornbeam",
        planted_on=TODAY,
        tag="new-0900",
        by=staff,
        at=NOON,
    )
    assert (new.replaces, new.site, new.latitude) == (tree, tree.site, tree.latitude)
    assert new.planting.name == f"Replacements of order {order.number}"
    assert new.planting != tree.planting


def test_no_tree_is_registered_for_a_line_that_planted_none(staff, tree):
    order = done(draft(staff, tree), staff)
    with pytest.raises(ValidationError) as error:
        register_replacement(
            line=order.lines.get(), species="linden", planted_on=TODAY, by=staff, at=NOON
        )
    assert refused(error) == {"line"}


def test_what_was_closed_is_written_down_as_done_with_a_reason_alone(staff):
    tree = TreeFactory(site=SiteFactory(land_manager=LandManagerFactory()))
    order = draft(staff, tree)
    line = order.lines.get()
    with pytest.raises(ValidationError) as error:
        done(order, staff)
    assert refused(error) == {f"line{line.pk}"}
    assert "has not given leave" in error.value.message_dict[f"line{line.pk}"][0]
    line.refresh_from_db()
    assert line.given is None
    done(order, staff, remark="The owner said yes on the spot")
    line.refresh_from_db()
    assert (line.outcome, line.remark) == ("given", "The owner said yes on the spot")
