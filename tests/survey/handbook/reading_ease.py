"""How hard a text is to read, measured the plain way: sentence length, syllables, school grade."""

import re

WORD = re.compile(r"[A-Za-z']+|\d[\d,./]*")
VOWELS = re.compile(r"[aeiouy]+")


def sentences(text: str) -> list[str]:
    return [part for part in re.split(r"(?<=[.?!:])\s+", text) if WORD.search(part)]


def words(text: str) -> list[str]:
    return WORD.findall(text)


def syllables(word: str) -> int:
    """Vowel groups, less a silent e at the end; a number counts as one."""
    small = word.lower()
    groups = len(VOWELS.findall(small))
    if small.endswith("e") and not small.endswith(("le", "ee", "ie")) and groups > 1:
        groups -= 1
    if small.endswith("ed") and not small.endswith(("ted", "ded")) and groups > 1:
        groups -= 1
    return max(groups, 1)


def mean_sentence_length(texts: list[str]) -> float:
    found = [sentence for text in texts for sentence in sentences(text)]
    return sum(len(words(sentence)) for sentence in found) / len(found)


def school_grade(texts: list[str]) -> float:
    """The US school grade of Kincaid, Fishburne, Rogers and Chissom 1975 (Navy Research Branch
    Report 8-75): 0.39 words a sentence + 11.8 syllables a word - 15.59."""
    spoken = [word for text in texts for word in words(text)]
    a_word = sum(map(syllables, spoken)) / len(spoken)
    return 0.39 * mean_sentence_length(texts) + 11.8 * a_word - 15.59
