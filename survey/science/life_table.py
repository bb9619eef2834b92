"""Survival from deaths counted by class of age: the actuarial life table."""

import math
from collections.abc import Sequence
from dataclasses import dataclass


class BadLifeTable(ValueError):
    """Columns that differ in length, negative counts, or more gone than there were."""


@dataclass(frozen=True, slots=True)
class LifeTableRow:
    """One class of age; `survival` and its error are those at the end of the class."""

    entering: int
    withdrawn: int
    deaths: int
    exposed: float
    mortality: float
    survival: float
    std_error: float


def life_table(
    entering: int, deaths: Sequence[int], withdrawn: Sequence[int]
) -> list[LifeTableRow]:
    """The classical table: those withdrawn in a class count as exposed for half of it.

    n' = n - w / 2, q = d / n'; standard error by Greenwood (1926). As in Lee (1992), Statistical
    Methods for Survival Data Analysis, chapter 4. The table ends with the class that empties it.
    """
    if len(deaths) != len(withdrawn):
        raise BadLifeTable("Deaths and withdrawals are given for different numbers of classes.")
    if entering < 0 or any(count < 0 for count in (*deaths, *withdrawn)):
        raise BadLifeTable("A count of trees cannot be below 0.")
    rows: list[LifeTableRow] = []
    present, survival, variance = entering, 1.0, 0.0
    for dead, gone in zip(deaths, withdrawn, strict=True):
        if dead + gone > present:
            raise BadLifeTable(f"{dead} died and {gone} withdrew of {present} present.")
        if present == 0:
            break
        exposed = present - gone / 2
        mortality = dead / exposed
        survival *= 1 - mortality
        if dead < exposed:
            variance += dead / (exposed * (exposed - dead))
        rows.append(
            LifeTableRow(
                entering=present,
                withdrawn=gone,
                deaths=dead,
                exposed=exposed,
                mortality=mortality,
                survival=survival,
                std_error=survival * math.sqrt(variance),
            )
        )
        present -= dead + gone
    return rows
