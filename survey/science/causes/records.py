"""What the telling apart of causes works with: suspects, clues, witnesses and what came out."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Word = Literal["likely", "possible", "unlikely", "cannot_tell"]
WORDS: tuple[Word, ...] = ("unlikely", "cannot_tell", "possible", "likely")
"""From the least to the most that is said of a cause."""

Often = Literal["common", "sometimes", "seldom"]
Kind = Literal["lay", "photo", "record", "trained", "check"]
Cap = Literal["", "one_report", "few_reports", "context_only", "thin"]


class CannotWeigh(ValueError):
    """What was given cannot be weighed: it contradicts itself, or names what nobody knows."""


class ClueContradicted(CannotWeigh):
    """One clue is given as so and as not so at once; whoever calls has to say which counts."""

    def __init__(self, clue: str) -> None:
        super().__init__(f"{clue} is given as so and as not so")
        self.clue = clue


@dataclass(frozen=True, slots=True, order=True)
class Witness:
    """Who vouches for a clue. `who` is the same text for everything that one person, or one
    report with its photos, says: looks are independent only when it differs."""

    kind: Kind
    who: str = ""

    def __post_init__(self) -> None:
        if self.kind in ("lay", "photo", "trained") and not self.who:
            raise CannotWeigh(f"a {self.kind} witness must be told apart from others by a name")


@dataclass(frozen=True, slots=True)
class Known:
    """A clue that is so, or was looked for and is not so."""

    clue: str
    so: bool
    witnesses: frozenset[Witness]

    def __post_init__(self) -> None:
        if not self.clue or not self.witnesses:
            raise CannotWeigh("a clue has a name and somebody who vouches for it")


@dataclass(frozen=True, slots=True)
class Weighing:
    """What a clue says of one cause: `weight` when it is so, `absent` when it is not (-3 to 3).

    `context` marks what is not seen on the tree itself (month, weather, kind of tree): it never
    makes a cause possible alone. `beside` marks what is seen next to the tree (its soil, a crust):
    it does so only with a sign of the tree, unless somebody trained or a check says it. `usual` is
    the share of days on which the clue is so anyhow, from 0 up to but not including 1: what is so
    for most of the year says little when it is so.
    """

    clue: str
    weight: int
    absent: int = 0
    context: bool = False
    beside: bool = False
    local: bool = False
    usual: float = 0.0

    def __post_init__(self) -> None:
        for name, value in (("weight", self.weight), ("absent", self.absent)):
            if not -3 <= value <= 3:
                raise CannotWeigh(f"{name} of {self.clue} must be from -3 to 3, not {value}")
        if not 0 <= self.usual < 1:
            raise CannotWeigh(f"usual of {self.clue} must be from 0 to below 1, not {self.usual}")
        if self.weight == 0 and self.absent == 0:
            raise CannotWeigh(f"{self.clue} weighs nothing")


@dataclass(frozen=True, slots=True)
class Suspect:
    """A cause that may be behind a tree's trouble.

    `shows_in` are the months, as the north has them, in which its signs are usually seen.
    """

    code: str
    often: Often
    weighings: tuple[Weighing, ...]
    shows_in: frozenset[int] = frozenset(range(1, 13))

    def __post_init__(self) -> None:
        if not self.shows_in <= set(range(1, 13)):
            raise CannotWeigh(f"{self.code} shows in a month that no year has")
        clues = [weighing.clue for weighing in self.weighings]
        if len(set(clues)) < len(clues):
            raise CannotWeigh(f"{self.code} weighs a clue twice")


@dataclass(frozen=True, slots=True)
class Line:
    """One line for or against a cause. `fits` counts the causes that the clue speaks for;
    `points` is the weight after that, above 0 for the cause and below 0 against it."""

    clue: str
    so: bool
    weight: int
    fits: int
    points: float
    context: bool
    local: bool
    witnesses: tuple[Witness, ...]
    beside: bool = False
    usual: float = 0.0

    @property
    def firm(self) -> bool:
        """Whether a trained look or an answered check vouches for it."""
        return any(witness.kind in ("trained", "check") for witness in self.witnesses)


@dataclass(frozen=True, slots=True)
class Told:
    """What is told of one cause: the word, the lines, and what held the word down (`cap`).

    `points` is the sum of the lines, `standing` adds how often the cause is met; both order causes
    and are never shown.
    """

    cause: str
    word: Word
    cap: Cap
    points: float
    standing: float
    speaks_for: tuple[Line, ...]
    speaks_against: tuple[Line, ...]

    @property
    def support(self) -> int:
        """2 where something seen speaks for it, 1 where only context does, 0 where nothing or only
        the calendar does: that speaks for half the causes on any day."""
        if any(not line.context for line in self.speaks_for):
            return 2
        return 1 if any(not line.usual for line in self.speaks_for) else 0


@dataclass(frozen=True, slots=True)
class Answer:
    """Every cause, the foremost first. `word` is the best word that any of them has."""

    causes: tuple[Told, ...]
    word: Word
    by_code: Mapping[str, Told] = field(repr=False, compare=False)

    @property
    def named(self) -> tuple[Told, ...]:
        """The causes said to be likely or possible."""
        return tuple(told for told in self.causes if told.word in ("likely", "possible"))


@dataclass(frozen=True, slots=True)
class Question:
    """A check with two answers, and the clues that either settles.

    `deeper` marks a check that is worth asking after a report or a photo has named its clue, `felt`
    one that feels below the surface what people before only saw. `place` is how far down the
    handbook names it among the checks of the causes that lead, 0 for the first. `own` marks the
    foremost cause's own checks: they come before all others.
    """

    code: str
    who: str
    yes_so: tuple[str, ...] = ()
    yes_not: tuple[str, ...] = ()
    no_so: tuple[str, ...] = ()
    no_not: tuple[str, ...] = ()
    deeper: bool = False
    felt: bool = False
    place: int = 0
    own: bool = False

    @property
    def clues(self) -> frozenset[str]:
        return frozenset((*self.yes_so, *self.yes_not, *self.no_so, *self.no_not))

    def answered_by(self, known: Mapping[str, Known]) -> bool:
        """Whether what is known says the answer already: all that a yes or a no would say, or one
        thing that a yes rules out."""
        so = {clue for clue, one in known.items() if one.so}
        not_so = known.keys() - so
        if self.clues <= known.keys() or so & set(self.yes_not) or not_so & set(self.yes_so):
            return True
        return any(told and so >= set(told) for told in (self.yes_so, self.no_so))


@dataclass(frozen=True, slots=True)
class Asked:
    """A question, what its answer is expected to tell (bits), and what either answer would say."""

    question: Question
    bits: float
    before: Answer
    after_yes: Answer
    after_no: Answer
