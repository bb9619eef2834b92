"""What is known of each tree's life, as intervals of age: the input of every estimator here.

Ages are months since planting. An event (death, loss) lies in the half-open interval
``(left, right]``; ``right = inf`` says the tree was alive when last seen at ``left``;
``left == right`` says the event fell exactly there. A tree with an ``entry`` could only be
counted because its event came after ``entry`` (delayed entry, or left truncation); ``None`` says it
was under watch from before age 0, so even an event at age 0 would have been seen.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, Self, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats: TypeAlias = NDArray[np.float64]
Whole: TypeAlias = NDArray[np.int64]
Truths: TypeAlias = NDArray[np.bool_]

_WHOLE_AGES = 1 << 17  # three ages below this make a whole number that a float holds exactly
_AT_ONCE = 32_768  # rows that fit a processor's own memory


class BadSpell(ValueError):
    """A spell that no life can have. The subclasses say what is wrong."""


class AgeNotANumber(BadSpell):
    """An age is missing, not a number, infinite where it must be known, or negative."""


class IntervalBackwards(BadSpell):
    """The left end lies after the right end."""


class EntryTooLate(BadSpell):
    """The tree came under watch after it was last known alive, or at or after its event."""


class BadCount(BadSpell):
    """A count of trees is not a positive whole number, or the columns differ in length."""


@dataclass(frozen=True, slots=True)
class Spell:
    """One tree: under watch from `entry`, its event in (`left`, `right`]. Ages in months."""

    entry: float | None
    left: float
    right: float

    def __post_init__(self) -> None:
        entry = -math.inf if self.entry is None else float(self.entry)
        if self.entry is not None and not math.isfinite(entry):
            raise AgeNotANumber(f"The entry age {self.entry!r} is not a finite number.")
        refuse_impossible(np.array([entry]), np.array([self.left]), np.array([self.right]))

    @property
    def is_censored(self) -> bool:
        """Whether the tree was still alive when last seen."""
        return self.right == math.inf

    @property
    def is_exact(self) -> bool:
        """Whether the age at the event is known exactly."""
        return self.left == self.right


@dataclass(frozen=True, slots=True, eq=False)
class Spells:
    """Many trees as columns: the distinct spells, sorted, with how many trees share each.

    Sorting and counting make every answer independent of the order in which the trees came,
    and make 100,000 trees as cheap as their few thousand distinct histories.
    """

    entry: Floats  # -inf: under watch from before age 0
    left: Floats
    right: Floats
    count: Whole

    @classmethod
    def of(cls, spells: "Iterable[Spell] | Spells") -> "Spells":
        """Collect spells; columns that are collected already are returned as they are."""
        if isinstance(spells, Spells):
            return spells
        rows = list(spells)
        return cls.from_columns(
            entry=[-math.inf if spell.entry is None else spell.entry for spell in rows],
            left=[spell.left for spell in rows],
            right=[spell.right for spell in rows],
        )

    @classmethod
    def from_columns(
        cls, *, entry: ArrayLike, left: ArrayLike, right: ArrayLike, count: ArrayLike | None = None
    ) -> Self:
        """Collect columns of equal length; an entry of -inf says "watched from before age 0".

        Raises a `BadSpell` that names the first row (from 0) that cannot be.
        """
        entries, lefts, rights = (
            np.atleast_1d(np.asarray(column, dtype=np.float64)) for column in (entry, left, right)
        )
        counts = None if count is None else whole_counts(count)
        sizes = {column.shape for column in (entries, lefts, rights, counts) if column is not None}
        if len(sizes) > 1 or lefts.ndim != 1:
            raise BadCount("The columns of spells differ in length.")
        if not len(lefts):
            return cls(entry=entries, left=lefts, right=rights, count=np.zeros(0, dtype=np.int64))
        columns = _collected_whole(entries, lefts, rights, counts)
        if columns is None:
            refuse_impossible(entries, lefts, rights)
            columns = _collected(entries, lefts, rights, counts)
        return cls(*columns)

    @property
    def trees(self) -> int:
        """How many trees there are in all."""
        return int(self.count.sum())

    @property
    def is_exact(self) -> Truths:
        """For each distinct spell, whether the age at the event is known exactly."""
        return np.asarray(self.left == self.right)

    @property
    def is_censored(self) -> Truths:
        """For each distinct spell, whether the tree was alive when last seen."""
        return np.asarray(np.isinf(self.right))

    @property
    def deaths(self) -> int:
        """How many trees had the event."""
        return int(self.count[~self.is_censored].sum())

    def at_risk(self, age: float) -> int:
        """Trees under watch and known alive just before `age`: entry < age <= last known alive.

        On exact and right-censored spells this is the risk set of the product limit. A tree whose
        death lies in (6, 12] counts up to 6 and no further, so the number errs on the low side.
        """
        return int(self.count[(self.entry < age) & (age <= self.left)].sum())

    def at_risk_at(self, ages: Floats, *, after: bool = False) -> Whole:
        """`at_risk` for many ages; with `after`, just after each of them instead of just before."""
        side: Literal["left", "right"] = "right" if after else "left"
        answers = []
        for when in (self.entry, self.left):
            order = np.argsort(when, kind="stable")
            so_far = np.concatenate([[0], np.cumsum(self.count[order])])
            answers.append(so_far[np.searchsorted(when[order], ages, side=side)])
        return np.asarray(answers[0] - answers[1], dtype=np.int64)

    def watched_from(self, age: float | None) -> int:
        """Trees under watch and known alive at `age` of which something later is known.

        `None` asks for the trees under watch from before age 0.
        """
        if age is None:
            return int(self.count[np.isneginf(self.entry)].sum())
        later = np.where(self.is_censored | self.is_exact, self.left > age, self.left >= age)
        return int(self.count[(self.entry <= age) & later].sum())


_Columns: TypeAlias = tuple[Floats, Floats, Floats, Whole]


def _collected(entry: Floats, left: Floats, right: Floats, count: Whole | None) -> _Columns:
    """The distinct rows in order, and how many trees share each."""
    key = np.zeros(len(left), dtype=np.int64)
    levels = []
    for column in (entry, left, right):
        values, index = np.unique(column, return_inverse=True)
        levels.append(values)
        # three columns of up to 2 million distinct ages each still fit 63 bits
        key = key * len(values) + index
    distinct, where = np.unique(key, return_inverse=True)
    shared = np.bincount(where, weights=count, minlength=len(distinct)).astype(np.int64)
    rest, at_right = np.divmod(distinct, len(levels[2]))
    at_entry, at_left = np.divmod(rest, len(levels[1]))
    return levels[0][at_entry], levels[1][at_left], levels[2][at_right], shared


def _collected_whole(
    entry: Floats, left: Floats, right: Floats, count: Whole | None
) -> _Columns | None:
    """The same for ages in whole days or months, many times faster; `None` for other ages.

    Also `None` for rows that must be refused. The three ages of a row make one whole number, so
    that rows need no search: they are counted where that number is small, and otherwise sorted
    once.
    """
    never = float(left.max()) + 1
    if never < _WHOLE_AGES and not (right.max() < never):
        never = max(never, float(np.where(right < np.inf, right, 0.0).max()) + 1)
    if not never < _WHOLE_AGES:
        return None
    key = np.empty(len(left), dtype=np.int64)
    for begin in range(0, len(left), _AT_ONCE):
        rows = slice(begin, begin + _AT_ONCE)
        number = _one_number(entry[rows], left[rows], right[rows], never)
        if number is None:
            return None
        key[rows] = number
    most = int(key.max()) + 1
    if most <= 4 * len(key) + 100_000:
        trees = np.bincount(key, weights=count, minlength=most)
        distinct = np.flatnonzero(trees)
        shared = trees[distinct].astype(np.int64)
    elif count is None:
        key.sort()
        begins = np.flatnonzero(np.concatenate([[True], key[1:] != key[:-1]]))
        distinct, shared = key[begins], np.diff(np.append(begins, len(key)))
    else:
        order = np.argsort(key, kind="stable")
        key = key[order]
        begins = np.flatnonzero(np.concatenate([[True], key[1:] != key[:-1]]))
        distinct, shared = key[begins], np.add.reduceat(count[order], begins)
    base = int(never) + 1
    rest = distinct // base
    at_right = distinct - rest * base
    at_entry = rest // base
    at_left = rest - at_entry * base
    return (
        np.where(at_entry == 0, -np.inf, at_entry - 1.0),
        at_left.astype(np.float64),
        np.where(at_right == base - 1, np.inf, at_right),
        shared,
    )


def _one_number(entry: Floats, left: Floats, right: Floats, never: float) -> Floats | None:
    """The three ages of each row as one whole number in their order; `None` if a row is not so."""
    sound = (left >= 0) & (np.floor(left) == left) & (np.floor(right) == right) & (left <= right)
    late = entry.max() > -np.inf
    if late:
        sound &= (entry <= left) & (entry < right) & (np.floor(entry) == entry)
        sound &= (entry >= 0) | np.isneginf(entry)
    if not sound.all() or np.isnan(entry).any():
        return None
    number = left * (never + 1) + np.minimum(right, never)
    if late:
        number += (np.maximum(entry, -1.0) + 1.0) * (never + 1) ** 2
    return np.asarray(number)


def whole_counts(count: ArrayLike) -> Whole:
    """How many trees each row stands for. Raises `BadCount` unless whole and at least 1."""
    given = np.atleast_1d(np.asarray(count, dtype=np.float64))
    if given.size and not (np.isfinite(given) & (given >= 1) & (given == np.floor(given))).all():
        raise BadCount("Every count of trees must be a whole number of at least 1.")
    return given.astype(np.int64)


def refuse_impossible(entry: Floats, left: Floats, right: Floats) -> None:
    """Raise the `BadSpell` that says what is wrong with the first row no life can have."""

    def first(bad: Truths) -> str:
        row = int(np.flatnonzero(bad)[0])
        return f"row {row}: entry {entry[row]}, left {left[row]}, right {right[row]}"

    unknown = np.isnan(entry) | np.isposinf(entry) | ~np.isfinite(left) | np.isnan(right)
    negative = (np.isfinite(entry) & (entry < 0)) | (left < 0) | (right < 0)
    if (bad := unknown | negative).any():
        raise AgeNotANumber(f"Ages must be known numbers, not below 0 ({first(bad)}).")
    if (bad := left > right).any():
        raise IntervalBackwards(f"The left end lies after the right end ({first(bad)}).")
    if (bad := (entry > left) | (entry >= right)).any():
        raise EntryTooLate(f"The tree came under watch too late to count ({first(bad)}).")
