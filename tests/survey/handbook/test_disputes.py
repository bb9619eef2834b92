"""What is disputed: said in neutral words, with its source, and no side taken without one."""

import re

import pytest

from survey.handbook.book import book

# What the tool must say it does not know: the trade's disputed claims by code.
DISPUTED = [
    "girdle_quarters",
    "feed_new_trees",
    "most_runs_off",
    "paint_kind",
    "coat_where",
    "coat_against_sunscald",
    "paint_saves_bark",
    "mulch_depth",
    "mulch_on_ball",
    "time_to_settle",
    "how_much_water",
    "staking",
    "dogs_kill_trees",
    "many_stems",
    "condition_scales",
    "plant_factors",
    "missing_trees",
    "which_guide",
    "fifteen_degrees",
    "green_means_saved",
    "natives_need_none",
    "organic_cannot_burn",
    "synthetic_kills_soil",
    "latex_stays",
    "vessels_burst",
    "coat_color",
    "cardboard",
    "cover_at_once",
]


@pytest.mark.parametrize("code", DISPUTED)
def test_a_disputed_claim_is_on_the_list(code):
    assert code in book().disputes


@pytest.mark.parametrize("code", list(book().disputes))
def test_a_dispute_without_a_source_says_that_none_was_found_or_whose_memory_it_is(code):
    dispute = book().disputes[code]
    if not dispute.sources:
        assert re.search(r"[Nn]o (source|trial)\b|memory|argued", dispute.known)
        assert dispute.mark


@pytest.mark.parametrize("code", list(book().disputes))
def test_a_dispute_takes_no_side_in_its_words(code):
    dispute = book().disputes[code]
    told = f"{dispute.claim} {dispute.known} {dispute.practice}"
    heat = r"\b(myth|nonsense|wrong|stupid|obviously|of course|proven|debunk\w*|lie)\b"
    assert re.findall(heat, told, re.IGNORECASE) == []


def test_a_claim_is_a_sentence_and_so_are_its_answers():
    for dispute in book().disputes.values():
        for text in (dispute.claim, dispute.known, dispute.practice):
            assert text[0].isupper()
            assert text.endswith(".")


def test_no_runoff_share_is_printed_as_a_fact():
    # Such claims may take what was not drunk for what ran off; no support was found.
    assert "not printed as a fact" in book().disputes["most_runs_off"].practice
