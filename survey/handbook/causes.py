"""The kinds of entry from which causes are told: clues, checks, causes, and what is disputed."""

from dataclasses import dataclass
from typing import Literal, NewType

from survey.handbook.records import (
    Entry,
    FieldRefused,
    Hemisphere,
    Month,
    Name,
    Said,
    SignCode,
    Trade,
    northern_month,
)

ClueCode = NewType("ClueCode", str)
CheckCode = NewType("CheckCode", str)
CauseCode = NewType("CauseCode", str)
CareCode = NewType("CareCode", str)

Who = Literal["anyone", "trained", "crew", "arborist", "applicator", "lab"]
Climate = Literal["cold", "temperate", "dry_summer", "warm"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clue(Entry):
    """One thing that is so, is not so, or is not known; causes are told apart by clues.

    `label` says it as something seen ("Grass runs up to the trunk"), `absent` that it was looked
    for and not found. A clue with `sign` is known from that sign of a report or look. `words_en`
    and `words_es` are lay phrases that mean it in a neighbor's own words. `kept_for` says whether
    an answer about it holds for the one tree or for its whole site. A clue of the calendar has the
    `months` in which it holds in the north. `aliases` are other names under which a file may call
    it. Sides are told by the sun, never by the compass: the south has them mirrored.
    """

    label: Said
    absent: Said
    about: Literal["sign", "mark", "side", "tree", "site", "time", "weather", "company"]
    kept_for: Literal["tree", "site"] = "tree"
    sign: SignCode | None = None
    months: tuple[Month, ...] = ()
    words_en: tuple[Name, ...] = ()
    words_es: tuple[Name, ...] = ()
    aliases: tuple[Name, ...] = ()

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        if self.months and self.about != "time":
            raise FieldRefused("months", "only a clue about time follows the calendar")
        if self.about == "time" and not self.months:
            raise FieldRefused("months", "is empty, and a clue about time follows the calendar")
        if self.about == "sign" and self.sign is None:
            raise FieldRefused("sign", "is missing from a clue about a sign")
        if self.sign is not None and self.about not in ("sign", "mark"):
            raise FieldRefused("sign", "belongs to clues about signs or marks only")

    def holds_in(self, month: int, hemisphere: Hemisphere) -> bool | None:
        """Whether a clue of the calendar holds in this month; None for every other clue."""
        return northern_month(month, hemisphere) in self.months if self.months else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Check(Entry):
    """One safe thing that somebody can do or tell to find out, and what either answer means.

    The clues of `yes_means` are so after a yes and those of `yes_denies` are not; so for a no.
    `same_as` names checks that the same look answers: who makes one of them has made the other.
    """

    asks: Said
    how: Said
    who: Who
    yes: Said
    no: Said
    yes_means: tuple[ClueCode, ...] = ()
    yes_denies: tuple[ClueCode, ...] = ()
    no_means: tuple[ClueCode, ...] = ()
    no_denies: tuple[ClueCode, ...] = ()
    not_with: tuple[SignCode, ...] = ()
    same_as: tuple[CheckCode, ...] = ()
    aliases: tuple[Name, ...] = ()

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        for yes_or_no in ("yes", "no"):
            both = set(getattr(self, f"{yes_or_no}_means")) & set(
                getattr(self, f"{yes_or_no}_denies")
            )
            if both:
                raise FieldRefused(
                    f"{yes_or_no}_denies", f"says and denies the same: {', '.join(sorted(both))}"
                )
        if self.code in self.same_as:
            raise FieldRefused("same_as", "names itself")
        if not (self.yes_means or self.yes_denies) or not (self.no_means or self.no_denies):
            raise FieldRefused(
                "yes_means", "an answer that says nothing about any clue is no check"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What one clue says of a cause when it is so: 2 a strong match, 1 context, -2 against it.

    `absent` is what it says when it was looked for and is not so.
    """

    clue: ClueCode
    weight: int
    absent: int = 0

    def __post_init__(self) -> None:
        if not -3 <= self.weight <= 3 or self.weight == 0:
            raise FieldRefused("weight", f"must be from -3 to 3 and not 0, not {self.weight}")
        if not -3 <= self.absent <= 3:
            raise FieldRefused("absent", f"must be from -3 to 3, not {self.absent}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause(Entry):
    """Why a tree is in trouble. Several can be true at once. Months are those of the north."""

    label: Said
    trade_term: Trade
    says: Said
    look: Trade
    kind: Literal[
        "wounding",
        "sun_and_cold",
        "water",
        "roots",
        "pests",
        "disease",
        "poison",
        "people",
        "season",
    ]
    often: Literal["common", "sometimes", "seldom"]
    clues: tuple[Weighed, ...]
    checks: tuple[CheckCode, ...]
    look_alikes: tuple[CauseCode, ...]
    shows_months: tuple[Month, ...]
    confirmed_by: Trade
    confirmed_when: Trade
    do: tuple[Trade, ...]
    care: tuple[CareCode, ...]
    do_not: tuple[Trade, ...]
    act_when: Trade
    closed_when: Trade
    who: Who
    aliases: tuple[Name, ...] = ()
    report_to: Said | None = None  # a pest or a deed that has to be reported, and to whom

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        if not any(clue.weight > 0 for clue in self.clues):
            raise FieldRefused("clues", "nothing speaks for it")
        if len({clue.clue for clue in self.clues}) < len(self.clues):
            raise FieldRefused("clues", "weighs the same clue twice")
        if self.code in self.look_alikes:
            raise FieldRefused("look_alikes", "names itself")

    def shows_in(self, month: int, hemisphere: Hemisphere) -> bool:
        """Whether its signs are usually seen in this month of the calendar."""
        return northern_month(month, hemisphere) in self.shows_months


@dataclass(frozen=True, slots=True, kw_only=True)
class Dispute(Entry):
    """A claim that goes round and that the sources do not settle. The tool takes no side."""

    claim: Said
    known: Said
    practice: Said
    causes: tuple[CauseCode, ...] = ()
    care: tuple[CareCode, ...] = ()
