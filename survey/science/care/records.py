"""What a dose is made of: worked lines, things to buy, days to keep. A refusal is one, too.

Amounts are SI throughout (meters, square and cubic meters, kilograms); `survey.science.units` turns
them into the reader's units. Codes, not sentences: pages say them. The only sentences here are
those of `Impossible`.
"""

import math
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from numbers import Integral, Real

Use = tuple[str, float, str]
"""One operand of a worked line: its name, its value, its SI unit."""


@dataclass(frozen=True, slots=True)
class Step:
    """One worked line: `value` in the SI `unit`, and the named operands it was made from.

    `care.formulas.FORMULA[code]` is the same line as a formula over the names in `uses`.
    """

    code: str
    value: float
    unit: str
    uses: tuple[Use, ...] = ()

    def __getitem__(self, name: str) -> float:
        """The operand of that name; KeyError where the line has none."""
        for operand, value, _unit in self.uses:
            if operand == name:
                return value
        raise KeyError(name)


@dataclass(frozen=True, slots=True)
class Buy:
    """Something to bring along. `rounded_up_to` = 0: the exact amount, in SI.

    `units.shopping` makes it what a shop sells, rounded up to whole `rounded_up_to`.
    """

    code: str
    value: float
    unit: str
    rounded_up_to: float = 0.0


@dataclass(frozen=True, slots=True)
class Due:
    """A day on which, or up to which, something is done."""

    code: str
    on: date


@dataclass(frozen=True, slots=True)
class Dose:
    """How much of one kind of care: worked lines in order, what to buy, days, codes of notes."""

    care: str
    steps: tuple[Step, ...]
    buys: tuple[Buy, ...] = ()
    dates: tuple[Due, ...] = ()
    notes: tuple[str, ...] = ()

    def __getitem__(self, code: str) -> Step:
        """The worked line of that code; KeyError where there is none."""
        for step in self.steps:
            if step.code == code:
                return step
        raise KeyError(code)


@dataclass(frozen=True, slots=True)
class NotGiven:
    """A refusal in place of a dose: every reason that holds, as codes. Never empty."""

    care: str
    because: tuple[str, ...]

    def __post_init__(self) -> None:
        if not self.because:
            raise ValueError("A refusal without a reason refuses nothing.")


PROBLEMS = {
    "no_number": "must be a number.",
    "not_finite": "must be an ordinary number.",
    "negative": "must not be negative.",
    "not_positive": "must be more than zero.",
    "too_large": "is larger than anything this is meant for. Check the number and its unit.",
    "too_small": "is smaller than anything this is meant for. Check the number and its unit.",
    "no_whole_number": "must be a whole number.",
    "not_above_inner": "must not lie inside the bare gap round the trunk.",
    "wider_than_girth": "is wider than the trunk is round. Measure both again.",
    "past_hundred": "adds up to more than 100 percent. Read the three numbers on the label again.",
    "not_known": "is not one of the choices.",
    "too_few": "are too few.",
    "twice": "name the same thing twice.",
    "one_of_two": "needs exactly one of two: a measured area, or a radius.",
    "no_day": "must be a day.",
    "out_of_order": "come in the wrong order.",
}


class Impossible(ValueError):
    """A measure that cannot be. `field` names it and `code` says how (see `PROBLEMS`).

    `limit` and `unit` (SI) are there when a bound was passed, so that a page can name it in the
    reader's units. `problem` is the English sentence, without the field.
    """

    def __init__(
        self, field: str, code: str, *, limit: float | None = None, unit: str | None = None
    ) -> None:
        self.field, self.code, self.limit, self.unit = field, code, limit, unit
        self.problem = PROBLEMS[code]
        super().__init__(f"{field} {self.problem}")


def number(
    field: str,
    value: object,
    *,
    at_least: float | None = 0.0,
    above: float | None = None,
    at_most: float = math.inf,
    unit: str = "1",
) -> float:
    """`value` as a float inside its bounds, or Impossible. Truth values and text are no numbers."""
    if isinstance(value, bool) or not isinstance(value, Real | Decimal):
        raise Impossible(field, "no_number")
    try:
        given = float(value)
    except OverflowError:
        raise Impossible(field, "too_large", limit=at_most, unit=unit) from None
    except ValueError:  # a signaling NaN
        raise Impossible(field, "not_finite") from None
    if not math.isfinite(given):
        raise Impossible(field, "not_finite")
    if above is not None and given <= above:
        code = "not_positive" if above == 0 else "too_small"
        raise Impossible(field, code, limit=above, unit=unit)
    if at_least is not None and given < at_least:
        code = "negative" if at_least == 0 else "too_small"
        raise Impossible(field, code, limit=at_least, unit=unit)
    if given > at_most:
        raise Impossible(field, "too_large", limit=at_most, unit=unit)
    return given + 0.0  # and no minus zero


def whole(field: str, value: object, *, at_least: int = 0, at_most: int = 10**6) -> int:
    """`value` as a whole number inside its bounds, or Impossible."""
    if isinstance(value, Integral) and not isinstance(value, bool):
        given = int(value)  # as it is: floats end being exact at 2**53
        if given > at_most:
            raise Impossible(field, "too_large", limit=at_most)
        if given >= at_least:
            return given
    read = number(field, value, at_least=at_least, at_most=at_most)
    if read != int(read):
        raise Impossible(field, "no_whole_number")
    return int(read)


def chosen(field: str, value: str, choices: Collection[str]) -> str:
    """`value` if it is one of the choices, or Impossible."""
    if not isinstance(value, str) or value not in choices:
        raise Impossible(field, "not_known")
    return value


def among(field: str, values: Collection[str], choices: Collection[str]) -> tuple[str, ...]:
    """Those of the choices that were named, each once and in their own order, or Impossible."""
    if isinstance(values, str):
        raise Impossible(field, "not_known")
    for value in values:
        chosen(field, value, choices)
    return tuple(choice for choice in choices if choice in values)
