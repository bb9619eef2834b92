"""How soon a turn of a given size would be noticed, so that a city knows how often to walk."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from survey.science.condition.learnt import is_warm
from survey.science.trend.kendall import BadSeries
from survey.science.trend.turns import LEAST_ROUNDS, LEVEL, Watch


@dataclass(frozen=True, slots=True)
class Plan:
    """How a site is walked: a round each `every` months, `before` months of rounds when it turns,
    and what a round is worth (`error` of its labels, `tau` of whoever walks, both in points;
    `luck`: the variance a month by which trees die anyway)."""

    every: int
    before: int = 36
    error: float = 3.0
    tau: float = 2.5
    luck: float = 0.5

    def __post_init__(self) -> None:
        if not (1 <= self.every <= 60 and 0 <= self.before <= 600):
            raise BadSeries("Rounds come each 1 to 60 months, after 0 to 600 months of them.")


def chance_of_notice(
    plan: Plan,
    *,
    fall: float,
    within: int,
    shape: Literal["step", "trend"] = "step",
    level: float = LEVEL,
    runs: int = 400,
    seed: int = 0,
) -> float:
    """The share of sites whose turn rings within so many months of it, asked after each round.

    `fall` is in points: at once for a step, over `within` months for a trend. Each site has its
    first round some months into its record; rounds of leaf and of bare months are compared each
    with its own. With a fall of 0 this is the share of false alarms among sites without an alarm
    before. Errors are normal and by different people, as the test takes them to be.
    """
    if fall < 0 or within < 1 or runs < 1:
        raise BadSeries("A fall is at least 0 points, and it takes a month or more to be noticed.")
    dice = np.random.default_rng(seed)
    months = np.arange(plan.every // 2, plan.before + within + 1, plan.every, dtype=np.int64)
    since = np.diff(months, prepend=months[:1])
    own = dice.standard_normal((runs, len(months))) * np.hypot(plan.error, plan.tau)
    luck = dice.standard_normal((runs, len(months))) * np.sqrt(plan.luck * since)
    late = months - plan.before
    lost = np.where(late > 0, fall, 0.0)
    if shape == "trend":
        lost = fall * np.clip(late / within, 0, 1)
    series = own + np.cumsum(luck, axis=1) - lost
    rung, early = np.zeros(runs, dtype=bool), np.zeros(runs, dtype=bool)
    for last in range(LEAST_ROUNDS, len(months) + 1):
        watch = Watch.over(
            months[:last],
            np.full(last, plan.error),
            is_warm(months[:last], south=False),
            tau=plan.tau,
            luck=plan.luck,
        )
        if not len(watch.splits):
            continue
        p, _, _ = watch.chances(series[:, :last])
        rings = p <= watch.spends(level)
        if late[last - 1] > 0:
            rung |= rings
        else:
            early = rings
    # whoever rang at the last round before the turn would have rung without it
    return float(rung[~early].mean()) if (~early).any() else 0.0
