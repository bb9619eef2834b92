"""What findings are weighed from: trees that were looked at, one row a tree."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from survey.science.records import Truths, Whole

Axis = Literal["site", "planting", "supplier", "species"]
AXES: tuple[Axis, ...] = ("site", "supplier", "planting", "species")
"""In the order in which one is kept where two tell the same story."""

Rival = Literal["site", "planting", "supplier", "site_and_planting"]
UNKNOWN = -1


class BadRows(ValueError):
    """The columns of a record are not of one length."""


@dataclass(frozen=True, eq=False)
class Seen:
    """One sign over trees that somebody looked at who would have noted it.

    A tree counts once, by one look, so that a tree looked at often is no likelier to show a sign.
    `has` says whether that look noted it. The axes hold codes from 0; UNKNOWN where nobody wrote
    it down. Trees are compared within their `round` only: looks of one round are alike in season.
    `came_whole` and `came_marked` say what the look at delivery or planting found, and are both
    false where nobody looked or the sign is none that such a look settles. `axes` are those that
    are asked about: soil has no nursery.
    """

    has: Truths
    site: Whole
    planting: Whole
    supplier: Whole
    species: Whole
    round: Whole
    came_whole: Truths
    came_marked: Truths
    axes: tuple[Axis, ...] = AXES

    def __post_init__(self) -> None:
        rest = (self.has, self.round, self.came_whole, self.came_marked)
        if len({len(column) for column in (*rest, *map(self.on, AXES))}) > 1:
            raise BadRows("Every tree needs one value in each column.")

    def on(self, axis: Axis | Rival) -> Whole:
        if axis == "site_and_planting":
            return paired(self.site, self.planting)
        column: Whole = getattr(self, axis)
        return column

    def rows(self, chosen: Truths) -> "Seen":
        """The chosen trees alone."""
        return Seen(
            self.has[chosen],
            self.site[chosen],
            self.planting[chosen],
            self.supplier[chosen],
            self.species[chosen],
            self.round[chosen],
            self.came_whole[chosen],
            self.came_marked[chosen],
            self.axes,
        )


def paired(*columns: Whole) -> Whole:
    """One code from 0 for each combination of values that occurs."""
    code: npt.NDArray[np.int64] = np.zeros(len(columns[0]), dtype=np.int64)
    for column in columns:
        _values, place = np.unique(column, return_inverse=True)
        code = code * (int(place.max(initial=0)) + 1) + place
        _values, code = np.unique(code, return_inverse=True)
    return code
