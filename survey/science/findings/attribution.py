"""What a sign follows: the place, the load it came in, or neither can be told from the other.

A group that shows a sign more often than all others (`crude`) may do so for the company it keeps.
So it is compared once more within the strata of a rival: a site within plantings, a planting within
sites. And the rival is put to the same test without the group: do trees of the same load show the
sign elsewhere, too?
"""

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

import numpy as np

from survey.science.findings.exact import Odds, Table, chances
from survey.science.findings.records import UNKNOWN, Axis, Rival, Seen, paired
from survey.science.records import Truths, Whole

LEAST = 5
"""Fewer trees than this on either side say nothing."""

TOO_OFTEN = 0.05

Verdict = Literal["persists", "vanishes", "too_few", "no_contrast"]
Standing = Literal["alone", "both", "open", "explained", "cannot_tell"]

RIVALS: dict[Axis, tuple[Rival, ...]] = {
    "site": ("planting", "supplier"),
    "planting": ("site",),
    "supplier": ("site",),
    "species": ("site_and_planting",),
}


@dataclass(frozen=True, slots=True)
class Contrast:
    """A group against the others inside strata, added up over those strata that can tell.

    `p` is the exact chance of so many in the group or more.
    """

    table: Table
    strata: int
    p: float
    odds: Odds
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Held:
    """A group held up to one rival.

    `within`: the group inside the strata of the rival. `rival`: trees outside the group, those
    with the group's own rivals (the same loads) against the others, inside strata of the
    group's kind where these hold both sorts.
    """

    axis: Rival
    within: Contrast
    rival: Contrast
    standing: Standing


def crude(seen: Seen, group: Truths) -> Contrast:
    """A group against all others, round by round."""
    return _contrast(seen.has, group, paired(seen.round), math.inf)


def hold_up(seen: Seen, axis: Axis, level: int, rival: Rival) -> Held:
    """Whether what a group shows stays when it is compared inside the strata of a rival.

    *alone*: it stays, and the rival shows nothing without it. *both*: it stays, and so does the
    rival. *open*: it stays, and too little is known of the rival. *explained*: it vanishes.
    *cannot_tell*: the two never stand apart, or too few trees do.

    What is not shown is not ruled out: a group is *explained* only where the limits within strata
    leave no room for the least that was found, a rival cleared only where they leave none for as
    much as was found.
    """
    group = seen.on(axis) == level
    whole = crude(seen, group)
    found = _plain_ratio(whole.table)
    known = seen.on(rival) != UNKNOWN
    inside = seen.rows(known)
    within = _contrast(
        inside.has, group[known], paired(inside.on(rival), inside.round), whole.odds.low
    )
    others = seen.rows(~group & known & (seen.on(axis) != UNKNOWN))
    same = np.isin(others.on(rival), np.unique(seen.on(rival)[group & known]))
    again = _contrast(others.has, same, paired(others.on(axis), others.round), found)
    if again.verdict == "no_contrast":  # the strata hold one sort each: then without them
        again = _contrast(others.has, same, paired(others.round), found)
    # where every tree elsewhere is of the same loads, the loads differ from nothing
    cleared = again.verdict == "vanishes" or (len(same) >= LEAST and bool(same.all()))
    return Held(rival, within, again, _standing(within, again, cleared))


def _standing(within: Contrast, rival: Contrast, cleared: bool) -> Standing:
    if within.verdict == "vanishes":
        return "explained"
    if within.verdict != "persists":
        return "cannot_tell"
    if rival.verdict == "persists":
        return "both"
    return "alone" if cleared else "open"


def hangs_on_one_place(seen: Seen, axis: Axis, level: int) -> bool:
    """Whether what a load or a kind shows is that of one site: then it is no matter of the load or
    kind as a whole, and the site tells it.

    A load is asked again without the site with most of its signs. It hangs on that site where the
    rest has five trees or more and either none of them with the sign, or the limits leave no room
    for the least that was found. A kind stands at many sites for other reasons than itself, so
    more is asked of it: compared with other kinds within each site, it has to show the sign more
    often also without the site where it does so most. Too few trees are not enough there.
    """
    group = seen.on(axis) == level
    if axis == "species":
        return _hangs_within(seen, group)
    sites, place = np.unique(seen.site, return_inverse=True)
    most = sites[int(np.argmax(np.bincount(place[seen.has & group], minlength=len(sites))))]
    rest = seen.rows(seen.site != most)
    mine = rest.on(axis) == level
    if int(mine.sum()) < LEAST:
        return False
    if not (rest.has & mine).any():
        return True
    bar = _plain_ratio(crude(seen, group).table)
    return _contrast(rest.has, mine, paired(rest.round), bar).verdict == "vanishes"


def _hangs_within(seen: Seen, group: Truths) -> bool:
    """The same for a kind, compared within sites: without the one with most beyond its due."""
    stratum = paired(seen.site, seen.round)
    share = np.bincount(stratum, weights=seen.has) / np.bincount(stratum)
    _sites, place = np.unique(seen.site, return_inverse=True)
    beyond = np.bincount(place, weights=np.where(group, seen.has - share[stratum], 0.0))
    left = place != int(np.argmax(beyond))
    within = _contrast(seen.has[left], group[left], stratum[left], math.inf)
    return within.verdict != "persists"


def weakest(standings: Collection[Standing]) -> Standing:
    """What can be said after several rivals: no more than each of them leaves."""
    order: tuple[Standing, ...] = ("explained", "cannot_tell", "both", "open", "alone")
    return min(standings, key=order.index)


def _contrast(has: Truths, group: Truths, stratum: Whole, bar: float) -> Contrast:
    tables = _tables(has, group, stratum)
    # a stratum that holds only one side tells nothing, and neither do its counts
    apart = [table for table in tables if table.of_here and table.of_there]
    added = Table(
        sum(table.here for table in apart),
        sum(table.of_here for table in apart),
        sum(table.there for table in apart),
        sum(table.of_there for table in apart),
    )
    if not apart:
        return Contrast(added, 0, 1.0, Odds(math.nan, 0.0, math.inf), "no_contrast")
    known = chances(apart)
    odds = known.odds()
    p = known.at_least
    few = min(added.of_here, added.of_there) < LEAST
    verdict: Verdict
    if few:
        verdict = "too_few"
    elif p <= TOO_OFTEN:
        verdict = "persists"
    else:
        # not finding a difference shows little; leaving no room for one does
        verdict = "vanishes" if odds.high < bar else "too_few"
    return Contrast(added, len(apart), p, odds, verdict)


def _tables(has: Truths, group: Truths, stratum: Whole) -> list[Table]:
    if not len(has):
        return []
    many = int(stratum.max()) + 1

    def count(rows: Truths) -> list[int]:
        return [int(n) for n in np.bincount(stratum[rows], minlength=many)]

    columns = zip(count(has & group), count(group), count(has & ~group), count(~group), strict=True)
    return [Table(*column) for column in columns]


def _plain_ratio(table: Table) -> float:
    """The odds ratio with a half added to every cell, so that it is always a number.

    Haldane 1956 Ann. Hum. Genet. 20:309-311; Anscombe 1956 Biometrika 43:461-464.
    """
    a, b = table.here + 0.5, table.of_here - table.here + 0.5
    c, d = table.there + 0.5, table.of_there - table.there + 0.5
    return a * d / (b * c)
