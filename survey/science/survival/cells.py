"""Where an interval-censored, left-truncated sample can tell deaths apart: its cells."""

import math
from dataclasses import dataclass

import numpy as np

from survey.science.records import Floats, Spells, Truths, Whole


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The cells, and where each distinct spell stands among them.

    A cell is a left end followed at once by a right end. **An entry age is a right end too**: a
    tree that entered at T says nothing against deaths up to T, so mass may have to sit just before
    T (Frydman 1994 J. R. Stat. Soc. B 56:71; Alioum & Commenges 1996 Biometrics 52:512). Left out,
    the fit is wrong, not merely coarse. Within a cell the data cannot say when deaths fell.

    `ends` are the sorted distinct ends as codes: three to an age, for "exactly here" opening,
    "up to and including here" closing, "after here" opening. Cell j runs from `ends[opens[j]]` to
    `ends[opens[j] + 1]`.
    """

    ends: Whole
    ages: Floats  # age of each end
    opens: Whole  # (cells,) position in `ends` where each cell opens
    first: Whole  # (spells,) first cell the event may lie in
    last: Whole  # (spells,) last such cell
    start: Whole  # (spells,) first cell after the entry
    left_end: Whole  # (spells,) position of each spell's left end in `ends`
    right_end: Whole
    entry_end: Whole  # -1: under watch from before age 0

    @property
    def left(self) -> Floats:
        """Age at which each cell opens."""
        return self.ages[self.opens]

    @property
    def right(self) -> Floats:
        """Age at which each cell closes; inf for the last, when trees were still alive."""
        return self.ages[self.opens + 1]

    @property
    def is_opening(self) -> Truths:
        """For each end, whether it is a left end."""
        return np.asarray(self.ends % 3 != 1)

    def __len__(self) -> int:
        return len(self.opens)


def cells_of(spells: Spells) -> Cells:
    """The innermost intervals of the sample, in order of age."""
    has_entry = np.isfinite(spells.entry)
    entries = spells.entry[has_entry]
    values = np.unique(np.concatenate([spells.left, spells.right, entries]))
    left_code = 3 * np.searchsorted(values, spells.left) + np.where(spells.is_exact, 0, 2)
    right_code = 3 * np.searchsorted(values, spells.right) + 1
    entry_code = np.full(len(spells.entry), -1)
    entry_code[has_entry] = 3 * np.searchsorted(values, entries) + 1
    present = np.zeros(3 * len(values), dtype=bool)
    for code in (left_code, right_code, entry_code[has_entry]):
        present[code] = True
    ends = np.flatnonzero(present)
    opening = ends % 3 != 1
    opens = np.flatnonzero(opening[:-1] & ~opening[1:])
    # codes are few, so places are looked up in tables of counts, not searched for
    place = _counted_below(ends, len(present))
    begun = _counted_below(ends[opens], len(present))
    closed = _counted_below(ends[opens + 1], len(present))
    return Cells(
        ends=ends,
        ages=values[ends // 3],
        opens=opens,
        first=begun[left_code],
        last=closed[right_code + 1] - 1,
        start=begun[entry_code + 1],
        left_end=place[left_code],
        right_end=place[right_code],
        entry_end=np.where(has_entry, place[entry_code], -1),
    )


def runs_among(cells: Cells, left: Floats, right: Floats) -> tuple[Whole, Whole]:
    """The first and last cell in which an event in (`left`, `right`] may lie.

    For ages that are ends of the sample of which these are the cells.
    """
    values = np.unique(cells.ages)
    left_code = 3 * np.searchsorted(values, left) + np.where(left == right, 0, 2)
    right_code = 3 * np.searchsorted(values, right) + 1
    begin, close = cells.ends[cells.opens], cells.ends[cells.opens + 1]
    first = np.searchsorted(begin, left_code, side="left")
    return first, np.searchsorted(close, right_code, side="right") - 1


def _counted_below(codes: Whole, size: int) -> Whole:
    """For each number from 0 to `size` how many of the codes lie below it."""
    below = np.zeros(size + 1, dtype=np.int64)
    below[codes + 1] = 1
    return np.cumsum(below)


def gone_by(age: float, left: Floats, right: Floats, given: float | None) -> tuple[Truths, Truths]:
    """Which cells' deaths have possibly, and which have surely, fallen in (`given`, `age`].

    A cell that `given` or `age` cuts is possibly within and not surely.
    """
    since = -math.inf if given is None else given
    surely = (right <= age) & ((left >= since) & (right > since))
    possibly = ((left < age) | (right <= age)) & (right > since)
    return possibly, surely
