"""Writes what is believed of a simulated town as the five files by which it can be judged."""

import csv
import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path

import numpy as np

from survey.exports.town_folder import MONTH_0, TownFolder
from survey.science.condition.judging import AGES, Answer
from survey.science.condition.records import STATES

ANSWER_FILES = {
    "posterior.csv": ["tree_id", "month", *STATES[:5]],
    "death.csv": ["tree_id", "p_dead", "death_median", "death_lo", "death_hi"],
    "survival.csv": ["cohort_id", "age_months", "survival", "lo", "hi"],
    "sites.csv": ["site_id", "month", "outlook", "lo", "hi"],
    "reporters.csv": ["reporter_id", "reliability"],
}
"""In posterior.csv, dead means dead or gone. Months are those of the town's folder."""


def write_answer(folder: Path, town: TownFolder, answer: Answer) -> None:
    """Write the five files, all or none: each is finished beside its place before any takes it.

    What the answer does not say has no row. Raises OSError where the folder cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder, prefix=".unfinished-") as beside:
        for name, rows in _tables(town, answer).items():
            with (Path(beside) / name).open("w", encoding="utf-8", newline="") as opened:
                writer = csv.writer(opened)
                writer.writerow(ANSWER_FILES[name])
                writer.writerows(rows)
        for name in ANSWER_FILES:
            (Path(beside) / name).replace(folder / name)


def _tables(town: TownFolder, answer: Answer) -> dict[str, Iterable[tuple]]:
    trees = [tree.tree for tree in town.trees]
    return {
        "posterior.csv": (
            (tree, town.last_month, *_shares(row))
            for tree, row in zip(trees, answer.status, strict=True)
            if not np.isnan(row).any()
        ),
        "death.csv": (
            (tree, _number(p), *(_number(month - MONTH_0) for month in row))
            for tree, p, row in zip(trees, answer.p_lost, answer.death, strict=True)
            if not np.isnan(row).any()
        ),
        "survival.csv": (
            (cohort, age, *map(_number, row))
            for cohort, ages in zip(town.cohorts, answer.survival, strict=True)
            for age, row in zip(AGES, ages, strict=True)
            if not np.isnan(row).any()
        ),
        "sites.csv": _sites(town, answer),
        "reporters.csv": (
            (observer, _number(weight))
            for observer, weight in zip(town.observers, answer.reliability, strict=True)
            if not np.isnan(weight)
        ),
    }


def _sites(town: TownFolder, answer: Answer) -> Iterator[tuple]:
    for site, rows in zip(town.sites, answer.outlook, strict=True):
        for month, row in enumerate(rows, start=answer.first_month - MONTH_0):
            if not np.isnan(row).any():
                yield (site, month, *map(_number, row))


def _shares(row: np.ndarray) -> list[str]:
    """Five shares that add up to 1 as they are written."""
    told = [round(float(share), 8) for share in row]
    told[int(np.argmax(row))] += 1 - sum(told)
    return [f"{share:.8f}" for share in told]


def _number(value: float) -> str:
    return f"{float(value):.6f}".rstrip("0").rstrip(".")
