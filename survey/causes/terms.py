"""Finds the handbook's entry that a word in a file means: by code, label, trade term or alias."""

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import Any

from survey.causes.words import folded, tokens
from survey.handbook.book import book

SHELVES = (
    "signs", "clues", "causes", "checks", "species", "dangers", "extents", "sides"
)  # fmt: skip

EMPTY_WORDS = frozenset(
    tokens("wound damage injury stress trouble problem cause disease issue hit suspected", "en")
)
"""Words that tell no cause from another, so that "mower damage" is found by "mower"."""

PARTS = re.compile(r"[,;?.]|\b(?:and|y|then)\b", re.IGNORECASE)

CANNOT_TELL = frozenset(
    [
        "cannot tell",
        "can not tell",
        "cant tell",
        "cannot tell yet",
        "unknown",
        "unclear",
        "none",
        "nothing",
        "undetermined",
        "insufficient evidence",
        "not enough evidence",
        "unsure",
        "not sure",
    ]
)


def plain(value: str) -> str:
    """Small letters, no accents, single spaces instead of underscores, hyphens and commas."""
    kept = "".join(c if c.isalnum() or c in "'ñ" else " " for c in folded(value))
    return " ".join(kept.replace("'", "").split())


def means_cannot_tell(value: str) -> bool:
    return plain(value) in CANNOT_TELL


def find(shelf: str, value: str) -> str | None:
    """The code of the one entry on this shelf that the value names, or None.

    First the whole name, then its telling words in any order and form, then telling words that
    stand in the names of just one entry.
    """
    if shelf not in SHELVES:
        raise KeyError(shelf)
    name = plain(value)
    if not name or len(name) > 200:
        return None
    whole = _whole(shelf)
    if name in whole:
        return whole[name]
    words = telling(name)
    if not words:
        return None
    same = {code for code, names in _bags(shelf).items() if words in names}
    if len(same) == 1:
        return same.pop()
    if shelf == "checks":
        return _nearest(shelf, words)
    if shelf not in ("causes", "species"):
        return None
    # A part of one entry's name, or one entry's name with more words around it.
    for fits in (frozenset.__le__, frozenset.__ge__):
        within = {
            code
            for code, names in _bags(shelf).items()
            if any(fits(words, other) for other in names)
        }
        if within:
            return within.pop() if len(within) == 1 else None
    return None


def find_alike(shelf: str, value: str) -> list[str]:
    """Every entry whose name holds all telling words of the value: "maple" means several."""
    words = telling(plain(value))
    if not words or len(value) > 200:
        return []
    return [code for code, names in _bags(shelf).items() if any(words <= other for other in names)]


def _nearest(shelf: str, words: frozenset[str]) -> str | None:
    """The one entry that shares the most telling words, at least two and half of those given."""
    shared = {
        code: max((len(words & other) for other in names), default=0)
        for code, names in _bags(shelf).items()
    }
    most = max(shared.values(), default=0)
    best = [code for code, count in shared.items() if count == most]
    return best[0] if most >= 2 and 2 * most >= len(words) and len(best) == 1 else None


def find_each(shelf: str, value: str) -> list[str]:
    """The codes of every entry that the value names: of the whole of it if it is one name, else of
    each part of it ("mower and drought"; "cold/deer/trunk rub, bird sapsucker rows")."""
    whole = find(shelf, value)
    if whole:
        return [whole]
    if shelf == "checks":
        return _in_words(value)
    parts = [part for part in PARTS.split(value) if plain(part)]
    codes = [find(shelf, part) for part in parts]
    return [code for code in dict.fromkeys(codes) if code] if all(codes) else []


def _in_words(value: str) -> list[str]:
    """The checks that a question in somebody's own words asks for: in each part of it the ones of
    which a name stands in it with the most words."""
    found: dict[str, None] = {}
    for part in PARTS.split(value[:200]):
        words = telling(plain(part))
        fits = {
            code: max((len(name) for name in names if name <= words), default=0)
            for code, names in _bags("checks").items()
        }
        most = max(fits.values(), default=0)
        if most:
            found.update(dict.fromkeys(code for code, size in fits.items() if size == most))
    return list(found)


def telling(name: str) -> frozenset[str]:
    """The stems of a name without words that tell nothing apart."""
    words = frozenset(tokens(folded(name).replace("_", " "), "en"))
    return (words - EMPTY_WORDS) or words


def names_of(shelf: str, entry: Any) -> Iterable[str]:
    """Every name that an entry goes by; never what denies it."""
    yield entry.code
    for field in ("label", "trade_term", "latin", "common_name", "asks"):
        value = getattr(entry, field, None)
        if value:
            yield value
            yield from value.split(" or ") if shelf == "causes" else ()
            yield from value.split(", ") if field == "trade_term" else ()
    yield from getattr(entry, "aliases", ())


@lru_cache(maxsize=len(SHELVES))
def _whole(shelf: str) -> dict[str, str]:
    """Each whole name with its code; a name that two entries share names neither, a code does."""
    entries: Mapping[str, Any] = getattr(book(), shelf)
    found: dict[str, set[str]] = {}
    for code, entry in entries.items():
        for name in names_of(shelf, entry):
            found.setdefault(plain(name), set()).add(code)
    clear = {name: next(iter(codes)) for name, codes in found.items() if len(codes) == 1}
    return clear | {plain(code): code for code in entries}


@lru_cache(maxsize=len(SHELVES))
def _bags(shelf: str) -> dict[str, tuple[frozenset[str], ...]]:
    return {
        code: tuple({telling(plain(name)) for name in names_of(shelf, entry)})
        for code, entry in getattr(book(), shelf).items()
    }
