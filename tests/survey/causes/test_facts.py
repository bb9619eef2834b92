"""From plain facts to clues: sides by the sun, seasons by hemisphere, refusals in clear words."""

import math

import pytest

from survey.causes.conflicts import OPPOSITES, BadFacts
from survey.causes.differential import tell_apart
from survey.causes.facts import Facts, read_facts
from survey.causes.kinds import calendar_of
from survey.causes.sides import bearing_of, sides_facing
from survey.handbook.book import book
from survey.science.causes.records import Known, Witness


def clues_of(**facts):
    return {one.clue: one.so for one in read_facts(Facts(**facts)).known}


def test_a_ticked_sign_is_a_known_clue_and_something_else_is_none():
    known = clues_of(signs={"bark_wound": True, "wilting": False, "something_else": True})
    assert known == {"bark_wound": True, "wilting": False}


@pytest.mark.parametrize(
    ("side", "latitude", "sunny"),
    [
        ("south", 40, True),
        ("southwest", 40, True),
        ("west", 40, True),
        ("north", 40, False),
        ("east", 40, False),
        ("north", -34, True),
        ("northwest", -34, True),
        ("west", -34, True),
        ("south", -34, False),
        ("west", 5, True),
        ("east", 5, False),
    ],
)
def test_the_sunny_side_goes_by_latitude(side, latitude, sunny):
    known = clues_of(signs={"bark_sunken": True}, side=side, latitude=latitude)
    assert known["sunny_side"] is sunny


def test_the_shaded_side_is_toward_the_nearer_pole_and_none_in_the_tropics():
    assert dict(sides_facing(0.0, 40))["shaded_side"]
    assert dict(sides_facing(180.0, -40))["shaded_side"]
    assert not dict(sides_facing(90.0, 40))["shaded_side"]
    assert not dict(sides_facing(0.0, 5))["shaded_side"]


def test_street_and_building_become_compass_sides_by_the_bearing_of_the_street():
    assert bearing_of("street", 225) == 225
    assert bearing_of("building", 225) == 45
    assert bearing_of("street", None) is None
    assert bearing_of("path", 225) is None
    known = clues_of(signs={"bark_sunken": True}, side="street", street_bearing=225, latitude=40)
    assert known["sunny_side"]
    assert known["street_side"]


def test_leaves_scorched_toward_a_building_face_a_wall_and_a_wound_there_does_not():
    assert clues_of(signs={"crisp_edges": True}, side="building")["wall_side"] is True
    assert "wall_side" not in clues_of(signs={"bark_sunken": True}, side="building")


def test_compass_words_in_the_text_are_read_if_they_name_one_side():
    one = clues_of(words="The bark on the south side is peeling", latitude=40)
    assert one["sunny_side"] is True
    assert "sunny_side" not in clues_of(words="north side and south side", latitude=40)
    assert clues_of(words="el lado norte", latitude=-34)["sunny_side"] is True


def test_a_month_holds_its_clues_of_the_calendar_and_the_tropics_have_none():
    assert clues_of(month=6, latitude=40)["mowing_season"] is True
    assert clues_of(month=12, latitude=-40)["mowing_season"] is True
    assert clues_of(month=1, latitude=40)["mowing_season"] is False
    assert "mowing_season" not in clues_of(month=1, latitude=10)
    assert "mowing_season" not in clues_of(month=1)


def test_ages_are_told_from_years_in_the_ground():
    young, old = clues_of(age_years=0.5), clues_of(age_years=12)
    assert young["planted_under_1_year"]
    assert young["planted_under_3_years"]
    assert old["established"]
    assert not old["planted_under_3_years"]


def test_bare_in_its_bare_months_counts_for_sleep_alone():
    linden = calendar_of("linden", "north")
    facts = Facts(signs={"bare_branches": True}, month=1, latitude=42, species=linden)
    told = tell_apart(facts)
    assert told.asleep.cause == "asleep"
    assert [one.cause for one in told.answer.named] == ["asleep"]
    for cause in told.answer.causes:
        if book().causes[cause.cause].kind != "season":
            assert "bare_branches" not in {line.clue for line in cause.speaks_for}
    assert told.read.notes


def test_bare_in_july_is_no_sleep_in_the_north_and_is_in_the_south():
    def told(latitude, hemisphere):
        kind = calendar_of("linden", hemisphere)
        return tell_apart(
            Facts(signs={"bare_branches": True}, month=7, latitude=latitude, species=kind)
        )

    assert told(42, "north").answer.by_code["asleep"].word == "unlikely"
    assert told(-42, "south").asleep is not None


MIRRORED = [
    {"signs": {"bark_sunken": True}, "side": "south", "month": 7, "age_years": 1.0},
    {"signs": {"bark_sunken": True}, "side": "southwest", "month": 3, "age_years": 2.0},
    {"signs": {"bark_torn": True}, "side": "north", "month": 1},
    {"signs": {"bare_branches": True}, "month": 12},
    {"signs": {"wilting": True, "dry_soil": True}, "month": 8, "words": "no rain for weeks"},
]


@pytest.mark.parametrize("facts", MIRRORED)
@pytest.mark.parametrize("latitude", [28, 38.5, 47, 60])
def test_hemispheres_mirror(facts, latitude):
    across = {"north": "south", "south": "north", "southwest": "northwest"}
    mirrored = {**facts, "month": (facts["month"] + 5) % 12 + 1}
    if "side" in facts:
        mirrored["side"] = across[facts["side"]]
    here = tell_apart(Facts(**facts, latitude=latitude, species=calendar_of("linden", "north")))
    there = tell_apart(
        Facts(**mirrored, latitude=-latitude, species=calendar_of("linden", "south"))
    )
    assert here.answer == there.answer
    assert here.asked.question == there.asked.question


@pytest.mark.parametrize(
    ("facts", "field", "words"),
    [
        ({"month": 13}, "month", "1 to 12"),
        ({"month": 0}, "month", "1 to 12"),
        ({"month": True}, "month", "1 to 12"),
        ({"month": "June"}, "month", "1 to 12"),
        ({"latitude": 95}, "latitude", "-90"),
        ({"latitude": math.nan}, "latitude", "number"),
        ({"latitude": "north"}, "latitude", "number"),
        ({"latitude": -34, "hemisphere": "north"}, "latitude", "other hemisphere"),
        ({"latitude": -34, "month": 1, "season": "winter"}, "season", "not winter in month 1"),
        ({"latitude": 40, "month": 1, "season": "rainy"}, "season", "winter, spring"),
        ({"age_years": -1}, "age", "0 or more"),
        ({"age_years": math.inf}, "age", "number"),
        ({"signs": {"bark_gone_blue": True}}, "signs", "bark_gone_blue"),
        ({"clues": {"moon_phase": True}}, "clues", "moon_phase"),
        ({"extent": "twice_round"}, "extent", "twice_round"),
        ({"side": "upside"}, "side", "upside"),
        ({"signs": {"dry_soil": True, "soggy_soil": True}}, "signs", "contradict"),
        ({"clues": {"sunny_side": True, "shaded_side": True}}, "signs", "contradict"),
        (
            {"signs": {"dry_soil": True}, "clues": {"dry_soil": False}},
            "signs",
            "so and as not so",
        ),
    ],
)
def test_what_cannot_be_right_is_refused_and_nothing_is_ranked(facts, field, words):
    with pytest.raises(BadFacts) as refused:
        tell_apart(Facts(**facts))
    assert refused.value.field == field
    assert words in refused.value.problem


def test_a_southern_tree_with_northern_months_is_told():
    linden = calendar_of("linden", "south")
    with pytest.raises(BadFacts, match="sign of the latitude"):
        read_facts(Facts(month=7, latitude=-34, species=linden, leaf="full"))


def test_an_answered_check_overrules_what_a_neighbor_ticked():
    check = Known("soggy_soil", True, frozenset({Witness("check")}))
    known = clues_of(signs={"dry_soil": True}, further=(check,))
    assert known == {"soggy_soil": True}
    denied = Known("dry_soil", False, frozenset({Witness("trained", "walker")}))
    assert clues_of(signs={"dry_soil": True}, further=(denied,)) == {"dry_soil": False}


def test_loose_words_give_way_to_ticks_and_to_each_other():
    assert clues_of(signs={"dry_soil": True}, words="it is soggy") == {"dry_soil": True}
    assert clues_of(words="the soil is dry, and on the other side soggy") == {}


def test_every_opposite_and_every_clue_computed_is_one_of_the_handbook():
    assert {clue for pair in OPPOSITES for clue in pair} <= set(book().clues)
    named = dict(sides_facing(180.0, 40)) | clues_of(age_years=1)
    assert set(named) <= set(book().clues)


def test_whole_years_are_rounded_by_people():
    assert "planted_under_1_year" not in clues_of(age_years=1)
    assert clues_of(age_years=1)["planted_under_3_years"]
    assert clues_of(age_years=3)["planted_under_3_years"]
    assert clues_of(age_years=1.2)["planted_under_1_year"] is False
    assert clues_of(age_years=3.2)["planted_under_3_years"] is False


@pytest.mark.parametrize(
    ("month", "latitude", "warm"),
    [(5, 46.8, None), (6, 46.8, None), (7, 46.8, True), (5, 36, True), (12, -46.8, None)],
)
def test_far_from_the_equator_late_spring_does_not_say_when_it_began(month, latitude, warm):
    assert clues_of(month=month, latitude=latitude).get("warm_season") is warm


def test_an_evergreen_that_changes_its_leaves_is_asleep_and_not_in_trouble():
    camphor = calendar_of("camphor", "north")
    told = tell_apart(Facts(clues={"leaf_drop": True}, month=4, latitude=34, species=camphor))
    assert told.answer.causes[0].cause == "asleep"
    assert told.answer.causes[0].word == "possible"
    later = tell_apart(Facts(clues={"leaf_drop": True}, month=8, latitude=34, species=camphor))
    assert later.answer.by_code["asleep"].word == "unlikely"


@pytest.mark.parametrize(("side", "degrees"), [("NNE", 22.5), ("wsw", 247.5), ("S", 180.0)])
def test_sixteen_points_of_the_compass_are_sides(side, degrees):
    assert bearing_of(side, None) == degrees
