"""Wounds are written down as a look, and read back as shares, outlooks and change over time."""

import math
from datetime import date

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.causes.actions.measure_wound import MeasuredWound, measure_wounds
from survey.causes.wound_words import (
    REFUSED,
    again_said,
    closing_told,
    outlook_told,
    share_said,
    wound_said,
)
from survey.causes.wounds import looks_for_wounds, wounds_of
from survey.chores.models import Chore
from survey.people.actions import observer_of
from survey.science.wounds.face import REASONS
from survey.trees.models import Look, LookSign
from tests.factories import NOON, TODAY, LookFactory, PersonFactory, TreeFactory

pytestmark = pytest.mark.django_db
INCH = 0.0254
THIRD = {"girth_m": math.pi * 3 * INCH, "width_m": 3.1 * INCH}


@pytest.fixture
def volunteer():
    return PersonFactory(role="volunteer")


def measure(tree, by, *wounds, **more):
    usual = {"day": TODAY, "trained": True, "observer": observer_of(by), "condition": "holding"}
    return measure_wounds(
        tree=tree, by=by, at=NOON, wounds=[MeasuredWound(**w) for w in wounds], **usual | more
    )


def read(tree, day=TODAY):
    return wounds_of(tree, looks_for_wounds(tree), day)


def test_a_measured_wound_is_a_look_with_a_sign_an_audit_line_and_its_chores(volunteer):
    tree = TreeFactory()
    look = measure(tree, volunteer, THIRD | {"rim": "dry", "low_edge_m": 0.1})
    assert (look.presence, look.condition, look.channel) == ("standing", "holding", "walk")
    sign = look.signs.get()
    assert (sign.sign, sign.extent, sign.stem) == ("bark_wound", "quarter_to_half", 0)
    assert Entry.objects.get(act="wounds.measured").detail == {"look": look.pk, "wounds": 1}
    assert Chore.objects.filter(kind="believe_tree", key=str(tree.pk)).exists()
    told = read(tree)
    assert share_said(told.girdled) == "33 %"
    assert told.outlook.high == "quarter_to_half"


def test_a_form_sent_twice_is_one_look(volunteer):
    tree = TreeFactory()
    one = measure(tree, volunteer, THIRD, repeat_key="wound:1")
    assert measure(tree, volunteer, THIRD, repeat_key="wound:1") == one
    assert one.wounds.count() == 1


def test_stems_have_shares_of_their_own(volunteer):
    tree = TreeFactory(stems=3)
    look = measure(
        tree, volunteer,
        {"stem": 1, "from_hour": 0, "to_hour": 3, "number": 1},
        {"stem": 1, "from_hour": 3, "to_hour": 6, "number": 2},
        {"stem": 3, "from_hour": 0, "to_hour": 12},
    )  # fmt: skip
    told = read(tree)
    assert [(s.stem, s.girdled.low, s.outlook.low) for s in told.stems] == [
        (1, 0.5, "half_or_more"), (3, 1.0, "all_round"),
    ]  # fmt: skip
    assert told.girdled.low == pytest.approx(0.5)
    extents = set(LookSign.objects.filter(look=look).values_list("stem", "extent"))
    assert extents == {(1, "half_or_more"), (3, "all_round")}


def test_a_range_over_several_steps_gives_the_sign_no_step(volunteer):
    tree = TreeFactory()
    look = measure(tree, volunteer, THIRD | {"number": 1}, THIRD | {"number": 2})
    assert look.signs.get().extent == ""
    assert share_said(read(tree).girdled) == "33 % to 66 %"


@pytest.mark.parametrize(
    ("wound", "field"),
    [
        ({"girth_m": 0.2, "width_m": 0.3}, "width_0"),
        ({"width_m": 0.3}, "girth_0"),
        ({"girth_m": 0.2, "width_m": -0.3}, "width_0"),
        ({"girth_m": 0.2, "width_m": math.nan}, "width_0"),
        ({"from_hour": 25, "to_hour": 3}, "from_hour_0"),
        ({"from_hour": 3, "to_hour": 3}, "to_hour_0"),
        ({"from_hour": 3}, "to_hour_0"),
        ({}, "width_0"),
        ({"stem": 2, "from_hour": 3, "to_hour": 4}, "stem_0"),
        ({"from_hour": 3, "to_hour": 4, "low_edge_m": -0.1}, "low_edge_m_0"),
        ({"from_hour": 3, "to_hour": 4, "length_m": 0}, "length_m_0"),
        ({"from_hour": 3, "to_hour": 4, "length_m": math.nan}, "length_m_0"),
    ],
)
def test_what_no_trunk_can_have_is_refused_by_its_field_and_nothing_is_kept(
    volunteer, wound, field
):
    with pytest.raises(ValidationError) as refused:
        measure(TreeFactory(), volunteer, wound)
    assert set(refused.value.error_dict) == {field}
    assert not Look.objects.exists()


def test_every_reason_has_its_sentence():
    assert set(REFUSED) == set(REASONS)


def test_nothing_measured_and_the_same_number_twice_are_refused(volunteer):
    with pytest.raises(ValidationError):
        measure(TreeFactory(), volunteer)
    with pytest.raises(ValidationError) as refused:
        measure(TreeFactory(), volunteer, THIRD, THIRD)
    assert set(refused.value.error_dict) == {"number_1"}


def test_who_may_not_look_may_not_measure():
    council = PersonFactory(role="liaison")
    with pytest.raises(PermissionDenied):
        measure(TreeFactory(), council, THIRD)


def test_a_wound_measured_again_tells_how_it_goes_on(volunteer):
    tree = TreeFactory()
    measure(tree, volunteer, THIRD | {"rim": "dry"}, day=date(2026, 4, 1))
    measure(tree, volunteer, THIRD | {"width_m": 2.7 * INCH, "rim": "rounded"}, day=TODAY)
    over = read(tree).stems[0].wounds[0].over_time
    assert over.way == "closing"
    told = closing_told(over, metric=False).text
    assert "closed by 0.4 in" in told
    assert "it would close in about 1.4 years" in told  # 2.7 in at 0.4 in in 76 days
    assert "Neely" in closing_told(over, metric=False).basis


def test_a_rim_that_dies_back_is_said_to(volunteer):
    tree = TreeFactory()
    measure(tree, volunteer, THIRD, day=date(2026, 4, 1))
    measure(tree, volunteer, THIRD | {"width_m": 3.6 * INCH}, day=TODAY)
    over = read(tree).stems[0].wounds[0].over_time
    told = closing_told(over, metric=False)
    assert "dying back" in told.text
    assert "Neely" not in told.basis


def test_fresh_cuts_beside_old_rims_say_that_it_goes_on(volunteer):
    tree = TreeFactory()
    measure(
        tree, volunteer,
        {"from_hour": 1, "to_hour": 2, "rim": "fresh", "number": 1},
        {"from_hour": 4, "to_hour": 5, "rim": "stacked", "number": 2},
    )  # fmt: skip
    told = read(tree)
    assert told.repeated
    assert "repeated" in told.outlook.worse


def test_the_reasons_for_one_step_worse_come_from_the_record(volunteer):
    tree = TreeFactory(planted_from=date(2026, 2, 1), planted_to=date(2026, 2, 1),
                       planted_precision="day", registered_on=date(2026, 2, 1))  # fmt: skip
    dry = LookFactory(tree=tree, day=date(2026, 6, 1), condition="slipping")
    for sign in ("dry_soil", "holes_sawdust"):
        LookSign.objects.create(look=dry, sign=sign)
    measure(tree, volunteer, {"girth_m": 0.12, "width_m": 0.01, "low_edge_m": 0}, condition="")
    outlook = read(tree).outlook
    assert outlook.worse == (
        "thin_trunk", "new_tree", "at_soil_line", "borers_or_ooze", "drought", "crown_thin",
    )  # fmt: skip
    assert (outlook.high, outlook.adjusted_high) == ("under_quarter", "quarter_to_half")
    words = [told.text for told in outlook_told(outlook)]
    assert "one step worse" in words[1]
    assert "own rule of this project" in outlook_told(outlook)[1].basis


def test_the_lay_scale_counts_where_nothing_was_measured():
    look = LookFactory(tree=TreeFactory(), day=date(2026, 5, 1))
    LookSign.objects.create(look=look, sign="bark_torn", extent="half_or_more")
    told = read(look.tree)
    assert (told.girdled.low, told.girdled.how) == (0.5, "lay")
    assert (told.outlook.low, told.outlook.high) == ("half_or_more", "half_or_more")
    assert share_said(told.girdled) == "50 % to 100 %"
    assert "rule of thumb" in outlook_told(told.outlook)[0].basis
    assert again_said(told, TODAY) == ""
    assert read(look.tree, date(2027, 6, 1)).girdled.how == "none"


def test_what_could_not_be_seen_is_a_range_from_nothing_to_all():
    look = LookFactory(tree=TreeFactory(), day=date(2026, 5, 1))
    LookSign.objects.create(look=look, sign="bark_wound", extent="cannot_see")
    assert share_said(read(look.tree).girdled) == "0 % to 100 %"
    assert read(look.tree).outlook.high == "all_round"


def test_a_wound_in_words_in_both_units(volunteer):
    tree = TreeFactory()
    measure(
        tree, volunteer,
        THIRD | {"from_hour": 10, "to_hour": 2.5, "low_edge_m": 0.1016, "rim": "dry",
                 "wood_shows": True},
    )  # fmt: skip
    seen = read(tree).stems[0].wounds[0]
    assert wound_said(seen, metric=False) == (
        "3.1 in of 9.4 in round (33 %), 10 to 2:30 o'clock, 4.0 in above the soil, "
        "bare wood shows, weeks old by its rim"
    )
    assert wound_said(seen, metric=True).startswith("7.9 cm of 23.9 cm round (33 %)")
    assert "by now" in again_said(read(tree), date(2027, 6, 1))
    assert "first flush" in again_said(read(tree), TODAY)
