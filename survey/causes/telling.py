"""Causes in words: why each has its word, what speaks for and against it, what an answer changes.

No number is said of a cause before trained people have confirmed or ruled out enough of them.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from survey.causes.differential import SEASON as SLEEP
from survey.causes.differential import Differential
from survey.causes.record import Recorded
from survey.causes.verdicts import Ruling
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.science.causes.calibration import VERDICTS_NEEDED, Calibrated
from survey.science.causes.records import Answer, Line, Told, Word
from survey.science.causes.weighing import SEASON

MOST_CAUSES = 6
MOST_NAMED = 4
FITS_MANY = 5
"""From so many causes on it is told that a clue fits many."""


@dataclass(frozen=True, slots=True)
class LineSaid:
    """One line for or against a cause; `note` says whence it is known and what takes from it."""

    says: str
    note: str


@dataclass(frozen=True, slots=True)
class CauseSaid:
    """One cause as a page or program tells it. With a `ruling`, `word` is the verdict."""

    code: str
    label: str
    word: str
    why: str
    speaks_for: tuple[LineSaid, ...]
    speaks_against: tuple[LineSaid, ...]
    told: Told | None
    ruling: Ruling | None = None


@dataclass(frozen=True, slots=True)
class QuestionSaid:
    """The one question: what to ask, how to find out, and what either answer would change."""

    code: str
    asks: str
    how: str
    who: str
    yes: str
    no: str
    after_yes: str
    after_no: str


@dataclass(frozen=True, slots=True)
class CausesSaid:
    """All that is told of a tree's causes."""

    summary: str
    causes: tuple[CauseSaid, ...]
    question: QuestionSaid | None
    notes: tuple[str, ...]
    words: tuple[str, ...]


def word_said(word: Word) -> str:
    """The word of one cause, in the reader's language."""
    return {
        "likely": _("likely"),
        "possible": _("possible"),
        "unlikely": _("unlikely"),
        "cannot_tell": _("cannot tell yet"),
    }[word]


def why_said(told: Told) -> str:
    """Why a cause has no better word; "" where nothing holds it back."""
    if told.word == "possible":
        return {
            "one_report": _("one report or photo only; a trained look or a check could settle it"),
            "few_reports": _("reports only; a trained look or a check could settle it"),
            "thin": _("little speaks for it so far"),
        }.get(told.cap, "")
    if told.word == "cannot_tell":
        if told.cap == "context_only":
            return _("it would fit, but nothing seen on the tree says so")
        return _("too little is known")
    return ""


def who_said(who: str) -> str:
    """Who may make a check."""
    return {
        "anyone": _("anyone can do this"),
        "trained": _("for a trained person"),
        "crew": _("for a crew"),
        "arborist": _("for an arborist"),
        "applicator": _("for a licensed applicator"),
        "lab": _("for a laboratory"),
    }[who]


def line_said(line: Line, recorded: Recorded | None = None) -> LineSaid:
    """One line: what is so or not so, and whence that is known."""
    if line.clue == SEASON:
        return LineSaid(_("It seldom shows in this month"), _("by the calendar"))
    clue = book().clues[line.clue]
    says = str(said(clue.label if line.so else clue.absent))
    detail = recorded.details.get(line.clue) if recorded else None
    if detail:
        says = _("%(says)s (%(detail)s)") % {"says": says, "detail": detail}
    notes = [_vouched(line)]
    if line.local:
        notes.append(_("rule of this place"))
    if line.points > 0 and line.fits >= FITS_MANY:
        notes.append(ngettext("fits %d cause", "fits %d causes", line.fits) % line.fits)
    return LineSaid(says, "; ".join(note for note in notes if note))


def _vouched(line: Line) -> str:
    kinds = {witness.kind for witness in line.witnesses}
    if kinds == {"record"} and book().clues[line.clue].about == "time":
        return _("by the month")
    for kind, words in (
        ("check", _("a check answered")),
        ("trained", _("a trained look")),
        ("record", _("the record")),
        ("photo", _("a photo")),
    ):
        if kind in kinds:
            return words
    people = len({witness.who for witness in line.witnesses})
    return ngettext("one report", "%(reports)d reports", people) % {"reports": people}


def causes_said(
    told: Differential, recorded: Recorded | None = None, *, most: int = MOST_CAUSES
) -> CausesSaid:
    """What is told of a tree's causes: the confirmed ones, those named, others that something seen
    speaks for, and those ruled out. What was judged is always told."""
    named = told.named
    rest = [
        one
        for one in told.answer.causes
        if one not in named
        and one.cause not in told.rulings
        and any(not line.context for line in one.speaks_for)
    ]
    open_still = [cause_said(one, recorded) for one in [*named, *rest][:most]]
    return CausesSaid(
        summary=summary_said(told, told.answer),
        causes=(
            *(judged_said(told, code, recorded) for code in told.confirmed),
            *open_still,
            *(judged_said(told, code, recorded) for code in told.ruled_out),
        ),
        question=_question_said(told),
        notes=told.read.notes,
        words=tuple(dict.fromkeys(one.words for one in told.read.heard)),
    )


def judged_said(told: Differential, code: str, recorded: Recorded | None = None) -> CauseSaid:
    """A cause that was confirmed or ruled out; the lines stay to be read. Raises KeyError for a
    cause without a verdict that speaks."""
    ruling = told.rulings[code]
    weighed = told.answer.by_code.get(code)
    word = _("confirmed") if ruling.confirmed else _("ruled out")
    if weighed is None:
        return CauseSaid(code, label_of_cause(code), word, "", (), (), None, ruling)
    return replace(cause_said(weighed, recorded), word=word, why="", ruling=ruling)


def cause_said(told: Told, recorded: Recorded | None = None) -> CauseSaid:
    """One cause in words."""
    return CauseSaid(
        code=told.cause,
        label=label_of_cause(told.cause),
        word=word_said(told.word),
        why=why_said(told),
        speaks_for=tuple(line_said(line, recorded) for line in told.speaks_for),
        speaks_against=tuple(line_said(line, recorded) for line in told.speaks_against),
        told=told,
    )


def label_of_cause(code: str) -> str:
    """The name of a cause; a code that the handbook no longer has says itself."""
    cause = book().causes.get(code)
    return str(said(cause.label)) if cause else code


def summary_said(told: Differential, answer: Answer) -> str:
    """The words in a sentence or two: what was confirmed, what this answer about the tree names,
    and what was ruled out."""
    parts = []
    if told.confirmed:
        parts.append(_("Confirmed: %s.") % _listed(told.confirmed))
    named = told.named_in(answer)
    if len(named) == 1 and book().causes[named[0].cause].kind == SLEEP:
        parts.append(_("It is asleep: its kind stands bare now. That is no trouble."))
    else:
        for word, words in (("likely", _("Likely: %s.")), ("possible", _("Possible: %s."))):
            codes = [one.cause for one in named[:MOST_NAMED] if one.word == word]
            if codes:
                parts.append(words % _listed(codes))
    if not parts:
        parts.append(_("Nobody can tell the cause yet."))
    if told.ruled_out:
        parts.append(_("Ruled out: %s.") % _listed(told.ruled_out))
    return " ".join(parts)


def _listed(codes: Iterable[str]) -> str:
    return ", ".join(label_of_cause(code).lower() for code in codes)


def _joined(names: list[str]) -> str:
    if len(names) < 2:
        return "".join(names)
    return _("%(first)s and %(last)s") % {"first": ", ".join(names[:-1]), "last": names[-1]}


def _question_said(told: Differential) -> QuestionSaid | None:
    asked = told.asked
    if asked is None:
        return None
    check = book().checks[asked.question.code]
    return QuestionSaid(
        code=check.code,
        asks=str(said(check.asks)),
        how=str(said(check.how)),
        who=who_said(check.who),
        yes=str(said(check.yes)),
        no=str(said(check.no)),
        after_yes=change_said(told, asked.after_yes),
        after_no=change_said(told, asked.after_no),
    )


def change_said(told: Differential, after: Answer) -> str:
    """What an answer would change: the words that then stand, just as they will be told; where
    they stay as they are, what the answer speaks for and against."""
    words = summary_said(told, after)
    if words != summary_said(told, told.answer):
        return words
    was = told.answer.by_code
    moved = [one for one in after.causes if one.cause not in told.rulings]
    rises = [one for one in moved if one.points > was[one.cause].points + 0.25]
    falls = [one for one in moved if one.points < was[one.cause].points - 0.25]
    weighty = sorted(rises, key=lambda one: was[one.cause].points - one.points)[:2]
    against = sorted(falls, key=lambda one: one.points - was[one.cause].points)[:2]
    front = {one.cause for one in (*told.named, *told.answer.causes[:4])}
    against = [one for one in against if one.cause in front] or against[:1]
    parts = []
    if weighty:
        parts.append(_("Speaks for %s.") % _names(weighty).lower())
    if against:
        parts.append(_("Speaks against %s.") % _names(against).lower())
    if not parts:
        return _("Changes little.")
    return " ".join([_("The words above stay."), *parts])


def _names(causes: Iterable[Told]) -> str:
    """ "Mower or trimmer and dry root ball": the first with a capital letter, at most two."""
    names = [label_of_cause(one.cause) for one in causes][:2]
    return _joined([names[0], *(name.lower() for name in names[1:])])


def calibration_said(calibrated: Mapping[Word, Calibrated]) -> tuple[str, ...]:
    """How often the words were right: a sentence a word, or how many verdicts are wanting."""
    out = []
    for word in ("likely", "possible"):
        one = calibrated[word]
        if one.limits is None:
            continue
        out.append(
            _(
                "Of %(of)d causes called %(word)s and judged here, %(confirmed)d were confirmed"
                " (between %(low)d and %(high)d of 100)."
            )
            % {
                "of": one.of,
                "word": word_said(word),
                "confirmed": one.confirmed,
                "low": round(100 * one.limits.low),
                "high": round(100 * one.limits.high),
            }
        )
    judged = sum(one.of for one in calibrated.values())
    if not out:
        out.append(
            _(
                "In words only: numbers come when %(needed)d causes called likely, or called"
                " possible, have been confirmed or ruled out here; so far %(judged)d."
            )
            % {"needed": VERDICTS_NEEDED, "judged": judged}
        )
    return tuple(out)
