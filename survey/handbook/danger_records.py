"""The kinds of entry by which hazards are read in what neighbors type."""

import re
from dataclasses import dataclass
from typing import Literal, NewType

from survey.handbook.records import Entry, FieldRefused

DangerCode = NewType("DangerCode", str)

_WRITTEN = re.compile(r"[a-z+]+(-[a-z+]+)?(/[a-z+]+)*")
_READ = re.compile(r"(@?[a-z_]+|[a-z+]+)(\|(@?[a-z_]+|[a-z+]+))*\??")


@dataclass(frozen=True, slots=True, kw_only=True)
class WordGroup(Entry):
    """Words that say one thing. Small letters without accents; `+` joins the words of a set phrase,
    `stem/a/b` adds endings to a word and `stem-a/b` gives the endings only."""

    en: tuple[str, ...] = ()
    es: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        for name in ("en", "es"):
            for written in getattr(self, name):
                if not _WRITTEN.fullmatch(written):
                    raise FieldRefused(
                        name, f"small letters without accents, + / and - only: {written!r}"
                    )

    def words(self, language: str | None) -> list[tuple[str, ...]]:
        """Every phrase of the group, each as its words, of one language or of both."""
        of = {"en": self.en, "es": self.es}
        known = of[language] if language in of else self.en + self.es
        return [tuple(word.split("+")) for written in known for word in _endings(written)]


def _endings(written: str) -> list[str]:
    first, *more = written.split("/")
    stem, dash, ending = first.partition("-")
    if dash:
        return [stem + one for one in (ending, *more)]
    return [stem, *(stem + one for one in more)]


@dataclass(frozen=True, slots=True, kw_only=True)
class DangerPhrase(Entry):
    """Ways in which words make a hazard, look like one, or take one back.

    `reads`: elements in order, parted by spaces; `@group` or a word, `|` either, `?` may be
    missing. `gap`: how many other words may stand between two elements. `reach`: for how many
    words a denial holds. `most_words`: counts only in a text of no more words. `sure`: read in
    spite of a harmless phrase that holds `unless_sure`. `over_stops`: read past a full stop too;
    `closes`: only where its last word ends a clause.
    """

    meaning: Literal["danger", "harmless", "denies", "still", "over"]
    danger: DangerCode | None = None
    reads: tuple[str, ...]
    gap: int = 0
    reach: int = 0
    most_words: int | None = None
    even_if_over: bool = False
    sure: bool = False
    unless_sure: bool = False
    over_stops: bool = False
    closes: bool = False

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        if (self.meaning == "danger") != (self.danger is not None):
            raise FieldRefused("danger", "is named by phrases that mean a danger, and by no other")
        if (self.meaning == "denies") != (self.reach > 0):
            raise FieldRefused("reach", "is given for denials, and for nothing else")
        if self.sure and self.meaning != "danger":
            raise FieldRefused("sure", "is said of phrases that mean a danger")
        if self.unless_sure and self.meaning != "harmless":
            raise FieldRefused("unless_sure", "is said of harmless phrases")
        if not 0 <= self.gap <= 8 or not 0 <= self.reach <= 8:
            raise FieldRefused("gap", "a gap or a reach is at most 8 words")
        for line in self.reads:
            elements = line.split(" ")
            if not all(_READ.fullmatch(element) for element in elements):
                raise FieldRefused("reads", f"cannot be read: {line!r}")
            if len(elements) > 7 or all(element.endswith("?") for element in elements):
                raise FieldRefused("reads", f"one to seven elements, one of them needed: {line!r}")

    def variants(self) -> list[tuple[tuple[str, ...], ...]]:
        """Each line with and without its elements that may be missing."""
        out: list[tuple[tuple[str, ...], ...]] = []
        for line in self.reads:
            ways: list[tuple[tuple[str, ...], ...]] = [()]
            for element in line.split(" "):
                choice = tuple(element.removesuffix("?").split("|"))
                longer = [(*way, choice) for way in ways]
                ways = longer + ways if element.endswith("?") else longer
            out += ways
        return out
