"""The known truth of a simulated town, read only by whoever asks for it."""

from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
from django.utils.translation import gettext as _

from survey.exports.town_folder import MONTH_0, Reader, TownFolder
from survey.science.condition.judging import (
    AGES,
    OUTLOOK_FROM_MONTH,
    OUTLOOK_FROM_TREES,
    Truth,
)
from survey.science.condition.records import NOT_SAID

TREES, COHORTS = "truth/truth_trees.csv", "truth/truth_cohorts.csv"
SITES, OBSERVERS = "truth/truth_sites.csv", "truth/truth_reporters.csv"
COLUMNS = {
    TREES: [
        "tree_id",
        "cohort_id",
        "in_register",
        "planted_month",
        "registered_month",
        "death_month",
        "states_from_planting",
    ],
    COHORTS: ["cohort_id", "age_months", "survival_expected"],
    SITES: ["site_id", "month", "registered_trees", "outlook"],
    OBSERVERS: ["reporter_id", "reporter_group", "type", "reports"],
}


def has_truth(folder: Path) -> bool:
    return (folder / TREES).is_file()


def read_truth(folder: Path, town: TownFolder) -> Truth:
    """What really happened in the town. Raises BadTown naming every file and line that is wrong."""
    reader = Reader(folder, [])
    reader.demand(COLUMNS)
    latest: dict[str, int] = {}
    lives: dict[str, tuple[int, int]] = {}

    def life(row: dict[str, str]) -> None:
        planted = int(row["planted_month"])
        latest[row["cohort_id"]] = max(planted, latest.get(row["cohort_id"], planted))
        if row["in_register"] == "1":
            states = row["states_from_planting"]
            if len(states) != town.months - planted or set(states) - set("012345"):
                raise ValueError(_("the states do not fit the months"))
            died = int(row["death_month"]) if row["death_month"] else NOT_SAID
            lives[row["tree_id"]] = int(states[-1]), died

    def rows(file: str, take: Callable[[dict[str, str]], object]) -> list:
        found = [thing for thing in reader.rows(file, take, COLUMNS[file]) if thing]
        reader.done()
        return found

    rows(TREES, life)
    missing = sorted({tree.tree for tree in town.trees} ^ set(lives))
    if missing:
        reader.problems.append(
            _("%(file)s and trees.csv do not list the same trees, such as %(tree)s.")
            % {"file": TREES, "tree": missing[0]}
        )
        reader.done()
    cohorts, sites, observers = (
        {name: number for number, name in enumerate(names)}
        for names in (town.cohorts, town.sites, town.observers)
    )

    def survival(row: dict[str, str]) -> tuple[int, int, float] | None:
        age, cohort, share = int(row["age_months"]), row["cohort_id"], row["survival_expected"]
        if age not in AGES or latest[cohort] + age > town.last_month:
            return None
        return cohorts.get(cohort, NOT_SAID), AGES.index(age), float(share)

    def outlook(row: dict[str, str]) -> tuple[int, int, float] | None:
        month, trees, points = (
            int(row["month"]),
            int(row["registered_trees"]),
            float(row["outlook"]),
        )
        if trees < OUTLOOK_FROM_TREES or month < OUTLOOK_FROM_MONTH:
            return None
        return sites.get(row["site_id"], NOT_SAID), month + MONTH_0, points

    def resident(row: dict[str, str]) -> tuple[int, int, int] | None:
        if row["reporter_group"] != "resident":
            return None
        spam = row["type"].startswith("spam")
        return observers.get(row["reporter_id"], NOT_SAID), int(row["reports"]), int(spam)

    return truth_of(
        town,
        lives,
        survival=rows(COHORTS, survival),
        outlook=rows(SITES, outlook),
        residents=rows(OBSERVERS, resident),
    )


def truth_of(
    town: TownFolder,
    lives: dict[str, tuple[int, int]],
    *,
    survival: Iterable[tuple[int, int, float]],
    outlook: Iterable[tuple[int, int, float]],
    residents: Iterable[tuple[int, int, int]],
) -> Truth:
    """The truth as columns. `lives`: last state and month of death (NOT_SAID: alive) by tree."""
    state, died = np.array([lives[tree.tree] for tree in town.trees], np.int64).reshape(-1, 2).T
    survived = np.array(list(survival), dtype=np.float64).reshape(-1, 3)
    looked = np.array(list(outlook), dtype=np.float64).reshape(-1, 3)
    return Truth(
        state=state,
        died=np.where(died >= 0, died + MONTH_0, NOT_SAID),
        registered=np.array([tree.registered + MONTH_0 for tree in town.trees], dtype=np.int64),
        survival=survived[:, :2].astype(np.int64),
        survival_share=survived[:, 2],
        outlook=looked[:, :2].astype(np.int64),
        outlook_value=looked[:, 2],
        residents=np.array(list(residents), dtype=np.int64).reshape(-1, 3),
    )
