"""Cautions: each is found where it belongs and said so that its words follow its numbers."""

import re

import pytest
from django.utils import translation

from survey.survival.cautions import CODES, in_words

NUMBERS = (0, 1, 2, 5, 21)
WRONG = re.compile(
    r"\b1 (trees|months|days|were|are|have|árboles|meses|días)\b"
    r"|\b(0|2|5|21) (tree|month|day|was|has|árbol|mes|día)\b"
)


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("n", NUMBERS)
def test_a_caution_follows_its_numbers_in_both_languages(language, code, n):
    caution = {"code": code, "trees": n, "of": n + 2, "unseen": n, "days": n, "months": n}
    with translation.override(language):
        for share in (None, 0.77):
            words = in_words(caution | {"share": share})
            assert words != code
            assert "%" not in words
            assert not WRONG.search(words), words


@pytest.mark.parametrize("code", CODES)
def test_a_caution_is_not_the_same_in_both_languages(code):
    caution = {"code": code, "trees": 2, "of": 3, "unseen": 2, "days": 2, "months": 2}
    with translation.override("en"):
        english = in_words(caution)
    with translation.override("es"):
        assert in_words(caution) != english


def test_a_code_that_nobody_knows_is_said_as_it_stands():
    assert in_words({"code": "moonlight"}) == "moonlight"
