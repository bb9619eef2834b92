"""Reads the published figures; fixtures/published/SOURCES.md names where each comes from."""

import csv
import math
from pathlib import Path

from survey.science.records import Spell

PUBLISHED = Path(__file__).parents[2] / "fixtures" / "published"


def rows(name: str) -> list[dict[str, str]]:
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def leukaemia(arm: str) -> list[Spell]:
    spells = []
    for row in rows("leukaemia_1963.csv"):
        if row["arm"] == arm:
            week = float(row["weeks"])
            spells.append(Spell(None, week, week if row["relapsed"] == "1" else math.inf))
    return spells


def cosmesis(*arms: str) -> list[Spell]:
    return [
        Spell(None, float(row["after_month"]), float(row["by_month"] or math.inf))
        for row in rows("cosmesis_1985.csv")
        if row["arm"] in arms
    ]


def entering_late(name: str, entry: str, exit_: str) -> list[Spell]:
    return [
        Spell(
            float(row[entry]),
            float(row[exit_]),
            float(row[exit_]) if row["died"] == "1" else math.inf,
        )
        for row in rows(name)
    ]


def thirty() -> list[Spell]:
    return entering_late("delayed_entry_thirty.csv", "entry", "exit")


def channing_house() -> list[Spell]:
    return entering_late("channing_house_men.csv", "entry_month", "exit_month")


def without_entry(spells: list[Spell]) -> list[Spell]:
    return [Spell(None, spell.left, spell.right) for spell in spells]
