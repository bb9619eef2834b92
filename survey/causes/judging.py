"""Holds what is told of described cases against their right answers."""

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field

from survey.causes.cases import Case
from survey.causes.conflicts import BadFacts
from survey.causes.differential import Differential, tell_apart
from survey.handbook.book import book
from survey.science.proportions import clopper_pearson

DangerFinder = Callable[[str, str], Collection[str]]
"""From a text and its language to the codes of the dangers that it names."""


@dataclass(slots=True)
class Judged:
    """One case, what was told of it, and how that compares."""

    case: Case
    told: Differential | None
    refused: str
    dangers: frozenset[str]

    @property
    def ranking(self) -> list[str]:
        """The causes in order, without those ruled out and those that nothing but the calendar
        speaks for."""
        if self.told is None:
            return []
        causes = self.told.answer.causes
        return [one.cause for one in causes if one.word != "unlikely" and one.support]

    @property
    def named(self) -> list[tuple[str, str]]:
        """Cause and word of those said to be likely or possible."""
        return [(one.cause, one.word) for one in self.told.answer.named] if self.told else []

    @property
    def cannot_tell(self) -> bool:
        return not self.named

    @property
    def question(self) -> str | None:
        if self.told is None or self.told.asked is None:
            return None
        return self.told.asked.question.code

    def among_first(self, most: int) -> bool:
        return bool(self.case.accepted & set(self.ranking[:most]))

    @property
    def danger_found(self) -> bool:
        return bool(self.dangers)


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many, with exact limits at 95 in 100; None of none says nothing."""

    count: int
    of: int

    def __str__(self) -> str:
        if not self.of:
            return "no such case"
        limits = clopper_pearson(self.count, self.of)
        percent = 100 * self.count / self.of
        return (
            f"{self.count} of {self.of} ({percent:.0f} %, {100 * limits.low:.0f} to"
            f" {100 * limits.high:.0f} %)"
        )


@dataclass(slots=True)
class Scores:
    """The table of scores: what a line says and the share it shows, by heading."""

    lines: list[tuple[str, list[tuple[str, Share]]]] = field(default_factory=list)


def judge(cases: Iterable[Case], find_dangers: DangerFinder) -> list[Judged]:
    """Each case told as a neighbor's report would be, danger first.

    A case whose facts cannot be right is refused; nothing is ranked, which is the same as saying
    that nobody can tell.
    """
    out = []
    for case in cases:
        dangers = case.ticked | frozenset(find_dangers(case.text, case.language))
        told, refused = None, ""
        try:
            told = tell_apart(case.facts, in_danger=bool(dangers))
        except BadFacts as bad:
            refused = f"{bad.field}: {bad.problem}"
        out.append(Judged(case, told, refused, dangers))
    return out


def _share(judged: Sequence[Judged], right: Callable[[Judged], bool]) -> Share:
    return Share(sum(right(one) for one in judged), len(judged))


def score(judged: Sequence[Judged]) -> Scores:
    """All scores. Cases count where they say what is right, so every share names its own cases."""
    caused = [one for one in judged if one.case.accepted]
    open_ones = [one for one in judged if one.case.cannot_tell and not one.case.accepted]
    answered = caused + open_ones
    named = [one for one in answered if not one.cannot_tell]
    silent = [one for one in answered if one.cannot_tell]
    danger = [one for one in judged if one.case.danger]
    safe = [one for one in judged if one.case.danger is False]
    kinds = [one for one in danger if one.case.dangers]
    asked = [one for one in judged if one.case.question]
    words = [(one, cause, word) for one in answered for cause, word in one.named]

    def of_word(word: str) -> Share:
        said = [(one, cause) for one, cause, spoken in words if spoken == word]
        return Share(sum(cause in one.case.accepted for one, cause in said), len(said))

    likely = of_word("likely")
    both = [one for one in caused if len(one.case.accepted) > 1]
    lines: list[tuple[str, list[tuple[str, Share]]]] = [
        (
            "The causes, where the case accepts any",
            [
                ("an accepted cause is first", _share(caused, lambda one: one.among_first(1))),
                ("among the first three", _share(caused, lambda one: one.among_first(3))),
                (
                    "first, where a cause was named at all",
                    _share(
                        [one for one in caused if not one.cannot_tell],
                        lambda one: one.among_first(1),
                    ),
                ),
                (
                    "two accepted causes both among the first three",
                    _share(both, lambda one: len(one.case.accepted & set(one.ranking[:3])) > 1),
                ),
            ],
        ),
        (
            "“Cannot tell”",
            [
                ("was said", _share(answered, lambda one: one.cannot_tell)),
                (
                    "was right when it was said",
                    _share(silent, lambda one: one in open_ones),
                ),
                (
                    "was said where it is right",
                    _share(open_ones, lambda one: one.cannot_tell),
                ),
                (
                    "was said though a cause is accepted",
                    _share(caused, lambda one: one.cannot_tell),
                ),
                (
                    "an accepted cause is first when it was said",
                    _share(
                        [one for one in silent if one.case.accepted],
                        lambda one: one.among_first(1),
                    ),
                ),
                (
                    "an accepted cause is first when one was named",
                    _share(named, lambda one: one.among_first(1)),
                ),
            ],
        ),
        (
            "The words, cause by cause",
            [
                ("called likely and accepted", likely),
                ("called possible and accepted", of_word("possible")),
                ("called likely and wrong (too sure)", Share(likely.of - likely.count, likely.of)),
            ],
        ),
        (
            "Danger",
            [
                ("found where there is one", _share(danger, lambda one: one.danger_found)),
                (
                    "of the right kind",
                    _share(kinds, lambda one: bool(one.dangers & one.case.dangers)),
                ),
                ("false alarms where there is none", _share(safe, lambda one: one.danger_found)),
            ],
        ),
        (
            "The settling question",
            [
                (
                    "is the one asked",
                    _share(asked, lambda one: same_look(one.question, one.case.question)),
                ),
                (
                    "is among the first three",
                    _share(
                        asked,
                        lambda one: any(
                            same_look(code, one.case.question) for code in _questions(one, 3)
                        ),
                    ),
                ),
            ],
        ),
    ]
    return Scores(lines)


def same_look(asked: str | None, accepted: frozenset[str] | None) -> bool:
    """Whether a check is one of those accepted, settles just what one of them settles (*is it dry*
    and *is it wet* are one look into the soil), or is named by the handbook as the same look."""
    if asked is None or not accepted:
        return False
    return any(
        _settles(asked) == _settles(code)
        or asked in book().checks[code].same_as
        or code in book().checks[asked].same_as
        for code in accepted
    )


def _settles(code: str) -> frozenset[str]:
    check = book().checks[code]
    return frozenset((*check.yes_means, *check.yes_denies, *check.no_means, *check.no_denies))


def _questions(one: Judged, most: int) -> list[str]:
    if one.told is None or one.told.asked is None:
        return []
    asked = (one.told.asked, *one.told.others)
    return [each.question.code for each in asked[:most]]
