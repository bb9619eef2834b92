"""From single looks in order of time to the columns that the condition model reads."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from survey.science.condition.records import GONE, LEAF, NOT_SAID, SCRATCH, STATES, Looks


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
    """Looks as columns, one for each tree, month and observer.

    Somebody who looked twice at a tree in one month is heard once, as they last spoke: what the
    last look left out (label, scratch test, leaf, signs) is taken from the one before. Give the
    rows in order of time. What was laid down for sure is never joined with anything else.
    """
    joined: dict[tuple[int, int, int, bool], list[int]] = {}
    for row in rows:
        key = (row.tree, row.month, row.observer, row.sure)
        said = [
            STATES.index(row.label) if row.label else NOT_SAID,
            SCRATCH.index(row.scratch),
            LEAF.index(row.leaf),
            row.signs,
            int(row.leaf_off),
            int(row.complaint),
        ]
        before = joined.get(key)
        if before is not None:
            for column, missing in ((0, NOT_SAID), (1, 0), (2, 0), (3, NOT_SAID)):
                if said[column] == missing:
                    said[column] = before[column]
            said[5] |= before[5]
        if said[0] == GONE:
            said[1] = said[2] = 0
        joined[key] = said
    order = sorted(joined)
    keys = np.array(order, dtype=np.int64).reshape(-1, 4)
    said_columns = np.array([joined[key] for key in order], dtype=np.int64).reshape(-1, 6)
    return Looks(
        tree=keys[:, 0],
        month=keys[:, 1],
        observer=keys[:, 2],
        label=said_columns[:, 0],
        scratch=said_columns[:, 1],
        leaf=said_columns[:, 2],
        signs=said_columns[:, 3],
        leaf_off=said_columns[:, 4].astype(bool),
        complaint=said_columns[:, 5].astype(bool),
        sure=keys[:, 3].astype(bool),
    )
