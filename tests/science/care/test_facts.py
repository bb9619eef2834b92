"""Every figure behind a dose, and every check value, names its source or how sure it is."""

import tomllib
from pathlib import Path

import pytest

from survey.science.care.facts import COMMON, FACTS, MEMORY, OWN, Fact, si
from survey.science.care.presets import PRESETS
from survey.science.care.watering import WAYS
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


FEEDING, WATER, TRUNKS, COAT = (checks(name) for name in ("feeding", "water", "trunks", "coat"))
STATED = [
    ("nitrogen_low", FEEDING["limits"]["low"], "lb/1000ft2"),
    ("nitrogen_high", FEEDING["limits"]["high"], "lb/1000ft2"),
    ("nitrogen_never_over", FEEDING["limits"]["never_over"], "lb/1000ft2"),
    ("nitrogen_quick", FEEDING["quick"]["rate"], "lb/1000ft2"),
    ("feed_after_seasons", FEEDING["seasons"]["after"], "count"),
    ("ball_holds_low", WATER["ball"]["low_gal_an_inch"], "gal/in"),
    ("ball_holds_high", WATER["ball"]["high_gal_an_inch"], "gal/in"),
    ("coat_hottest_c", COAT["weather"]["hottest_f"], "degF"),
    ("coat_parts_paint", COAT["mix"]["paint_parts"], "1"),
    ("coat_parts_water", COAT["mix"]["water_parts"], "1"),
    ("prune_share", TRUNKS["pruning"]["share"], "share"),
    ("guard_mesh", TRUNKS["guard"]["mesh_in"], "in"),
    ("caliper_height", TRUNKS["caliper"]["height_in"], "in"),
    # the handbook's sections 5 to 9 and 16
    ("mulch_gap", 4, "in"),
    ("mulch_deep", 4, "in"),
    ("mulch_deepest", 6, "in"),
    ("mulch_radius", 3, "ft"),
    ("compost_depth_most", 2, "in"),
    ("feed_after_years", 2, "year"),
    ("feed_frost_days", 8, "week"),
    ("regulation_factor", 0.62, "gal/in/ft2"),
    ("shoots_bark_lost", 0.5, "share"),
    ("prune_share_south", 20, "percent"),
    ("advice_under_years", 3, "year"),
    ("dbh_height", 1.37, "m"),
]


@pytest.mark.parametrize(("name", "stated", "unit"), STATED)
def test_limits_are_those_of_the_check_values(name, stated, unit):
    assert convert(si(name), FACTS[name].unit, unit) == pytest.approx(stated)


SHOWN_ONLY = {"guard_mesh", "dbh_height"}
USUAL_AMOUNTS = {"mulch_depth", "mulch_radius", "turf_radius", "berm_radius", "compost_depth"}


def test_every_figure_is_used_or_shown():
    care = Path(__file__).parents[3] / "survey" / "science" / "care"
    code = "".join(
        file.read_text(encoding="utf-8") for file in care.glob("*.py") if file.stem != "facts"
    )
    by_name = {f"efficiency_{way}" for way in WAYS} | {
        f"tie_check_{nth}" for nth in ("first", "second", "last")
    }
    unused = {name for name in FACTS if f'"{name}"' not in code}
    assert unused - by_name == SHOWN_ONLY | USUAL_AMOUNTS
