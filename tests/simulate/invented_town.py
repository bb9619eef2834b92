"""Invented towns whose truth is known, in the form of fixtures/towns, thrown from a seed.

They hold what the condition model does not: noise in what people see, trees with a pace of their
own, fixed opinions, followers, looks at the wrong tree, trees that are called gone and are not,
spammers, complaints where things are bad and where people look, exposure that differs by tree and
year, silent neighborhoods, rounds that miss trees, removals that nobody logs or logs late, care
that goes to trees in trouble, years that differ, lines that come twice, and trees that come on the
list late, some because somebody saw that they were bad.
"""

import csv
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from survey.exports.town_folder import ReportRow, SpeciesRow, TownFolder, TreeRow
from survey.exports.town_truth import truth_of
from survey.science.condition.judging import (
    AGES,
    OUTLOOK_FROM_MONTH,
    OUTLOOK_FROM_TREES,
    Truth,
)
from survey.science.condition.records import DEAD, GONE, KINDS, LEAF, NOT_SAID, SCRATCH, STATES
from tests.simulate import invented_lives
from tests.simulate.invented_lives import Grown, Lives, grow
from tests.simulate.invented_looks import (
    CHANNELS,
    SIGNS,
    SPAM_UNIFORM,
    TYPES,
    People,
    Said,
    Watch,
    gather_people,
    look,
    register,
)

OUTLOOK_POINTS = np.array([94.0, 89.0, 74.0, 48.0, 0.0, 0.0])
"""What a site is asked about: of 100 trees in that state, how many still stand two years later."""

CALENDARS = (
    ((11, 12, 1, 2, 3), (4, 10)),
    ((12, 1, 2, 3), (4, 11)),
    ((11, 12, 1, 2, 3, 4), (5, 10)),
    ((), ()),
)


@dataclass(frozen=True, slots=True)
class Setting:
    """Everything that makes one kind of town."""

    trees: int = 500
    sites: int = 12
    months: int = 72
    cohorts: tuple[int, ...] = (2, 10, 14, 22, 26, 34)
    south: bool = False
    lives: Lives = field(default_factory=Lives)
    watch: Watch = field(default_factory=Watch)


@dataclass(frozen=True, slots=True, eq=False)
class Invented:
    """A town as it would be handed over, and what really happened in it."""

    town: TownFolder
    truth: Truth
    grown: Grown
    people: People
    said: Said
    registered: np.ndarray


BASE = Setting()
HARD = replace(
    BASE,
    lives=replace(BASE.lives, year_spread=0.15),
    watch=replace(
        BASE.watch,
        residents=110,
        types=((0.1, 0.32, 0.28, 0.18, 0.12), *BASE.watch.types[1:]),
        wrong_tree=(0.08, 0.04, 0.02),
        false_gone=(0.02, 0.01, 0.004),
        follows=0.15,
        surveyed=0.2,
        covered=0.75,
        kept=0.75,
        silent_sites=0.15,
        tree_exposure=0.4,
        year_exposure=0.2,
        logged_late=(0.6, 0.2, 0.1, 0.1),
        because_of_trouble=0.05,
    ),
)
SHIFTED = replace(
    BASE,
    lives=replace(
        BASE.lives,
        worse=tuple(1.4 * rate for rate in BASE.lives.worse),
        dies=tuple(2.0 * rate for rate in BASE.lives.dies),
        year_spread=0.25,
    ),
    watch=replace(
        BASE.watch,
        types=((0.08, 0.37, 0.4, 0.09, 0.06), (0.4, 0.45, 0.15, 0.0, 0.0), BASE.watch.types[2]),
        bare_called_dead=((4.0, 5.0), (2.0, 16.0), (1.0, 40.0)),
        dead_missed=((2.5, 10.0), (1.5, 18.0), (1.0, 40.0)),
        follows=0.12,
    ),
)
COMPLAINTS = replace(
    BASE,
    watch=replace(
        BASE.watch,
        surveyed=0.0,
        surveyed_in_winter=0.0,
        site_exposure=0.9,
        tree_exposure=0.3,
        silent_sites=0.1,
    ),
)
FLAT = replace(
    BASE,
    lives=replace(
        BASE.lives,
        worse=(0.05, 0.045, 0.035, 0.0),
        dies=(0.0, 0.0, 0.0, 0.0),
        better=(0.0, 0.05, 0.06, 0.08),
        taken_alive=0.0,
        # where these moves come to rest: nothing changes for a town of such trees
        begins=(64 / 197, 64 / 197, 48 / 197, 21 / 197),
        warm_worse=0.0,
        warm_better=0.0,
        young=0.0,
        site_spread=0.0,
        cohort_spread=0.0,
        tree_spread=0.0,
        care_by_state=(0.0,) * 6,
    ),
)
SOUTHERN = replace(
    BASE, south=True, watch=replace(BASE.watch, survey_months=(11, 2), silent_sites=0.05)
)
KINDS_OF_TOWN = {
    "base": BASE,
    "hard": HARD,
    "shifted": SHIFTED,
    "complaints": COMPLAINTS,
    "flat": FLAT,
    "southern": SOUTHERN,
}


def invent(kind: str, seed: int, **changes: object) -> Invented:
    """A town of one kind from a seed; `changes` are fields of its Setting."""
    setting = replace(KINDS_OF_TOWN[kind], **changes)
    dice = np.random.default_rng([seed, *kind.encode()])
    grown = grow(
        setting.lives,
        dice,
        trees=setting.trees,
        sites=setting.sites,
        cohorts=setting.cohorts,
        months=setting.months,
        south=setting.south,
    )
    people = gather_people(setting.watch, setting.sites, dice)
    registered = register(setting.watch, grown, dice)
    species = _species(setting.south)
    bare = np.array([[row.is_leaf_off(month) for month in range(12)] for row in species])
    said = look(
        setting.watch,
        grown,
        people,
        registered,
        bare[grown.species],
        dice,
        south=setting.south,
    )
    town = _town(setting, grown, people, registered, said, species, dice)
    return Invented(
        town,
        _truth(setting, town, grown, people, registered, said),
        grown,
        people,
        said,
        registered,
    )


def _species(south: bool) -> list[SpeciesRow]:
    def fall(months: tuple[int, ...]) -> tuple[int, ...]:
        return tuple(sorted((month + 5) % 12 + 1 if south else month for month in months))

    return [
        SpeciesRow(f"species_{'ABCD'[number]}", bool(bare), fall(bare), fall(shoulder))
        for number, (bare, shoulder) in enumerate(CALENDARS)
    ]


def _town(
    setting: Setting,
    grown: Grown,
    people: People,
    registered: np.ndarray,
    said: Said,
    species: list[SpeciesRow],
    dice: np.random.Generator,
) -> TownFolder:
    trees = [
        TreeRow(
            tree=f"T{tree:05d}",
            site=f"S{grown.site[tree]:03d}",
            cohort=f"C{grown.cohort[tree]:02d}",
            species=species[grown.species[tree]].name,
            planted=int(grown.planted[tree]),
            registered=int(registered[tree]),
            x_m=float(grown.x_m[tree]),
            y_m=float(grown.y_m[tree]),
        )
        for tree in np.flatnonzero(registered >= 0)
    ]
    reports = [
        ReportRow(
            report=f"R{row:06d}",
            month=int(said.month[row]),
            day=int(said.day[row]),
            tree=f"T{said.tree[row]:05d}",
            observer=f"P{said.person[row]:04d}",
            kind=KINDS[people.kind[said.person[row]]],
            channel=CHANNELS[said.channel[row]],
            condition=STATES[said.label[row]],
            scratch=SCRATCH[said.scratch[row]],
            leaf=LEAF[said.leaf[row]],
            signs=tuple(sorted(SIGNS[: said.signs[row]])),
        )
        for row in range(len(said.tree))
    ]
    written = grown.cared & (dice.random(grown.cared.shape) < setting.watch.care_logged)
    written &= (registered[:, None] >= 0) & (registered[:, None] <= np.arange(setting.months))
    care = [(f"T{tree:05d}", int(month)) for tree, month in zip(*np.nonzero(written), strict=True)]
    named = {row.name: row for row in species}
    return TownFolder(setting.months, setting.south, named, trees, reports, care)


def _truth(
    setting: Setting,
    town: TownFolder,
    grown: Grown,
    people: People,
    registered: np.ndarray,
    said: Said,
) -> Truth:
    lives = {
        f"T{tree:05d}": (int(grown.state[tree, -1]), death_month(grown.state[tree]))
        for tree in np.flatnonzero(registered >= 0)
    }
    cohorts = {name: number for number, name in enumerate(town.cohorts)}
    sites = {name: number for number, name in enumerate(town.sites)}
    observers = {name: number for number, name in enumerate(town.observers)}
    survival = [
        (cohorts.get(f"C{cohort:02d}", NOT_SAID), place, float(share))
        for cohort, row in enumerate(grown.survival)
        for place, age in enumerate(AGES)
        if not np.isnan(share := row[invented_lives.AGES.index(age)])
    ]
    outlook = []
    for site, month, trees, points, _ in site_months(setting, grown, registered):
        if trees >= OUTLOOK_FROM_TREES and month >= OUTLOOK_FROM_MONTH:
            outlook.append((sites[f"S{site:03d}"], town_month(month), points))
    looks = np.bincount(said.person, minlength=len(people.kind))
    residents = [
        (observers[f"P{person:04d}"], int(looks[person]), int(people.type[person] >= SPAM_UNIFORM))
        for person in np.flatnonzero((people.kind == 0) & (looks > 0))
    ]
    return truth_of(town, lives, survival=survival, outlook=outlook, residents=residents)


def town_month(month: int) -> int:
    """A month of the folder as the condition model counts it."""
    return month + 2019 * 12


def death_month(states: np.ndarray) -> int:
    """The first month in which it was not alive, or NOT_SAID."""
    lost = np.flatnonzero(states >= DEAD)
    return int(lost[0]) if len(lost) else NOT_SAID


def site_months(setting: Setting, grown: Grown, registered: np.ndarray) -> list[tuple]:
    """Site, month, listed trees, outlook, how many of them are lost."""
    rows = []
    for month in range(setting.months):
        listed = (registered >= 0) & (registered <= month)
        for site in np.unique(grown.site[listed]):
            state = grown.state[listed & (grown.site == site), month]
            rows.append(
                (
                    int(site),
                    month,
                    len(state),
                    float(OUTLOOK_POINTS[state].mean()),
                    int((state >= DEAD).sum()),
                )
            )
    return rows


def write(invented: Invented, folder: Path) -> None:
    """The five tables of a town, and its truth in a folder beside them."""
    town, grown = invented.town, invented.grown
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "truth").mkdir(exist_ok=True)

    def table(name: str, columns: str, rows) -> None:
        with (folder / name).open("w", encoding="utf-8", newline="") as opened:
            writer = csv.writer(opened, lineterminator="\n")
            writer.writerow(columns.split())
            writer.writerows(rows)

    half = "south" if town.south else "north"
    table(
        "town.csv",
        "key value",
        [("months", town.months), ("last_month", town.last_month), ("hemisphere", half)],
    )
    table(
        "species.csv",
        "species deciduous leaf_off_months shoulder_months",
        [
            (row.name, int(row.deciduous), _listed(row.bare_months), _listed(row.shoulder_months))
            for row in town.species.values()
        ],
    )
    table(
        "trees.csv",
        "tree_id site_id cohort_id species planted_month registered_month x_m y_m",
        [
            (t.tree, t.site, t.cohort, t.species, t.planted, t.registered, t.x_m, t.y_m)
            for t in town.trees
        ],
    )
    table(
        "reports.csv",
        "report_id month day tree_id reporter_id reporter_group channel condition scratch leaf"
        " signs",
        [
            (
                r.report,
                r.month,
                r.day,
                r.tree,
                r.observer,
                r.kind,
                r.channel,
                r.condition,
                r.scratch,
                r.leaf,
                _listed(r.signs),
            )
            for r in town.reports
        ],
    )
    table("care.csv", "tree_id month", town.care)
    table(
        "truth/truth_trees.csv",
        "tree_id site_id cohort_id in_register planted_month registered_month death_month"
        " gone_month states_from_planting",
        [_life_row(invented, tree) for tree in range(len(grown.planted))],
    )
    table(
        "truth/truth_cohorts.csv",
        "cohort_id age_months planted_trees survival_expected survival_realised",
        _cohort_rows(grown),
    )
    setting = Setting(months=town.months)
    table(
        "truth/truth_sites.csv",
        "site_id month registered_trees outlook dead_or_gone",
        [
            (f"S{site:03d}", month, trees, f"{points:.6f}", lost)
            for site, month, trees, points, lost in site_months(setting, grown, invented.registered)
        ],
    )
    looks = np.bincount(invented.said.person, minlength=len(invented.people.kind))
    table(
        "truth/truth_reporters.csv",
        "reporter_id reporter_group type reports",
        [
            (f"P{person:04d}", KINDS[kind], TYPES[type_], looks[person])
            for person, (kind, type_) in enumerate(
                zip(invented.people.kind, invented.people.type, strict=True)
            )
            if looks[person]
        ],
    )


def _listed(things) -> str:
    return ";".join(map(str, things))


def _life_row(invented: Invented, tree: int) -> tuple:
    grown, listed = invented.grown, invented.registered[tree]
    states = grown.state[tree, grown.planted[tree] :]
    gone = np.flatnonzero(grown.state[tree] == GONE)
    died = death_month(grown.state[tree])
    return (
        f"T{tree:05d}",
        f"S{grown.site[tree]:03d}",
        f"C{grown.cohort[tree]:02d}",
        int(listed >= 0),
        grown.planted[tree],
        listed if listed >= 0 else "",
        died if died >= 0 else "",
        gone[0] if len(gone) else "",
        "".join(map(str, states)),
    )


def _cohort_rows(grown: Grown) -> list[tuple]:
    rows = []
    for cohort, shares in enumerate(grown.survival):
        mine = np.flatnonzero(grown.cohort == cohort)
        for age, share in zip(invented_lives.AGES, shares, strict=True):
            if not np.isnan(share):
                alive = grown.state[mine, grown.planted[mine] + age] < DEAD
                rows.append((f"C{cohort:02d}", age, len(mine), f"{share:.6f}", alive.mean()))
    return rows
