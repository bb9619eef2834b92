"""Reads a neighbor's own words, English or Spanish: which clues they name, and which they deny.

A phrase is found when its words stand close together in one clause, in any order and form. What is
not found is not guessed. Nothing here judges danger; `danger_words` does that.
"""

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

Language = Literal["en", "es"]

NOT = "not"
"""Every word that denies is read as this one, so that "hasn't rained" is found by "no rain"."""

_DENIES = {
    "en": "no not without never none nothing neither nor cannot",
    "es": "no sin nunca tampoco ningun ninguna ni nada jamas",
}
_SILENT = {
    "en": "the a an of is are was were be been being it its that there to in on at"
    " by my our your their has have had do does did i we they some very really so just with and"
    " which also from as for",
    "es": "el la los las un una unos unas de del al a en es esta estan este estas son fue era y e"
    " su sus se por con muy hay ha han he hemos le les lo que mi mis nuestro nuestra como para"
    " tan ya tiene tienen",
}
DENIES = {language: frozenset(words.split()) for language, words in _DENIES.items()}
SILENT = {language: frozenset(words.split()) for language, words in _SILENT.items()}
UNSURE = re.compile(
    r"\b(not sure|unsure|do not know|dont know|cannot tell|could not (see|tell)|no se si|no se ve"
    r"|no estoy segur[oa]|no sabemos|no puedo ver|ask(ed|ing)? if|wonder(ing)? if|in case)\b"
)
ODD = {
    "leaves": "leaf", "leafs": "leaf", "teeth": "tooth", "mice": "mouse", "feet": "foot",
    "dried": "dry", "dries": "dry", "drier": "dry", "dying": "die", "died": "die", "dies": "die",
    "ate": "eat", "eaten": "eat", "chewn": "chew", "broke": "break", "broken": "break",
    "froze": "freeze", "frozen": "freeze", "dug": "dig", "grew": "grow", "grown": "grow",
    "soils": "soil", "veins": "vein", "grey": "gray",
}  # fmt: skip
ODD_ES = {"sale": "salir", "salen": "salir", "sales": "salir"}
"""*Sale* is no *sal*: what comes out is no salt."""

CLAUSE = re.compile(
    r"[.,;:!?()\n\"«»“”]+|\b(?:but|however|although|though|while|pero|aunque|sino|mientras)\b"
)
WORD = re.compile(r"[a-zñ0-9]+")
SLACK = 2
"""So many other words may stand between the words of a phrase."""

REACH = 5
"""A denial reaches so many words ahead within its clause."""


@dataclass(frozen=True, slots=True)
class Heard:
    """A clue that words name (`so`) or deny, and the words themselves."""

    clue: str
    so: bool
    words: str


def folded(text: str) -> str:
    """Small letters without accents (ñ stays), straight apostrophes."""
    text = text.casefold().replace("\u2019", "'").replace("ñ", "\0")
    plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return plain.replace("\0", "ñ")


@lru_cache(maxsize=20_000)
def stem(word: str, language: Language) -> str:
    """The word without the endings of number, gender and tense, roughly; never an empty one."""
    if language == "es":
        if word in ODD_ES:
            return ODD_ES[word]
        bare = re.sub(r"(mente|ando|iendo)$", "", word) if len(word) > 7 else word
        bare = re.sub(r"s$", "", bare) if len(bare) > 3 else bare
        return re.sub(r"[aoe]$", "", bare) if len(bare) > 3 else bare
    if word in ODD:
        return ODD[word]
    if len(word) > 4 and word.endswith(("ies", "ied")):
        return word[:-3] + "y"
    bare = word
    for ending in ("ing", "ed"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            bare = word[: -len(ending)]
            if bare[-1] == bare[-2] and bare[-1] not in "slz":
                bare = bare[:-1]
            break
    else:
        if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us")):
            bare = word[:-1]
    return bare[:-1] if len(bare) > 3 and bare.endswith("e") else bare


def tokens(clause: str, language: Language, *, every: bool = False) -> list[str]:
    """The telling words of a folded clause, each by its stem; words that deny become one word.

    With `every` small words are kept too.
    """
    clause = re.sub(r"n't\b", " not", clause).replace("'s ", " ").replace("'", "")
    out = []
    for word in WORD.findall(clause):
        if word in DENIES[language]:
            out.append(NOT)
        elif every or word not in SILENT[language]:
            out.append(stem(word, language))
    return out


@lru_cache(maxsize=4_000)
def _pattern(phrase: str, language: Language) -> tuple[tuple[str, ...], bool]:
    """The stems of a phrase, and whether its small words belong to it: where they are all that
    tells it from a single word ("in the lawn"), it is found word by word or not at all."""
    plain = folded(phrase)
    telling, whole = tuple(tokens(plain, language)), tuple(tokens(plain, language, every=True))
    literal = len(telling) < 2 <= len(whole)
    return (whole if literal else telling), literal


def hear(text: str, phrases: Mapping[Language, Mapping[str, tuple[str, ...]]]) -> tuple[Heard, ...]:
    """The clues that a text names or denies, each once, by the first words that do so.

    `phrases` gives for each language the phrases of each clue. Both languages are always read,
    because neighbors mix them. A clue that one text both names and denies is left out: the text
    does not settle it.
    """
    found: dict[str, Heard] = {}
    torn = set()
    for clause in clauses(text):
        for language, by_clue in phrases.items():
            words = tokens(clause, language)
            whole = tokens(clause, language, every=True)
            if not words:
                continue
            for clue, said in by_clue.items():
                for so in _heard(words, whole, said, language):
                    before = found.get(clue)
                    if before is not None and before.so != so:
                        torn.add(clue)
                    found.setdefault(clue, Heard(clue, so, " ".join(clause.split())))
    return tuple(heard for clue, heard in sorted(found.items()) if clue not in torn)


def clauses(text: str) -> Iterator[str]:
    """The folded clauses of a text, without those in which somebody is not sure."""
    for clause in CLAUSE.split(folded(text)):
        plain = re.sub(r"n't\b", " not", clause).replace("'", "")
        if clause.strip() and not UNSURE.search(plain):
            yield clause


def _heard(
    words: list[str], whole: list[str], said: tuple[str, ...], language: Language
) -> Iterator[bool]:
    """Whether any of these phrases stands in the words, and whether it is denied there."""
    for phrase in said:
        pattern, literal = _pattern(phrase, language)
        among = whole if literal else words
        start = _in_a_row(among, pattern) if literal else _stands(among, pattern)
        if start is None:
            continue
        denied = NOT not in pattern and NOT in among[max(0, start - REACH) : start + len(pattern)]
        yield not denied
        return


def _in_a_row(words: list[str], pattern: tuple[str, ...]) -> int | None:
    """Where the words of the pattern begin to stand one after the other; None if they do not."""
    for start in range(len(words) - len(pattern) + 1):
        if tuple(words[start : start + len(pattern)]) == pattern:
            return start
    return None


def _stands(words: list[str], pattern: tuple[str, ...]) -> int | None:
    """Where the words of the pattern begin to stand together, in any order; None if they do not.

    A word that denies stands right before the rest, as in the phrase.
    """
    if not pattern or not set(pattern) <= set(words):
        return None
    span = len(pattern) + (SLACK if len(pattern) > 1 else 0)
    for start, word in enumerate(words):
        if word not in pattern:
            continue
        window = list(words[start : start + span])
        for wanted in pattern:
            if wanted not in window:
                break
            window.remove(wanted)
        else:
            return start
    return None
