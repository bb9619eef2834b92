"""What the decision is made from, and what it is made of."""

from dataclasses import dataclass
from datetime import date
from typing import Literal, TypeAlias

from survey.science.saving.growing import Calendar

Part: TypeAlias = Literal["twig", "branch", "trunk"]
Color: TypeAlias = Literal["green", "brown"]
PARTS: tuple[Part, ...] = ("twig", "branch", "trunk")  # the order in which they are scratched
Presence: TypeAlias = Literal["standing", "sprouting", "stump", "gone", "not_seen", "never_planted"]
Witness: TypeAlias = Literal["trained", "neighbor", "somebody"]
StateName: TypeAlias = Literal["gone", "asleep", "cannot_tell", "alive", "top_dead", "dead"]


@dataclass(frozen=True, slots=True, order=True)
class Seen:
    """One look, as far as it says anything of life. Empty words where nothing was said.

    `scratch` is the result on a twig; `scratched` holds results by part where they are known, from
    the twig to the trunk. `shoots` says that shoots at the base were seen, `neighbor` that whoever
    looked was a neighbor.
    """

    day: date
    presence: Presence = "standing"
    leaf: Literal["", "full", "partial", "bare"] = ""
    scratch: Literal["", "green", "brown"] = ""
    condition: Literal["", "thriving", "holding", "slipping", "failing", "dead"] = ""
    trained: bool = False
    photo: bool = False
    shoots: bool = False
    neighbor: bool = False
    scratched: tuple[tuple[Part, Color], ...] = ()

    @property
    def green(self) -> bool:
        return self.scratch == "green" or any(color == "green" for _part, color in self.scratched)

    @property
    def brown(self) -> bool:
        if self.green:
            return False
        return self.scratch == "brown" or bool(self.scratched)

    @property
    def brown_all_over(self) -> bool:
        """Nothing green on twig, branch and trunk: the whole order was gone through."""
        return self.brown and {part for part, _color in self.scratched} == set(PARTS)


@dataclass(frozen=True, slots=True)
class Facts:
    """A tree on a day. `believed_dead` is the record's belief that it is dead, 0 to 1.

    `frozen_on` is the last day of the last frost on record that hurt, `dry_from` and `dry_to` the
    last dry spell (`dry_to` None: it goes on). `left` says that the record has let the tree go.
    """

    day: date
    calendar: Calendar
    looks: tuple[Seen, ...] = ()
    frozen_on: date | None = None
    dry_from: date | None = None
    dry_to: date | None = None
    believed_dead: float | None = None
    left: bool = False
    in_trouble: bool = False

    def __post_init__(self) -> None:
        if any(look.day > self.day for look in self.looks):
            raise ValueError("a look lies after the day of the decision")
        if self.believed_dead is not None and not 0 <= self.believed_dead <= 1:
            raise ValueError("a belief lies between 0 and 1")


@dataclass(frozen=True, slots=True)
class Line:
    """One reason, by the code of its sentence (`grounds.GROUNDS`), with the days it speaks of."""

    code: str
    day: date | None = None
    other: date | None = None
    number: float | None = None
    to_number: float | None = None


@dataclass(frozen=True, slots=True)
class Need:
    """What is still to be found out, from which day, and whether a trained person must do it."""

    code: Literal[
        "first_look", "look_in_leaf", "scratch_twigs", "second_visit", "photo", "find_graft",
        "tape_the_wound", "look_again",
    ]  # fmt: skip
    from_day: date
    trained: bool = False


@dataclass(frozen=True, slots=True)
class State:
    """What can be said of a tree today, and why; `look_by` is when somebody looks again.

    `seen_on` is the day of the sign of life or of the visit that the state rests on, `seen_by` who
    saw it. `settled` are those of the contradictions that are over.
    """

    name: StateName
    lines: tuple[Line, ...]
    contradictions: tuple[Line, ...] = ()
    settled: tuple[Line, ...] = ()
    needs: tuple[Need, ...] = ()
    seen_on: date | None = None
    seen_by: Witness = "somebody"
    waits_until: date | None = None
    look_by: date | None = None
    overdue: bool = False
