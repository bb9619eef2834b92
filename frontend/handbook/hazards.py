"""Words that make a hazard, as people write them: the groups of the handbook spelled out."""

from dataclasses import dataclass

from survey.handbook.book import Book
from survey.handbook.danger_records import DangerPhrase, WordGroup

FEW = 4
MOST_SHOWN = 8  # examples of one kind in one language; the groups below hold every word


@dataclass(frozen=True, slots=True)
class SpelledOut:
    """A group of words that count alike, each word as it is typed, in both languages."""

    code: str
    group: WordGroup
    en: list[str]
    es: list[str]


@dataclass(frozen=True, slots=True)
class Way:
    """One way of saying it: its phrase, and examples in English, in Spanish, and (`either`) of
    words that stand in the phrase itself, in whichever language."""

    code: str
    phrase: DangerPhrase
    en: list[str]
    es: list[str]
    either: list[str]


def spelled_out(group: WordGroup, language: str) -> list[str]:
    """Every word of a group in one language, with its endings: "branch", "branches"."""
    return list(dict.fromkeys(" ".join(words) for words in group.words(language)))


def groups_of(book: Book) -> list[SpelledOut]:
    return [
        SpelledOut(code, group, spelled_out(group, "en"), spelled_out(group, "es"))
        for code, group in book.danger_words.items()
    ]


def ways_of(book: Book) -> list[Way]:
    """Each phrase with short examples: a word of each group that it joins, in the order written."""
    return [
        Way(
            code,
            phrase,
            _examples(book, phrase, "en"),
            _examples(book, phrase, "es"),
            _own_words(book, phrase),
        )
        for code, phrase in book.danger_phrases.items()
    ]


def _examples(book: Book, phrase: DangerPhrase, language: str) -> list[str]:
    """Examples that are made of groups alone: only these are known to be of one language."""
    found = []
    for line in phrase.reads:
        needed = [part.split("|")[0] for part in line.split(" ") if not part.endswith("?")]
        if not all(part.startswith("@") for part in needed):
            continue
        words = [spelled_out(book.danger_words[part[1:]], language) for part in needed]
        if all(words):
            found.append(" … ".join(word[0] for word in words))
    return list(dict.fromkeys(found))[:MOST_SHOWN]


def _own_words(book: Book, phrase: DangerPhrase) -> list[str]:
    """The lines that name words of their own: of each place the first few that may stand there."""
    found = []
    for line in phrase.reads:
        needed = [part.split("|") for part in line.split(" ") if not part.endswith("?")]
        if all(part[0].startswith("@") for part in needed):
            continue
        found.append(" … ".join(_first_few(book, part) for part in needed))
    return list(dict.fromkeys(found))[:MOST_SHOWN]


def _first_few(book: Book, words: list[str]) -> str:
    few = []
    for word in words[:FEW]:
        if word.startswith("@"):
            group = book.danger_words[word[1:]]
            few += [spelled_out(group, one)[0] for one in ("en", "es") if group.words(one)]
        else:
            few.append(word.replace("+", " "))
    return ", ".join(dict.fromkeys(few))
