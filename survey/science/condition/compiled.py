"""The same passes over a town as in `chain` and `counts`, compiled by numba where it is installed.

Numba is an optional extra. It takes about a second to load and some more to compile for the first
time, so it is fetched when a town is large enough to be worth it, never when this module is.
"""

import importlib
import importlib.util
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from survey.science.condition import kernel
from survey.science.condition.counts import Counts, Passed
from survey.science.condition.laws import Law
from survey.science.condition.learnt import Learnt
from survey.science.condition.likelihood import FLOOR, Tables
from survey.science.condition.moves import factors
from survey.science.condition.prepared import Prepared
from survey.science.records import Floats

WORTH_IT = 1_000_000
"""Tree-months from which a compiler is used where there is one."""

PARTS = 16
"""The town is cut into so many parts, however many threads there are, so that sums are the same."""


def is_there() -> bool:
    """Whether numba is installed; it is not loaded to find out."""
    return importlib.util.find_spec("numba") is not None


def is_worth_it(tree_months: int) -> bool:
    return tree_months >= WORTH_IT and is_there()


@lru_cache(maxsize=1)
def pass_over() -> Callable[..., None]:
    """The compiled pass; what was compiled is kept on disk where that can be written."""
    numba: Any = importlib.import_module("numba")
    try:
        made = numba.njit(nogil=True, cache=True)(kernel.pass_over)
    except RuntimeError:  # no place to keep it
        made = numba.njit(nogil=True)(kernel.pass_over)
    return made  # type: ignore[no-any-return]


@dataclass(frozen=True, eq=False)
class PassedWithShares(Passed):
    """And, where asked for, what is believed of each tree-month."""

    log_likelihood: Floats
    filtered: Floats
    smoothed: Floats


def passed(
    prepared: Prepared,
    learnt: Learnt,
    tables: Tables,
    law: Law,
    *,
    with_shares: bool = False,
    threads: int = 1,
    run: Callable[..., None] | None = None,
) -> PassedWithShares:
    """One pass over the town; `run` None: the compiled one."""
    work = pass_over() if run is None else run
    trees = prepared.trees
    rows = int(prepared.offsets[-1]) if with_shares else 0
    fallen, expected, likelihood = np.empty(trees), np.empty(trees), np.empty(trees)
    filtered, smoothed = np.empty((rows, 6)), np.empty((rows, 6))
    care_from = np.searchsorted(prepared.care_at, _like(prepared.offsets, prepared.care_at))
    logged_from = np.searchsorted(prepared.logged_at, _like(prepared.offsets, prepared.logged_at))
    fall_worse, fall_death, rise = factors(learnt, law)
    given = _plain(
        prepared.offsets, prepared.first, prepared.age, prepared.site, prepared.cohort,
        prepared.later, prepared.look_at, prepared.look_code, prepared.look_observer,
        prepared.look_complaint, prepared.look_sure, prepared.looks_from, prepared.care_at,
        care_from, prepared.logged_at, logged_from, prepared.south,
        tables.signal, tables.rest, tables.word, tables.rho, tables.noise, tables.sure_trust,
        tables.sure_noise, np.exp(tables.silence).reshape(-1, 6), tables.exposed, tables.visits,
        learnt.complaints, learnt.worse, learnt.death, learnt.better, learnt.removed,
        learnt.removal, fall_worse, fall_death, rise, learnt.cohort, learnt.site, learnt.logged,
        learnt.start, law.most, law.unlogged_move, law.age_ends[0], law.age_ends[1], FLOOR,
    )  # fmt: skip

    def one(ends: tuple[int, int]) -> Counts:
        begin, end = ends
        sums = Counts.none(len(learnt.site), len(learnt.rho))
        moves = np.zeros(15)
        months = slice(*prepared.offsets[[begin, end]].tolist()) if with_shares else slice(0, 0)
        work(
            begin, end, *given,
            sums.start, moves, sums.exposure, sums.live, sums.worsened, sums.died, sums.risen,
            sums.complaints, sums.silent, sums.watched, sums.right,
            fallen[begin:end], expected[begin:end], likelihood[begin:end],
            filtered[months], smoothed[months],
        )  # fmt: skip
        sums.worse, sums.death, sums.better = moves[:3], moves[3:7], moves[7:10]
        sums.removed, sums.removal, sums.logged = moves[10:13].tolist()
        sums.dead, sums.log_likelihood = moves[13:].tolist()
        return sums

    total = Counts.none(len(learnt.site), len(learnt.rho))
    with ThreadPoolExecutor(threads) as pool:
        for counts in pool.map(one, _parts(prepared)):
            total.add(counts)
    return PassedWithShares(total, fallen, expected, likelihood, filtered, smoothed)


def _plain(*given: Any) -> list[Any]:
    """Columns without gaps that may be written to: every other kind would be compiled anew."""
    return [
        np.require(one, requirements=["C", "W"]) if isinstance(one, np.ndarray) else one
        for one in given
    ]


def _like(offsets: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Of the same type, or all places would be copied to compare."""
    return offsets.astype(places.dtype)


def _parts(prepared: Prepared) -> list[tuple[int, int]]:
    goals = np.linspace(0, prepared.offsets[-1], PARTS + 1)[1:-1]
    cuts = np.unique(np.concatenate([[0], np.searchsorted(prepared.offsets, goals)]))
    ends = np.append(cuts[1:], prepared.trees)
    return [(int(a), int(b)) for a, b in zip(cuts, ends, strict=True) if a < b]
