"""The counts behind a finding, as its page tells them: plain numbers and names of codes, as JSON.

No sentence is kept, only what sentences are made from, so that a page speaks the reader's language.
"""

import math
from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from survey.causes.seen_signs import AWAY, HIDDEN, MARKED, ROUND, STREET, WHOLE, Noted
from survey.science.findings.attribution import Contrast, Held
from survey.science.findings.onsets import NEVER, Watch, sides_of
from survey.science.findings.records import UNKNOWN, Axis
from survey.science.findings.sides import gathered
from survey.science.proportions import clopper_pearson
from survey.science.records import Truths, Whole

MOST_PLACES = 12
MOST_LOADS = 6
SEED = 20260616

Facts = dict[str, Any]


@dataclass(frozen=True, eq=False)
class Counted:
    """One sign of a run: the looks by which trees count, and which of those trees are called ones.

    `rows` are looks of trees that count; `called` of trees that somebody wrote about first.
    """

    sign: str
    noted: Truths
    rows: Whole
    called: Whole


def counted(record: Noted, sign: str) -> Counted:
    rows = record.newest(sign)
    called = record.trees.called[record.tree[rows]]
    return Counted(sign, record.on(sign), rows[~called], rows[called])


def share(with_sign: int, of: int) -> Facts:
    """So many of so many, with exact limits of the share."""
    limits = clopper_pearson(with_sign, of)
    return {
        "with": with_sign,
        "of": of,
        "low": round(limits.low, 4),
        "high": round(limits.high, 4),
    }


def told(contrast: Contrast) -> Facts:
    table = contrast.table
    return {
        "here": [table.here, table.of_here],
        "there": [table.there, table.of_there],
        "strata": contrast.strata,
        "p": contrast.p,
        "verdict": contrast.verdict,
        "ratio": [_finite(n) for n in (contrast.odds.ratio, contrast.odds.low, contrast.odds.high)],
    }


def held_up(held: Held) -> Facts:
    return {
        "axis": held.axis,
        "standing": held.standing,
        "within": told(held.within),
        "rival": told(held.rival),
    }


def _finite(value: float) -> float | None:
    """JSON knows no endless number: None stands for one, and for none at all."""
    return round(value, 4) if math.isfinite(value) else None


def of_group(record: Noted, sign: Counted, group: Truths) -> Facts:
    """What is told of the trees of one group; `group` is by row of the register."""
    trees = record.trees
    mine = sign.rows[group[record.tree[sign.rows]]]
    with_sign = mine[sign.noted[mine]]
    owners = record.tree[with_sign]
    called = sign.called[group[record.tree[sign.called]]]
    # who noted it at all: one pair of eyes is one way of looking
    seers = np.unique(record.observer[with_sign])
    accepted = trees.accepted[owners]
    return {
        "looked_since": _day(int(record.day[sign.rows].min())) if len(sign.rows) else None,
        "looked_until": _day(int(record.day[sign.rows].max())) if len(sign.rows) else None,
        "looked_at": len(sign.rows),
        "observers": len(seers),
        "called": [int(sign.noted[called].sum()), len(called)],
        "came": {
            "whole": int((accepted == WHOLE).sum()),
            "marked": int((accepted == MARKED).sum()),
            "hidden": int((accepted == HIDDEN).sum()),
            "of": len(owners),
        },
        "sides": _sides(record, sign, with_sign),
        "first_seen": _first_seen(record, sign, owners),
    }


def _sides(record: Noted, sign: Counted, rows: Whole) -> Facts:
    side = record.side_on(sign.sign)[rows]
    found: Facts = {
        "street": int((side == STREET).sum()),
        "away": int((side == AWAY).sum()),
        "round": int((side == ROUND).sum()),
    }
    bearing = record.trees.bearing[record.tree[rows]]
    measured = [
        (bearing[i] + 30 * record.hours[int(row)]) % 360
        for i, row in enumerate(rows)
        if sign.sign == "bark_wound" and int(row) in record.hours and not np.isnan(bearing[i])
    ]
    compass = gathered(np.array(measured, dtype=np.float64), seed=SEED)
    if compass.verdict != "too_few":
        found["compass"] = {
            "number": compass.number,
            "mean": round(compass.mean),
            "p": compass.p,
            "verdict": compass.verdict,
        }
    return found


def _first_seen(record: Noted, sign: Counted, owners: Whole) -> Facts:
    """First *seen*, which is not when it happened: months, and the looks before that saw none."""
    first = record.first_noted(sign.noted)[owners]
    if not len(first) or (first == NEVER).all():
        return {"months": {}, "on": None, "clean_until": None, "at_first_look": 0}
    earliest = int(first.min())
    mine = np.zeros(len(record.trees.pk), dtype=bool)
    mine[owners] = True
    before = record.day[mine[record.tree] & ~sign.noted & (record.day < earliest)]
    start = np.full(len(record.trees.pk), np.iinfo(np.int64).max)
    np.minimum.at(start, record.tree, record.day)
    months = Counter(_day(int(day))[:7] for day in first)
    return {
        "months": dict(sorted(months.items())),
        "on": _day(earliest),
        "clean_until": _day(int(before.max())) if len(before) else None,
        "at_first_look": int((first == start[owners]).sum()),
    }


def onsets_told(watch: Watch, now: Truths, day: int) -> Facts:
    """How many trees began before a day, around it and after it. `now` says which rows of the watch
    show the sign on the look they count by: these are the finding's own trees.

    `once` are trees that showed it on an earlier look and do not on that one. They began as the
    others did, so the chance counts them, but they are none of the trees that a finding names.
    """
    before, straddling, after = sides_of(watch, day)
    return {
        "before": int((before & now).sum()),
        "straddling": int((straddling & now).sum()),
        "after": int((after & now).sum()),
        "once": int((watch.seen != NEVER)[~now].sum()),
    }


def by_level(record: Noted, sign: Counted, axis: Axis, level: int) -> list[Facts]:
    """Shares of all groups of one kind, the finding's own first, then the largest shares.

    `code` is a primary key (site, planting), a supplier's name or a species.
    """
    tree = record.tree[sign.rows]
    column = _column(record, axis)[tree]
    has = sign.noted[sign.rows]
    levels = [int(n) for n in np.unique(column) if n != UNKNOWN]
    rows = [
        {"code": _code(record, axis, n), "own": n == level}
        | share(int(has[column == n].sum()), int((column == n).sum()))
        for n in (levels if len(levels) <= 400 else _likeliest(column, has, level))
    ]
    rows.sort(key=lambda row: (not row["own"], -row["with"] / max(row["of"], 1), -row["of"]))
    return rows[:MOST_PLACES]


def _likeliest(column: Whole, has: Truths, level: int) -> list[int]:
    """Of very many groups those with most signs, and the finding's own."""
    levels, count = np.unique(column[has & (column != UNKNOWN)], return_counts=True)
    most = levels[np.argsort(-count, kind="stable")][: 4 * MOST_PLACES]
    return sorted({level, *(int(n) for n in most)})


def same_load(record: Noted, sign: Counted, group: Truths) -> list[Facts]:
    """For a place: trees of one species from one supplier, here and elsewhere."""
    tree = record.tree[sign.rows]
    has = sign.noted[sign.rows]
    here = group[tree]
    supplier, species = record.trees.supplier[tree], record.trees.species[tree]
    pairs = Counter(zip(supplier[here].tolist(), species[here].tolist(), strict=True))
    out = []
    for (from_whom, kind), _number in pairs.most_common(MOST_LOADS):
        mine = (supplier == from_whom) & (species == kind)
        out.append(
            {
                "supplier": "" if from_whom == UNKNOWN else record.trees.suppliers[from_whom],
                "species": record.trees.kinds[kind],
                "here": [int((has & mine & here).sum()), int((mine & here).sum())],
                "there": [int((has & mine & ~here).sum()), int((mine & ~here).sum())],
            }
        )
    return out


def same_places(record: Noted, sign: Counted, group: Truths) -> list[Facts]:
    """For a load or a kind: its trees and all others, site by site where it stands."""
    tree = record.tree[sign.rows]
    has = sign.noted[sign.rows]
    mine = group[tree]
    site = record.trees.site[tree]
    places = Counter(site[mine].tolist())
    return [
        {
            "site": place,
            "here": [int((has & mine & (site == place)).sum()), number],
            "there": [
                int((has & ~mine & (site == place)).sum()),
                int((~mine & (site == place)).sum()),
            ],
        }
        for place, number in places.most_common(MOST_LOADS)
    ]


def _column(record: Noted, axis: Axis) -> Whole:
    column: Whole = getattr(record.trees, axis)
    return column


def _code(record: Noted, axis: Axis, level: int) -> int | str:
    if axis == "supplier":
        return record.trees.suppliers[level]
    if axis == "species":
        return record.trees.kinds[level]
    return level


def _day(ordinal: int) -> str:
    return date.fromordinal(ordinal).isoformat()
