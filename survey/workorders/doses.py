"""The dose of every line of an order: worked from the tree, the weather and what a person changed.

The sums are those of `survey.science.care`; here they get their numbers. What nobody typed comes
from the record, else from the figures of the trade, and `assumed` names what was taken for granted.
"""

import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from survey.science.care import presets
from survey.science.care.records import Buy, Dose, Impossible, NotGiven
from survey.workorders.facts import Facts, Known
from survey.workorders.models import OrderLine, WorkOrder
from survey.workorders.recipes import WORKED, Case, rules_for

__all__ = ["SUMMED", "WORKED", "CareDose", "Worked", "doses_of", "trunk_of"]

SUMMED = frozenset(
    {
        "ring_area",
        "ring_volume",
        "each_dose",
        "week_water",
        "basin_holds",
        "soil_volume",
        "coat_area",
        "coats_of_mix",
        "paint_volume",
        "water_in_mix",
        "product_for_rate",
        "nitrogen_wanted",
        "flush_water",
        "guard_length",
        "shoots_removed",
    }
)
"""Lines that add up over the trees of an order; a depth or a girth does not."""


@dataclass(frozen=True, slots=True)
class Worked:
    """One line of an order, worked: the dose or the refusal, or the measure that cannot be."""

    line: OrderLine
    facts: Facts
    uses: Mapping[str, Any]
    assumed: tuple[str, ...] = ()
    dose: Dose | NotGiven | None = None
    impossible: Impossible | None = None
    closed: bool = False
    """Whether nobody goes to its tree now: it gets nothing and nothing is bought for it."""

    @property
    def given(self) -> Dose | None:
        """The dose, unless it is refused; an overruled refusal stays a refusal with its reason."""
        return self.dose if isinstance(self.dose, Dose) else None

    @property
    def refused(self) -> NotGiven | None:
        return self.dose if isinstance(self.dose, NotGiven) else None


@dataclass(frozen=True, slots=True)
class CareDose:
    """One kind of care on an order: every line worked, and what they come to together."""

    care: str
    lines: tuple[Worked, ...]
    rules: tuple[presets.Watering, ...] = ()

    @property
    def doses(self) -> list[Worked]:
        return [worked for worked in self.lines if worked.given is not None and not worked.closed]

    @property
    def example(self) -> Worked | None:
        """The tree whose sum is shown in full: the one with the middle trunk."""
        some = self.doses or [worked for worked in self.lines if worked.given is not None]
        given = sorted(some, key=lambda worked: (trunk_of(worked), worked.line.pk))
        return given[(len(given) - 1) // 2] if given else None

    def together(self, code: str) -> float | None:
        """The sum of a worked line over all trees that get it; None where it does not add up."""
        if code not in SUMMED:
            return None
        return math.fsum(
            step.value
            for worked in self.doses
            if worked.given
            for step in worked.given.steps
            if step.code == code
        )

    @property
    def buys(self) -> tuple[Buy, ...]:
        """Exact amounts for all trees, one for each thing."""
        added: dict[tuple[str, str], float] = {}
        for worked in self.doses:
            for buy in worked.given.buys if worked.given else ():
                key = (buy.code, buy.unit)
                added[key] = added.get(key, 0.0) + buy.value
        return tuple(Buy(code, value, unit) for (code, unit), value in added.items())


def trunk_of(worked: Worked) -> float:
    return float(worked.uses.get("girth") or 0.0)


def doses_of(
    order: WorkOrder,
    lines: Iterable[OrderLine],
    record: Known,
    closed: Collection[int] = (),
) -> dict[str, CareDose]:
    """Every line of an order worked for the day it is planned for, or for today, by care.

    `lines` come with their trees; `record` holds what is known of these. `closed` are the
    keys of trees that nobody goes to now. No question is asked.
    """
    lines = list(lines)
    day = order.planned_for or max(order.window_from, record.today)
    sky = record.sky(day)
    watered = {line.tree_id for line in lines if line.care == "water"}
    found: dict[str, list[Worked]] = {}
    rules: dict[str, tuple[presets.Watering, ...]] = {}
    for line in lines:
        facts = record.facts[line.tree_id]
        case = Case(line, facts, sky, day, line.tree_id in watered, order)
        worked = replace(_worked(case), closed=line.tree_id in closed)
        found.setdefault(line.care, []).append(worked)
    doses = {}
    for care, all_worked in found.items():
        dose = CareDose(care, tuple(all_worked))
        example = dose.example
        if care == "water" and example is not None:
            case = Case(example.line, example.facts, sky, day, True, order, dict(example.uses))
            rules[care] = rules_for(case)
            dose = CareDose(care, tuple(all_worked), rules[care])
        doses[care] = dose
    return doses


def _worked(case: Case) -> Worked:
    sum_of = WORKED.get(case.line.care)
    dose, impossible = None, None
    if sum_of is not None:
        try:
            dose = sum_of(case)
        except Impossible as error:
            impossible = error
    assumed = tuple(dict.fromkeys(case.assumed))
    return Worked(case.line, case.facts, case.uses, assumed, dose, impossible)
