"""Causes in words: no numbers, nobody accused, and each answer says what it would change."""

import re
from dataclasses import replace
from datetime import date

import pytest

from survey.causes.differential import tell_apart, with_answer
from survey.causes.facts import Facts
from survey.causes.kinds import calendar_of
from survey.causes.telling import calibration_said, causes_said, summary_said
from survey.causes.verdicts import Ruling
from survey.handbook.book import book
from survey.science.causes.calibration import calibrate

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


def test_either_answer_is_told_in_the_words_that_will_then_stand():
    asked = causes_said(tell_apart(CUT_AND_DRY)).question
    assert asked is not None
    changed = 0
    for yes, promised in ((True, asked.after_yes), (False, asked.after_no)):
        known = with_answer(tell_apart(CUT_AND_DRY).read.known, asked.code, yes=yes)
        after = tell_apart(Facts(further=known, month=7, latitude=38)).answer
        now = causes_said(tell_apart(CUT_AND_DRY)).summary
        then = summary_said(tell_apart(CUT_AND_DRY), after)
        if then == now:
            assert promised.startswith("The words above stay.")
        else:
            assert promised == then
            changed += 1
    assert changed


CONFIRMED = Ruling(True, date(2026, 6, 1), date(2027, 6, 1), "person:a", "Fresh cuts.")
RULED_OUT = replace(CONFIRMED, confirmed=False)


def test_a_confirmed_cause_stands_first_and_is_asked_about_no_more():
    plain = tell_apart(CUT_AND_DRY, who="trained")
    told = tell_apart(CUT_AND_DRY, who="trained", rulings={"mower_or_trimmer": CONFIRMED})
    said = causes_said(told)
    assert said.summary.startswith("Confirmed: mower or trimmer. ")
    assert "mower" not in said.summary.removeprefix("Confirmed: mower or trimmer. ")
    assert (said.causes[0].code, said.causes[0].word) == ("mower_or_trimmer", "confirmed")
    checks = book().causes["mower_or_trimmer"].checks
    assert {one.question.code for one in (plain.asked, *plain.others) if one} & set(checks)
    asked = [one.question.code for one in (told.asked, *told.others) if one]
    assert asked
    assert not set(asked) & set(checks)
    assert said.question.after_yes.startswith(("Confirmed: mower or trimmer.", "The words"))


def test_a_cause_ruled_out_is_told_so_and_listed_last():
    said = causes_said(tell_apart(CUT_AND_DRY, rulings={"mower_or_trimmer": RULED_OUT}))
    assert said.summary.endswith("Ruled out: mower or trimmer.")
    assert said.summary.count("mower") == 1
    assert (said.causes[-1].code, said.causes[-1].word) == ("mower_or_trimmer", "ruled out")
    assert said.causes[-1].why == ""


def test_a_verdict_on_a_cause_that_the_handbook_dropped_is_told_by_its_name():
    said = causes_said(tell_apart(Facts(), rulings={"curse": CONFIRMED}))
    assert said.summary == "Confirmed: curse."
    assert said.causes[0].told is None


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
