"""Doses of an order: from the record, the weather, and what a person changed."""

import math
from datetime import date, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.audit.outdated import Outdated
from survey.science.units import SOLD, UNITS, convert, reader_unit, shopping
from survey.trees.measured import WoundMeasure
from survey.trees.models import LookSign, StemMeasure, Weather
from survey.workorders.actions import overrule_dose, set_dose
from survey.workorders.doses import SUMMED, WORKED, doses_of
from survey.workorders.facts import known_of
from survey.workorders.inputs import INPUTS, is_sound
from survey.workorders.not_given import withheld_of
from survey.workorders.working import LINES, PACKAGES, UNIT_SAID, plain, told
from tests.factories import (
    NOON,
    TODAY,
    LookFactory,
    OrderLineFactory,
    PersonFactory,
    PlantingFactory,
    TreeFactory,
    WorkOrderFactory,
)

pytestmark = pytest.mark.django_db

INCH, FOOT, GALLON = 0.0254, 0.3048, 3.785411784e-3


def order_of(*cares, girths_in=(2.4 * math.pi,), inputs=None, tree=None, **more):
    """An order for trees of these girths, planted in November 2023."""
    trees = [tree] if tree else [TreeFactory() for _ in girths_in]
    order = WorkOrderFactory(**more)
    for one, inches in zip(trees, girths_in, strict=False):
        if inches:
            look = LookFactory(tree=one, day=TODAY - timedelta(days=10))
            StemMeasure.objects.create(look=look, girth_m=inches * INCH)
        for care in cares:
            OrderLineFactory(order=order, tree=one, care=care, inputs=inputs or {})
    return order


def worked(order):
    lines = list(order.lines.select_related("tree"))
    return doses_of(order, lines, known_of(order.area, [line.tree for line in lines]))


def said(dose, code, system="us"):
    step = dose.example.given[code]
    return told(step, system, together=dose.together(code))


# --- the sums ------------------------------------------------------------------------------------


def test_a_ring_of_three_feet_is_worked_as_the_handbook_works_it():
    # fixtures/care/ground.toml: outer 3 ft, inner 0.5 ft: 27.5 sq ft; 3 in deep 6.87 cu ft
    gap = 0.5 * FOOT - 1.2 * INCH
    ring = worked(order_of("mulch_ring", inputs={"gap": gap}))["mulch_ring"]
    area, volume = said(ring, "ring_area"), said(ring, "ring_volume")
    assert (area.working, area.one) == ("π × (3² − 0.5²)", "27.5 sq ft")
    assert (volume.working, volume.one) == ("27.5 sq ft × 0.25 ft", "6.87 cu ft")
    assert said(ring, "inner_radius").working == "half the trunk 1.2 in + clear bark 4.8 in"


def test_all_trees_are_the_sum_of_each_ones_own_dose():
    order = order_of("mulch_ring", girths_in=(5, 8, 12))
    ring = worked(order)["mulch_ring"]
    each = [one.given["ring_volume"].value for one in ring.lines]
    assert len(set(each)) == 3
    assert ring.together("ring_volume") == pytest.approx(sum(each))
    assert ring.together("inner_radius") is None
    middle = ring.example.line.tree
    assert middle == ring.lines[1].line.tree


def test_twenty_rings_are_bought_as_people_buy_them():
    # fixtures/care/ground.toml: 20 trees, 3 ft, 3 in: 5.09 cu yd; with 10 % for settling 5.6
    gap = 0.5 * FOOT - 1.2 * INCH
    order = order_of("mulch_ring", girths_in=[2.4 * math.pi] * 20, inputs={"gap": gap})
    (buy,) = worked(order)["mulch_ring"].buys
    assert convert(buy.value, "m3", "yd3") == pytest.approx(5.6, abs=0.01)
    assert {line.unit: line.value for line in shopping((buy,), "us")}["yd3"] == 6.0


def test_water_is_the_larger_of_what_the_air_takes_and_the_rule_for_young_trees():
    # fixtures/care/water.toml: ETo 1.75 in a week, factor 0.5, drip 0.81, crown 8 ft: 33.7 gal
    inputs = {"canopy_diameter": 8 * FOOT, "plant_factor": 0.5, "by": "drip", "preset": "georgia"}
    order = order_of("water", inputs=inputs)
    for ago in range(7):
        Weather.objects.create(
            area=order.area, day=TODAY - timedelta(days=ago), eto_mm=1.75 * 25.4 / 7, rain_mm=0
        )
    water = worked(order)["water"]
    assert said(water, "weekly_need").value / GALLON == pytest.approx(33.7, abs=0.06)
    assert said(water, "week_water").one == "33.7 gal a week"
    dry = worked(order_of("water", inputs=inputs | {"eto": 0.0}))["water"]
    assert said(dry, "week_water").one == "18 gal a week"  # 2.4 in x 7.5 gal, Georgia


def test_rain_on_record_is_taken_off():
    order = order_of("water", inputs={"canopy_diameter": 8 * FOOT})
    for ago in range(7):
        day = TODAY - timedelta(days=ago)
        Weather.objects.create(area=order.area, day=day, eto_mm=5, rain_mm=2)
    water = worked(order)["water"].example
    assert water.uses["rain"] == pytest.approx(0.014)
    assert water.given["rain_water"].value > 0


@pytest.mark.parametrize("care", sorted(WORKED))
@pytest.mark.parametrize("system", ["us", "metric"])
def test_every_worked_line_has_a_name_a_working_and_a_unit(care, system):
    inputs = {
        "fertilize": {"nitrogen": 4, "phosphate": 6, "potash": 3},
        "remove_suckers": {"from_base": 4, "below_graft": 1},
        "keep_low_shoots": {"from_root": 2},
        "whitewash": {"coats": 2},
    }.get(care, {})
    order = order_of(care, girths_in=(8, 9), inputs=inputs)
    look = LookFactory(tree=order.lines.first().tree, day=TODAY - timedelta(days=5))
    WoundMeasure.objects.create(look=look, girth_m=0.2, width_m=0.05, length_m=0.1)
    dose = worked(order)[care]
    assert dose.example is not None, dose.lines[0].refused
    for step in dose.example.given.steps:
        assert step.code in LINES
        line = told(step, system, together=dose.together(step.code))
        assert [line.name, line.one].count("") == 0
        assert "{" not in line.working + line.name


def test_lines_that_add_up_are_lines():
    assert set(LINES) >= SUMMED


def test_what_was_typed_counts_and_the_rest_follows():
    order = order_of("mulch_ring")
    before = said(worked(order)["mulch_ring"], "ring_area").value
    order.lines.update(inputs={"outer_radius": 4 * FOOT})
    after = worked(order)["mulch_ring"]
    assert said(after, "ring_area").value > before * 1.7
    assert after.example.uses["outer_radius"] == pytest.approx(4 * FOOT)


def test_a_ring_inside_its_own_gap_is_no_dose_and_prints_no_number():
    (line,) = worked(order_of("mulch_ring", inputs={"outer_radius": 0.1}))["mulch_ring"].lines
    assert line.dose is None
    assert (line.impossible.field, line.impossible.code) == ("outer_radius", "not_above_inner")


def test_a_trunk_that_nobody_measured_is_said_to_be_assumed():
    dose = worked(order_of("mulch_ring", girths_in=(None,)))["mulch_ring"]
    assert "girth" in dose.example.assumed
    assert dose.example.uses["girth"] == pytest.approx(2 * INCH * math.pi)


def test_the_coat_goes_on_the_side_of_the_sun_and_the_south_mirrors_it():
    north, south = TreeFactory(latitude=45), TreeFactory(latitude=-45)
    sides = {}
    for tree in (north, south):
        dose = worked(order_of("whitewash", girths_in=(9,), tree=tree))["whitewash"]
        sides[tree.pk] = set(dose.example.uses["sides"])
    assert {"s", "sw"} <= sides[north.pk]
    assert {"n", "nw"} <= sides[south.pk]
    flip = {"s": "n", "sw": "nw", "se": "ne", "w": "w", "e": "e"}
    assert {flip[side] for side in sides[north.pk]} == sides[south.pk]


def test_a_wounded_tree_is_coated_round_its_wound():
    order = order_of("whitewash", girths_in=(9,))
    whole = said(worked(order)["whitewash"], "coat_area").value
    look = LookFactory(tree=order.lines.get().tree, day=TODAY - timedelta(days=1))
    WoundMeasure.objects.create(look=look, girth_m=0.23, width_m=0.05, length_m=0.2)
    dose = worked(order)["whitewash"]
    assert 0 < said(dose, "coat_area").value < whole
    assert "leave_wound_and_rim_bare" in dose.example.given.notes


def test_fertilizer_is_a_refusal_before_it_is_a_dose():
    label = {"nitrogen": 4, "phosphate": 6, "potash": 3}
    young = TreeFactory(planting=PlantingFactory(planted_from=TODAY - timedelta(days=400)))
    (line,) = worked(order_of("fertilize", tree=young, inputs=label))["fertilize"].lines
    assert line.given is None
    assert "first_two_years" in line.refused.because
    (blank,) = worked(order_of("fertilize"))["fertilize"].lines
    assert blank.refused.because == ("label_not_typed",)


def test_half_the_bark_gone_keeps_one_to_three_shoots():
    order = order_of("remove_suckers", inputs={"from_base": 6, "grafted": "no"})
    look = LookFactory(tree=order.lines.get().tree, day=TODAY - timedelta(days=5))
    LookSign.objects.create(look=look, sign="bark_wound", extent="half_or_more")
    dose = worked(order)["remove_suckers"].example.given
    assert dose["shoots_kept_least"].value == 1
    assert dose["shoots_kept_most"].value == 3
    assert dose["shoots_removed"].value == 3


def test_several_stems_are_one_trunk_by_the_root_of_their_squares():
    # Handbook 9: 2.1, 1.8 and 1.2 in come to 3.01 in.
    tree = TreeFactory(stems=3)
    look = LookFactory(tree=tree, day=TODAY - timedelta(days=10))
    for stem, inches in enumerate((2.1, 1.8, 1.2), start=1):
        StemMeasure.objects.create(look=look, stem=stem, girth_m=inches * math.pi * INCH)
    dose = worked(order_of("mulch_ring", girths_in=(None,), tree=tree))["mulch_ring"]
    assert dose.example.uses["girth"] / math.pi / INCH == pytest.approx(3.01, abs=0.01)


def test_doses_of_many_trees_ask_nothing(django_assert_num_queries):
    order = order_of("water", "mulch_ring", girths_in=[8] * 10)
    lines = list(order.lines.select_related("tree", "order__area"))
    record = known_of(order.area, [line.tree for line in lines])
    with django_assert_num_queries(0):
        doses_of(order, lines, record)


# --- numbers as they are read --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0, "0"),
        (27.489, "27.5"),
        (0.25, "0.25"),
        (3.0, "3"),
        (1234.56, "1,235"),
        (0.0049, "0.0049"),
    ],
)
def test_a_number_is_told_to_three_figures(value, text):
    assert plain(value) == text


def test_every_unit_a_reader_may_meet_has_its_word():
    met = {reader_unit(unit, system) for unit in UNITS for system in ("us", "metric")}
    named = set(UNIT_SAID) | set(PACKAGES)
    unsaid = {"water", "gal/in/ft2", "L/mm/m2", "1/week", "month/in", "month/cm", "degC", "degF"}
    assert met - named <= unsaid
    sold = {size.code for kinds in SOLD.values() for sizes in kinds.values() for size in sizes}
    assert sold <= named


# --- changed and overruled -----------------------------------------------------------------------


def test_numbers_are_kept_with_the_line_and_audited():
    staff = PersonFactory()
    order = order_of("mulch_ring", girths_in=(8, 9))
    one = order.lines.first().tree
    set_dose(order=order, version=0, care="mulch_ring", inputs={"depth": 0.05}, by=staff, at=NOON)
    set_dose(
        order=order,
        version=1,
        care="mulch_ring",
        inputs={"depth": 0.1, "outer_radius": 1.2},
        trees=[one],
        by=staff,
        at=NOON,
    )
    kept = {line.tree: line.inputs for line in order.lines.all()}
    assert kept.pop(one) == {"depth": 0.1, "outer_radius": 1.2}
    assert list(kept.values()) == [{"depth": 0.05}]
    assert Entry.objects.filter(act="order.dose_set").count() == 2
    set_dose(order=order, version=2, care="mulch_ring", inputs={"depth": None}, by=staff, at=NOON)
    assert order.lines.get(tree=one).inputs == {"outer_radius": 1.2}


@pytest.mark.parametrize(
    "inputs",
    [
        {"depth": -0.1},
        {"depth": float("nan")},
        {"depth": float("inf")},
        {"depth": "0.1"},
        {"depth": True},
        {"depth": 9},
        {"radius": 1.0},
        {"chips_from": "the moon"},
        {"chips_of": "x" * 121},
        {"no_borers": "yes"},
    ],
)
def test_numbers_that_cannot_be_are_refused(inputs):
    order = order_of("mulch_ring")
    with pytest.raises(ValidationError):
        set_dose(
            order=order, version=0, care="mulch_ring", inputs=inputs, by=PersonFactory(), at=NOON
        )
    assert order.lines.get().inputs == {}


def test_who_comes_second_is_told_and_volunteers_change_nothing():
    order = order_of("mulch_ring")
    common = {"order": order, "care": "mulch_ring", "inputs": {"depth": 0.1}, "at": NOON}
    with pytest.raises(Outdated):
        set_dose(version=3, by=PersonFactory(), **common)
    with pytest.raises(PermissionDenied):
        set_dose(version=0, by=PersonFactory(role="volunteer"), **common)


def test_a_dose_is_overruled_with_a_reason_and_a_name():
    staff = PersonFactory()
    order = order_of("whitewash")
    because = "Stripped by frost last night"
    overrule_dose(order=order, version=0, care="whitewash", because=because, by=staff, at=NOON)
    line = order.lines.get()
    assert (line.overruled_because, line.overruled_by) == (because, f"person:{staff.key}")
    assert Entry.objects.get(act="order.dose_overruled").detail["because"] == because
    overrule_dose(order=order, version=1, care="whitewash", because=" ", by=staff, at=NOON)
    assert order.lines.get().overruled_by == ""


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_only_trained_staff_overrule(role):
    with pytest.raises(PermissionDenied):
        overrule_dose(
            order=order_of("whitewash"),
            version=0,
            care="whitewash",
            because="I say so",
            by=PersonFactory(role=role),
            at=NOON,
        )


def test_bounds_of_every_input_hold_what_the_sums_start_from():
    for care, asked in INPUTS.items():
        names = [one.name for one in asked]
        assert len(names) == len(set(names))
        assert is_sound(care, {})
        for one in asked:
            if one.kind in ("amount", "count"):
                assert is_sound(care, {one.name: one.most})
                assert not is_sound(care, {one.name: one.most * 2 + 1})


# --- not given -----------------------------------------------------------------------------------


def withheld(order, *cares):
    trees = [line.tree for line in order.lines.select_related("tree")]
    rows = withheld_of(cares, known_of(order.area, trees), trees, TODAY)
    return {row.what: row for row in rows}


def test_a_young_tree_gets_no_fertilizer_until_a_soil_test_in_its_third_year():
    tree = TreeFactory(planting=PlantingFactory(planted_from=date(2025, 11, 14)))
    rows = withheld(order_of("mulch_ring", tree=tree), "mulch_ring")
    assert rows["Fertilizer"].why.startswith("in the ground under two years")
    assert rows["Fertilizer"].then == "a soil test, from 2027 on"
    assert "Cardboard under chips" in rows
    assert "Coating on the wound" not in rows


def test_a_wounded_tree_is_told_what_does_not_help_it():
    order = order_of("mulch_ring")
    look = LookFactory(tree=order.lines.get().tree, day=TODAY - timedelta(days=1))
    LookSign.objects.create(look=look, sign="bark_wound", extent="half_or_more")
    LookSign.objects.create(look=look, sign="dry_soil")
    rows = withheld(order, "mulch_ring")
    assert rows["Coating on the wound"].then == "not needed"
    assert "Wound dressing" in rows
    assert rows["Cardboard under chips"].why == "none over a dry ball: it keeps the water out"
    assert order.lines.get().tree.tag in rows["Cutting all low shoots"].why


def test_a_tree_that_nobody_goes_to_is_counted_in_no_sum_and_nothing_is_bought_for_it():
    order = order_of("mulch_ring", girths_in=(7.5, 7.5, 7.5))
    lines = list(order.lines.select_related("tree"))
    record = known_of(order.area, [line.tree for line in lines])
    whole = doses_of(order, lines, record)["mulch_ring"]
    less = doses_of(order, lines, record, {lines[0].tree_id})["mulch_ring"]
    assert [len(whole.doses), len(less.doses)] == [3, 2]
    assert less.together("ring_area") == pytest.approx(whole.together("ring_area") * 2 / 3)
    assert less.buys[0].value == pytest.approx(whole.buys[0].value * 2 / 3)


def test_low_shoots_that_nobody_counted_have_no_sum():
    dose = worked(order_of("remove_suckers"))["remove_suckers"].lines[0].given
    assert dose.steps == ()
    assert dose.notes[0] == "count_shoots_first"
    counted = worked(order_of("remove_suckers", inputs={"from_base": 4}))["remove_suckers"]
    assert counted.together("shoots_removed") == 4
