"""The handbook's own data: complete, joined up, and answering as the trade would."""

import subprocess
import sys

import pytest

from survey.handbook.book import book
from survey.handbook.records import Entry

ENTRIES = [
    (file, code)
    for file, records in book().files()
    for code, record in records.items()
    if isinstance(record, Entry)
]


@pytest.mark.parametrize(("file", "code"), ENTRIES)
def test_every_entry_says_what_it_rests_on(file, code):
    entry = dict(book().files())[file][code]
    grounds = book().grounds(entry)
    assert grounds
    assert all(len(ground) > 15 for ground in grounds)


def test_an_entry_with_sources_and_a_mark_names_both():
    grounds = book().grounds(book().signs["fungus"])
    assert grounds == (
        "University of California IPM, Collar, foot, root and crown rots",
        "own rule of this project",
    )


def test_every_source_is_used():
    used = {
        code
        for _, records in book().files()
        for record in records.values()
        for code in getattr(record, "sources", ())
    }
    assert set(book().sources) - used == set()


def test_every_advice_and_caution_is_given_somewhere():
    advised = {code for sign in book().signs.values() for code in sign.advice}
    assert set(book().advice) == advised
    cautioned = {code for care in book().care.values() for code in care.cautions}
    assert set(book().cautions) == cautioned


def test_what_a_simple_survey_file_lists_are_signs_of_the_handbook():
    assert {
        "dieback",
        "wilting",
        "discoloured_leaves",
        "bark_wound",
        "fungus",
        "dry_soil",
    } <= set(book().signs)


def test_the_page_headings_hold_every_sign_shown_to_a_neighbor_once():
    shown = [
        sign.code
        for heading in ("base", "higher", "soil", "end")
        for sign in book().signs_for("neighbor", heading)
    ]
    assert sorted(shown) == sorted(sign.code for sign in book().signs_for("neighbor"))
    assert len(shown) == len(set(shown)) == 21
    assert shown[0] == "bark_wound"
    assert shown[-1] == "something_else"


def test_trained_lookers_record_everything_a_neighbor_can_tick_but_own_words():
    neighbors = {sign.code for sign in book().signs_for("neighbor")}
    trained = {sign.code for sign in book().signs_for("trained")}
    assert neighbors - trained == {"something_else"}
    assert "buried_flare" in trained - neighbors


# --- months ------------------------------------------------------------------------------------


def test_a_crape_myrtle_is_asleep_in_april_in_the_north_and_in_october_in_the_south():
    # Own rule, from memory: Lagerstroemia indica stands bare from November to April.
    crape_myrtle = book().species["crape_myrtle"]
    assert crape_myrtle.is_bare(4, "north")
    assert crape_myrtle.is_bare(10, "south")
    assert not crape_myrtle.is_bare(4, "south")
    assert not crape_myrtle.is_bare(10, "north")
    assert crape_myrtle.is_shoulder(5, "north")
    assert crape_myrtle.is_shoulder(11, "south")


def test_a_jacaranda_is_bare_in_spring():
    # Bare or thin February to May in the north, August to October in the south: Fullerton College
    # plant database 2018, a Californian column of October 2023, two Australian growers' pages.
    jacaranda = book().species["jacaranda"]
    assert [m for m in range(1, 13) if jacaranda.is_bare(m, "north")] == [2, 3, 4, 5]
    assert [m for m in range(1, 13) if jacaranda.is_bare(m, "south")] == [8, 9, 10]
    assert [m for m in range(1, 13) if jacaranda.is_shoulder(m, "south")] == [7, 11]


@pytest.mark.parametrize(
    "code", [code for code, species in book().species.items() if not species.bare_months_south]
)
def test_the_south_has_the_same_months_half_a_year_later(code):
    species = book().species[code]
    for month in range(1, 13):
        half_a_year_on = (month + 5) % 12 + 1
        assert species.is_bare(month, "north") == species.is_bare(half_a_year_on, "south")
        assert species.is_shoulder(month, "north") == species.is_shoulder(half_a_year_on, "south")


@pytest.mark.parametrize(
    "code", [code for code, species in book().species.items() if species.bare_months]
)
def test_bare_months_are_one_run_with_a_shoulder_on_either_side(code):
    species = book().species[code]
    first, last = species.bare_months[0], species.bare_months[-1]
    run = [(first - 1 + step) % 12 + 1 for step in range(len(species.bare_months))]
    assert list(species.bare_months) == run
    assert set(species.shoulder_months) == {(first - 2) % 12 + 1, last % 12 + 1}


def test_an_evergreen_is_never_supposed_to_be_bare():
    for species in book().species.values():
        if species.leaf_habit == "evergreen":
            assert not any(species.is_bare(month, "north") for month in range(1, 13))


@pytest.mark.parametrize(("month", "hemisphere"), [(0, "north"), (13, "south"), (4, "east")])
def test_an_impossible_month_or_hemisphere_is_refused(month, hemisphere):
    with pytest.raises(ValueError, match=r"month is a number|hemisphere is north"):
        book().species["linden"].is_bare(month, hemisphere)


def test_the_white_coat_belongs_to_spring_on_both_halves_of_the_earth():
    # April to July: UC Master Gardeners of Santa Clara County, tips for May.
    coat = book().care["whitewash"]
    assert [m for m in range(1, 13) if coat.in_season(m, "north")] == [4, 5, 6, 7]
    assert [m for m in range(1, 13) if coat.in_season(m, "south")] == [1, 10, 11, 12]


def test_nobody_prunes_while_borers_fly():
    # Late winter to late summer: UC IPM quick tips, tree borers.
    pruning = book().care["prune_dead_wood"]
    assert not any(pruning.in_season(month, "north") for month in range(2, 10))


# --- how soon ----------------------------------------------------------------------------------


def test_more_bark_gone_weighs_more():
    bark = book().signs["bark_wound"]
    order = ["less_than_quarter", "quarter_to_half", "half_or_more", "all_round"]
    weights = [bark.queue_weight(extent) for extent in order]
    assert weights == [2.0, 4.0, 6.0, 8.0]  # own rule of this project
    assert bark.queue_weight("cannot_see") == bark.queue_weight("quarter_to_half")
    assert bark.queue_weight() == 4.0


def test_how_far_round_counts_only_where_it_is_asked():
    assert book().signs["wilting"].queue_weight("all_round") == 4.0


def test_an_unknown_extent_or_sign_is_not_passed_over():
    with pytest.raises(KeyError, match="a_bit"):
        book().signs["bark_wound"].queue_weight("a_bit")
    with pytest.raises(KeyError, match="a_bit"):
        book().signs["wilting"].queue_weight("a_bit")
    with pytest.raises(KeyError, match="no_such_sign"):
        book().triage_weight([("no_such_sign", None)])


def test_no_sign_has_no_weight():
    assert book().triage_weight([]) == 0.0


def test_the_worst_sign_leads_and_the_others_add_a_little():
    # Worked by hand: 4 x 1.5 + 0.1 x (1 + 2) = 6.3
    signs = [("base_shoots", None), ("bark_wound", "half_or_more"), ("heaped_soil", None)]
    assert book().triage_weight(signs) == pytest.approx(6.3)


def test_many_small_signs_never_pass_one_that_is_a_step_worse():
    every_other = [(s, None) for s in book().signs if book().signs[s].weight <= 3]
    assert book().triage_weight(every_other) == pytest.approx(3.9)
    assert book().triage_weight(every_other) < book().triage_weight([("wilting", None)])


def test_the_same_sign_on_two_stems_counts_once_at_its_worst():
    two_stems = [("bark_wound", "less_than_quarter"), ("bark_wound", "all_round")]
    assert book().triage_weight(two_stems) == 8.0


def test_the_order_in_which_signs_were_ticked_changes_nothing():
    signs = [("fungus", None), ("bark_torn", "half_or_more"), ("wilting", None)]
    assert book().triage_weight(signs) == book().triage_weight(reversed(signs))


# --- advice ------------------------------------------------------------------------------------


def test_what_not_to_do_comes_before_what_may_be_done():
    kinds = [advice.kind for advice in book().advice_for(["bark_wound", "wilting", "soggy_soil"])]
    assert kinds == sorted(kinds, key=["do_not", "tell_us", "today"].index)
    assert {"do_not", "tell_us", "today"} == set(kinds)


def test_advice_for_two_signs_is_given_once():
    codes = [advice.code for advice in book().advice_for(["bark_wound", "bark_torn"])]
    assert len(codes) == len(set(codes))
    assert "no_paint" in codes


def test_a_wet_soil_is_never_told_to_be_watered():
    # Plants with root rot do not recover when watered: UC IPM quick tips, Phytophthora.
    assert "water_if_dry" in [a.code for a in book().advice_for(["wilting"])]
    wet = [a.code for a in book().advice_for(["wilting", "soggy_soil", "dry_soil"])]
    assert "water_if_dry" not in wet
    assert "no_more_water" in wet


@pytest.mark.parametrize(("age_years", "told"), [(None, True), (2.9, True), (3, False), (8, False)])
def test_only_young_trees_get_a_bucket(age_years, told):
    # Zero to three years: California state water conservation outreach, trees page.
    codes = [a.code for a in book().advice_for(["dry_soil"], age_years=age_years)]
    assert ("water_if_dry" in codes) is told


def test_beside_a_danger_nobody_is_told_to_do_anything_at_the_tree():
    signs = list(book().signs)
    assert {advice.kind for advice in book().advice_for(signs, in_danger=True)} == {"do_not"}
    assert {advice.kind for advice in book().advice_for(signs)} == {"do_not", "tell_us", "today"}


def test_advice_for_nothing_is_nothing_and_for_an_unknown_sign_an_error():
    assert book().advice_for([]) == []
    with pytest.raises(KeyError, match="no_such_sign"):
        book().advice_for(["no_such_sign"])


@pytest.mark.parametrize("code", [sign.code for sign in book().signs_for("neighbor")])
def test_every_sign_tells_a_neighbor_what_to_leave_alone(code):
    assert book().advice_for([code])[0].kind == "do_not"


# --- danger ------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", ["wire", "fire", "hurt"])
def test_wires_fire_and_the_hurt_go_to_the_emergency_number_then_the_power_company(code):
    danger = book().dangers[code]
    assert danger.door == "emergency"
    assert danger.keep_back_feet == 35
    assert "35 ft" in danger.limit
    assert danger.call.startswith("Call the emergency number first")
    assert danger.call.index("emergency number") < danger.call.index("power company")


def test_every_other_danger_goes_to_the_hazard_line_two_tree_heights_away():
    others = [d for d in book().dangers.values() if d.code not in ("wire", "fire", "hurt")]
    assert len(others) == 7
    for danger in others:
        assert danger.door == "hazard_line"
        assert danger.keep_back_tree_heights == 2
        assert "two tree heights" in danger.limit
        assert "emergency number" in danger.call  # where nobody answers


@pytest.mark.parametrize("code", ["something_else", "not_sure"])
def test_what_nobody_can_name_counts_as_danger_until_somebody_has_looked(code):
    assert "counts as danger" in book().dangers[code].until


def test_a_caution_is_read_in_its_order():
    wire = book().dangers["wire"]
    assert wire.lines == (wire.do_not, wire.why, wire.limit, wire.call, wire.meanwhile)
    for warned in (*book().dangers.values(), *book().cautions.values()):
        assert warned.do_not.startswith("Do not ")


# --- condition, extents, care ------------------------------------------------------------------


def test_the_condition_words_fill_the_gauge_from_four_joints_to_none():
    joints = {code: condition.joints for code, condition in book().conditions.items()}
    assert joints == {
        "thriving": 4,
        "holding": 3,
        "slipping": 2,
        "failing": 1,
        "dead": 0,
        "gone": None,
    }
    assert [c for c, condition in book().conditions.items() if not condition.alive] == [
        "dead",
        "gone",
    ]


def test_the_pictures_name_every_condition_and_one_that_names_none():
    steps = book().picture_scale
    assert [step.condition for step in steps.values()] == [*book().conditions, None]
    assert steps["cannot_tell"].condition is None


def test_the_extents_meet_without_a_gap():
    ladder = [e for e in book().extents.values() if e.from_fraction is not None]
    assert [(e.from_fraction, e.to_fraction) for e in ladder] == [
        (0.0, 0.25),
        (0.25, 0.5),
        (0.5, 1.0),
        (1.0, 1.0),
    ]
    assert book().extents["cannot_see"].from_fraction is None


def test_whatever_breaks_the_ground_waits_for_the_utilities():
    # A ticket before any hole, edge, stake or rod: 811 pages of East Grand Forks and Stanwood.
    for code in ("turf_back", "berm", "trunk_guard", "replace", "remove_dead_tree"):
        care = book().care[code]
        assert care.needs_utility_ticket
        assert "digging" in care.cautions


def test_volunteers_fell_and_prune_nothing():
    for code in ("prune_dead_wood", "remove_dead_tree", "arborist_visit", "replace"):
        assert "volunteer" not in book().care[code].who


def test_all_care_but_looking_needs_the_owners_leave():
    assert [c for c, care in book().care.items() if not care.needs_permission] == ["look_again"]


def test_every_care_by_volunteers_says_to_sign_in():
    for care in book().care.values():
        if "volunteer" in care.who:
            assert "sign_in" in care.cautions


def test_the_handbook_is_read_once_and_cannot_be_written():
    assert book() is book()
    with pytest.raises(TypeError):
        book().signs["bark_wound"] = None
    with pytest.raises(AttributeError):
        book().signs["bark_wound"].weight = 1


def test_the_book_loads_without_django_or_any_other_room():
    program = (
        "import sys; from survey.handbook.book import book; book();"
        "print([m for m in sys.modules if m.split('.')[0] in ('django', 'api', 'frontend')"
        " or m.startswith('survey.') and not m.startswith('survey.handbook')])"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert run.stdout.strip() == "[]"
