"""What goes into the condition model: trees, looks, care and logged removals, by whole month.

A month is a whole number, year times 12 plus month minus 1, so that `month % 12` is 0 in January.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from survey.science.records import Whole

STATES = ("thriving", "holding", "slipping", "failing", "dead", "gone")
"""The hidden states, and what a look can say. `dead` is standing dead; `gone` is no tree there."""

THRIVING, HOLDING, SLIPPING, FAILING, DEAD, GONE = range(6)
LOST = (DEAD, GONE)

KINDS = ("resident", "volunteer", "staff")
SCRATCH = ("", "green", "brown")
LEAF = ("", "full", "partial", "bare")
NOT_SAID = -1

Truths = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Trees:
    """Trees as columns of one length. `first` is the month the tree was registered, `last` the
    month up to which it is believed about (both inclusive); places and cohorts are numbers from 0.
    """

    planted: Whole
    first: Whole
    last: Whole
    site: Whole
    cohort: Whole

    @property
    def number(self) -> int:
        return len(self.first)

    @property
    def is_from_planting(self) -> Truths:
        """Registered in the month of planting, when it was known to be alive."""
        return self.first <= self.planted


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """Looks as columns of one length, in order of tree and month.

    `label` is a place in STATES or NOT_SAID; `scratch` and `leaf` are places in SCRATCH and LEAF;
    `signs` is the number of signs listed, or NOT_SAID when nobody was asked for signs. `leaf_off`
    says whether the species may be bare in that month, `complaint` whether the look was made
    because somebody was worried. `sure` marks what an authorised person laid down with a reason.
    """

    tree: Whole
    month: Whole
    observer: Whole
    label: Whole
    scratch: Whole
    leaf: Whole
    signs: Whole
    leaf_off: Truths
    complaint: Truths
    sure: Truths

    @property
    def number(self) -> int:
        return len(self.tree)


@dataclass(frozen=True, eq=False)
class Evidence:
    """Everything the model reads of one town.

    `observers` holds the kind of each observer, a place in KINDS. `care` and `removals` are pairs
    of tree and month, two columns each: care given, and removals that somebody logged. `sites` and
    `cohorts` are how many there are. `south`: the warm half of the year is October to March.
    """

    trees: Trees
    looks: Looks
    observers: Whole
    care: Whole
    removals: Whole
    sites: int
    cohorts: int
    south: bool = False

    def __post_init__(self) -> None:
        trees, looks = self.trees, self.looks
        if (trees.last < trees.first).any():
            raise ValueError("A tree's last month comes before its first.")
        if looks.number:
            order = np.lexsort((looks.month, looks.tree))
            if (np.diff(order) < 0).any():
                raise ValueError("Looks must come in order of tree and month.")
            if looks.tree.max() >= trees.number or looks.observer.max() >= len(self.observers):
                raise ValueError("A look names a tree or an observer that is not there.")
            months = looks.month
            if ((months < trees.first[looks.tree]) | (months > trees.last[looks.tree])).any():
                raise ValueError("A look lies outside the months of its tree.")

    @cached_property
    def offsets(self) -> Whole:
        """Where each tree's months begin in arrays of all tree-months; one more for the end."""
        lengths = self.trees.last - self.trees.first + 1
        return np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)

    @property
    def tree_months(self) -> int:
        return int(self.offsets[-1])

    def of_trees(self, chosen: ArrayLike) -> Self:
        """The same town with only these trees (places, in rising order); observers stay."""
        which = np.asarray(chosen, dtype=np.int64)
        place = np.full(self.trees.number, NOT_SAID, dtype=np.int64)
        place[which] = np.arange(len(which))

        def pairs(rows: Whole) -> Whole:
            kept = rows[place[rows[:, 0]] >= 0]
            return np.column_stack([place[kept[:, 0]], kept[:, 1]])

        old, kept = self.looks, place[self.looks.tree] >= 0
        looks = Looks(
            place[old.tree[kept]],
            *(
                getattr(old, name)[kept]
                for name in (
                    "month",
                    "observer",
                    "label",
                    "scratch",
                    "leaf",
                    "signs",
                    "leaf_off",
                    "complaint",
                    "sure",
                )
            ),
        )
        trees = Trees(
            *(
                getattr(self.trees, name)[which]
                for name in ("planted", "first", "last", "site", "cohort")
            )
        )
        return type(self)(
            trees=trees,
            looks=looks,
            observers=self.observers,
            care=pairs(self.care),
            removals=pairs(self.removals),
            sites=self.sites,
            cohorts=self.cohorts,
            south=self.south,
        )


def no_pairs() -> Whole:
    """Care or removals of a town where none is on record."""
    return np.zeros((0, 2), dtype=np.int64)


__all__ = [
    "DEAD",
    "FAILING",
    "GONE",
    "HOLDING",
    "KINDS",
    "LEAF",
    "LOST",
    "NOT_SAID",
    "SCRATCH",
    "SLIPPING",
    "STATES",
    "THRIVING",
    "Evidence",
    "Looks",
    "Trees",
    "Truths",
    "no_pairs",
]
