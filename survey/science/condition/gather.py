"""From single looks in order of time to the columns that the condition model reads."""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace

import numpy as np

from survey.science.condition.records import (
    GONE,
    LEAF,
    NOT_SAID,
    SCRATCH,
    STATES,
    Looks,
    Truths,
)
from survey.science.records import Whole


@dataclass(frozen=True, slots=True)
class LookRow:
    """One look: words as people chose them, "" for what was not said."""

    tree: int
    month: int
    observer: int
    label: str
    scratch: str = ""
    leaf: str = ""
    signs: int = NOT_SAID
    leaf_off: bool = False
    complaint: bool = False
    sure: bool = False


def looks_of(rows: Iterable[LookRow]) -> Looks:
    """Looks as columns, one for each tree, month and observer. Give the rows in order of time."""
    said = [
        (
            row.tree,
            row.month,
            row.observer,
            STATES.index(row.label) if row.label else NOT_SAID,
            SCRATCH.index(row.scratch),
            LEAF.index(row.leaf),
            row.signs,
            row.leaf_off,
            row.complaint,
            row.sure,
        )
        for row in rows
    ]
    columns = np.array(said, dtype=np.int64).reshape(-1, 10).T
    whole, truths = columns[:7], columns[7:].astype(bool)
    return joined(Looks(*whole, *truths))[0]


def joined(looks: Looks) -> tuple[Looks, Whole]:
    """One look for each tree, month and observer, and for each look given the one it went into.

    Somebody who looked twice at a tree in one month is heard once, as they last spoke: what the
    last look left out (label, scratch test, leaf, signs) is taken from the one before. Looks come
    in order of time. What was laid down for sure is never joined with anything else.
    """
    order = np.lexsort((looks.sure, looks.observer, looks.month, looks.tree))
    sorted_ = Looks(*(getattr(looks, field.name)[order] for field in fields(Looks)))
    keys = (sorted_.tree, sorted_.month, sorted_.observer, sorted_.sure)
    begins = np.ones(looks.number, dtype=bool)
    begins[1:] = np.logical_or.reduce([key[1:] != key[:-1] for key in keys])
    starts = np.flatnonzero(begins)
    ends = np.append(starts[1:], looks.number)[: len(starts)] - 1
    heard = Looks(*(getattr(sorted_, field.name)[ends] for field in fields(Looks)))
    heard = replace(
        heard,
        label=_last_said(sorted_.label, sorted_.label != NOT_SAID, starts, ends),
        scratch=_last_said(sorted_.scratch, sorted_.scratch > 0, starts, ends),
        leaf=_last_said(sorted_.leaf, sorted_.leaf > 0, starts, ends),
        signs=_last_said(sorted_.signs, sorted_.signs != NOT_SAID, starts, ends),
        complaint=np.logical_or.reduceat(sorted_.complaint, starts)
        if len(starts)
        else sorted_.complaint,
    )
    gone = heard.label == GONE
    heard = replace(
        heard, scratch=np.where(gone, 0, heard.scratch), leaf=np.where(gone, 0, heard.leaf)
    )
    went = np.empty(looks.number, dtype=np.int64)
    went[order] = np.cumsum(begins) - 1
    return heard, went


def _last_said(column: Whole, said: Truths, starts: Whole, ends: Whole) -> Whole:
    """The last thing said from each start to each end; the last row's own where nothing was."""
    latest = np.maximum.accumulate(np.where(said, np.arange(len(column)), NOT_SAID))
    found = latest[ends]
    return np.where(found >= starts, column[np.maximum(found, 0)], column[ends])
