"""How often the 95 % limits hold the truth: long runs, kept out of the everyday tests.

Trees die by a known law, are registered at planting or late, and are looked at on rounds that miss
some of them. `make simulate` prints the coverage and the mean width for each sample size and age.
"""

import math

import numpy as np
import pytest

from survey.science.records import Spell
from survey.science.survival.limits import survival_at
from survey.science.survival.turnbull import turnbull

AGES = (12.0, 24.0, 36.0)
SCALE, SHAPE = 90.0, 0.8  # a Weibull law: the first years are the hardest
RUNS = 200
LEAST_COVERAGE = 0.90  # a nominal 0.95 less four standard errors of 200 runs, rounded down


def truth(age: float) -> float:
    return math.exp(-((age / SCALE) ** SHAPE))


def one_tree(dice: np.random.Generator) -> Spell | None:
    """A tree's spell, or None if nobody ever registered it."""
    death = SCALE * dice.weibull(SHAPE)
    entry = 0.0 if dice.random() < 0.7 else float(dice.integers(3, 18))
    if death <= entry:
        return None
    last_round = float(dice.integers(40, 60))
    rounds = [a for a in np.arange(5.0, last_round, 6.0) if a > entry and dice.random() < 0.8]
    alive = max((a for a in rounds if a < death), default=entry)
    dead = min((a for a in rounds if a >= death), default=math.inf)
    return Spell(entry or None, alive, dead)


def sample(trees: int, dice: np.random.Generator) -> list[Spell]:
    spells: list[Spell] = []
    while len(spells) < trees:
        spell = one_tree(dice)
        if spell is not None:
            spells.append(spell)
    return spells


@pytest.mark.parametrize("trees", [12, 40, 120])
def test_the_limits_hold_the_truth_nearly_as_often_as_they_say(trees, capsys):
    dice = np.random.default_rng(20_260_616 + trees)
    held = dict.fromkeys(AGES, 0)
    width = dict.fromkeys(AGES, 0.0)
    for run in range(RUNS):
        fit = turnbull(sample(trees, dice))
        for at in survival_at(fit, AGES, seed=run, draws=200):
            held[at.age] += at.low <= truth(at.age) <= at.high
            width[at.age] += at.high - at.low
    with capsys.disabled():
        for age in AGES:
            print(  # noqa: T201 - the table is what this is run for
                f"\n{trees} trees, {age:.0f} months: truth {truth(age):.3f}, held in "
                f"{held[age] / RUNS:.3f}, mean width {width[age] / RUNS:.3f}",
                end="",
            )
    assert min(held.values()) / RUNS >= LEAST_COVERAGE
