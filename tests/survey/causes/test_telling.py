"""Causes in words: no numbers, nobody accused, and each answer says what it would change."""

import re

import pytest

from survey.causes.differential import tell_apart
from survey.causes.facts import Facts
from survey.causes.kinds import calendar_of
from survey.causes.telling import calibration_said, causes_said, change_said
from survey.handbook.book import book
from survey.science.causes.asking import ask
from survey.science.causes.calibration import calibrate
from survey.science.causes.records import Known, Question, Suspect, Weighing, Witness

CUT_AND_DRY = Facts(
    signs={"bark_wound": True, "wilting": True, "crisp_edges": True},
    clues={"grass_to_trunk": True, "dry_spell": True},
    month=7,
    latitude=38,
    age_years=1.0,
)


def test_the_summary_names_what_is_possible():
    said = causes_said(tell_apart(CUT_AND_DRY))
    assert said.summary.startswith("Possible: ")
    assert {one.code for one in said.causes} >= {"mower_or_trimmer", "drought"}


def test_a_sleeping_tree_is_no_trouble():
    facts = Facts(
        signs={"bare_branches": True}, month=1, latitude=42, species=calendar_of("linden", "north")
    )
    assert causes_said(tell_apart(facts)).summary.startswith("It is asleep")


def test_nothing_known_says_so_and_still_asks():
    said = causes_said(tell_apart(Facts()))
    assert said.summary == "Nobody can tell the cause yet."
    assert said.causes == ()
    assert said.question is not None


def test_no_number_but_a_count_of_causes_stands_beside_a_cause():
    for one in causes_said(tell_apart(CUT_AND_DRY)).causes:
        assert not re.search(r"\d", one.word + one.why)
        for line in (*one.speaks_for, *one.speaks_against):
            assert not re.search(r"\d", re.sub(r"fits \d+ causes?", "", line.note))


def test_one_answer_leaves_the_cut_alone_and_the_other_adds_thirst():
    cut = Suspect("mower_or_trimmer", "common", (Weighing("bark_wound", 2),))
    dry = Suspect("drought", "common", (Weighing("dry_soil", 2, -2), Weighing("wilting", 2)))
    others = tuple(Suspect(code, "seldom", (Weighing("ants", 1),)) for code in ("frost", "salt"))
    probe = Question("ball_dry", "anyone", yes_so=("dry_soil",), no_not=("dry_soil",))
    by = frozenset({Witness("lay", "report")})
    known = [Known("bark_wound", True, by), Known("wilting", True, by)]
    (asked,) = ask((cut, dry, *others), known, [probe])
    assert change_said(asked.before, asked.after_no) == "Mower or trimmer alone explains it."
    assert change_said(asked.before, asked.after_yes) == "Too dry becomes likely."
    (asked,) = ask(
        (cut, dry, *others), known[:1], [probe], beside={"mower_or_trimmer": ["drought"]}
    )
    assert change_said(asked.before, asked.after_yes) == "Also possible: too dry."


@pytest.mark.parametrize("sign", sorted(clue.sign for clue in book().clues.values() if clue.sign))
def test_every_question_says_something_of_both_answers(sign):
    question = causes_said(tell_apart(Facts(signs={sign: True}))).question
    if question is not None:
        assert question.after_yes
        assert question.after_no
        assert question.after_yes != question.after_no


def test_numbers_come_with_their_limits_once_enough_are_judged():
    (few,) = calibration_said(calibrate([("likely", True)] * 5))
    assert few.startswith("In words only")
    assert "so far 5" in few
    (many,) = calibration_said(calibrate([("likely", n < 31) for n in range(40)]))
    assert many == (
        "Of 40 causes called likely and judged here, 31 were confirmed (between 62 and 89 of 100)."
    )
