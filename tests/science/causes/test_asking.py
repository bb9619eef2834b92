"""The question asked is the one whose answer is expected to tell most."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from survey.science.causes.asking import (
    YES_BY_CHANCE,
    answer_rates,
    ask,
    entropy,
    information,
    leading,
)
from survey.science.causes.records import Known, Question, Suspect, Weighing, Witness
from survey.science.causes.weighing import tell_causes

REPORT = frozenset({Witness("lay", "report 1")})

CUT = Suspect("cut", "common", (Weighing("cut_low", 2, -2), Weighing("wilting", 1)))
DRY = Suspect("dry", "common", (Weighing("dry_ball", 2, -2), Weighing("wilting", 1)))
WET = Suspect("wet", "common", (Weighing("dry_ball", -2, 1), Weighing("wilting", 1)))
RARE = Suspect("rare", "seldom", (Weighing("holes", 2, -1),))
SUSPECTS = (CUT, DRY, WET, RARE)

PROBE = Question("probe", "anyone", yes_not=("dry_ball",), no_so=("dry_ball",))
HOLES = Question("holes", "anyone", yes_so=("holes",), no_not=("holes",))
BASE = Question("base", "trained", yes_so=("cut_low",), no_not=("cut_low",))


def test_entropy_is_shannons():
    assert entropy(0.5) == 1
    assert entropy(0.0) == entropy(1.0) == 0
    assert entropy(0.11) == pytest.approx(0.499916, abs=1e-6)  # 11 in 100 is half a bit
    assert entropy(0.3) == pytest.approx(entropy(0.7))


@given(st.floats(0.01, 0.99), st.floats(0.01, 0.99), st.floats(0.01, 0.99))
def test_information_is_the_sum_over_the_table_of_both(share, with_cause, without):
    table = {
        (True, True): share * with_cause,
        (True, False): share * (1 - with_cause),
        (False, True): (1 - share) * without,
        (False, False): (1 - share) * (1 - without),
    }
    cause = {side: sum(p for (c, _), p in table.items() if c == side) for side in (True, False)}
    says = {side: sum(p for (_, a), p in table.items() if a == side) for side in (True, False)}
    by_force = sum(p * math.log2(p / cause[c] / says[a]) for (c, a), p in table.items())
    assert information(share, with_cause, without) == pytest.approx(max(0, by_force), abs=1e-12)


@given(st.floats(0.05, 3), st.floats(-3, -0.05))
def test_answer_rates_give_back_the_points(up, down):
    with_cause, without = answer_rates(up, down)
    assert 0 < without < with_cause < 1
    assert math.log(with_cause / without) == pytest.approx(up)
    assert math.log((1 - with_cause) / (1 - without)) == pytest.approx(down)
    assert answer_rates(down, up)[0] < answer_rates(down, up)[1]


def test_an_answer_that_says_nothing_is_worth_nothing():
    assert answer_rates(0.0, 0.0) == (YES_BY_CHANCE, YES_BY_CHANCE)
    assert information(0.4, *answer_rates(0.0, 0.0)) == 0
    with_cause, without = answer_rates(2.0, 0.0)
    assert with_cause > without == YES_BY_CHANCE


def test_the_question_between_the_leading_causes_is_asked():
    known = [Known("wilting", True, REPORT)]
    asked = ask(SUSPECTS, known, [HOLES, PROBE, BASE])
    assert asked[0].question.code == "probe"
    assert asked[0].after_no.by_code["dry"].word == "possible"
    assert asked[0].after_no.by_code["wet"].word == "unlikely"
    assert asked[0].after_yes.by_code["dry"].word == "unlikely"


def test_what_is_known_already_is_not_asked_again():
    known = [Known("cut_low", True, REPORT), Known("holes", False, REPORT)]
    assert {one.question.code for one in ask(SUSPECTS, known, [HOLES, PROBE, BASE])} == set()
    assert {one.question.code for one in ask(SUSPECTS, known[1:], [HOLES, BASE])} == {"base"}


def test_a_deeper_check_is_asked_after_hearsay_but_not_after_an_answer():
    deeper = replace(PROBE, deeper=True)
    said = Known("dry_ball", True, REPORT)
    (asked,) = ask(SUSPECTS, [said], [deeper])
    assert asked.before.by_code["dry"].word == "possible"
    assert asked.after_yes.by_code["dry"].word == "unlikely"
    firm = Known("dry_ball", True, frozenset({Witness("check")}))
    assert ask(SUSPECTS, [firm], [deeper]) == []


def test_what_is_taken_for_the_leading_cause_counts_half():
    often = replace(RARE, often="common")
    known = [Known("cut_low", True, REPORT)]
    assert ask((CUT, often), known, [HOLES]) == []
    (beside,) = ask((CUT, often), known, [HOLES], beside={"cut": ["rare"]})
    (alone,) = ask((CUT, often), [], [HOLES])
    assert beside.bits == pytest.approx(0.5 * alone.bits)


def test_what_the_handbook_names_first_comes_first_among_equals():
    later = replace(HOLES, code="a_later", place=1)
    asked = ask((RARE,), [], [later, HOLES])
    assert [one.question.code for one in asked] == ["holes", "a_later"]


def test_the_question_a_lay_person_can_answer_comes_before_an_equal_one():
    lay = Question("z_lay", "anyone", yes_so=("cut_low",), no_not=("cut_low",))
    asked = ask(SUSPECTS, [], [BASE, lay])
    assert [one.question.code for one in asked] == ["z_lay", "base"]
    assert asked[1].bits == pytest.approx(0.8 * asked[0].bits)


def test_no_more_questions_come_than_are_wanted():
    whole = ask(SUSPECTS, [], [HOLES, PROBE, BASE])
    assert ask(SUSPECTS, [], [HOLES, PROBE, BASE], most=1) == whole[:1]


def test_a_question_that_touches_no_cause_is_not_asked():
    idle = Question("idle", "anyone", yes_so=("sunny",), no_not=("sunny",))
    assert ask(SUSPECTS, [], [idle]) == []


def test_causes_alike_with_the_last_of_the_leading_are_leading_too():
    many = tuple(Suspect(f"c{n}", "common", (Weighing(f"x{n}", 2),)) for n in range(9))
    assert len(leading(tell_causes(many, []))) == 9
    assert len(leading(tell_causes((*many[:4], RARE), []))) == 4
    seen = [Known("holes", True, REPORT)]
    assert [one.cause for one in leading(tell_causes((*many, RARE), seen))] == ["rare"]


@given(st.permutations([HOLES, PROBE, BASE]), st.permutations(SUSPECTS))
def test_the_order_of_questions_and_causes_does_not_matter(questions, suspects):
    known = [Known("wilting", True, REPORT)]
    here = [(one.question.code, one.bits) for one in ask(suspects, known, questions)]
    there = [(one.question.code, one.bits) for one in ask(SUSPECTS, known, [BASE, HOLES, PROBE])]
    assert here == there


def test_the_foremost_causes_own_check_comes_before_one_that_tells_more():
    known = [Known("wilting", True, REPORT)]
    best, *_rest = ask(SUSPECTS, known, [HOLES, PROBE, BASE])
    own = replace(BASE, own=True)
    asked = ask(SUSPECTS, known, [HOLES, PROBE, own])
    assert [one.question.code for one in asked][:2] == ["base", best.question.code]
    assert asked[0].bits < asked[1].bits


@pytest.mark.parametrize(
    ("clue", "so", "answered"),
    [("dry", True, True), ("wet", True, True), ("dry", False, True), ("wet", False, False)],
)
def test_one_clue_answers_a_check_that_it_decides(clue, so, answered):
    probe = Question("probe", "anyone", ("dry",), ("wet",), (), ("dry",))
    assert probe.answered_by({clue: Known(clue, so, REPORT)}) is answered
    assert not probe.answered_by({})
