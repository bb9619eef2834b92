"""A line that is printed as a formula is that formula, and every amount stands in a known unit."""

import math
import re

import pytest

from survey.science.care.formulas import FORMULA, formula
from survey.science.care.records import Dose
from survey.science.units import UNITS, convert, shown_dose
from tests.science.care.every_dose import EVERY

SIGNS = {"×": "*", "−": "-", "²": "**2", "√": "sqrt", "π": "pi", "⌈": "ceil(", "⌉": ")"}
WORDS = {"max": max, "min": min, "sqrt": math.sqrt, "ceil": math.ceil, "pi": math.pi}


def worked_out(written, step):
    """The formula with its operands put in; `Σ name` adds up all operands of that name."""

    def added(match):
        name, squared = match.group(1), bool(match.group(2))
        return repr(
            sum(value ** (1 + squared) for operand, value, _ in step.uses if operand == name)
        )

    plain = re.sub(r"Σ ([a-z_]+)(²)?", added, written)
    for sign, meant in SIGNS.items():
        plain = plain.replace(sign, meant)
    operands = {name: value for name, value, _ in step.uses}
    return eval(plain, {"__builtins__": {}}, {**WORDS, **operands})


@pytest.mark.parametrize("name", EVERY)
def test_every_line_is_its_formula(name):
    dose = EVERY[name]()
    assert isinstance(dose, Dose), dose
    for step in dose.steps:
        written = formula(dose.care, step.code)
        assert (written is None) == (not step.uses), step.code
        if written is not None:
            assert step.value == pytest.approx(worked_out(written, step), rel=1e-12), step.code
            assert step.value > 0, f"{name} {step.code}: nothing that proves the formula"


@pytest.mark.parametrize("name", EVERY)
@pytest.mark.parametrize("system", ["us", "metric"])
def test_every_line_is_shown_in_units_and_comes_back(name, system):
    dose = EVERY[name]()
    for step, read in zip(dose.steps, shown_dose(dose, system).steps, strict=True):
        assert convert(read.value, read.unit, step.unit) == pytest.approx(step.value, rel=1e-12)
        for (operand, value, unit), (same, there, shown) in zip(step.uses, read.uses, strict=True):
            assert operand == same
            assert {unit, shown} <= set(UNITS)
            assert convert(there, shown, unit) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("name", EVERY)
def test_later_lines_use_what_earlier_lines_gave(name):
    dose = EVERY[name]()
    given = {step.code: step.value for step in dose.steps}
    for step in dose.steps:
        for operand, value, _ in step.uses:
            if operand in given:
                assert value == given[operand], f"{step.code} uses another {operand}"


def test_no_formula_is_left_over():
    used = {step.code for make in EVERY.values() for step in make().steps if step.uses}
    assert set(FORMULA) <= used
    assert used - set(FORMULA) == {"work_day_volume"}  # one for each care
