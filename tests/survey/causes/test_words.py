"""Clues are read out of a neighbor's own words; a denial denies, and nothing is guessed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.causes.facts import phrases
from survey.causes.words import hear

PHRASES = {
    "en": {
        "wilting": ("leaves droop", "wilting"),
        "dry_spell": ("no rain",),
        "grass": ("grass up to the trunk",),
        "sawdust": ("sawdust",),
        "cut": ("bark cut at the bottom",),
        "lawn": ("in the lawn",),
        "today": ("this morning",),
    },
    "es": {
        "sawdust": ("aserrín",),
        "cut": ("corteza cortada abajo",),
        "grass": ("zacate hasta el tronco",),
    },
}


@pytest.mark.parametrize(
    ("text", "heard"),
    [
        ("The leaves are drooping", {"wilting": True}),
        ("WILTED!!! all of it", {"wilting": True}),
        ("leaves aren't drooping", {"wilting": False}),
        ("No sawdust, grass grows right up to the trunk", {"sawdust": False, "grass": True}),
        ("it hasn't rained for weeks", {"dry_spell": True}),
        ("there was no rain", {"dry_spell": True}),
        ("The bark has been cut, down at the bottom", {}),
        ("the bark at the bottom has been cut", {"cut": True}),
        ("La corteza está cortada abajo", {"cut": True}),
        ("no hay aserrin", {"sawdust": False}),
        ("hay aserrín y hay zacate hasta el tronco", {"sawdust": True, "grass": True}),
        ("not sure if there is sawdust", {}),
        ("no sé si hay aserrín", {}),
        ("sawdust. Well, no sawdust", {}),
        ("the sawdusty carpenter", {}),
        ("it stands in the lawn", {"lawn": True}),
        ("they mow the lawn", {}),
        ("it happened this morning", {"today": True}),
        ("still limp by morning", {}),
        ("nothing but leaves, no wilting but sawdust", {"wilting": False, "sawdust": True}),
        ("", {}),
        ("¿?¡! \x00 \u202e", {}),
    ],
)
def test_words_name_or_deny_clues(text, heard):
    assert {one.clue: one.so for one in hear(text, PHRASES)} == heard


def test_the_words_that_were_heard_are_kept():
    (one,) = hear("It is fine. Sawdust at the foot!", PHRASES)
    assert one.words == "sawdust at the foot"


@given(st.text(max_size=300))
def test_no_text_breaks_the_reading(text):
    assert all(one.clue in PHRASES["en"] for one in hear(text, PHRASES))


def test_a_long_text_is_read_in_a_moment():
    text = "no hay nada de aserrín, the leaves droop and the bark " * 400
    assert {one.clue for one in hear(text, phrases())} >= {"wilting"}


def test_every_phrase_of_the_handbook_is_heard_in_itself():
    missed = [
        (code, phrase)
        for language, by_clue in phrases().items()
        for code, said in by_clue.items()
        for phrase in said
        if code not in {one.clue for one in hear(phrase, {language: {code: said}})}
    ]
    assert missed == []


@pytest.mark.parametrize(
    ("text", "heard"),
    [
        ("Hoy sale mucha gente a la calle", set()),
        ("street sale today", set()),
        ("echaron sal en la calle", {"road_salt"}),
        ("a root runs over it", {"circling_root"}),
        ("a truck ran over it", {"tire_or_paint"}),
        ("Las hojas amarillas se caen", {"discoloured_leaves", "leaf_drop"}),
        ("I water it every week", set()),
        ("lo riego cada semana", set()),
        ("there is a bus stop and a playground", set()),
        ("it leafed out late this year", {"late_leaf"}),
        ("there was never a stake, it was never staked", {"never_tied"}),
        ("ties were removed in May", {"ties_gone"}),
        ("older leaves turn yellow", {"older_yellow", "discoloured_leaves"}),
        ("los conejos royeron la corteza", {"bark_torn", "gnawers_here"}),
    ],
)
def test_words_that_look_alike_are_told_apart(text, heard):
    assert {one.clue for one in hear(text, phrases()) if one.so} == heard
