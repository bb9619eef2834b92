"""Our estimators and those of general libraries on the same data, side by side.

Ours is timed whole, from plain arrays to the fitted curve. Rounds alternate, so that whatever else
the machine does slows both. lifelines runs each interval-censored row once, in a process of its
own, for at most two minutes: what has not finished by then is printed as a lower bound.
"""

import statistics
import subprocess
import sys
import time
import warnings

import numpy as np

from survey.science.records import Spells
from survey.science.survival.product_limit import product_limit_of_columns
from survey.science.survival.turnbull import turnbull

BUDGET = 120.0
MONTHS, DAYS = 60, 1826
ROWS = [
    # label, trees, last age, looks a tree, delayed entry
    ("month grid, 1,000 trees", 1_000, MONTHS, 9, False),
    ("month grid, 10,000 trees", 10_000, MONTHS, 9, False),
    ("month grid, 100,000 trees", 100_000, MONTHS, 9, False),
    ("day dates, 1,000 trees", 1_000, DAYS, 9, False),
    ("day dates, 10,000 trees", 10_000, DAYS, 9, False),
    ("late entry, month grid, 1,000 trees", 1_000, MONTHS, 9, True),
    ("late entry, month grid, 10,000 trees", 10_000, MONTHS, 9, True),
    ("late entry, month grid, 100,000 trees", 100_000, MONTHS, 9, True),
]


def seen(trees, last, looks, late):
    """Invented lives, looked at on nine ages (a chance of .15 in each of 60 months); 70 % live."""
    dice = np.random.default_rng(trees + last + late)
    life = dice.exponential(2.8 * last, trees)
    at = np.sort(dice.integers(1, last + 1, (trees, looks)), axis=1)
    left = np.where(at < life[:, None], at, 0).max(axis=1).astype(float)
    right = np.where(at >= life[:, None], at, np.inf).min(axis=1)
    if not late:
        return np.full(trees, -np.inf), left, right
    entry = np.minimum(dice.integers(0, last // 2, trees), left - 1).astype(float)
    kept = entry >= 0
    return entry[kept], left[kept], right[kept]


def ours(entry, left, right):
    return turnbull(Spells.from_columns(entry=entry, left=left, right=right))


def surpyval_fit(entry, left, right):
    import surpyval  # noqa: PLC0415 - only the comparison needs it, and it takes a second

    late = {"tl": entry} if np.isfinite(entry).any() else {}
    return surpyval.Turnbull.fit(xl=left, xr=right, **late)


def alternating(rounds, *works):
    """Median seconds of each work."""
    took = [[] for _ in works]
    for _ in range(rounds):
        for times, work in zip(took, works, strict=True):
            before = time.perf_counter()
            work()
            times.append(time.perf_counter() - before)
    return [statistics.median(times) for times in took]


LIFELINES = """
import sys, time, warnings
warnings.simplefilter("ignore")
import numpy as np
from lifelines import KaplanMeierFitter
from tests.bench.survival import ROWS, seen
_, *row = ROWS[int(sys.argv[1])]
_, left, right = seen(*row)
before = time.perf_counter()
KaplanMeierFitter().fit_interval_censoring(left + 1e-5, right)
print(time.perf_counter() - before)
"""


def lifelines_takes(row):
    """Seconds, and whether it finished."""
    try:
        done = subprocess.run(
            [sys.executable, "-c", LIFELINES, str(row)],
            capture_output=True, text=True, timeout=BUDGET, check=True,
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return BUDGET, False
    return float(done.stdout), True


def intervals(with_lifelines):
    print("interval-censored maximum likelihood; medians, ms")
    for number, (label, *row) in enumerate(ROWS):
        columns = seen(*row)
        fit = ours(*columns)
        mine, theirs = alternating(
            7, lambda c=columns: ours(*c), lambda c=columns: surpyval_fit(*c)
        )
        line = (
            f"{label:38s} ours {mine * 1e3:8.2f}  surpyval {theirs * 1e3:8.2f}"
            f" = {theirs / mine:5.1f} x  gap {fit.certificate:.0e}"
        )
        if with_lifelines and not row[-1]:
            took, finished = lifelines_takes(number)
            line += f"  lifelines {'' if finished else 'over '}{took / mine:,.0f} x"
        print(line, flush=True)


def exact():
    from lifelines import KaplanMeierFitter  # noqa: PLC0415
    from statsmodels.duration.survfunc import SurvfuncRight  # noqa: PLC0415

    print("product limit, 1,000,000 spells; medians, ms")
    dice = np.random.default_rng(0)
    many = 1_000_000
    for label, last in (("whole days", DAYS), ("whole months", MONTHS), ("floats", None)):
        span = last or MONTHS
        entry = dice.random(many) * span / 2
        life, end = dice.exponential(span, many), dice.random(many) * span
        if last:
            entry, life, end = np.floor(entry), np.floor(life), np.floor(end)
        leaving, died = entry + 1 + np.minimum(life, end), life <= end
        times = alternating(
            3 if last else 1,
            lambda x=leaving, d=died, e=entry: product_limit_of_columns(
                exit_age=x, died=d, entry=e
            ),
            lambda x=leaving, d=died, e=entry: SurvfuncRight(x, d.astype(int), entry=e),
            lambda x=leaving, d=died, e=entry: KaplanMeierFitter().fit(x, d, entry=e),
        )
        print(
            f"{label:14s} ours {times[0] * 1e3:8.2f}  statsmodels {times[1] * 1e3:8.2f}"
            f" = {times[1] / times[0]:5.1f} x  lifelines {times[2] * 1e3:8.2f}"
            f" = {times[2] / times[0]:5.1f} x",
            flush=True,
        )


def main(with_lifelines=True):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        exact()
        intervals(with_lifelines)
