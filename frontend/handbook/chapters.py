"""The chapters of the handbook, which of its files each shows, and where every entry stands."""

import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, fields

from django.urls import reverse
from django.utils.translation import get_language, gettext_lazy

from survey.handbook.book import Book, book
from survey.handbook.records import Entry, Source
from survey.handbook.wording import said


@dataclass(frozen=True, slots=True)
class Chapter:
    """One chapter. `shelves` are the book's fields it shows, in the order of the page."""

    key: str
    title: str
    about: str
    shelves: tuple[str, ...]

    @property
    def url(self) -> str:
        return reverse(f"frontend:handbook-{self.key}")

    @property
    def entries(self) -> int:
        return sum(len(getattr(book(), shelf)) for shelf in self.shelves)


CHAPTERS = (
    Chapter(
        "causes",
        gettext_lazy("Why a tree is in trouble"),
        gettext_lazy("What speaks for each cause and against it, when, how to check, what to do."),
        ("causes",),
    ),
    Chapter(
        "signs",
        gettext_lazy("What can be seen"),
        gettext_lazy("Every sign with its drawing. A sign is no conclusion."),
        ("signs",),
    ),
    Chapter(
        "clues",
        gettext_lazy("How causes are told apart"),
        gettext_lazy("What to ask and look for, and what either answer means."),
        ("checks", "clues"),
    ),
    Chapter(
        "care",
        gettext_lazy("Care"),
        gettext_lazy("What helps: how much, when, by whom, and what is not given."),
        ("care",),
    ),
    Chapter(
        "cautions",
        gettext_lazy("Before you go near"),
        gettext_lazy("Danger to people, and cautions for work. Read these first."),
        ("dangers", "cautions"),
    ),
    Chapter(
        "species",
        gettext_lazy("Kinds of tree"),
        gettext_lazy("When each is bare, and what its trunk and roots ask for."),
        ("species",),
    ),
    Chapter(
        "advice",
        gettext_lazy("What a neighbor can do"),
        gettext_lazy("What to leave alone, when to call, what helps today."),
        ("advice",),
    ),
    Chapter(
        "words",
        gettext_lazy("Words and pictures we use"),
        gettext_lazy("How a tree is doing, how far round, and on which side."),
        ("conditions", "picture_scale", "extents", "sides"),
    ),
    Chapter(
        "hazards",
        gettext_lazy("How a hazard is read in words"),
        gettext_lazy("Words that put a report on top, though nothing was ticked."),
        ("danger_phrases", "danger_words"),
    ),
    Chapter(
        "alike",
        gettext_lazy("Easily taken for each other"),
        gettext_lazy("Pictures that look alike and mean different things."),
        ("practice",),
    ),
    Chapter(
        "disputes",
        gettext_lazy("Said often, not settled"),
        gettext_lazy("Claims that go round. We take no side without a source."),
        ("disputes",),
    ),
    Chapter(
        "sources",
        gettext_lazy("Sources"),
        gettext_lazy("What all this rests on, and how each text was read."),
        ("sources",),
    ),
)
BY_KEY = {chapter.key: chapter for chapter in CHAPTERS}
CHAPTER_OF = {shelf: chapter for chapter in CHAPTERS for shelf in chapter.shelves}
SHELVES = tuple(field.name for field in fields(Book))
OWN_PAGE = {"causes": "handbook-cause", "care": "handbook-care-of"}
"""Entries with a page of their own; all others are a place on their chapter's page."""


def anchor_of(shelf: str, code: str) -> str:
    """The name of an entry's place on its chapter's page. Two files may use the same code."""
    chapter = CHAPTER_OF[shelf]
    return code if chapter.shelves[0] == shelf else f"{shelf}-{code}"


def address_of(shelf: str, code: str) -> str:
    """Where an entry can be read. Raises KeyError for a file that the handbook does not have."""
    if shelf in OWN_PAGE:
        return reverse(f"frontend:{OWN_PAGE[shelf]}", args=[code])
    return f"{CHAPTER_OF[shelf].url}#{anchor_of(shelf, code)}"


def name_of(entry: Entry | Source) -> str:
    """What an entry is called in lists, in the reader's language."""
    for field in ("label", "common_name", "claim", "headline", "asks", "question", "citation"):
        words = getattr(entry, field, None)
        if words:
            return str(words if field == "citation" else said(words))
    return entry.code


@dataclass(frozen=True, slots=True)
class Listed:
    """One line of the index: a name, where it leads, and the chapter it leads to."""

    name: str
    address: str
    chapter: str


NAMED_IN_INDEX = (
    "causes",
    "signs",
    "clues",
    "care",
    "dangers",
    "cautions",
    "species",
    "conditions",
)
"""Files whose entries have names that somebody would look up; claims and advice are sentences."""


def _names() -> Iterator[Listed]:
    in_spanish = (get_language() or "en").startswith("es")
    for shelf in NAMED_IN_INDEX:
        for code, entry in getattr(book(), shelf).items():
            names = [name_of(entry)]
            names += [str(said(entry.trade_term))] if getattr(entry, "trade_term", "") else []
            names += [entry.latin] if getattr(entry, "latin", "") else []
            if shelf in ("causes", "species") and not in_spanish:  # kept in English alone
                names += [alias[:1].upper() + alias[1:] for alias in entry.aliases]
            for name in dict.fromkeys(names):
                chapter = CHAPTER_OF[shelf]
                yield Listed(name, address_of(shelf, code), str(chapter.title))


def _plain(word: str) -> str:
    """A word as it is sorted: small letters, without accents."""
    parts = unicodedata.normalize("NFKD", word.casefold())
    return "".join(letter for letter in parts if not unicodedata.combining(letter))


def index() -> list[tuple[str, list[Listed]]]:
    """Every name from A to Z in the reader's language, by its first letter."""
    found: dict[str, list[Listed]] = {}
    for line in sorted(_names(), key=lambda line: (_plain(line.name), line.chapter)):
        letter = next((c for c in _plain(line.name) if c.isalpha()), "#").upper()
        found.setdefault(letter, []).append(line)
    return sorted(found.items())
