"""Pictures to practice on: each question can be answered, and look-alikes stand together."""

from collections import defaultdict

import pytest

from survey.handbook.book import book, load
from survey.handbook.reading import HandbookError
from survey.handbook.records import Choice, FieldRefused, PracticeItem
from tests.survey.handbook.reading_ease import sentences
from tests.survey.handbook.test_reading import folder, rewrite  # noqa: F401 - a fixture

ITEMS = list(book().practice.values())
CHOICES = (Choice(code="a", says="An apple"), Choice(code="b", says="A bee"))


def item(**changed):
    given = {
        "code": "x",
        "mark": "own rule of this project",
        "alike": "things",
        "question": "What is it?",
        "shows": "Something round.",
        "choices": CHOICES,
        "right": "a",
        "why": "Apples are round.",
        "drawing": "x",
    }
    return PracticeItem(**given | changed)


def test_there_are_more_look_alikes_than_a_round_asks_for():
    alike = defaultdict(set)
    for each in ITEMS:
        alike[each.alike].add(each.right)
    assert len(alike) > 8
    assert all(len(answers) >= 2 for answers in alike.values())


@pytest.mark.parametrize("each", ITEMS, ids=lambda each: each.code)
def test_the_reason_is_one_or_two_sentences_and_the_picture_does_not_give_the_answer(each):
    assert 1 <= len(sentences(each.why)) <= 3
    assert each.question.endswith("?")
    assert each.right_choice.says not in (each.shows, each.question)


def test_no_pair_is_told_apart_by_what_is_always_right():
    # whoever ticks the first answer everywhere must not pass: 6 of 8 are asked for
    first = sum(each.right == each.choices[0].code for each in ITEMS)
    assert first / len(ITEMS) < 6 / 8


@pytest.mark.parametrize(
    ("field", "changed"),
    [
        ("right", {"right": "c"}),
        ("choices", {"choices": CHOICES[:1]}),
        ("choices", {"choices": (*CHOICES, Choice(code="a", says="An ant"))}),
        ("choices", {"choices": (*CHOICES, Choice(code="c", says="A bee"))}),
        ("sources", {"mark": None}),
    ],
)
def test_a_picture_that_cannot_be_answered_or_rests_on_nothing_is_refused(field, changed):
    with pytest.raises(FieldRefused) as told:
        item(**changed)
    assert told.value.field_name == field


def test_a_choice_is_found_by_its_code_only():
    assert item().right_choice.says == "An apple"
    with pytest.raises(KeyError):
        item().choice("c")


@pytest.mark.parametrize(
    ("old", "new", "entry", "field"),
    [
        ("sources = [\"uc_phytophthora\", \"uc_ipm_water\"]\n", "", "limp_wet", "sources"),
        ("right = \"alive\"", "right = \"purple\"", "scratch_green", "right"),
        ("sources = [\"scratch_test\", \"mobot_drought\"]", "sources = [\"a_dream\"]",
         "scratch_green", "sources"),
        ("says = \"The twig is alive\"", "says = \"It lives\"", "scratch_brown", "choices"),
        ("right = \"lichen\"", "right = \"shelf\"", "lichen", "alike"),
        ("alike = \"twig\"", "alike = \"twigs\"", "scratch_green", "alike"),
        ("says = \"The twig is alive\"", "says = \"In 9 % alive\"", "scratch_green",
         "choices 1 says"),
    ],
)  # fmt: skip
def test_a_spoiled_picture_is_named(folder, old, new, entry, field):  # noqa: F811
    rewrite(folder, "practice.toml", old, new)
    with pytest.raises(HandbookError) as told:
        load(folder)
    assert (told.value.file, told.value.entry) == ("practice.toml", entry)
    assert told.value.field == field
