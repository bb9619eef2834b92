"""Work is refused in time, with the reason and with what opens it again."""

from datetime import date, timedelta

import pytest

from survey.causes.models import ClueNoted
from survey.handbook.book import book
from survey.trees.models import LookSign, Permission, StemMeasure, Weather
from survey.workorders.closures import JUDGED, _said
from survey.workorders.facts import known_of
from survey.workorders.problems import problems_of
from survey.workorders.products import sold_against_pests
from survey.workorders.refusals import refusals_of
from tests.factories import (
    NOON,
    TODAY,
    AreaFactory,
    LandManagerFactory,
    LookFactory,
    OrderLineFactory,
    PlantingFactory,
    ReportFactory,
    SiteFactory,
    TreeFactory,
    WorkOrderFactory,
)

pytestmark = pytest.mark.django_db

EVER = {"from_day": date(2020, 1, 1), "to_day": date(2030, 1, 1)}


def order_for(*cares, who="volunteer", tree=None, inputs=None, **more):
    """An order with leave for everything and a ticket, so that only the facts can close it."""
    tree = tree or TreeFactory(site=SiteFactory(land_manager=LandManagerFactory()))
    fields = {"who": who, "utility_ticket": "A12", "utility_ticket_until": date(2030, 1, 1)}
    fields |= {"window_from": date(2026, 1, 1), "window_to": date(2026, 12, 31)}
    order = WorkOrderFactory(**fields | more)
    for care in cares:
        read = {"label_read": True} if care in ("whitewash", "fertilize") else {}
        OrderLineFactory(
            order=order, tree=tree, care=care, inputs=read if inputs is None else inputs
        )
        Permission.objects.get_or_create(
            land_manager=tree.site.land_manager, care=care, who="anybody", **EVER
        )
    return order


def codes(order, day=TODAY):
    return [problem.code for problem in refusals_of(order, day)]


def seen(order, *signs, days_ago=1, extent=""):
    look = LookFactory(tree=order.lines.first().tree, day=TODAY - timedelta(days=days_ago))
    for sign in signs:
        LookSign.objects.create(look=look, sign=sign, extent=extent)


def weather(area, *, days=3, **fields):
    for ago in range(days):
        Weather.objects.create(area=area, day=TODAY - timedelta(days=ago), **fields)


def test_open_work_on_an_ordinary_day_is_refused_nothing():
    assert codes(order_for("water", "mulch_ring")) == []


# --- seasons -------------------------------------------------------------------------------------


@pytest.mark.parametrize("month", range(1, 13))
def test_the_white_coat_is_refused_outside_its_months_and_the_south_mirrors_it(month):
    # April to July in the north: UC Master Gardeners of Santa Clara County, tips for May.
    order = order_for("whitewash")
    day = date(2026, month, 10)
    assert codes(order, day) == ([] if month in (4, 5, 6, 7) else ["out_of_season"])
    order.area.hemisphere = "south"
    assert codes(order, day) == ([] if month in (10, 11, 12, 1) else ["out_of_season"])


@pytest.mark.parametrize(
    ("climate", "closed"), [("temperate", True), ("cold", False), ("warm", True)]
)
def test_each_climate_has_its_own_window(climate, closed):
    order = order_for("whitewash")
    order.area.climate = climate
    assert (codes(order, date(2026, 9, 10)) == ["out_of_season"]) is closed


def test_a_closed_season_says_when_it_opens():
    (refusal,) = refusals_of(order_for("whitewash"), date(2026, 9, 10))
    assert refusal.text == "“White trunk coat” is out of season then (1 tree)."
    assert refusal.opens == "It is open in these months here: April, May, June, July."


def test_licensed_people_and_an_overruled_dose_are_told_and_not_refused():
    day = date(2026, 9, 10)
    pruning = order_for("prune_dead_wood", who="arborist")
    assert codes(pruning, day) == []
    assert "out_of_season" in [p.code for p in problems_of(pruning, day=day)]
    coat = order_for("whitewash")
    coat.lines.update(overruled_because="Stripped by frost last night", overruled_by="person:1")
    assert codes(coat, day) == []


# --- what trees tell -----------------------------------------------------------------------------


def test_a_dry_ball_is_soaked_before_it_is_mulched():
    order = order_for("mulch_ring")
    seen(order, "dry_soil")
    assert codes(order) == ["ball_dry"]
    both = order_for("water", "mulch_ring", tree=order.lines.get().tree)
    assert codes(both) == []


def test_dry_soil_is_a_thing_of_days_and_the_newest_answer_counts():
    order = order_for("mulch_ring")
    seen(order, "dry_soil", days_ago=15)
    assert codes(order) == []
    tree = order.lines.get().tree
    noted = {"clue": "dry_soil", "by": "person:1", "at": NOON}
    ClueNoted.objects.create(site=tree.site, so=True, day=TODAY - timedelta(days=2), **noted)
    assert codes(order) == ["ball_dry"]
    ClueNoted.objects.create(tree=tree, so=False, day=TODAY - timedelta(days=1), **noted)
    assert codes(order) == []


def test_a_wet_ball_is_not_watered():
    order = order_for("water")
    seen(order, "soggy_soil")
    (refusal,) = refusals_of(order, TODAY)
    assert refusal.code == "ball_wet"
    assert refusal.opens == "Probe again. Crumbly 6 in down opens it; sticky does not."


def test_half_the_bark_gone_keeps_its_low_shoots():
    order = order_for("remove_suckers")
    seen(order, "bark_wound", extent="half_or_more")
    assert codes(order) == ["half_round"]
    assert "one to three low shoots stay" in refusals_of(order, TODAY)[0].text


def test_a_graft_that_somebody_has_seen_opens_it():
    order = order_for("remove_suckers", "keep_low_shoots", inputs={"grafted": "yes"})
    seen(order, "bark_wound", extent="half_or_more")
    assert codes(order) == ["graft_union"]  # keeping them is what is wrong then
    order.lines.update(inputs={"grafted": "no"})
    assert codes(order) == ["half_round"]


def test_a_laboratory_rules_rot_out():
    order = order_for("berm")
    seen(order, "oozing_bark")
    tree = order.lines.get().tree
    noted = {"by": "person:1", "at": NOON, "day": TODAY}
    ClueNoted.objects.create(tree=tree, clue="lab_found_rot", so=False, **noted)
    assert codes(order) == []


def test_a_quarter_gone_keeps_nothing():
    order = order_for("remove_suckers")
    seen(order, "bark_wound", extent="quarter_to_half")
    assert codes(order) == []


def test_rot_closes_what_holds_water_at_the_crown():
    order = order_for("berm", "mulch_ring")
    seen(order, "oozing_bark")
    assert set(codes(order)) == {"root_rot"}
    assert len(codes(order)) == 2


def test_a_tie_grown_in_and_a_rocking_ball_are_left_alone():
    order = order_for("remove_ties")
    seen(order, "tie_cuts_in", "loose_ball")
    assert set(codes(order)) == {"tie_grown_in", "ball_rocks"}


def test_fertilizer_is_refused_for_young_thirsty_and_untested():
    # Own rule of this project: none in the first two years; Maryland: none for thirsty trees.
    young = TreeFactory(
        site=SiteFactory(land_manager=LandManagerFactory()),
        planting=PlantingFactory(planted_from=TODAY - timedelta(days=500)),
    )
    order = order_for("fertilize", tree=young)
    seen(order, "wilting")
    assert set(codes(order)) == {"newly_planted", "thirsty", "no_soil_test"}
    assert all(problem.opens for problem in refusals_of(order, TODAY))


def test_an_old_tree_with_a_soil_test_and_a_read_label_may_be_fed():
    fed = {"soil_test": "May 2, short of nitrogen", "product": "4-6-3", "label_read": True}
    assert codes(order_for("fertilize", inputs=fed)) == []
    assert codes(order_for("fertilize", inputs=fed | {"label_read": False})) == ["label_not_read"]


def test_a_tree_is_taken_down_only_after_two_visits_one_of_them_in_leaf():
    order = order_for("remove_dead_tree", who="crew")
    tree = order.lines.get().tree
    assert codes(order) == ["leaf_off"]
    LookFactory(tree=tree, day=date(2026, 1, 10), dead=True)
    LookFactory(tree=tree, day=date(2026, 2, 20), dead=True)
    assert codes(order) == ["leaf_off"]  # both in winter: a linden is bare then
    LookFactory(tree=tree, day=date(2026, 6, 1), dead=True)
    assert codes(order) == []


def test_a_tree_found_dead_is_decided_upon_before_it_is_cared_for():
    order = order_for("whitewash", "water", "find_cause")
    tree = order.lines.first().tree
    LookFactory(tree=tree, day=TODAY - timedelta(days=3), dead=True)
    closed = refusals_of(order, date(2026, 6, 20))
    assert [(p.code, p.care) for p in closed] == [
        ("found_dead", "whitewash"),
        ("found_dead", "water"),
    ]
    assert f"A trained look found {tree} dead: decide first" in closed[0].text
    assert [len(p.lines) for p in closed] == [1, 1]
    LookFactory(tree=tree, day=TODAY - timedelta(days=1), condition="slipping")
    assert codes(order, date(2026, 6, 20)) == []


def test_a_coat_on_a_failing_tree_is_named_and_stops_nobody():
    order = order_for("whitewash", "water")
    LookFactory(tree=order.lines.first().tree, condition="failing")
    found = problems_of(order, day=date(2026, 6, 20))
    assert [(p.code, p.care, p.blocking) for p in found] == [("found_failing", "whitewash", False)]


def test_a_coat_waits_until_its_label_was_read():
    assert codes(order_for("whitewash", inputs={}), date(2026, 6, 20)) == ["label_not_read"]


def test_no_reason_overrules_reach_and_labels():
    order = order_for("whitewash", inputs={"to_m": 2.6, "product": "White latex"})
    assert set(codes(order)) == {"above_hand_height", "label_not_read"}
    order.lines.update(overruled_because="We are tall", overruled_by="person:1")
    assert set(codes(order)) == {"above_hand_height", "label_not_read"}


def test_nothing_is_refused_on_facts_without_a_day():
    order = order_for("mulch_ring")
    seen(order, "dry_soil")
    assert [(p.code, p.blocking) for p in problems_of(order)] == [("ball_dry", False)]


# --- weather -------------------------------------------------------------------------------------


def test_heat_frost_and_rain_on_record_close_the_day_itself_only():
    order = order_for("turf_back", "whitewash", planned_for=None)
    weather(order.area, low_c=20, high_c=36, rain_mm=0)
    assert codes(order)[-2:] == ["heat", "heat"]
    assert "heat" not in codes(order, TODAY + timedelta(days=1))


def test_frozen_ground_and_wet_bark():
    order = order_for("mulch_ring", "whitewash")
    weather(order.area, low_c=-9, high_c=-1, rain_mm=13)
    assert set(codes(order)) == {"frozen", "bark_wet", "wet_soil"}


@pytest.mark.parametrize("nothing", [{}, {"rain_mm": None, "low_c": None, "high_c": None}])
def test_weather_that_nobody_wrote_down_closes_nothing(nothing):
    order = order_for("turf_back", "whitewash")
    if nothing:
        weather(order.area, **nothing)
    assert codes(order, date(2026, 5, 10)) == []


# --- tickets, leave, danger ----------------------------------------------------------------------


def test_a_missing_ticket_says_whom_to_call_and_what_is_not_leave_to_dig():
    order = order_for("berm", utility_ticket="", utility_ticket_until=None)
    (refusal,) = refusals_of(order, TODAY)
    assert refusal.code == "needs_ticket"
    assert refusal.opens == (
        "Call 555 0199. Write down the ticket when all utilities have answered it. No paint "
        "marks is not leave to dig; private lines are not covered."
    )


def test_every_refusal_says_what_opens_it_again():
    order = WorkOrderFactory(
        window_from=date(2026, 1, 1), window_to=date(2026, 12, 31), who="volunteer"
    )
    tree = TreeFactory(site=SiteFactory(land_manager=LandManagerFactory(phone="555 7")))
    for care in ("berm", "remove_dead_tree"):
        OrderLineFactory(order=order, tree=tree, care=care)
    ReportFactory(tree=tree, danger="limb")
    refused = refusals_of(order, date(2026, 12, 10))
    wanted = {"held", "not_for_them", "no_leave", "needs_ticket", "out_of_season"}
    assert {problem.code for problem in refused} >= wanted
    assert [problem.code for problem in refused if not problem.opens] == []


def test_every_fact_that_is_judged_has_its_words():
    for care in book().care.values():
        for code in care.closed_by:
            if code in JUDGED:
                reason, opens = _said(code, care)
                assert reason % {"care": "x", "tags": "y"}
                assert opens


def test_what_is_known_costs_the_same_for_one_tree_and_for_many(django_assert_num_queries):
    area = AreaFactory()
    for count in (1, 12):
        trees = TreeFactory.create_batch(count)
        for tree in trees:
            look = LookFactory(tree=tree)
            StemMeasure.objects.create(look=look, girth_m=0.2)
        with django_assert_num_queries(8):
            known_of(area, trees)


# --- products ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    [
        "Deer repellent",
        "BUG-KILLER 3000",
        "Tree paint, repels rodents",
        "Pintura repelente",
        "mata hormigas",
        "Weed and feed 29-0-4",
        "borer control",
        "Keeps off rabbits",
        "ＲＥＰＥＬＬＥＮＴ",
        "vole   bait",
        "stops wood borers",
    ],
)
def test_what_is_sold_against_pests_is_known_by_its_words(words):
    assert sold_against_pests(words)


@pytest.mark.parametrize(
    "words",
    [
        "",
        "White interior latex",
        "Elephant brand latex, quick drying",
        "Plant food 4-6-3",
        "Important: new, white, flat",
        "Antique white",
        "Beetle Brothers hardware, interior white",
        "Batting wool",
    ],
)
def test_harmless_products_are_no_pesticides(words):
    assert not sold_against_pests(words)


def test_a_product_against_pests_is_refused_whoever_puts_it_on():
    inputs = {"product": "White guard, repels borers", "label_read": True}
    for who in ("volunteer", "crew"):
        assert "pesticide" in codes(order_for("whitewash", who=who, inputs=inputs))
