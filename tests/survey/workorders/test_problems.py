"""What speaks against an order is named."""

from datetime import date

import pytest

from survey.trees.models import Permission
from survey.workorders.problems import problems_of
from tests.factories import (
    LandManagerFactory,
    OrderLineFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
    WorkOrderFactory,
)

pytestmark = pytest.mark.django_db

JUNE = date(2026, 6, 16)
JULY = date(2026, 7, 16)


def order_for(care="water", *, owned=True, **more):
    site = SiteFactory(land_manager=LandManagerFactory() if owned else None)
    order = WorkOrderFactory(**{"window_from": JUNE, "window_to": JULY} | more)
    OrderLineFactory(order=order, tree=TreeFactory(site=site), care=care)
    return order


def allow(order, *, care="water", who="volunteer", first=JUNE, last=JULY):
    owner = order.lines.get().tree.site.land_manager
    Permission.objects.create(land_manager=owner, care=care, who=who, from_day=first, to_day=last)
    return order


def codes(order, **more):
    return [(problem.code, problem.blocking) for problem in problems_of(order, **more)]


def test_watering_with_leave_in_time_has_nothing_against_it():
    assert codes(allow(order_for())) == []


def test_without_leave_nothing_is_planned():
    order = order_for()
    assert codes(order) == [("no_leave", True)]
    assert "Town Gardens has not given leave: “Water” by volunteers." in [
        problem.text for problem in problems_of(order)
    ]


def test_leave_for_crews_is_not_leave_for_volunteers():
    assert codes(allow(order_for(), who="crew")) == [("no_leave", True)]
    assert codes(allow(order_for(), who="anybody")) == []


def test_leave_for_other_work_does_not_count():
    assert codes(allow(order_for(), care="berm")) == [("no_leave", True)]


def test_leave_that_ends_inside_the_window_warns_until_a_day_is_set():
    order = allow(order_for(), last=date(2026, 6, 30))
    assert codes(order) == [("leave_ends", False)]
    assert codes(order, day=date(2026, 6, 30)) == []
    assert codes(order, day=date(2026, 7, 1)) == [("leave_ends", True)]


def test_leave_that_is_over_blocks():
    order = allow(order_for(), first=date(2026, 5, 1), last=date(2026, 6, 1))
    assert codes(order) == [("leave_ends", True)]


def test_leave_that_begins_later_warns_inside_the_window_and_blocks_beyond_it():
    assert codes(allow(order_for(), first=date(2026, 7, 1))) == [("leave_not_begun", False)]
    beyond = allow(order_for(), first=date(2026, 8, 1), last=date(2026, 9, 1))
    assert codes(beyond) == [("leave_not_begun", True)]


def test_two_leaves_without_a_gap_are_one():
    order = allow(order_for(), last=date(2026, 6, 30))
    assert codes(allow(order, first=date(2026, 7, 1))) == []


def test_two_leaves_with_a_gap_are_not():
    order = allow(order_for(), last=date(2026, 6, 30))
    assert codes(allow(order, first=date(2026, 7, 2))) == [("leave_ends", False)]


def test_ground_without_a_known_owner_blocks():
    assert codes(order_for(owned=False)) == [("no_land_manager", True)]


def test_looking_again_needs_no_leave():
    assert codes(order_for("look_again", owned=False)) == []


def test_the_utility_comes_by_its_own_right():
    assert (
        codes(order_for("replace", owned=False, who="utility", window_from=date(2026, 3, 1))) == []
    )


def test_digging_needs_an_answered_ticket_valid_on_the_day():
    order = allow(order_for("berm"), care="berm")
    assert codes(order) == [("needs_ticket", True)]
    order.utility_ticket, order.utility_ticket_until = "A12", date(2026, 6, 20)
    assert codes(order) == []
    assert codes(order, day=date(2026, 6, 20)) == []
    assert codes(order, day=date(2026, 6, 21)) == [("ticket_ends", True)]


def test_a_ticket_number_without_its_last_day_is_no_ticket():
    order = allow(order_for("berm"), care="berm")
    order.utility_ticket = "A12"
    assert codes(order) == [("needs_ticket", True)]


def test_work_out_of_season_is_said_but_not_refused():
    order = allow(order_for("compost"), care="compost")
    assert codes(order) == [("out_of_season", False)]
    assert codes(order, day=date(2026, 9, 1)) == [("leave_ends", True)]


def test_volunteers_do_not_take_down_trees():
    order = allow(order_for("remove_dead_tree"), care="remove_dead_tree")
    assert ("not_for_them", True) in codes(order)


def test_an_open_danger_blocks_volunteers_and_crews():
    order = allow(order_for())
    report = ReportFactory(tree=order.lines.get().tree, danger="limb")
    assert codes(order) == [("held", True)]
    assert f"note {report.number}" in problems_of(order)[0].text
    crew = allow(order_for(who="crew"), who="crew")
    ReportFactory(tree=crew.lines.get().tree, danger="limb")
    assert ("held", True) in codes(crew)


def test_an_open_danger_is_what_an_arborist_comes_for():
    order = allow(order_for("arborist_visit", who="arborist"), care="arborist_visit", who="crew")
    ReportFactory(tree=order.lines.get().tree, danger="limb")
    assert codes(order) == [("held", False)]


def test_the_worst_comes_first():
    order = order_for("compost")
    assert [blocking for _code, blocking in codes(order)] == [True, False]
