"""The trees of an area as columns, beside the evidence of what happened to them.

Everything in which the two readings must agree is settled here for the weighed one: since when a
tree is under watch, which trees stay out of the rates, and what a departure on record says.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from hashlib import sha256

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
_REMOVED = (Tree.Left.REMOVED_HEALTH, Tree.Left.REMOVED_OTHER)


@dataclass(frozen=True, slots=True)
class Part:
    """One group: the places of its trees, what people call it, and how many its papers say."""

    key: str
    label: str
    planted: int | None
    places: Whole


@dataclass(frozen=True, eq=False)
class Members:
    """The trees of an area in the order of its evidence.

    `keys` and `labels` hold a list for each grouping; a tree without a group there has the key "".
    `excluded` says why a tree is out of the rates. `second` is the age at the end of the second
    summer. `left_from` and `left_to` are the months between which a tree left that was removed
    alive, by record; NEVER where none was. The last five are how many looks there are at each
    tree: of anybody after its first month, of neighbors, because somebody was worried, in bare
    months; and the month of the newest.
    """

    planted: Whole
    watched: Watched
    second: Whole
    is_late: Truths
    is_wide: Truths
    excluded: list[str]
    left_from: Whole
    left_to: Whole
    keys: dict[str, list[str]]
    labels: dict[str, dict[str, str]]
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
    def marks(self) -> tuple[np.ndarray, ...]:
        """What tells two sets of members apart beyond their evidence."""
        watched = self.watched
        return (
            watched.entry,
            watched.other,
            self.left_from,
            self.left_to,
            np.array(self.excluded, dtype="U"),
            *(np.array(self.keys[by], dtype="U") for by in GROUPINGS),
        )

    def ages_lost(self, months: Whole) -> Whole:
        """Months of loss as ages, by drawing and tree.

        Somebody wrote down that a tree was removed alive: then it was not lost before, and not
        later.
        """
        removed = self.left_to != NEVER
        months = np.where(removed, np.clip(months, self.left_from, self.left_to), months)
        return np.where(months == NEVER, NEVER, months - self.planted).astype(np.int16)

    def grouped(self, by: str) -> Iterator[Part]:
        """The groups of one grouping in order of their keys."""
        keys, inverse = np.unique(np.array(self.keys[by], dtype="U"), return_inverse=True)
        order = np.argsort(inverse, kind="stable")
        ends = np.searchsorted(inverse[order], np.arange(len(keys) + 1))
        for number, name in enumerate(keys.tolist()):
            if name:
                papers = self.papers.get(name) if by == "planting" else None
                places = order[ends[number] : ends[number + 1]]
                yield Part(name, self.labels[by].get(name, name), papers, places)


def members_of(area: Area, loaded: Loaded) -> Members:
    """The trees that an area's evidence is about, in four questions."""
    rows = {row["pk"]: row for row in _rows(area)}
    trees = [rows[pk] for pk in loaded.tree_ids]
    evidence = loaded.evidence
    planted = evidence.trees.planted
    registered = _whole(month_of(tree["registered_on"]) for tree in trees)
    on_time = np.array([_is_on_time(tree) for tree in trees], dtype=bool)
    late = ~on_time & (registered > planted)
    removed = np.array([tree["left"] in _REMOVED for tree in trees], dtype=bool)
    other = np.array([tree["left"] == Tree.Left.REMOVED_OTHER for tree in trees], dtype=bool)
    left_from, left_to = (
        _whole(
            month_of(tree[name]) if gone else NEVER
            for tree, gone in zip(trees, removed, strict=True)
        )
        for name in ("left_from", "left_to")
    )
    watched = Watched(
        entry=np.where(late, registered - planted, 0),
        until=evidence.trees.last - planted,
        other=np.where(other, left_from - planted, NEVER),
    )
    never = _never_planted(area)
    keys = _keys(trees)
    return Members(
        planted=planted,
        watched=watched,
        second=_second_summers(area, planted),
        is_late=late,
        is_wide=np.array(
            [tree["planted_precision"] in ("season", "year") for tree in trees], dtype=bool
        ),
        excluded=[_excluded(tree, never) for tree in trees],
        left_from=left_from,
        left_to=left_to,
        keys=keys,
        labels=_labels(area, trees, keys),
        papers={tree["planting__ref"]: tree["planting__planted_count"] for tree in trees},
        dice=np.array([_die(tree["ref"]) for tree in trees], dtype=np.uint64),
        **_looks_at(loaded, removed),
        today=month_of(area.today()),
    )


def _rows(area: Area) -> Iterator[dict]:
    return (
        Tree.objects.filter(area=area)
        .order_by()
        .values(
            "pk",
            "ref",
            "planting__ref",
            "planting__name",
            "planting__planted_count",
            "planting__supplier",
            "site__ref",
            "site__name",
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
        .iterator(chunk_size=AT_ONCE)
    )


def _is_on_time(tree: dict) -> bool:
    """Written down at planting: then it is under watch from planting."""
    by_record = tree["registered_because"] == Tree.Because.PLANTING_RECORD
    return by_record and tree["registered_on"] <= tree["planted_to"]


def _excluded(tree: dict, never: set[int]) -> str:
    if tree["pk"] in never:
        return NEVER_PLANTED
    return BECAUSE_OF_REPORT if tree["registered_because"] == Tree.Because.REPORT else ""


def _never_planted(area: Area) -> set[int]:
    """Trees that trained eyes found never to have been planted, and never saw otherwise."""
    trained = Look.objects.standing_record().trained().filter(tree__area=area).order_by()
    never = set(
        trained.filter(presence=Look.Presence.NEVER_PLANTED).values_list("tree_id", flat=True)
    )
    others = trained.filter(tree_id__in=never).exclude(
        presence__in=[Look.Presence.NEVER_PLANTED, Look.Presence.NOT_SEEN]
    )
    return never - set(others.values_list("tree_id", flat=True))


def _keys(trees: list[dict]) -> dict[str, list[str]]:
    suppliers = {name: supplier_key(name) for name in {t["planting__supplier"] for t in trees}}
    return {
        "planting": [tree["planting__ref"] for tree in trees],
        "species": [tree["species"] for tree in trees],
        "site": [tree["site__ref"] for tree in trees],
        "year": [str(tree["planted_from"].year) for tree in trees],
        "supplier": [suppliers[tree["planting__supplier"]] for tree in trees],
        "town": ["all"] * len(trees),
    }


def _labels(area: Area, trees: list[dict], keys: dict[str, list[str]]) -> dict[str, dict[str, str]]:
    """What people call the groups, as `keys.label_of` would say it of each."""
    suppliers: dict[str, str] = {}
    for name in sorted({tree["planting__supplier"] for tree in trees}):
        suppliers.setdefault(supplier_key(name), name)
    return {
        "planting": {tree["planting__ref"]: tree["planting__name"] for tree in trees},
        "species": {code: str(kind.name) for code, kind in kinds_in(area).items()},
        "site": {tree["site__ref"]: tree["site__name"] for tree in trees},
        "year": {},
        "supplier": suppliers,
        "town": {"all": area.name},
    }


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


def _die(ref: str) -> int:
    """A number of the tree's own, from its short name."""
    return int.from_bytes(sha256(ref.encode()).digest()[:8], "big")


def _whole(values) -> Whole:
    return np.array(list(values), dtype=np.int64)
