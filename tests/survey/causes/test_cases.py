"""Described cases are read forgivingly and scored strictly."""

import textwrap

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.causes.cases import BadCases, read_case, read_cases
from survey.causes.facts import read_facts
from survey.causes.judging import Share, judge, same_look, score
from survey.causes.terms import SHELVES, find
from survey.handbook.book import book


@pytest.fixture
def written(tmp_path):
    def write(text):
        path = tmp_path / "cases.toml"
        path.write_text(textwrap.dedent(text), encoding="utf-8")
        return path

    return write


def none_found(text, language):
    return ()


@pytest.mark.parametrize(
    ("shelf", "value", "code"),
    [
        ("causes", "mower_or_trimmer", "mower_or_trimmer"),
        ("causes", "Mower or trimmer", "mower_or_trimmer"),
        ("causes", "MOWER OR TRIMMER", "mower_or_trimmer"),
        ("causes", "mower damage", "mower_or_trimmer"),
        ("causes", "drought", "drought"),
        ("causes", "drought stress", "drought"),
        ("causes", "plain old drought", "drought"),
        ("causes", "lightning", None),
        ("checks", "Do dogs come by?", "dogs_come_by"),
        ("checks", "Is it raining?", None),
        ("causes", "", None),
        ("signs", "bark wound", "bark_wound"),
        ("signs", "Bark is gone", "bark_wound"),
        ("species", "Tilia cordata", "linden"),
        ("species", "Linden", "linden"),
        ("species", "baobab", None),
        ("checks", "ball_dry", "ball_dry"),
        ("dangers", "wire", "wire"),
        ("clues", "grass to trunk", "grass_to_trunk"),
    ],
)
def test_an_entry_is_found_by_any_of_its_names(shelf, value, code):
    assert find(shelf, value) == code


def test_every_entry_is_found_by_its_code_and_its_label():
    for shelf in SHELVES:
        for code in getattr(book(), shelf):
            assert find(shelf, code) == code
            assert find(shelf, code.replace("_", " ").upper()) == code


def test_keys_and_values_are_read_in_many_forms(written):
    cases = read_cases(
        written(
            """
            [first]
            signs = ["Bark is gone", "wilting"]
            side = "south-west"
            month = "June"
            lat = "40.5"
            species = "Tilia cordata"
            age = "18 months"
            site_facts = { grass_to_trunk = true, mulch_ring_whole = false }
            neighbours = ["same_site_same_sign"]
            weather = "no rain for weeks"
            words = "it looks sad"
            accepted_causes = "mower damage"
            danger = ""
            settles = "ball_dry"

            [[case]]
            id = "second"
            signs = [{ sign = "bark_wound", extent = "all_round", side = "street" }]
            causes = []
            danger = ["wire"]

            [more.third]
            text = "sawdust"
            expected = ["borers", "cannot tell"]
            """
        )
    )
    first, second, third = cases
    assert first.facts.signs == {"bark_wound": True, "wilting": True}
    assert (first.facts.month, first.facts.latitude, first.facts.age_years) == (6, 40.5, 1.5)
    assert first.facts.species.code == "linden"
    assert first.facts.clues["mulch_ring_whole"] is False
    assert first.facts.clues["same_site_same_sign"] is True
    assert (first.accepted, first.danger) == ({"mower_or_trimmer"}, False)
    assert first.question == {"ball_dry"}
    assert (second.name, second.facts.extent, second.facts.side) == (
        "second",
        "all_round",
        "street",
    )
    assert (second.cannot_tell, second.danger, second.dangers) == (True, True, {"wire"})
    assert (third.name, third.accepted, third.cannot_tell) == ("more third", {"borers"}, True)
    assert [case.odd for case in cases] == [[], [], []]
    assert judge([first], none_found)[0].named


def test_what_is_not_known_is_read_as_words_and_else_listed():
    case = read_case(
        "x",
        {
            "signs": ["sawdust at the foot", "purple polka dots"],
            "site": {"no_grass_to_trunk": True, "depth_of_moat": 3},
            "species": "baobab",
            "accepted": ["sorcery"],
            "colour": "blue",
        },
    )
    assert case.facts.words.strip() == "sawdust at the foot"
    assert case.facts.clues == {"grass_to_trunk": False}
    assert sorted(case.odd) == [
        "accepted: sorcery",
        "colour (no key of a case)",
        "signs: purple polka dots",
        "site: depth_of_moat",
        "species: baobab",
    ]


def test_a_name_that_several_kinds_share_is_what_they_have_in_common():
    def kind(name):
        case = read_case("x", {"species": name, "latitude": 40})
        assert case.odd == []
        return case.facts.species

    maple = kind("maple")
    assert maple.deciduous
    assert {12, 1, 2} <= maple.bare
    assert not maple.bare & maple.shoulder
    assert kind("oak").deciduous is None


def test_a_danger_among_the_signs_is_found_without_any_words():
    (judged,) = judge([read_case("x", {"signs": ["hanging_limb"], "danger": True})], none_found)
    assert judged.dangers == {"hanging_limb"}
    assert judged.question is None


def test_a_case_that_cannot_be_right_is_refused_and_nothing_is_ranked():
    for facts in (
        {"month": 13},
        {"latitude": 95},
        {"age": -2},
        {"signs": ["dry_soil", "soggy_soil"]},
        {"latitude": -34, "hemisphere": "north"},
        {"latitude": -34, "month": 1, "season": "winter"},
    ):
        (judged,) = judge([read_case("x", {**facts, "accepted": []})], none_found)
        assert judged.refused
        assert judged.ranking == []
        assert judged.cannot_tell


def lines_of(cases):
    scored = score(judge([read_case(name, table) for name, table in cases.items()], none_found))
    return {said: share for _heading, lines in scored.lines for said, share in lines}


def test_dry_and_wet_are_one_look_into_the_soil():
    assert same_look("ball_dry", frozenset({"ball_wet"}))
    assert not same_look("ball_dry", frozenset({"limp_at_dawn"}))
    assert not same_look(None, frozenset({"ball_dry"}))


def test_scores_count_what_they_say():
    scored = lines_of(
        {
            "right": {"signs": ["holes_sawdust"], "text": "sawdust", "accepted": ["borers"]},
            "wrong": {"signs": ["holes_sawdust"], "accepted": ["drought"], "danger": True},
            "silent": {"text": "it looks sad", "accepted": [], "danger": False},
            "overbold": {"signs": ["sticky_leaves"], "accepted": "cannot tell"},
            "trained": {
                "signs": ["holes_sawdust", "bark_sunken"],
                "seen_by": "trained volunteer",
                "accepted": ["salt"],
            },
            "unscored": {"text": "nothing said of what is right"},
        }
    )
    assert scored["an accepted cause is first"] == Share(1, 3)
    assert scored["was said"] == Share(1, 5)
    assert scored["was right when it was said"] == Share(1, 1)
    assert scored["was said where it is right"] == Share(1, 2)
    assert scored["called likely and wrong (too sure)"] == Share(1, 1)
    assert scored["found where there is one"] == Share(0, 1)
    assert scored["false alarms where there is none"] == Share(0, 1)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "just words",
        "x = 1",
        "[a]\nb = ",
        "[a]\n[a]\n",
        "cases = []",
        "[notes]\nnote = 'none'",
        "a = " + "[" * 5000,
    ],
)
def test_a_file_that_holds_no_cases_is_refused(written, text):
    with pytest.raises(BadCases):
        read_cases(written(text))


def test_bytes_that_are_no_text_and_a_missing_file_are_refused(tmp_path):
    (tmp_path / "x.toml").write_bytes(b"\xff\xfe\x00")
    for name in ("x.toml", "missing.toml", "."):
        with pytest.raises(BadCases):
            read_cases(tmp_path / name)


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)
NAMES = st.sampled_from(
    ["signs", "side", "month", "latitude", "species", "age", "site", "text", "accepted", "danger",
     "question", "extent", "weather", "seen_by", "photos", "hemisphere", "leaf", "season",
     "street_bearing", "age_months", "odd key"]
)  # fmt: skip


@given(st.dictionaries(NAMES, VALUES, max_size=5))
@settings(deadline=None)  # the first of them reads the handbook
def test_no_table_breaks_the_reading_or_the_judging(table):
    (judged,) = judge([read_case("x", table)], none_found)
    assert judged.refused or judged.told


@pytest.mark.parametrize(
    ("asked", "codes"),
    [
        ("screwdriver in the root ball", {"ball_dry"}),
        ("push a screwdriver into the soil", {"stick_goes_in"}),
        ("planting date and probe in the ball", {"when_planted", "ball_dry"}),
        ("mirar debajo de la hoja", {"under_the_leaf"}),
        ("look for white crust; was road salt used", {"white_crust", "salted_road"}),
        ("measure_wound", {"goes_round"}),
        ("Is it raining?", set()),
    ],
)
def test_a_question_in_words_means_the_checks_that_it_speaks_of(asked, codes):
    assert set(read_case("x", {"question": asked, "accepted": []}).question or ()) == codes


@pytest.mark.parametrize(
    ("named", "codes"),
    [
        ("cold/deer/trunk rub, bird sapsucker rows", {"deer_rub", "sapsucker"}),
        ("sap-suckers (aphid, scale)", {"sap_suckers"}),
        ("mower and drought", {"mower_or_trimmer", "drought"}),
    ],
)
def test_a_heading_that_names_two_causes_means_both(named, codes):
    case = read_case("x", {"accepted": [named]})
    assert (case.accepted, case.odd) == (codes, [])


@pytest.mark.parametrize(
    ("given", "so"),
    [
        ({"side": "all sides"}, {"all_round": True}),
        ({"side": "any"}, {}),
        ({"site": ["soil moist"]}, {"dry_soil": False}),
        ({"site": ["césped hasta el tronco"]}, {"grass_to_trunk": True}),
        ({"signs": ["marchitez"]}, {"wilting": True}),
        ({"signs": ["delayed_leafout"]}, {"late_leaf": True}),
        ({"site": ["stakes still on"]}, {"staked": True}),
    ],
)
def test_trade_and_lay_names_of_signs_and_places_are_understood(given, so):
    case = read_case("x", given)
    assert case.odd == []
    known = {one.clue: one.so for one in read_facts(case.facts).known}
    assert {clue: known.get(clue) for clue in so} == so


@pytest.mark.parametrize("species", ["mango", "Citrus", "Pyrus calleryana", "olive", "Ulmus"])
def test_a_common_kind_that_the_handbook_does_not_hold_is_not_odd(species):
    case = read_case("x", {"species": species, "latitude": 40})
    assert (case.facts.species, case.odd) == (None, [])


def test_another_kind_of_a_genus_is_what_the_genus_has_in_common():
    for species in ("Norway maple", "Acer platanoides"):
        case = read_case("x", {"species": species, "latitude": 43})
        assert case.facts.species.deciduous
        assert case.odd == []


@pytest.mark.parametrize(
    ("age", "years"), [("8 months", 8 / 12), ("newly planted", 0.5), ("2 years", 2.0)]
)
def test_ages_are_read_in_words(age, years):
    assert read_case("x", {"age": age}).facts.age_years == pytest.approx(years)


def test_checks_named_as_one_look_count_as_equal():
    assert same_look("old_leaves_yellow", frozenset({"which_leaves_yellow"}))
    assert same_look("which_leaves_yellow", frozenset({"old_leaves_yellow"}))
