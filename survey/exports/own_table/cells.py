"""One cell of somebody's own table: a date, an age, a word; or a reason that helps to mend it."""

import math
import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from survey.exports.cells import EARLIEST, BadCell

MOST_ALIKE = 1_000_000_000
LATEST_AGE = 1e12
FORMULA = re.compile(r"[=@]|[+-]\s*[A-Za-z(]")
NUMBER = re.compile(r"[+-]?([0-9]{1,15}(\.[0-9]{0,15})?|\.[0-9]{1,15})([eE][+-]?[0-9]{1,2})?")
DAY = re.compile(
    r"(\d{4})-(\d{1,2})-(\d{1,2})([T ]\d{1,2}:\d{2}(:\d{2}(\.\d{1,9})?)?Z?)?", re.ASCII
)
US_DAY = re.compile(
    r"(\d{1,2})/(\d{1,2})/(\d{4})([T ]\d{1,2}:\d{2}(:\d{2})?( ?[AaPp][Mm])?)?", re.ASCII
)
MONTH = re.compile(r"(\d{4})-(\d{1,2})", re.ASCII)
US_MONTH = re.compile(r"(\d{1,2})/(\d{4})", re.ASCII)
YEAR = re.compile(r"\d{4}", re.ASCII)
NEVER_ENDED = {"", "inf", "+inf", "infinity", "+infinity"}

ALIVE, LOSS, NOTHING, NEVER_PLANTED = "alive", "loss", "nothing", "never_planted"
DIED, REMOVED_HEALTH, REMOVED_OTHER, LOST = "died", "removed_health", "removed_other", "lost"

_ALIVE = "alive living live standing sprouting thriving holding slipping failing good fair poor"
_DIED = "died dead standing_dead dead_standing gone stump removed cut_down"
_HEALTH = "removed_health removed_for_health removed_for_safety removed_for_health_or_safety"
_OTHER = (
    "removed_other removed_for_another_reason removed_for_other_reasons removed_for_other_reason"
)
_LOST = "lost lost_from_sight not_found could_not_be_found"
_NOTHING = "not_found could_not_look could_not_see not_seen no_access not_visited not_looked"


def _words(**kinds: str) -> dict[str, str]:
    return {word: kind for kind, words in kinds.items() for word in words.split()}


OUTCOMES = _words(
    alive=_ALIVE, died=_DIED, removed_health=_HEALTH, removed_other=_OTHER, lost=_LOST,
    never_planted="never_planted",
)  # fmt: skip
SEEN = _words(
    alive=_ALIVE, died=_DIED, removed_health=_HEALTH, removed_other=_OTHER,
    nothing=f"{_NOTHING} {_LOST}", never_planted="never_planted",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class When:
    """The first and the last day on which something may have been."""

    start: date
    end: date

    @property
    def is_one_day(self) -> bool:
        return self.start == self.end


def when_of(text: str, *, today: date) -> When:
    """A day, a month or a year; also month/day/year as written in the United States.

    Nothing lies after `today`. Raises BadCell.
    """
    if FORMULA.match(text):
        raise BadCell(_("This is a formula. Save the table with values, not formulas."))
    first, last = _bounds(text)
    if first < EARLIEST:
        raise BadCell(_("%s is too long ago for a tree that can be followed.") % short(text))
    if first > today:
        raise BadCell(_("%s has not come yet.") % short(text))
    return When(first, min(last, today))


def _bounds(text: str) -> tuple[date, date]:
    try:
        if found := DAY.fullmatch(text):
            day = date(int(found[1]), int(found[2]), int(found[3]))
            return day, day
        if found := US_DAY.fullmatch(text):
            if int(found[1]) > 12:
                raise BadCell(
                    _("%s: the month comes first here, then the day. Or write it 2026-06-16.")
                    % short(text)
                )
            day = date(int(found[3]), int(found[1]), int(found[2]))
            return day, day
        if found := MONTH.fullmatch(text):
            return _month(int(found[1]), int(found[2]))
        if found := US_MONTH.fullmatch(text):
            return _month(int(found[2]), int(found[1]))
        if YEAR.fullmatch(text):
            return date(int(text), 1, 1), date(int(text), 12, 31)
    except ValueError as trouble:
        if isinstance(trouble, BadCell):
            raise
        raise BadCell(_("There is no such day: %s.") % short(text)) from None
    raise BadCell(_("“%s” is no date. Write 2026-06-16, 2026-06, 2026 or 6/16/2026.") % short(text))


def _month(year: int, month: int) -> tuple[date, date]:
    first = date(year, month, 1)
    return first, first.replace(day=monthrange(year, month)[1])


def age_of(text: str) -> float:
    """An age in the table's own unit, 0 or more. Raises BadCell."""
    if FORMULA.match(text):
        raise BadCell(_("This is a formula. Save the table with values, not formulas."))
    if re.fullmatch(r"[+-]?[0-9]+,[0-9]+", text):
        raise BadCell(
            _("“%s” is not a number. Write a point, not a comma, before the decimals.")
            % short(text)
        )
    if not NUMBER.fullmatch(text):
        raise BadCell(_("“%s” is not a number.") % short(text))
    age = float(text)
    if age < 0:
        raise BadCell(_("An age is not below 0: %s.") % short(text))
    if not math.isfinite(age) or age > LATEST_AGE:
        raise BadCell(_("%s is too large for an age.") % short(text))
    return age + 0.0  # so that -0 is 0


def end_of(text: str) -> float:
    """An age, or inf where the end was not seen."""
    return math.inf if text.lower() in NEVER_ENDED else age_of(text)


def count_of(text: str) -> int:
    """How many are alike; 1 for an empty cell. Raises BadCell."""
    if not text:
        return 1
    if not re.fullmatch(r"[0-9]{1,15}(\.0*)?", text) or not 1 <= float(text) <= MOST_ALIKE:
        raise BadCell(_("“%s” is no count. Write a whole number, 1 or more.") % short(text))
    return int(float(text))


def word_of(text: str, known: dict[str, str]) -> str:
    """What a word stands for. Raises BadCell."""
    word = re.sub(r"[\W_]+", "_", text.lower()).strip("_")
    if word not in known:
        raise BadCell(
            _("“%(text)s” is not known here. Write one of: %(words)s.")
            % {"text": short(text), "words": ", ".join(sorted(_listed(known)))}
        )
    return known[word]


def _listed(known: dict[str, str]) -> list[str]:
    """One or two words of each kind are enough to go by."""
    first: dict[str, list[str]] = {}
    for word, kind in known.items():
        first.setdefault(kind, []).append(word.replace("_", " "))
    return [word for words in first.values() for word in words[:2]]


def short(text: str) -> str:
    """A cell's text, short enough to be quoted."""
    return text if len(text) <= 40 else f"{text[:39]}…"
