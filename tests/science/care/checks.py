"""Reads the check values of doses; each table of fixtures/care names where it comes from."""

import tomllib
from pathlib import Path
from typing import Any

from survey.science.units import convert

CARE = Path(__file__).parents[3] / "fixtures" / "care"


def checks(name: str) -> dict[str, Any]:
    return tomllib.loads((CARE / f"{name}.toml").read_text(encoding="utf-8"))


def m(value: float, unit: str) -> float:
    """A length in meters."""
    return convert(value, unit, "m")
