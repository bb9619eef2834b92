"""Every figure behind a dose, and every check value, names its source or how sure it is."""

import tomllib
from pathlib import Path

import pytest

from survey.science.care.facts import COMMON, FACTS, MEMORY, OWN, Fact, si
from survey.science.care.presets import PRESETS
from survey.science.units import UNITS, convert
from tests.science.care.checks import CARE, checks

BOOK = Path(__file__).parents[3] / "survey" / "handbook" / "data" / "sources.toml"
REGISTER = {**tomllib.loads(BOOK.read_text(encoding="utf-8")), **checks("sources")}
FILES = sorted(file.stem for file in CARE.glob("*.toml") if file.stem != "sources")


@pytest.mark.parametrize("name", FACTS)
def test_a_figure_names_a_source_of_the_register_or_its_mark(name):
    fact = FACTS[name]
    assert fact.source is None or fact.source in REGISTER
    assert fact.source or fact.mark in {COMMON, MEMORY, OWN}
    assert {fact.unit, fact.stated_unit} <= set(UNITS)
    assert convert(fact.value, fact.unit, fact.stated_unit) == pytest.approx(fact.stated, rel=1e-12)


def test_every_preset_names_a_source_of_the_register():
    assert {preset.source for preset in PRESETS} <= set(REGISTER)


def tables(name):
    for table in checks(name).values():
        yield from table if isinstance(table, list) else [table]


@pytest.mark.parametrize("name", FILES)
def test_every_check_value_names_its_source_or_its_mark(name):
    for table in tables(name):
        named = {*table.get("sources", []), *([table["source"]] if "source" in table else [])}
        assert named <= set(REGISTER), table
        assert named or table["mark"] in {COMMON, MEMORY, OWN}, table


def test_a_figure_from_nowhere_is_refused():
    with pytest.raises(ValueError, match="names its source"):
        Fact(3, "in", "m")


def test_limits_and_factors_are_the_stated_ones():
    # the handbook's sections 4 to 9
    pound = convert(1, "lb/1000ft2", "kg/m2")
    assert si("nitrogen_never_over") == pytest.approx(6 * pound)
    assert si("coat_hottest_c") == pytest.approx(convert(95, "degF", "degC"))
    assert si("mulch_gap") == pytest.approx(0.1016)
    assert si("feed_frost_days") == 8 * 7
