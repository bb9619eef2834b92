"""The working-set Newton method: against the dense one, and by hand where trees have a pace."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.survival.hazard import most_likely_hazard
from survey.science.survival.increments import most_likely_increments


def problem(seed, *, cells, runs, widest=6, trees=200):
    """Random deaths in runs of cells, some trees passing every cell but the last."""
    dice = np.random.default_rng(seed)
    first = dice.integers(0, cells, runs)
    last = np.minimum(first + dice.integers(0, widest, runs), cells - 1)
    deaths = dice.integers(1, 5, runs).astype(float)
    passed = dice.integers(1, trees, cells).astype(float)
    passed[-1] = 0
    return {"passed": passed, "deaths": deaths, "first": first, "last": last}


@pytest.mark.parametrize(("cells", "runs"), [(1, 1), (4, 3), (30, 40), (150, 60), (300, 400)])
@pytest.mark.parametrize("seed", range(4))
def test_agrees_with_the_interior_point_method(seed, cells, runs):
    asked = problem(seed, cells=cells, runs=runs)
    quick = most_likely_hazard(**asked, trees=200.0)
    dense = most_likely_increments(
        **{
            key: value[None, :] if key in ("passed", "deaths") else value
            for key, value in asked.items()
        },
        trees=np.array([200.0]),
    )
    assert quick.gap < 1e-10
    assert quick.unsettled.tolist() == dense.unsettled[0].tolist()
    assert quick.unique == dense.unique[0]
    finite = np.isfinite(dense.hazard[0])
    assert np.isfinite(quick.hazard).tolist() == finite.tolist()
    if quick.unique:
        assert quick.hazard[finite] == pytest.approx(dense.hazard[0][finite], abs=1e-7)


def test_one_death_at_double_pace_by_hand():
    # one tree of pace 2 died in the only cell, one of pace 1 passed it: (1 - e^-2u) e^-u is largest
    # at e^-2u = 1/3
    found = most_likely_hazard(
        passed=np.array([1.0]),
        deaths=np.array([1.0]),
        first=np.array([0]),
        last=np.array([0]),
        pace=np.array([2.0]),
        trees=2.0,
    )
    assert found.hazard[0] == pytest.approx(math.log(3) / 2)
    assert found.loglik == pytest.approx(math.log(2 / 3) - math.log(3) / 2)


@given(seed=st.integers(0, 10**6), pace=st.floats(0.05, 20))
@settings(max_examples=40, deadline=None)
def test_one_pace_for_all_only_rescales_the_hazard(seed, pace):
    asked = problem(seed, cells=25, runs=20)
    plain = most_likely_hazard(**asked, trees=200.0)
    paced = most_likely_hazard(
        **(asked | {"passed": pace * asked["passed"]}),
        pace=np.full(20, pace),
        trees=200.0,
    )
    assert paced.loglik == pytest.approx(plain.loglik, abs=1e-8)
    if plain.unique:
        assert pace * paced.hazard == pytest.approx(plain.hazard, abs=1e-6)


def loglik(asked, pace, u):
    spent = np.array([
        u[a : b + 1].sum() for a, b in zip(asked["first"], asked["last"], strict=True)
    ])  # fmt: skip
    with np.errstate(divide="ignore"):
        died = asked["deaths"] @ np.log(-np.expm1(-pace * spent))
    return died - asked["passed"][:-1] @ u[:-1]


@given(seed=st.integers(0, 10**6), spread=st.floats(0, 3), steps=st.integers(0, 10**6))
@settings(max_examples=60, deadline=None)
def test_no_other_hazard_is_likelier_whatever_the_paces(seed, spread, steps):
    asked = problem(seed, cells=12, runs=15)
    dice = np.random.default_rng(steps)
    pace = np.exp(dice.normal(0, spread, 15))
    found = most_likely_hazard(**asked, pace=pace, trees=200.0)
    assert found.gap < 1e-7
    best = loglik(asked, pace, found.hazard)
    assert found.loglik == pytest.approx(best, abs=1e-8)
    inner = np.where(np.isinf(found.hazard), 0, found.hazard)
    for size in (1e-4, 1e-2, 1):
        other = np.maximum(inner * np.exp(dice.normal(0, size, 12)), 0)
        other += size * dice.exponential(0.01, 12) * (dice.random(12) < 0.3)
        other[np.isinf(found.hazard)] = np.inf
        assert loglik(asked, pace, other) <= best + 1e-7


def test_setting_out_from_the_answer_takes_no_step_and_from_anywhere_the_same_answer():
    asked = problem(3, cells=200, runs=120)
    found = most_likely_hazard(**asked, trees=200.0)
    assert found.steps > 0
    again = most_likely_hazard(**asked, trees=200.0, start=found.hazard)
    assert again.steps == 0
    wild = np.random.default_rng(1).exponential(1, 200)
    for start in (wild, np.zeros(200), np.full(200, np.nan)):
        other = most_likely_hazard(**asked, trees=200.0, start=start)
        assert other.loglik == pytest.approx(found.loglik, abs=1e-8)


def test_sums_of_paces_that_miss_zero_by_rounding_count_as_nobody():
    asked = problem(5, cells=10, runs=8)
    asked["passed"][-1] = 1e-14
    assert np.isinf(most_likely_hazard(**asked, trees=200.0).hazard[-1])
