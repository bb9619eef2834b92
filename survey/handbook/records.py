"""The kinds of entry the handbook holds. One frozen record each; the record is also its own schema.

The annotation of a field is the rule it is read by (`reading`): `Said` is a sentence a neighbor
reads, `Trade` one for trained people; both are translated. The `…Code` types name an entry of
another file and are checked to exist. A field with a default may be left out of the data file.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, NewType, get_args

Said = NewType("Said", str)
Trade = NewType("Trade", str)
Name = NewType("Name", str)  # a name of this project's own: a drawing
Month = NewType("Month", int)

SourceCode = NewType("SourceCode", str)
SignCode = NewType("SignCode", str)
AdviceCode = NewType("AdviceCode", str)
CautionCode = NewType("CautionCode", str)
ConditionCode = NewType("ConditionCode", str)

Hemisphere = Literal["north", "south"]
Climate = Literal["cold", "temperate", "dry_summer", "warm"]
Closure = Literal[
    "above_hand_height",
    "ball_dry",
    "ball_rocks",
    "ball_wet",
    "bark_tight",
    "bark_wet",
    "borers_fly",
    "danger_open",
    "frozen",
    "graft_union",
    "green_bark",
    "half_round",
    "heat",
    "label_not_read",
    "leaf_off",
    "newly_planted",
    "no_soil_test",
    "owner_not_asked",
    "root_rot",
    "thirsty",
    "tie_grown_in",
    "utilities_not_answered",
    "wet_soil",
    "windy",
]
"""Facts that close a kind of care until they have changed. What the record knows is refused in
time; the rest has to be judged on the spot."""
ByLot = Literal["disputed", "needed", "by_tree", "looking", "removal"]
"""Whether lots may decide who gets a kind of care: only where its use is disputed or unproven. All
else is needed, decided tree by tree, looking or telling only, or a removal."""
Mark = Literal[
    "common practice, no source",
    "memory, to be verified",
    "own rule of this project",
]

LABEL_WORDS = 5
DANGER_LABEL_WORDS = 8
WHY_WORDS = 6


class FieldRefused(ValueError):
    """A field of an entry breaks a rule of its kind; the reader adds file and entry."""

    def __init__(self, field_name: str, problem: str) -> None:
        super().__init__(problem)
        self.field_name = field_name
        self.problem = problem


def at_most_words(field_name: str, text: str, limit: int) -> None:
    if len(text.split()) > limit:
        raise FieldRefused(field_name, f"has more than {limit} words: {text!r}")


def northern_month(month: int, hemisphere: Hemisphere) -> int:
    """The month (1 to 12) in which the north has the season that `hemisphere` has in `month`."""
    if not 1 <= month <= 12:
        raise ValueError(f"a month is a number from 1 to 12, not {month!r}")
    if hemisphere == "north":
        return month
    if hemisphere == "south":
        return (month + 5) % 12 + 1
    raise ValueError(f"a hemisphere is north or south, not {hemisphere!r}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What every entry carries: its code, and what it rests on (sources, a mark, or both)."""

    code: str
    sources: tuple[SourceCode, ...] = ()
    mark: Mark | None = None
    basis: Trade | None = None  # which part of the entry rests on what, where it is mixed

    def __post_init__(self) -> None:
        if not self.sources and self.mark is None:
            raise FieldRefused("sources", "names no source, and the entry has no mark either")


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A published text. `read` says how it was seen: itself (often only its abstract or first
    pages), or only as another text quotes it."""

    code: str
    citation: str
    where: str
    read: Literal["itself", "quoted"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent(Entry):
    """How far round the trunk, as shares of its girth; None where it could not be seen."""

    label: Said
    hint: Said | None = None
    from_fraction: float | None = None
    to_fraction: float | None = None
    multiplier: float
    multiplier_reason: Trade
    drawing: Name

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        low, high = self.from_fraction, self.to_fraction
        if (low is None) != (high is None):
            raise FieldRefused("to_fraction", "must be given together with from_fraction")
        if low is not None and high is not None and not 0 <= low <= high <= 1:
            raise FieldRefused("to_fraction", "must lie between from_fraction and 1")
        if self.multiplier <= 0:
            raise FieldRefused("multiplier", "must be more than 0")


@dataclass(frozen=True, slots=True, kw_only=True)
class Side(Entry):
    """Which side of the trunk, in words that need no compass."""

    label: Said


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign(Entry):
    """Something that can be seen on a tree or its soil. Never a conclusion about it."""

    label: Said
    question: Said
    trade_term: Trade
    definition: Trade
    where: Literal["base", "trunk", "crown", "soil", "anywhere"]
    asked_at: Literal["base", "higher", "soil", "end"]  # the heading it stands under on the page
    asks_extent: bool
    asks_side: bool
    weight: int
    weight_reason: Trade
    drawing: Name
    shown_to: tuple[Literal["neighbor", "trained"], ...]
    advice: tuple[AdviceCode, ...]
    aliases: tuple[Name, ...] = ()  # other names under which a file may call it
    extents: Mapping[str, Extent] = field(default_factory=dict, repr=False, compare=False)

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        at_most_words("label", self.label, LABEL_WORDS)
        if not 1 <= self.weight <= 5:
            raise FieldRefused("weight", f"must be a whole number from 1 to 5, not {self.weight}")
        if not self.shown_to:
            raise FieldRefused("shown_to", "names nobody")
        if "neighbor" in self.shown_to and not self.advice:
            raise FieldRefused("advice", "is empty, and a neighbor must be told something")

    def queue_weight(self, extent_code: str | None = None) -> float:
        """The sign's weight times how far round it goes.

        How far round counts only for signs that ask for it. Raises KeyError for a code that
        is not in the handbook.
        """
        if extent_code is None:
            return float(self.weight)
        extent = self.extents[extent_code]
        return self.weight * extent.multiplier if self.asks_extent else float(self.weight)


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice(Entry):
    """One thing a neighbor is told at once: what to leave, when to call, what to do today."""

    kind: Literal["do_not", "tell_us", "today"]
    headline: Said
    detail: Said
    why: Said
    who: Literal["anyone", "trained"]
    drawing: Name | None = None
    not_with: tuple[SignCode, ...] = ()  # unsafe or pointless beside these signs
    only_under_years: int | None = None  # only for trees planted less than so many years ago

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        at_most_words("why", self.why, WHY_WORDS)
        if self.only_under_years is not None and self.only_under_years < 1:
            raise FieldRefused("only_under_years", "must be at least 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Warned(Entry):
    """A caution, always in one order: what not to do, why in six words, how far away or how
    much, whom to call, what may be done meanwhile."""

    label: Said
    do_not: Said
    why: Said
    limit: Said
    call: Said
    meanwhile: Said

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        at_most_words("why", self.why, WHY_WORDS)

    @property
    def lines(self) -> tuple[Said, Said, Said, Said, Said]:
        """The caution's five lines in the order they are to be read."""
        return self.do_not, self.why, self.limit, self.call, self.meanwhile


@dataclass(frozen=True, slots=True, kw_only=True)
class Danger(Warned):
    """A danger to people. Every one is a danger until the person named by `until` has been."""

    door: Literal["emergency", "hazard_line"]
    keep_back_feet: int | None = None
    keep_back_tree_heights: int | None = None
    until: Said
    drawing: Name

    def __post_init__(self) -> None:
        Warned.__post_init__(self)
        at_most_words("label", self.label, DANGER_LABEL_WORDS)
        if self.keep_back_feet is None and self.keep_back_tree_heights is None:
            raise FieldRefused("keep_back_feet", "no distance is given, in feet or tree heights")


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution(Warned):
    """A caution for people at work near trees, roads and wires.

    `everywhere`: it belongs to any work outside, so it is read after those of the job itself.
    """

    everywhere: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition(Entry):
    """One word of the condition scale. `joints` of the gauge are filled; None: no tree."""

    label: Said
    sentence: Said
    definition: Trade
    alive: bool
    joints: int | None = None

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        if self.joints is not None and not 0 <= self.joints <= 4:
            raise FieldRefused("joints", f"must be a whole number from 0 to 4, not {self.joints}")


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureStep(Entry):
    """One picture a neighbor may pick for the whole tree; None: it says nothing of condition."""

    label: Said
    looks: Said
    when_bare: Said
    condition: ConditionCode | None = None
    drawing: Name


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Something the work order does not give, and why."""

    what: Trade
    why: Trade


@dataclass(frozen=True, slots=True, kw_only=True)
class Windows:
    """Open months of a climate where they differ from the usual ones (northern hemisphere)."""

    cold: tuple[Month, ...] | None = None
    temperate: tuple[Month, ...] | None = None
    dry_summer: tuple[Month, ...] | None = None
    warm: tuple[Month, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Care(Entry):
    """A kind of work an order may carry. Months are those of the northern hemisphere.

    `closed_when` says in words what closes it; `closed_by` names the facts among them that the
    record can hold. `trained` work is done under somebody who was trained for it. `follow_up`
    says when it is looked at again and what is done then. `by_lot` is *needed* unless it is said
    otherwise: a kind that nobody has thought about is not tried.
    """

    label: Said
    purpose: Said
    who: tuple[Literal["volunteer", "crew", "arborist"], ...]
    trained: bool = False
    needs_permission: bool
    needs_utility_ticket: bool
    months: tuple[Month, ...]
    windows: Windows = Windows()
    closed_when: tuple[Trade, ...]
    closed_by: tuple[Closure, ...] = ()
    dose: Trade
    working: Trade
    materials: tuple[Trade, ...]
    cautions: tuple[CautionCode, ...]
    refusals: tuple[Refusal, ...]
    follow_up: Trade
    by_lot: ByLot = "needed"

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        at_most_words("label", self.label, LABEL_WORDS)
        for name in ("who", "months"):
            if not getattr(self, name):
                raise FieldRefused(name, "is empty")
        for climate in get_args(Climate):
            if getattr(self.windows, climate) == ():
                raise FieldRefused(f"windows {climate}", "is empty")

    @property
    def may_be_tried(self) -> bool:
        """Whether half the trees may go without it, by lot."""
        return self.by_lot == "disputed"

    def open_months(self, climate: Climate) -> tuple[Month, ...]:
        """The months in which this climate leaves the work open, as they fall in the north."""
        own: tuple[Month, ...] | None = getattr(self.windows, climate)
        return self.months if own is None else own

    def in_season(self, month: int, hemisphere: Hemisphere, climate: Climate = "temperate") -> bool:
        """Whether the calendar leaves the work open; `closed_when` must be judged on the spot."""
        return northern_month(month, hemisphere) in self.open_months(climate)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One answer that may be picked under a practice picture."""

    code: Name
    says: Said


@dataclass(frozen=True, slots=True, kw_only=True)
class PracticeItem(Entry):
    """A picture to practice on, with the one answer that is right and why.

    `shows` says in words what is drawn, never what it means. Items that share `alike` are easily
    taken for each other: they offer the same choices, and not all of them have the same answer.
    """

    alike: Name
    question: Said
    shows: Said
    choices: tuple[Choice, ...]
    right: Name
    why: Said
    drawing: Name

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        codes = [choice.code for choice in self.choices]
        if not 2 <= len(codes) <= 4:
            raise FieldRefused("choices", f"must be two to four, not {len(codes)}")
        if len({choice.says for choice in self.choices}) < len(codes) or len(set(codes)) < len(
            codes
        ):
            raise FieldRefused("choices", "names the same choice twice")
        if self.right not in codes:
            raise FieldRefused("right", f"is none of the choices {', '.join(codes)}")

    @property
    def right_choice(self) -> Choice:
        return self.choice(self.right)

    def choice(self, code: str) -> Choice:
        """The choice of this code. Raises KeyError when there is none."""
        found = next((choice for choice in self.choices if choice.code == code), None)
        if found is None:
            raise KeyError(code)
        return found
