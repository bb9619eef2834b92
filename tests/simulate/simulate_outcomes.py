"""How often the limits of "not dead" hold the truth where removals for other reasons compete."""

import math

import numpy as np
import pytest

from survey.science.records import Spell
from survey.science.survival.competing import competing, free_of_cause_at
from tests.simulate.simulate_limits import AGES, LAWS, Law

RUNS = 400
MONTHS_TO_REMOVAL = 400.0  # the mean, at a danger that never changes
LEAST_COVERAGE = 0.92  # a nominal 0.95 less three standard errors of 400 runs, rounded up


def truth(law: Law) -> dict[float, float]:
    """One minus the share dead by each age, summed in hundredths of a month."""
    grid = np.linspace(0, max(AGES), 100 * int(max(AGES)) + 1)
    alive = np.array([law.survival(age) for age in grid])
    still_there = np.exp(-(grid[:-1] + grid[1:]) / 2 / MONTHS_TO_REMOVAL)
    dead = np.concatenate([[0.0], np.cumsum(-np.diff(alive) * still_there)])
    return {age: float(1 - np.interp(age, grid, dead)) for age in AGES}


def sample(law: Law, trees: int, dice: np.random.Generator) -> tuple[list[Spell], list[int]]:
    spells: list[Spell] = []
    causes: list[int] = []
    while len(spells) < trees:
        death, removal = law.death(dice), dice.exponential(MONTHS_TO_REMOVAL)
        end, cause = min(death, removal), 1 if death < removal else 2
        entry = float(dice.integers(3, 12)) if dice.random() < law.late else 0.0
        if end <= entry:
            continue
        rounds = np.arange(law.every - 1, float(dice.integers(40, 60)), law.every)
        rounds = rounds + dice.integers(0, 3)
        seen = [age for age in rounds if age > entry and dice.random() < law.seen]
        alive = max((age for age in seen if age < end), default=entry)
        gone = min((age for age in seen if age >= end), default=math.inf)
        spells.append(Spell(entry or None, alive, gone))
        causes.append(cause if gone < math.inf else 0)
    return spells, causes


@pytest.mark.parametrize("trees", [12, 40, 200])
@pytest.mark.parametrize("name", ["early losses, twice a year", "many early losses, twice a year"])
def test_the_limits_of_not_dead_hold_the_truth(name, trees, capsys):
    law, dice = LAWS[name], np.random.default_rng(20_260_616 + trees)
    true, held = truth(law), dict.fromkeys(AGES, 0)
    for _ in range(RUNS):
        for at in free_of_cause_at(competing(*sample(law, trees, dice)), AGES, causes=[1]):
            held[at.age] += at.low <= true[at.age] <= at.high
    with capsys.disabled():
        told = "  ".join(f"{age:.0f} mo {count / RUNS:.3f}" for age, count in held.items())
        print(f"\nnot dead, {name}, {trees} trees: {told}", end="")  # noqa: T201 - the table
    assert min(held.values()) / RUNS >= LEAST_COVERAGE
