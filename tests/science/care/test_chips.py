"""Whether a load of chips is taken: source and kind asked, and what is never spread."""

import pytest

from survey.science.care.chips import REFUSED_FOR, Accepted, judge_chips
from survey.science.care.records import Impossible, NotGiven

GOOD = {
    "source": "tree_company",
    "species": ["linden", "field maple"],
    "quarantined": False,
    "distance_to_building_m": 10,
}


def test_a_load_of_known_source_and_kind_is_taken():
    assert judge_chips(**GOOD) == Accepted()


@pytest.mark.parametrize(
    ("more", "reason"),
    [
        ({"source": "unknown"}, "source_not_known"),
        ({"species": []}, "kind_not_known"),
        ({"species": ["  "]}, "kind_not_known"),
        ({"found": ["borers"]}, "borers"),
        ({"quarantined": True}, "across_quarantine_line"),
        ({"barred": ["Linden "]}, "kind_barred_here"),
        ({"found": ["glass_or_trash"]}, "glass_or_trash"),
        ({"found": ["weed_seed"]}, "weed_seed"),
        ({"distance_to_building_m": 1.5}, "too_near_a_building"),  # 5 ft, from memory
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_refuses_a_load(more, reason):
    assert judge_chips(**{**GOOD, **more}) == NotGiven("mulch_ring", (reason,))


def test_five_feet_from_a_building_is_far_enough():
    assert judge_chips(**{**GOOD, "distance_to_building_m": 5 * 0.3048}) == Accepted()


def test_all_reasons_come_at_once():
    refused = judge_chips(source="unknown", species=[], found=["weed_seed", "borers"])
    assert refused.because == ("source_not_known", "kind_not_known", "borers", "weed_seed")
    assert set(refused.because) < set(REFUSED_FOR)


def test_what_nobody_asked_is_still_to_be_asked():
    open_questions = judge_chips(source="yard", species=["oak"])
    assert open_questions == Accepted(ask=("quarantine_line", "distance_to_building"))


@pytest.mark.parametrize(
    "more", [{"source": "a friend"}, {"found": ["smells"]}, {"found": "borers"}]
)
def test_an_unknown_choice_is_impossible(more):
    with pytest.raises(Impossible):
        judge_chips(**{**GOOD, **more})
