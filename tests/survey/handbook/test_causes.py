"""Causes, clues and checks: complete, joined up, and told apart as the trade tells them."""

import re

import pytest

from survey.causes.words import folded as folded_words
from survey.causes.words import tokens
from survey.handbook.book import book
from survey.handbook.coherence import SETTLES, answers_weighed, folded, names_of

CAUSES = list(book().causes)

# The headings of the list of signs and causes that the handbook follows, in its order; the last of
# them holds two causes here. Every heading is one of the names under which a file may call it.
HEADINGS = {
    "mower/trimmer wound": "mower_or_trimmer",
    "sunburn": "sunburn",
    "winter sunscald": "winter_sunscald",
    "drought": "drought",
    "overwatering / Phytophthora root-crown rot": "root_rot",
    "planted too deep": "planted_too_deep",
    "stem-girdling root": "girdling_root",
    "stake/tie girdling": "tie_girdling",
    "rodent/rabbit gnaw": "rodents",
    "dog urine": "dog_urine",
    "borers": "borers",
    "sap-suckers (aphid, scale)": "sap_suckers",
    "foliar disease/mildew": "leaf_disease",
    "nutrient chlorosis": "chlorosis",
    "herbicide": "herbicide",
    "frost": "frost",
    "transplant shock": "transplant_shock",
    "vandalism/breakage/vehicle": "breakage",
    "compaction/root damage": "compaction",
    "salt (deicing / reclaimed)": "salt",
    "heat reflected/pavement scorch": "reflected_heat",
    "cold/deer/trunk rub": "deer_rub",
    "bird sapsucker rows": "sapsucker",
    "dog chewing": "dog_chewing",
    "fungus bracket": "wood_decay",
    "quarantine pest": "reportable_pest",
    "mulch volcano": "mulch_heap",
    "natural bare": "asleep",
    "nursery damage": "nursery_damage",
}


def weights(cause: str) -> dict[str, int]:
    return {one.clue: one.weight for one in book().causes[cause].clues}


def points(cause: str, so: set[str], not_so: set[str] = frozenset()) -> int:
    """What plain adding up of a cause's own weights says of these clues."""
    return sum(
        one.weight if one.clue in so else one.absent if one.clue in not_so else 0
        for one in book().causes[cause].clues
    )


def best(so: set[str], not_so: set[str] = frozenset()) -> list[str]:
    """The causes from the likeliest down, by adding up."""
    return sorted(CAUSES, key=lambda cause: -points(cause, so, not_so))


@pytest.mark.parametrize(("heading", "code"), HEADINGS.items())
def test_every_heading_of_the_trade_names_its_cause(heading, code):
    assert names_of("causes.toml", book().causes)[folded(heading)] == code


@pytest.mark.parametrize("code", CAUSES)
def test_a_cause_goes_by_three_other_names_at_least(code):
    assert len(book().causes[code].aliases) >= 3


@pytest.mark.parametrize("code", CAUSES)
def test_all_that_speaks_for_a_cause_puts_it_first(code):
    speaks_for = {clue for clue, weight in weights(code).items() if weight > 0}
    assert best(speaks_for)[0] == code
    ahead = points(code, speaks_for) - max(
        points(other, speaks_for) for other in CAUSES if other != code
    )
    assert ahead >= 2


@pytest.mark.parametrize("code", CAUSES)
def test_what_speaks_against_a_cause_takes_it_down(code):
    speaks_for = {clue for clue, weight in weights(code).items() if weight > 0}
    against = {clue for clue, weight in weights(code).items() if weight < 0}
    denied = {one.clue for one in book().causes[code].clues if one.absent < 0}
    assert against or denied
    assert points(code, against, denied) < 0
    assert points(code, speaks_for | against) <= points(code, speaks_for) - len(against)


@pytest.mark.parametrize("code", CAUSES)
def test_a_check_that_lay_people_or_a_named_expert_can_make_settles_each_cause(code):
    cause = book().causes[code]
    apart = [
        abs(yes - no)
        for yes, no in (answers_weighed(cause, book().checks[check]) for check in cause.checks)
    ]
    assert max(apart) >= SETTLES
    assert 0 not in apart


@pytest.mark.parametrize("code", CAUSES)
def test_a_look_alike_can_be_told_apart_by_a_check(code):
    """Some check of either cause moves the two of them in different steps."""
    cause = book().causes[code]
    for alike in cause.look_alikes:
        other = book().causes[alike]
        assert code in other.look_alikes
        parted = [
            check
            for check in dict.fromkeys((*cause.checks, *other.checks))
            if len(
                {
                    yes - no
                    for yes, no in (
                        answers_weighed(cause, book().checks[check]),
                        answers_weighed(other, book().checks[check]),
                    )
                }
            )
            > 1
        ]
        assert parted, (code, alike)


def test_every_clue_is_weighed_and_every_check_asked_for():
    assert set(book().clues) == {
        one.clue for cause in book().causes.values() for one in cause.clues
    }
    assert set(book().checks) == {
        check for cause in book().causes.values() for check in cause.checks
    }


def test_every_sign_but_own_words_is_a_clue_once():
    signs = [clue.sign for clue in book().clues.values() if clue.sign]
    assert len(signs) == len(set(signs))
    assert set(book().signs) - set(signs) == {"something_else"}


# --- told apart as the sources tell them -------------------------------------------------------


def test_summer_sun_and_winter_sun_are_parted_by_season_and_frost():
    # UC IPM Sunburn and Sunscald: heat against bark that warms by day and freezes at night.
    patch = {"bark_sunken", "sunny_side"}
    summer = points("sunburn", patch | {"warm_season", "frost_free"})
    assert summer - points("winter_sunscald", patch | {"warm_season", "frost_free"}) >= 4
    winter = points("winter_sunscald", patch | {"late_winter", "freeze_thaw_climate"})
    assert winter - points("sunburn", patch | {"late_winter", "freeze_thaw_climate"}) >= 3


@pytest.mark.parametrize("code", ["sunburn", "winter_sunscald"])
def test_a_wound_on_the_shaded_side_or_all_round_is_no_work_of_the_sun(code):
    assert weights(code)["shaded_side"] == -2
    assert weights(code)["all_round"] == -2


def test_no_clue_names_a_side_by_the_compass():
    compass = re.compile(r"\b(north|south|east|sur|norte)\b", re.IGNORECASE)
    for clue in book().clues.values():
        said = (clue.code, clue.label, clue.absent, *clue.aliases, *clue.words_en, *clue.words_es)
        assert not [text for text in said if compass.search(text)], clue.code


def test_thirst_and_drowning_are_parted_by_the_soil():
    # They need opposite care: UC IPM quick tips, Phytophthora; UC IPM, water deficit and excess.
    limp = {"wilting", "limp_in_morning"}
    assert best(limp | {"dry_soil"})[0] == "drought"
    assert best(limp | {"soggy_soil"})[0] == "root_rot"
    yes, no = answers_weighed(book().causes["drought"], book().checks["ball_dry"])
    wet_yes, wet_no = answers_weighed(book().causes["root_rot"], book().checks["ball_wet"])
    assert yes - no >= 4
    assert wet_yes - wet_no >= 4


def test_a_mower_a_rabbit_a_dog_and_a_deer_are_parted_by_their_marks():
    # NC State 2019 for the mower; guards and heights for rabbits and voles; dogs and deer own or
    # remembered.
    assert best({"bark_wound", "level_cut", "grass_to_trunk", "low_on_trunk"})[0] == (
        "mower_or_trimmer"
    )
    assert best({"bark_torn", "tooth_marks", "gnawing_season", "droppings_runs"})[0] == "rodents"
    assert best({"bark_torn", "claw_strips", "dogs_here"})[0] == "dog_chewing"
    assert best({"upright_shreds", "deer_here", "rutting_season"})[0] == "deer_rub"


def test_holes_in_rows_are_a_birds_and_no_insects():
    assert weights("borers")["hole_rows"] <= -2
    assert best({"hole_rows"})[0] == "sapsucker"
    assert best({"holes_sawdust"})[0] == "borers"


def test_a_hole_like_a_d_goes_to_the_agriculture_department():
    assert best({"holes_sawdust", "d_hole", "strange_pest"})[0] == "reportable_pest"
    assert "agriculture department" in book().causes["reportable_pest"].report_to


def test_a_shelf_of_fungus_goes_to_an_arborist_and_to_nobody_else():
    decay = book().causes["wood_decay"]
    assert best({"fungus", "bracket"})[0] == "wood_decay"
    assert decay.who == "arborist"
    assert decay.care == ("arborist_visit",)


def test_a_tree_bare_in_its_months_is_asleep_and_that_is_no_trouble():
    assert best({"bare_branches", "bare_is_normal", "twigs_bend"})[0] == "asleep"
    assert points("asleep", {"bare_branches"}, {"bare_is_normal"}) < 0
    assert book().causes["asleep"].kind == "season"


def test_only_the_look_at_delivery_says_that_it_came_wounded():
    so, not_so = {"bark_wound", "same_planting_same_sign"}, {"came_wounded"}
    assert best(so | {"came_wounded"})[0] == "nursery_damage"
    assert points("nursery_damage", so, not_so) <= 0


# --- what lay people are sent to do ------------------------------------------------------------

HARM = re.compile(
    r"\b(dig|digging|cut|scratch|peel|ladder|climb|saw|shovel|spade|knife|drill|spray|step into)\b",
    re.IGNORECASE,
)


@pytest.mark.parametrize(
    "code", [code for code, check in book().checks.items() if check.who == "anyone"]
)
def test_no_lay_check_digs_cuts_climbs_or_steps_into_the_road(code):
    check = book().checks[code]
    for sentence in re.split(r"(?<=[.?])\s+", check.how):
        if HARM.search(sentence):
            assert re.search(r"\b(not|no)\b|^Think of", sentence), sentence


def test_the_net_for_harmful_checks_catches_them():
    assert HARM.search("Cut a window in the bark.")
    assert HARM.search("Dig beside the trunk.")


def test_a_probe_by_hand_stops_at_six_inches_and_at_any_resistance():
    for code in ("ball_dry", "ball_wet", "stick_goes_in"):
        how = book().checks[code].how
        assert "6 in" in how or "6 in" in book().checks[code].asks
        assert "by hand" in how or "by hand" in book().checks[code].asks
        assert "inside" in how
        assert "Stop if it meets anything." in how


def test_trunks_are_pushed_by_trained_people_only():
    pushed = re.compile(r"trunk is pushed|push the (trunk|tree)", re.IGNORECASE)
    pushing = [c for c in book().checks.values() if pushed.search(f"{c.asks} {c.how}")]
    assert [(check.code, check.who) for check in pushing] == [("rocks_gently", "trained")]


def test_an_answer_never_says_and_denies_the_same():
    for check in book().checks.values():
        assert not set(check.yes_means) & set(check.yes_denies)
        assert not set(check.no_means) & set(check.no_denies)
        assert check.yes != check.no


def test_nobody_is_accused():
    for cause in book().causes.values():
        told = " ".join((cause.label, cause.says))
        assert not re.search(r"\b(fault|guilty|careless|blame|culprit)\b", told, re.IGNORECASE)


# --- words of neighbors ------------------------------------------------------------------------


@pytest.mark.parametrize("language", ["words_en", "words_es"])
def test_a_lay_phrase_means_one_clue_of_a_language(language):
    """A phrase under two clues would count twice. Dressed up for one clue it may hold another."""
    meant: dict[str, str] = {}
    for code, clue in book().clues.items():
        for phrase in getattr(clue, language):
            assert phrase == phrase.lower().strip()
            assert meant.setdefault(phrase, code) == code, phrase


def test_what_can_be_seen_can_be_said_in_english_and_spanish():
    for clue in book().clues.values():
        assert bool(clue.words_en) == bool(clue.words_es), clue.code
        if clue.about == "sign":
            assert len(clue.words_en) >= 3
            assert len(clue.words_es) >= 3


@pytest.mark.parametrize(
    ("phrase", "clue"),
    [
        ("weed whacker", "grass_tool_seen"),
        ("desbrozadora", "grass_tool_seen"),
        ("podadora", "grass_tool_seen"),
        ("perro", "dogs_here"),
        ("chewed", "bark_torn"),
        ("aserrín", "holes_sawdust"),
        ("sawdust", "holes_sawdust"),
        ("encharcado", "soggy_soil"),
        ("helada", "after_hard_frost"),
        ("hongo", "fungus"),
    ],
)
def test_plain_words_are_understood(phrase, clue):
    assert phrase in (*book().clues[clue].words_en, *book().clues[clue].words_es)


# --- the calendar ------------------------------------------------------------------------------


def test_clues_of_the_calendar_turn_round_in_the_south():
    gnawing = book().clues["gnawing_season"]
    assert [m for m in range(1, 13) if gnawing.holds_in(m, "north")] == [1, 2, 3, 12]
    assert [m for m in range(1, 13) if gnawing.holds_in(m, "south")] == [6, 7, 8, 9]
    assert book().clues["dry_soil"].holds_in(6, "north") is None


@pytest.mark.parametrize(
    ("cause", "months"),
    [
        # The season table of the trade, from the sources or as common practice.
        ("mower_or_trimmer", [3, 4, 5, 6, 7, 8, 9, 10, 11]),
        ("sunburn", [5, 6, 7, 8, 9, 10]),
        ("winter_sunscald", [2, 3, 4, 5, 6]),
        ("drought", [5, 6, 7, 8, 9, 10]),
        ("borers", [3, 4, 5, 6, 7, 8, 9]),
        ("sap_suckers", [4, 5, 6, 7, 8, 9]),
    ],
)
def test_a_cause_shows_in_its_months_and_half_a_year_later_in_the_south(cause, months):
    shows = book().causes[cause]
    assert [m for m in range(1, 13) if shows.shows_in(m, "north")] == months
    for month in range(1, 13):
        assert shows.shows_in(month, "north") == shows.shows_in((month + 5) % 12 + 1, "south")


# --- what is done about it ---------------------------------------------------------------------


@pytest.mark.parametrize("code", ["root_rot", "wood_decay"])
def test_rotting_roots_get_no_water_no_heap_and_no_food(code):
    # No basin, no mulch on the crown, no fertilizer: UC farm advisor, Phytophthora.
    assert not {"water", "berm", "mulch_ring", "fertilize", "compost"} & set(
        book().causes[code].care
    )


@pytest.mark.parametrize("code", ["drought", "transplant_shock", "herbicide", "frost", "salt"])
def test_a_thirsty_new_poisoned_or_frozen_tree_is_neither_fed_nor_pruned(code):
    assert not {"fertilize", "prune_dead_wood"} & set(book().causes[code].care)


def test_no_cause_alone_condemns_a_tree():
    for cause in book().causes.values():
        assert not {"remove_dead_tree", "replace"} & set(cause.care)


def test_every_cause_says_what_to_do_and_what_to_leave():
    for cause in book().causes.values():
        assert cause.do
        assert cause.do_not
        assert cause.care


@pytest.mark.parametrize(("language", "field"), [("en", "words_en"), ("es", "words_es")])
def test_no_two_clues_are_named_by_the_same_telling_words(language, field):
    """What the reader of neighbors' words leaves of a phrase still names one clue alone."""
    meant: dict[tuple[str, ...], str] = {}
    for code, clue in book().clues.items():
        for phrase in getattr(clue, field):
            telling = tuple(sorted(tokens(folded_words(phrase), language)))
            assert telling, phrase
            assert meant.setdefault(telling, code) == code, phrase
