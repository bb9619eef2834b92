"""What the handbook says to neighbors: short, plain, safe, and all of it to be translated."""

import ast
import re

import pytest
from django.template import Context, Engine
from django.utils.translation import override, trans_real

from survey.handbook.book import book
from survey.handbook.phrasebook import MESSAGES, messages_source, texts_by_file, texts_of
from survey.handbook.records import Said, Trade
from survey.handbook.wording import said
from tests.survey.handbook.reading_ease import (
    mean_sentence_length,
    school_grade,
    sentences,
    syllables,
    words,
)

NEIGHBOR_FILES = [
    "advice.toml",
    "causes.toml",
    "cautions.toml",
    "checks.toml",
    "conditions.toml",
    "dangers.toml",
    "disputes.toml",
    "picture_scale.toml",
    "practice.toml",
    "signs.toml",
    "species.toml",
]


def said_in(file: str) -> list[str]:
    records = dict(book().files())[file]
    return [text for record in records.values() for text in texts_of(record, (Said,))]


def spoken_sentences(file: str) -> list[str]:
    return [text for text in said_in(file) if text[-1] in ".?!"]


ALL_TEXTS = [
    (f"{file} {record.code}", text)
    for file, records in book().files()
    for record in records.values()
    for text in texts_of(record, (Said, Trade))
]


@pytest.mark.parametrize(
    ("word", "count"),
    [("tree", 1), ("water", 2), ("gone", 1), ("little", 2), ("emergency", 4), ("marked", 1)],
)
def test_syllables_are_counted_as_they_are_spoken(word, count):
    # The counts are those of any dictionary's hyphenation.
    assert syllables(word) == count


def test_a_hard_sentence_is_told_from_an_easy_one():
    assert school_grade(["Leave it as it is. We come and look."]) < 3
    assert school_grade(["Arboricultural remediation necessitates comprehensive evaluation."]) > 15


@pytest.mark.parametrize("file", NEIGHBOR_FILES)
def test_what_neighbors_read_is_short_and_plain(file):
    texts = spoken_sentences(file)
    assert len(texts) >= 3
    assert mean_sentence_length(texts) <= 14
    assert school_grade(texts) <= 6  # the grade of an eleven-year-old


@pytest.mark.parametrize("file", NEIGHBOR_FILES)
def test_no_sentence_to_neighbors_runs_on(file):
    long = [s for text in spoken_sentences(file) for s in sentences(text) if len(words(s)) > 18]
    assert long == []


@pytest.mark.parametrize("file", [*NEIGHBOR_FILES, "extents.toml", "sides.toml", "care.toml"])
def test_labels_are_a_few_words(file):
    for record in dict(book().files())[file].values():
        label = getattr(record, "label", None)
        if label is not None:
            assert len(label.split()) <= 8
            assert label[-1] not in ".!"


def test_nothing_rates_how_likely_a_tree_is_to_fall():
    rating = re.compile(r"\b(low|moderate|high|extreme)\W+(?:\w+\W+)?risk|\brisk\b", re.IGNORECASE)
    assert [(where, text) for where, text in ALL_TEXTS if rating.search(text)] == []


def test_no_trade_word_stands_in_what_neighbors_read():
    hard = re.compile(
        r"\b(girdl\w+|caliper|cambium|dieback|chlorosis|canker|frass|necro\w+|foliage|"
        r"fertiliz\w+|irrigat\w+|prun\w+|mortality)\b",
        re.IGNORECASE,
    )
    files = ["causes.toml", "checks.toml", "clues.toml"]
    files += ["advice.toml", "dangers.toml", "picture_scale.toml", "conditions.toml", "signs.toml"]
    assert [text for file in files for text in said_in(file) if hard.search(text)] == []


# Things a neighbor must never be sent to do: whatever says them has to forbid them.
FORBIDDEN = re.compile(
    r"\b(paint\w*|wrap\w*|feed\w*|food|fertiliz\w*|spray\w*|weed killer|ladders?|climb\w*|saw|dig|"
    r"digging|cut|prun\w*|poison\w*|bait\w*|stakes?|tighter|scratch\w*)\b",
    re.IGNORECASE,
)


@pytest.mark.parametrize("code", list(book().advice))
def test_advice_names_harmful_work_only_to_forbid_it(code):
    advice = book().advice[code]
    if advice.kind == "do_not":
        assert advice.headline.startswith("Do not ")
    elif code == "tell_what_happened":  # asks whether something was dug or sprayed by others
        assert advice.detail.startswith(
            "Heat, frost, salt, digging, or something sprayed close by?"
        )
    else:
        for text in (advice.headline, advice.detail):
            for sentence in sentences(text):
                assert not FORBIDDEN.search(sentence), sentence


def test_the_net_for_harmful_work_catches_it():
    for harm in ("Paint the wound.", "Fertilize new trees.", "Spray the bugs.", "Use a ladder."):
        assert FORBIDDEN.search(harm)


def test_nobody_is_sent_close_while_there_is_danger():
    # Only what can be done from a distance: talk, warn, keep back, tell.
    safe = re.compile(r"^(Warn|Talk|Keep others away|Tell us)\b")
    assert all(safe.match(danger.meanwhile) for danger in book().dangers.values())


def test_the_list_for_translators_is_up_to_date():
    assert MESSAGES.read_text(encoding="utf-8") == messages_source(book())


def test_the_list_for_translators_holds_every_text_once():
    tree = ast.parse(MESSAGES.read_text(encoding="utf-8"))
    listed = [
        ast.literal_eval(node.args[0])
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "gettext_noop"
    ]
    assert len(listed) == len(set(listed))
    assert set(listed) == {text for _, text in ALL_TEXTS}
    assert set(listed) == {text for texts in texts_by_file(book()).values() for text in texts}


def test_texts_inside_refusals_are_listed_too():
    assert book().care["compost"].refusals[0].why in texts_by_file(book())["care.toml"]


@pytest.fixture
def in_a_made_up_language(monkeypatch):
    """Django with one word of another tongue, so that a translation can be seen to happen."""
    with override("es"):
        catalog = trans_real.catalog()._catalog
        monkeypatch.setitem(catalog._catalogs[0], "Bark is gone", "Falta corteza")
        yield


def test_a_text_is_translated_when_it_is_shown_not_when_it_is_read(in_a_made_up_language):
    spoken = said(book().signs["bark_wound"].label)
    assert str(spoken) == "Falta corteza"
    with override("en"):
        assert str(spoken) == "Bark is gone"


def test_a_template_translates_a_text_by_itself(in_a_made_up_language):
    engine = Engine(libraries={"i18n": "django.templatetags.i18n"})
    page = engine.from_string("{% load i18n %}{% translate sign.label %}")
    assert page.render(Context({"sign": book().signs["bark_wound"]})) == "Falta corteza"
