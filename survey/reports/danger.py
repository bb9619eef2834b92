"""Hazards that were typed and not ticked."""

import re

from survey.handbook.danger_words import find_danger
from survey.reports.models import Decision

MOST_WORDS_KEPT = 200  # letters of the phrase that is kept with the report


def typed_danger(*texts: str) -> tuple[str, str]:
    """The most pressing hazard that these texts speak of: (its kind, the phrase as written, on one
    line and cut to what is kept). ("", "") where none does; the first text that speaks counts."""
    for text in texts:
        found = find_danger(text)
        if found:
            words = " ".join(found[0].phrase.replace("\x00", "").split())
            if len(words) > MOST_WORDS_KEPT:
                words = words[: MOST_WORDS_KEPT + 1].rsplit(" ", 1)[0][:MOST_WORDS_KEPT]
            return found[0].danger, words
    return "", ""


def parts_around(text: str, words: str) -> tuple[str, str, str] | None:
    """`text` in three: before these words, they as they stand there, and after; None where they
    do not stand in it."""
    pieces = words.split()
    found = re.search(r"\s+".join(map(re.escape, pieces)), text) if pieces else None
    if found is None:
        return None
    return text[: found.start()], found[0], text[found.end() :]


def said_to_be_no_danger(decision: Decision) -> bool:
    """Whether a decision set words aside that had been read as a danger. Such a one says nothing
    of the tree; a danger that is over is cleared by a qualified person."""
    return decision.outcome == Decision.Outcome.CLEAR and bool(decision.before.get("danger_words"))
