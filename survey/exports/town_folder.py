"""A simulated town in a folder of five tables: each row read, judged, and named when it is wrong.

Months are counted from 0, which is January 2019 wherever a date is wanted. Nothing here asks a
database: `read_town` and `evidence_of` are enough to believe something of such a town.
"""

import csv
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TypeVar

import numpy as np
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from survey.science.condition.gather import LookRow, looks_of
from survey.science.condition.records import KINDS, LEAF, SCRATCH, STATES, Evidence, Trees, no_pairs

FIRST_YEAR = 2019
MONTH_0 = FIRST_YEAR * 12
"""Month 0 of a folder, as the condition model counts months."""

FILES = {
    "town.csv": ["key", "value"],
    "species.csv": ["species", "deciduous", "leaf_off_months", "shoulder_months"],
    "trees.csv": [
        "tree_id",
        "site_id",
        "cohort_id",
        "species",
        "planted_month",
        "registered_month",
        "x_m",
        "y_m",
    ],
    "reports.csv": [
        "report_id",
        "month",
        "day",
        "tree_id",
        "reporter_id",
        "reporter_group",
        "channel",
        "condition",
        "scratch",
        "leaf",
        "signs",
    ],
    "care.csv": ["tree_id", "month"],
}
CHANNELS = ("registration", "survey", "adopter", "complaint", "crew")
MOST_PROBLEMS = 1000
MOST_LETTERS = 200
"""Of what is wrong with one line: a cell can hold a whole book."""

Row = TypeVar("Row")


class BadTown(ValueError):
    """The folder does not hold a town; `problems` names every file and line."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__("\n".join(problems[:50]))
        self.problems = problems


@dataclass(frozen=True, slots=True)
class SpeciesRow:
    name: str
    deciduous: bool
    bare_months: tuple[int, ...]
    shoulder_months: tuple[int, ...]

    def is_leaf_off(self, month: int) -> bool:
        """Whether it may be bare in a month counted from 0; shoulder months count as leaf-off."""
        return month % 12 + 1 in (*self.bare_months, *self.shoulder_months)


@dataclass(frozen=True, slots=True)
class TreeRow:
    tree: str
    site: str
    cohort: str
    species: str
    planted: int
    registered: int
    x_m: float
    y_m: float


@dataclass(frozen=True, slots=True)
class ReportRow:
    report: str
    month: int
    day: int
    tree: str
    observer: str
    kind: str
    channel: str
    condition: str
    scratch: str
    leaf: str
    signs: tuple[str, ...]

    @property
    def is_gone(self) -> bool:
        return self.condition == "gone"


@dataclass(frozen=True, slots=True)
class TownFolder:
    """A whole town as it was read; `care` are pairs of tree and month."""

    months: int
    south: bool
    species: dict[str, SpeciesRow]
    trees: list[TreeRow]
    reports: list[ReportRow]
    care: list[tuple[str, int]]

    @property
    def last_month(self) -> int:
        return self.months - 1

    @property
    def sites(self) -> list[str]:
        return sorted({tree.site for tree in self.trees})

    @property
    def cohorts(self) -> list[str]:
        return sorted({tree.cohort for tree in self.trees})

    @property
    def observers(self) -> list[str]:
        return sorted({row.observer for row in self.reports})


class Reader:
    """Reads tables row by row; what cannot be is noted with its file and line."""

    def __init__(self, folder: Path, problems: list[str]) -> None:
        self.folder, self.problems = folder, problems

    def demand(self, files: Iterable[str]) -> None:
        """Raise BadTown unless all of these files are there."""
        missing = [
            _("%(file)s is missing.") % {"file": file}
            for file in files
            if not (self.folder / file).is_file()
        ]
        if missing:
            raise BadTown(missing)

    def rows(
        self,
        file: str,
        take: Callable[[dict[str, str]], Row],
        columns: list[str] | None = None,
    ) -> Iterator[Row]:
        wanted = columns or FILES[file]
        try:
            with (self.folder / file).open(encoding="utf-8-sig", newline="") as opened:
                reader = csv.DictReader(opened)
                try:
                    if self._has_columns(file, reader.fieldnames or [], wanted):
                        yield from self._taken(file, reader, take, wanted)
                except (UnicodeDecodeError, csv.Error) as wrong:
                    self.problems.append(f"{file}, {reader.line_num + 1}: {wrong}")
        except OSError as trouble:
            self.problems.append(f"{file}: {trouble.strerror}")

    def done(self) -> None:
        """Raise BadTown if anything was wrong so far."""
        if self.problems:
            raise BadTown(self.problems)

    def _has_columns(self, file: str, names: Iterable[str], wanted: list[str]) -> bool:
        missing = [name for name in wanted if name not in names]
        if missing:
            self.problems.append(
                _("%(file)s lacks the columns %(names)s.")
                % {"file": file, "names": ", ".join(missing)}
            )
        return not missing

    def _taken(
        self,
        file: str,
        reader: csv.DictReader,
        take: Callable[[dict[str, str]], Row],
        wanted: list[str],
    ) -> Iterator[Row]:
        for row in reader:
            if len(self.problems) >= MOST_PROBLEMS:
                return
            try:
                thing = take({key: (row[key] or "").strip() for key in wanted})
            except KeyError as unknown:
                wrong = _("%s is not known.") % unknown
            except ValidationError as refused:
                wrong = " ".join(refused.messages)
            except ValueError as impossible:
                wrong = str(impossible)
            else:
                yield thing
                continue
            self.problems.append(f"{file}, {reader.line_num}: {wrong[:MOST_LETTERS]}")


def read_settings(reader: Reader) -> tuple[int, dict[str, SpeciesRow], bool]:
    """How many months there are, the species, and whether the town lies in the south.

    `hemisphere` in town.csv says so; where it does not, the species do: trees that stand bare in
    July stand in the south.
    """
    told = dict(reader.rows("town.csv", lambda row: (row["key"], row["value"])))
    try:
        months = int(told["months"])
        if not 1 <= months <= 1200:
            raise ValueError(months)
    except (KeyError, ValueError):
        raise BadTown([_("town.csv does not say how many months there are.")]) from None
    half = told.get("hemisphere", "")
    if half not in ("", "north", "south"):
        raise BadTown([_("town.csv: the hemisphere is north or south.")])
    species = {row.name: row for row in reader.rows("species.csv", species_row)}
    bare_in_july = sum(7 in row.bare_months for row in species.values())
    bare_in_january = sum(1 in row.bare_months for row in species.values())
    return months, species, half == "south" or (not half and bare_in_july > bare_in_january)


def species_row(row: dict[str, str]) -> SpeciesRow:
    def months(cell: str) -> tuple[int, ...]:
        found = sorted(int(month) for month in cell.split(";") if month)
        if not all(1 <= month <= 12 for month in found):
            raise ValueError(_("months are 1 to 12"))
        return tuple(found)

    if not row["species"]:
        raise ValueError(_("an id is empty"))
    return SpeciesRow(
        row["species"],
        row["deciduous"] == "1",
        months(row["leaf_off_months"]),
        months(row["shoulder_months"]),
    )


def read_trees(reader: Reader, months: int, species: Iterable[str]) -> list[TreeRow]:
    """Every tree on the list. Raises BadTown when one cannot be; the rest would hang in the air."""

    def take(row: dict[str, str]) -> TreeRow:
        planted, registered = int(row["planted_month"]), int(row["registered_month"])
        if not 0 <= planted <= registered < months:
            raise ValueError(_("planted and registered months are out of order or not yet come"))
        if not (row["tree_id"] and row["site_id"] and row["cohort_id"]):
            raise ValueError(_("an id is empty"))
        if row["tree_id"] in seen:
            raise ValueError(_("%(tree)s is on the list twice") % {"tree": row["tree_id"]})
        if row["species"] not in kinds:
            raise ValueError(_("%(tree)s is of an unknown species.") % {"tree": row["tree_id"]})
        seen.add(row["tree_id"])
        x_m, y_m = float(row["x_m"]), float(row["y_m"])
        if not (abs(x_m) <= 1e5 and abs(y_m) <= 1e5):
            raise ValueError(_("the place is more than 100 km away"))
        return TreeRow(
            row["tree_id"],
            row["site_id"],
            row["cohort_id"],
            row["species"],
            planted,
            registered,
            x_m,
            y_m,
        )

    seen: set[str] = set()
    kinds = set(species)
    trees = list(reader.rows("trees.csv", take))
    reader.done()
    return trees


def month_come(cell: str, months: int) -> int:
    month = int(cell)
    if not 0 <= month < months:
        raise ValueError(_("the month has not come yet"))
    return month


def report_row(row: dict[str, str], months: int, planted: Mapping[str, int]) -> ReportRow:
    """One line of reports.csv. `planted` says in which month each known tree was planted.

    Raises KeyError for an unknown tree and ValueError for anything else that cannot be.
    """
    month, day = month_come(row["month"], months), int(row["day"])
    date(FIRST_YEAR + month // 12, month % 12 + 1, day)  # an impossible day is a ValueError
    if month < planted[row["tree_id"]]:
        raise ValueError(_("the tree was not planted yet"))
    if row["reporter_group"] not in KINDS:
        raise ValueError(_("unknown group %s") % row["reporter_group"])
    if not (row["report_id"] and row["reporter_id"]):
        raise ValueError(_("an id is empty"))
    for column, known in (
        ("channel", CHANNELS),
        ("condition", ("", *STATES)),
        ("scratch", SCRATCH),
        ("leaf", LEAF),
    ):
        if row[column] not in known:
            raise ValueError(
                _("%(cell)s is no %(column)s") % {"cell": row[column], "column": column}
            )
    there = row["condition"] != "gone"
    return ReportRow(
        row["report_id"],
        month,
        day,
        row["tree_id"],
        row["reporter_id"],
        row["reporter_group"],
        row["channel"],
        row["condition"],
        row["scratch"] if there else "",
        row["leaf"] if there else "",
        tuple(sorted(set(filter(None, row["signs"].split(";"))))),
    )


def read_town(folder: Path) -> TownFolder:
    """The whole town. Raises BadTown, which names every file and line that is wrong."""
    reader = Reader(folder, [])
    reader.demand(FILES)
    months, species, south = read_settings(reader)
    trees = read_trees(reader, months, species)
    planted = {tree.tree: tree.planted for tree in trees}
    reports: dict[str, ReportRow] = {}
    for row in reader.rows("reports.csv", lambda row: report_row(row, months, planted)):
        reports.setdefault(row.report, row)

    def care(row: dict[str, str]) -> tuple[str, int]:
        if row["tree_id"] not in planted:
            raise KeyError(row["tree_id"])
        return row["tree_id"], month_come(row["month"], months)

    cared = sorted(set(reader.rows("care.csv", care)))
    reader.done()
    return TownFolder(months, south, species, trees, list(reports.values()), cared)


def evidence_of(town: TownFolder) -> Evidence:
    """What the condition model reads of the town: trees as listed, sites, cohorts and observers
    numbered in the order of their names.

    A crew's line "gone" is the log of a removal and no look. Looks, care and logs from before the
    tree was registered are left out, as nobody who was lost by then could have any.
    """
    place = {tree.tree: number for number, tree in enumerate(town.trees)}
    sites, cohorts, observers = (
        {name: number for number, name in enumerate(names)}
        for names in (town.sites, town.cohorts, town.observers)
    )
    kinds = {row.observer: KINDS.index(row.kind) for row in reversed(town.reports)}
    rows, removed = [], set()
    for report in sorted(town.reports, key=lambda row: (row.month, row.day)):
        tree = town.trees[place[report.tree]]
        if report.month < tree.registered:
            continue
        if report.channel == "crew" and report.is_gone:
            removed.add((place[report.tree], report.month + MONTH_0))
            continue
        rows.append(
            LookRow(
                tree=place[report.tree],
                month=report.month + MONTH_0,
                observer=observers[report.observer],
                label=report.condition,
                scratch=report.scratch,
                leaf=report.leaf,
                signs=len(report.signs),
                leaf_off=town.species[tree.species].is_leaf_off(report.month),
                complaint=report.channel == "complaint",
            )
        )
    care = [
        (place[tree], month + MONTH_0)
        for tree, month in town.care
        if month >= town.trees[place[tree]].registered
    ]

    def column(values: Iterable[int]) -> np.ndarray:
        return np.fromiter(values, dtype=np.int64, count=len(town.trees))

    return Evidence(
        trees=Trees(
            planted=column(tree.planted + MONTH_0 for tree in town.trees),
            first=column(tree.registered + MONTH_0 for tree in town.trees),
            last=column(town.last_month + MONTH_0 for _ in town.trees),
            site=column(sites[tree.site] for tree in town.trees),
            cohort=column(cohorts[tree.cohort] for tree in town.trees),
        ),
        looks=looks_of(rows),
        observers=np.array([kinds[name] for name in town.observers], dtype=np.int64),
        care=_pairs(care),
        removals=_pairs(removed),
        sites=len(sites),
        cohorts=len(cohorts),
        south=town.south,
    )


def _pairs(rows: Iterable[tuple[int, int]]) -> np.ndarray:
    found = sorted(set(rows))
    return np.array(found, dtype=np.int64) if found else no_pairs()
