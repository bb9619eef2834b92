"""Hazards in what neighbors type: found in both languages, and not where they only seem to be."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.handbook.book import book
from survey.handbook.danger_records import DangerPhrase, WordGroup
from survey.handbook.danger_words import MOST_FOUND, find_danger, folded
from survey.handbook.records import FieldRefused

ROOT = Path(__file__).parents[3]
SENTENCES = tomllib.loads((ROOT / "fixtures/danger/sentences.toml").read_text())["sentence"]
OPEN = [one for one in SENTENCES if not one["held_out"]]
HELD_OUT = [one for one in SENTENCES if one["held_out"]]
NOT_READ = {
    # Known misses, kept so that nobody takes the reading for more than it is.
    "el arbol tronco y quedo colgando",  # "tronco" for "tronó" is the trunk to this reader
    "This tree moved. It used to be straight and now it points at the house.",
    "the ground next to the trunk has risen up",
}
OWN_RULE = "own rule of this project"


def score(sentences) -> tuple[int, int, int, int]:
    """Dangers found, dangers in all, false alarms, harmless sentences in all."""
    found = [(one, find_danger(one["text"])) for one in sentences]
    dangers = [hits for one, hits in found if one["danger"]]
    harmless = [hits for one, hits in found if not one["danger"]]
    return sum(map(bool, dangers)), len(dangers), sum(map(bool, harmless)), len(harmless)


def written(one) -> int:
    """In which round a sentence was written."""
    return one.get("round", 2 if one.get("later") else 1)


def test_there_are_enough_sentences_of_both_languages_and_every_kind():
    assert len(SENTENCES) >= 140
    for language in ("en", "es"):
        spoken = [one for one in SENTENCES if one["language"] == language]
        assert len(spoken) >= 70
        kinds = {one["kind"] for one in spoken}
        assert kinds == {"danger", "negation", "look_alike", "near_empty", "question"}
    known = {*book().dangers, "any"}
    assert {code for one in SENTENCES for code in one["danger"]} <= known


@pytest.mark.parametrize("one", OPEN, ids=lambda one: one["text"])
def test_a_sentence_is_read_as_it_is_meant(one):
    found = find_danger(one["text"])
    if one["text"] in NOT_READ:
        assert not found, "it is read now: take it out of NOT_READ"
    elif one["danger"]:
        assert found, "not found"
        assert found[0].danger in one["danger"] or one["danger"] == ["any"]
    else:
        assert not found


@pytest.mark.parametrize(
    ("which", "of", "least_found", "most_false"),
    [
        # Written before the phrases, a third of its kind: 45 of 45 found, 1 of 33 false. Whoever
        # wrote them wrote the phrases too, with the same words in mind: a flattering figure.
        (1, (45, 33), 0.95, 0.07),
        # Written after the phrases were done, and scored once: 21 of 25 found, none of 25 false.
        # This is nearer to what to expect of a town.
        (2, (25, 25), 0.80, 0.05),
        # The other half of pairs written for mistakes that were known, and scored once: 22 of 24
        # found, none of 28 false (5 and 8 before). Their writer mended the phrases: flattering too.
        (3, (24, 28), 0.90, 0.05),
        # Written when the phrases had been mended, hard ones by intent, and scored once: 9 of 16
        # found, 1 of 18 false. What a ready phrase has not thought of is missed this often.
        (4, (16, 18), 0.50, 0.06),
    ],
)
def test_sentences_nobody_tuned_for_come_out_nearly_as_well(which, of, least_found, most_false):
    # Asserted as a whole, so that nobody has to look at a single one to keep this test green.
    sentences = [one for one in HELD_OUT if written(one) == which]
    found, dangers, false_alarms, harmless = score(sentences)
    assert (dangers, harmless) == of
    assert found / dangers >= least_found
    assert false_alarms / harmless <= most_false


@pytest.mark.parametrize(
    ("text", "phrase"),
    [
        ("Hello. The  big BRANCH is\nhanging low!", "BRANCH is\nhanging"),
        ("¡Ojo! La rama está colgando.", "rama está colgando"),
        ("🌳🌳 rama\u0301 colgando 🌳", "rama\u0301 colgando"),
        ("the bra\u200bnch is hang\u00ading", "bra\u200bnch is hang\u00ading"),
        ("THE ВRАNСH IS HАNGING", "ВRАNСH IS HАNGING"),  # letters of another alphabet
        ("\u202ethe branch\u202c is hanging", "branch\u202c is hanging"),
    ],
)
def test_the_phrase_is_as_written_and_stands_where_it_is_said_to(text, phrase):
    found = find_danger(text)
    assert [one.phrase for one in found] == [phrase]
    assert text[found[0].start : found[0].end] == phrase


@pytest.mark.parametrize(
    "text",
    [
        "THE BRANCH IS HANGING",
        "the brnach is hangin over",
        "la rama esta kolgando",
        "la rama está cólgando",
        "the branch is haaaanging!!!",
        "the branch... is hanging",
        "la branch está hanging",
        "there isn’t a doubt: the branch is hanging",
    ],
)
def test_capitals_slips_and_mixed_languages_are_read(text):
    assert find_danger(text)[0].danger == "hanging_limb"


def test_the_most_pressing_kind_comes_first():
    found = find_danger("A branch is hanging, and the power line is down. The trunk is split.")
    assert [one.danger for one in found] == ["wire", "hanging_limb", "crack"]


def test_one_language_alone_reads_only_its_own_words():
    assert find_danger("la rama está colgando", "es")
    assert not find_danger("la rama está colgando", "en")
    assert find_danger("the branch is hanging", "en")
    assert not find_danger("the branch is hanging", "es")
    assert find_danger("the branch is hanging", "xx")  # no language of ours: both


@pytest.mark.parametrize("text", ["", " ", "\x00", "...", "🌳", "\u200b" * 50, "a" * 5000])
def test_a_text_without_words_of_ours_holds_no_danger(text):
    assert find_danger(text) == []


HOSTILE = [
    "hanging branch ",
    "not no not hanging ",
    "no or or or branch ",
    "branch branch, branch ",
    "a",
    "b\u200b",
    "'’'’a'",
    "rama\u0301\u0301\u0301 ",
    "\u202e🌳 hanging ",
    "was removed branch hanging ",
    ". . . . ",
]


@pytest.mark.parametrize("piece", HOSTILE, ids=repr)
def test_a_text_made_to_take_long_is_read_to_its_end(piece):
    # how its time grows is in `make bench`: were it with the square, this would take an hour
    text = piece * (160_000 // len(piece)) + ". A big branch is hanging."
    assert len(find_danger(text)) <= MOST_FOUND


@pytest.mark.parametrize("filler", ["a", "\u200b", "🌳", "!"], ids=repr)
def test_ten_megabytes_are_read_to_the_end(filler):
    text = filler * 10_000_000 + ". A big branch is hanging."
    assert [one.phrase for one in find_danger(text)] == ["branch is hanging"]


def test_a_book_of_words_is_read_to_the_end():
    text = "the tree has leaves. " * 30_000 + "A big branch is hanging."
    assert [one.phrase for one in find_danger(text)] == ["branch is hanging"]


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=200))
def test_any_text_is_read_and_places_are_true(text):
    for one in find_danger(text):
        assert text[one.start : one.end] == one.phrase
        assert one.danger in book().dangers


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([one["text"] for one in OPEN if one["danger"]]), st.text("🌳 \n", max_size=9)
)
def test_what_stands_around_it_without_words_changes_nothing(text, around):
    assert [one.danger for one in find_danger(around + text + around)] == [
        one.danger for one in find_danger(text)
    ]


def test_a_denial_takes_a_danger_away_and_ends_with_its_clause():
    assert find_danger("The branch is hanging.")
    assert not find_danger("The branch is not hanging.")
    assert find_danger("The trunk is not split, but the branch is hanging.")
    assert find_danger("It's not dead. The branch is hanging.")


def test_what_is_past_is_no_danger_but_the_hurt_still_count():
    assert not find_danger("The hanging branch was removed.")
    assert not find_danger("La rama que estaba colgando ya la quitaron.")
    assert find_danger("The hanging branch was removed but another branch is hanging.")
    assert find_danger("A man was hurt, the tree was removed.")[0].danger == "hurt"


def test_a_crack_right_down_the_trunk_is_read():
    assert find_danger("There is a crack right down the trunk, you can see daylight")
    assert not find_danger("Somebody lives down the road from the tree")


def test_every_entry_is_marked_as_a_rule_of_our_own():
    entries = [*book().danger_words.values(), *book().danger_phrases.values()]
    assert {entry.mark for entry in entries} == {OWN_RULE}


def test_every_group_is_read_by_a_phrase_or_by_the_reader_itself():
    read = {
        name
        for phrase in book().danger_phrases.values()
        for line in phrase.reads
        for element in line.removesuffix("?").split(" ")
        for name in element.removesuffix("?").split("|")
        if name.startswith("@")
    }
    by_the_reader = {"@or", "@turn", "@but", "@real_words"}
    assert read | by_the_reader == {f"@{code}" for code in book().danger_words}


def test_every_kind_can_be_found():
    named = {phrase.danger for phrase in book().danger_phrases.values() if phrase.danger}
    assert named == set(book().dangers)


def test_what_was_not_so_and_is_so_now_is_a_danger():
    assert find_danger("It was not leaning. Now it is.")[0].danger == "new_lean"
    assert find_danger("La rama no colgaba, ahora sí cuelga.")[0].danger == "hanging_limb"
    assert not find_danger("There is no hanging branch. Now it is dry.")
    assert not find_danger("It was not leaning. Now it is green.")


def test_a_crack_toward_the_sun_is_a_sign_and_a_trunk_that_came_open_is_a_danger():
    assert not find_danger("The sunny side of the trunk is cracked.")
    assert find_danger("The trunk cracked in half on the sunny side.")[0].danger == "crack"
    assert not find_danger("The bark on the trunk split open on the south side.")
    assert find_danger("There is a crack in the trunk.")[0].danger == "crack"


@pytest.mark.parametrize(
    ("name", "danger"),
    [
        ("hanging branch", "hanging_limb"),
        ("widowmaker", "hanging_limb"),
        ("hanger", "hanging_limb"),
        ("split fork", "crack"),
        ("split trunk", "crack"),
        ("trunk crack", "crack"),
        ("wire contact", "wire"),
        ("downed wire", "wire"),
        ("sparks", "wire"),
        ("soil crack", "soil_lifted"),
        ("root plate lifting", "soil_lifted"),
        ("sudden lean", "new_lean"),
        ("leaning suddenly", "new_lean"),
        ("gas smell", "something_else"),
    ],
)
def test_a_danger_is_read_by_its_bare_name(name, danger):
    assert [one.danger for one in find_danger(name)] == [danger]


@pytest.mark.parametrize(
    "name", ["bark crack", "cracked bark", "cracked soil", "soil cracks", "lean", "broken branch"]
)
def test_the_bare_name_of_a_sign_is_no_danger(name):
    assert not find_danger(name)


def test_words_fold_to_what_the_handbook_writes():
    assert folded("ÁRBOL") == "arbol"
    assert folded("isn’t") == "isnt"
    assert folded("fuuuego") == "fuego"
    for group in book().danger_words.values():
        for words in group.words(None):
            assert [folded(word) for word in words] == list(words)


@pytest.mark.parametrize("written", ["Árbol", "two words", "a--b", "a//b", "", "x?"])
def test_a_word_that_could_never_be_met_is_refused(written):
    with pytest.raises(FieldRefused):
        WordGroup(code="x", mark=OWN_RULE, en=(written,))


@pytest.mark.parametrize(
    "wrong",
    [
        {"meaning": "danger"},
        {"meaning": "harmless", "danger": "wire"},
        {"meaning": "denies"},
        {"meaning": "harmless", "reach": 2},
        {"meaning": "harmless", "sure": True},
        {"meaning": "danger", "danger": "crack", "unless_sure": True},
        {"meaning": "harmless", "gap": 9},
        {"meaning": "harmless", "reads": ("Big tree",)},
        {"meaning": "harmless", "reads": ("a? b?",)},
        {"meaning": "harmless", "reads": ("a b c d e f g h",)},
    ],
)
def test_a_phrase_that_means_nothing_is_refused(wrong):
    with pytest.raises(FieldRefused):
        DangerPhrase(**{"code": "x", "mark": OWN_RULE, "reads": ("a",)} | wrong)
