"""How often the 95 % limits hold the truth: long runs, kept out of the everyday tests.

Trees die by a known law, are registered at planting or late, and are looked at on rounds that miss
some of them. `make simulate` prints the coverage and the mean width for each law, sample size and
age; the everyday tests run the same with few samples.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest

from survey.science.records import Spell
from survey.science.survival.limits import survival_at
from survey.science.survival.turnbull import turnbull

AGES = (6.0, 12.0, 18.0, 24.0, 36.0)
SIZES = (5, 12, 40, 200)
RUNS = 1000
LEAST_COVERAGE = 0.93


@dataclass(frozen=True)
class Law:
    """How trees die, how late they come under watch, and how often they are looked at."""

    survival: Callable[[float], float]
    death: Callable[[np.random.Generator], float]
    every: float  # months between rounds
    seen: float  # chance that a round sees a tree
    late: float  # share registered after planting


def weibull(scale: float, shape: float, **watch: float) -> Law:
    return Law(
        lambda age: math.exp(-((age / scale) ** shape)),
        lambda dice: scale * dice.weibull(shape),
        **watch,
    )


def mixed(**watch: float) -> Law:
    """Two kinds of trees that nobody can tell apart: three in ten are weak."""
    return Law(
        lambda age: 0.3 * math.exp(-age / 15) + 0.7 * math.exp(-age / 200),
        lambda dice: dice.exponential(15 if dice.random() < 0.3 else 200),
        **watch,
    )


LAWS = {
    "early losses, twice a year": weibull(90.0, 0.8, every=6.0, seen=0.8, late=0.3),
    "even losses, four times a year": weibull(60.0, 1.0, every=3.0, seen=0.7, late=0.0),
    "late losses, once a year": weibull(50.0, 1.5, every=12.0, seen=0.9, late=0.3),
    "few losses, twice a year": weibull(300.0, 1.0, every=6.0, seen=0.8, late=0.1),
    "weak and strong, twice a year": mixed(every=6.0, seen=0.8, late=0.2),
    "many early losses, twice a year": weibull(25.0, 0.8, every=6.0, seen=0.8, late=0.3),
    "even losses, now and then": weibull(90.0, 1.0, every=1.0, seen=0.12, late=0.3),
}


def one_tree(law: Law, dice: np.random.Generator) -> Spell | None:
    """A tree's spell, or None if nobody ever registered it."""
    death = law.death(dice)
    entry = float(dice.integers(3, 12)) if dice.random() < law.late else 0.0
    if death <= entry:
        return None
    last_round = float(dice.integers(40, 60))
    rounds = np.arange(law.every - 1, last_round, law.every) + dice.integers(0, 3)
    seen = [age for age in rounds if age > entry and dice.random() < law.seen]
    alive = max((age for age in seen if age < death), default=entry)
    dead = min((age for age in seen if age >= death), default=math.inf)
    return Spell(entry or None, alive, dead)


def sample(trees: int, dice: np.random.Generator, law: Law | None = None) -> list[Spell]:
    spells: list[Spell] = []
    while len(spells) < trees:
        spell = one_tree(law or LAWS["early losses, twice a year"], dice)
        if spell is not None:
            spells.append(spell)
    return spells


def judge(law: Law, trees: int, runs: int, seed: int = 20_260_616) -> dict[float, tuple]:
    """For each age the share of samples whose limits held the truth, and their mean width.

    A sample in which nobody was watched from planting says nothing of the curve from there; it is
    asked, as the product does, from the first age at which someone was.
    """
    dice = np.random.default_rng(seed + trees)
    held, width = dict.fromkeys(AGES, 0), dict.fromkeys(AGES, 0.0)
    for _ in range(runs):
        fit = turnbull(sample(trees, dice, law))
        start = fit.support(min(10, max(3, trees // 2)))
        given = start.given if start else None
        since = 1.0 if given is None else law.survival(given)
        for at in survival_at(fit, AGES, given=given):
            held[at.age] += at.low <= min(1.0, law.survival(at.age) / since) <= at.high
            width[at.age] += at.high - at.low
    return {age: (held[age] / runs, width[age] / runs) for age in AGES}


@pytest.mark.parametrize("trees", SIZES)
@pytest.mark.parametrize("name", LAWS)
def test_the_limits_hold_the_truth_as_often_as_they_say(name, trees, capsys):
    found = judge(LAWS[name], trees, RUNS)
    with capsys.disabled():
        print(f"\n{name}, {trees} trees:", end="")  # noqa: T201 - the table is what this is for
        for age, (held, width) in found.items():
            print(f"  {age:.0f} mo {held:.3f} ({width:.2f})", end="")  # noqa: T201
    assert min(held for held, _ in found.values()) >= LEAST_COVERAGE
