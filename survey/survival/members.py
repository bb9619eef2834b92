"""The trees of an area as columns, beside the evidence of what happened to them.

Everything in which the two readings must agree is settled here for the weighed one: since when a
tree is under watch, which trees stay out of the rates, and what a departure on record says.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from hashlib import sha256
from typing import NamedTuple

import numpy as np

from survey.condition.evidence import Loaded, month_of
from survey.science.records import Truths, Whole
from survey.science.seasons import months_between, second_summer_end
from survey.science.survival.drawn import NEVER, Numbers, Watched
from survey.survival.keys import GROUPINGS, supplier_key
from survey.survival.spells import BECAUSE_OF_REPORT, NEVER_PLANTED
from survey.trees.models import Area, Look, Tree
from survey.trees.species import kinds_in

AT_ONCE = 20_000
RESIDENT = 0


class TreesChanged(RuntimeError):
    """A tree went while an area was being read; reading it again will do."""


@dataclass(frozen=True, slots=True)
class Part:
    """One group: the places of its trees, what people call it, and how many its papers say."""

    key: str
    label: str
    planted: int | None
    places: Whole


@dataclass(frozen=True, slots=True, eq=False)
class Grouping:
    """The groups of one kind: keys in order, what people call them, and which each tree is in.

    A tree without a group is in the one with the key "".
    """

    keys: list[str]
    labels: dict[str, str]
    group: Whole

    def parts(self, papers: Mapping[str, int | None]) -> Iterator[Part]:
        order = np.argsort(self.group, kind="stable")
        ends = np.searchsorted(self.group[order], np.arange(len(self.keys) + 1))
        for number, key in enumerate(self.keys):
            if key:
                places = order[ends[number] : ends[number + 1]]
                yield Part(key, self.labels.get(key, key), papers.get(key), places)


@dataclass(frozen=True, eq=False)
class Members:
    """The trees of an area in the order of its evidence.

    `excluded` says why a tree is out of the rates. `second` is the age at the end of the second
    summer. `left_from` and `left_to` are the months between which a tree left that was removed
    alive, by record; NEVER where none was. `papers` are numbers planted, by planting. The last six
    are how many looks there are at each tree: of anybody after its first month, of neighbors,
    because somebody was worried, in bare months; the month of the newest; and the month it is now.
    """

    planted: Whole
    watched: Watched
    second: Whole
    is_late: Truths
    is_wide: Truths
    excluded: list[str]
    left_from: Whole
    left_to: Whole
    groupings: dict[str, Grouping]
    papers: dict[str, int | None]
    dice: Numbers
    looks: Whole
    neighbors: Whole
    worried: Whole
    bare: Whole
    newest: Whole
    today: int

    @cached_property
    def counts(self) -> Truths:
        """Which trees count in the rates."""
        return np.array([not why for why in self.excluded], dtype=bool)

    @property
    def marks(self) -> Iterator[bytes]:
        """What tells two sets of members apart beyond their evidence."""
        for column in (self.watched.entry, self.watched.other, self.left_from, self.left_to):
            yield column.tobytes()
        yield self.dice.tobytes()
        yield "|".join(self.excluded).encode()
        for by in GROUPINGS:
            yield "|".join(self.groupings[by].keys).encode()
            yield self.groupings[by].group.tobytes()

    def ages_lost(self, months: Whole) -> Whole:
        """Months of loss as ages, by drawing and tree.

        Somebody wrote down that a tree was removed alive: then it was not lost before, and not
        later.
        """
        ages = np.empty(months.shape, dtype=np.int16)
        for row, drawn in enumerate(months):
            known = np.where(
                self.left_to != NEVER, np.clip(drawn, self.left_from, self.left_to), drawn
            )
            ages[row] = np.where(known == NEVER, NEVER, known - self.planted)
        return ages

    def grouped(self, by: str) -> Iterator[Part]:
        """The groups of one grouping in order of their keys."""
        return self.groupings[by].parts(self.papers if by == "planting" else {})


class _Row(NamedTuple):
    """A tree as it is read."""

    pk: int
    ref: str
    planting: str
    site: str
    species: str
    planted_from: date
    planted_to: date
    precision: str
    registered_on: date
    because: str
    left: str
    left_from: date | None
    left_to: date | None

    @property
    def is_on_time(self) -> bool:
        """Written down at planting: then it is under watch from planting."""
        by_record = self.because == Tree.Because.PLANTING_RECORD
        return by_record and self.registered_on <= self.planted_to

    @property
    def was_removed(self) -> bool:
        return self.left in (Tree.Left.REMOVED_HEALTH, Tree.Left.REMOVED_OTHER)


def members_of(area: Area, loaded: Loaded) -> Members:
    """The trees that an area's evidence is about, in six questions. Raises `TreesChanged`."""
    evidence, never = loaded.evidence, _never_planted(area)
    wanted = set(loaded.tree_ids)
    names: dict[str, list[str]] = {by: [] for by in ("planting", "site", "species", "year")}
    numbers: list[tuple[int, ...]] = []
    excluded: list[str] = []
    dice: list[int] = []
    for row in _rows(area):
        if row.pk not in wanted:
            continue
        for by in ("planting", "site", "species"):
            names[by].append(getattr(row, by))
        names["year"].append(str(row.planted_from.year))
        excluded.append(_excluded(row, never))
        dice.append(int.from_bytes(sha256(row.ref.encode()).digest()[:8], "big"))
        gone = row.was_removed
        numbers.append(
            (
                month_of(row.registered_on),
                row.is_on_time,
                row.precision in ("season", "year"),
                month_of(row.left_from) if gone else NEVER,
                month_of(row.left_to) if gone else NEVER,
                row.left == Tree.Left.REMOVED_OTHER,
            )
        )
    if len(numbers) != len(wanted):
        raise TreesChanged(f"{len(wanted)} trees of {area} were read, and then {len(numbers)}.")
    columns = np.array(numbers, dtype=np.int64).reshape(-1, 6).T
    registered, on_time, wide, left_from, left_to, other = columns
    planted = evidence.trees.planted
    late = ~on_time.astype(bool) & (registered > planted)
    return Members(
        planted=planted,
        watched=Watched(
            entry=np.where(late, registered - planted, 0),
            until=evidence.trees.last - planted,
            other=np.where(other.astype(bool), left_from - planted, NEVER),
        ),
        second=_second_summers(area, planted),
        is_late=late,
        is_wide=wide.astype(bool),
        excluded=excluded,
        left_from=left_from,
        left_to=left_to,
        groupings=_groupings(area, names),
        papers=dict(area.plantings.values_list("ref", "planted_count")),
        dice=np.array(dice, dtype=np.uint64),
        **_looks_at(loaded, left_to != NEVER),
        today=month_of(area.today()),
    )


def _rows(area: Area) -> Iterator[_Row]:
    rows = (
        Tree.objects.filter(area=area)
        .order_by("pk")
        .values_list(
            "pk",
            "ref",
            "planting__ref",
            "site__ref",
            "species",
            "planted_from",
            "planted_to",
            "planted_precision",
            "registered_on",
            "registered_because",
            "left",
            "left_from",
            "left_to",
        )
    )
    return (_Row(*row) for row in rows.iterator(chunk_size=AT_ONCE))


def _excluded(tree: _Row, never: set[int]) -> str:
    if tree.pk in never:
        return NEVER_PLANTED
    return BECAUSE_OF_REPORT if tree.because == Tree.Because.REPORT else ""


def _never_planted(area: Area) -> set[int]:
    """Trees that trained eyes found never to have been planted, and never saw otherwise."""
    trained = Look.objects.standing_record().trained().filter(tree__area=area).order_by()
    never = trained.filter(presence=Look.Presence.NEVER_PLANTED)
    found = set(never.values_list("tree_id", flat=True))
    seen = trained.filter(tree__in=never.values("tree")).exclude(
        presence__in=[Look.Presence.NEVER_PLANTED, Look.Presence.NOT_SEEN]
    )
    return found - set(seen.values_list("tree_id", flat=True))


def _groupings(area: Area, names: Mapping[str, list[str]]) -> dict[str, Grouping]:
    """Every grouping, its groups called what `keys.label_of` would call them."""
    papers = area.plantings.values_list("ref", "name", "supplier")
    plantings = {ref: (name, supplier) for ref, name, supplier in papers}
    suppliers: dict[str, str] = {}
    for supplier in sorted({supplier for _, supplier in plantings.values()}):
        suppliers.setdefault(supplier_key(supplier), supplier)
    labels = {
        "planting": {ref: name for ref, (name, _) in plantings.items()},
        "site": dict(area.sites.values_list("ref", "name")),
        "species": {code: str(kind.name) for code, kind in kinds_in(area).items()},
        "year": {},
    }
    found = {}
    for by, of_trees in names.items():
        keys = sorted(set(of_trees))
        place = {key: number for number, key in enumerate(keys)}
        group = np.array([place[key] for key in of_trees], dtype=np.int64)
        found[by] = Grouping(keys, labels[by], group)
    by_planting = found["planting"]
    keys = sorted({supplier_key(plantings[ref][1]) for ref in by_planting.keys})
    bought = [keys.index(supplier_key(plantings[ref][1])) for ref in by_planting.keys]
    found["supplier"] = Grouping(
        keys, suppliers, np.array(bought, dtype=np.int64)[by_planting.group]
    )
    found["town"] = Grouping(["all"], {"all": area.name}, np.zeros_like(by_planting.group))
    return found


def _second_summers(area: Area, planted: Whole) -> Whole:
    """The age at which the second summer of each tree ends."""
    months, inverse = np.unique(planted, return_inverse=True)
    ages = []
    for month in months.tolist():
        day = date(month // 12, month % 12 + 1, 1)
        ages.append(int(months_between(day, second_summer_end(day, area.hemisphere))))
    return _whole(ages)[inverse]


def _looks_at(loaded: Loaded, removed: Truths) -> dict[str, Whole]:
    """How many looks of each kind there are at each tree; a departure on record is one too."""
    evidence, looks = loaded.evidence, loaded.evidence.looks
    trees = evidence.trees

    def count(which: Truths) -> Whole:
        return np.bincount(looks.tree[which], minlength=trees.number)

    later = looks.month > trees.first[looks.tree]
    newest = np.array(trees.first)
    np.maximum.at(newest, looks.tree, looks.month)
    np.maximum.at(newest, evidence.removals[:, 0], evidence.removals[:, 1])
    seen = count(later)
    seen[evidence.removals[:, 0]] += 1
    neighbor = evidence.observers[looks.observer] == RESIDENT
    return {
        "looks": seen + (removed & (seen == 0)),
        "neighbors": count(neighbor & later),
        "worried": count(looks.complaint & later),
        "bare": count(looks.leaf_off & later),
        "newest": newest,
    }


def _whole(values) -> Whole:
    return np.array(list(values), dtype=np.int64)
