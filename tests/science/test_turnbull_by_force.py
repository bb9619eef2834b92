"""The interval-censored fit on small random samples, against plain search and against itself."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from survey.science.records import Spell, Spells
from survey.science.survival.product_limit import product_limit
from survey.science.survival.turnbull import turnbull

INF = math.inf


@st.composite
def spell(draw):
    entry = draw(st.none() | st.integers(0, 8))
    left = draw(st.integers(entry or 0, 12))
    kind = draw(st.sampled_from(["between", "alive", "exact"]))
    if kind == "alive":
        return Spell(entry, left, INF)
    if kind == "exact" and (entry is None or entry < left):
        return Spell(entry, left, left)
    return Spell(entry, left, left + draw(st.integers(1, 8)))


@st.composite
def exact_or_alive(draw):
    entry = draw(st.none() | st.integers(0, 8))
    left = draw(st.integers(0 if entry is None else entry + 1, 12))
    return Spell(entry, left, left if draw(st.booleans()) else INF)


samples = st.lists(spell(), min_size=1, max_size=12)


def chance(fit, one):
    """The probability the fitted curve gives to what was seen of one tree, given its entry."""
    if one.is_exact:
        just_before = np.nextafter(one.left, -INF)
        alive = fit.at_most(one.left, given=one.entry)
        # all that may have died since just before, less what died after
        return fit.at_most(just_before, given=one.entry) - alive
    end = 0.0 if one.is_censored else fit.at_most(one.right, given=one.entry)
    return fit.at_most(one.left, given=one.entry) - end


def best_by_search(spells):
    """The largest log-likelihood found by a general optimiser over *every* elementary interval.

    No innermost intervals, no collapsing, no derivatives of ours: each age that occurs and each
    open stretch between two of them gets a hazard of its own.
    """
    ages = sorted({a for s in spells for a in (s.entry, s.left, s.right) if a not in (None, INF)})
    # places 2k: exactly at ages[k]; 2k + 1: after ages[k], before the next
    place = {age: 2 * k for k, age in enumerate(ages)}
    size = 2 * len(ages)
    passed = np.zeros(size)
    died = []
    for s in spells:
        start = 0 if s.entry is None else place[s.entry] + 1
        first = place[s.left] if s.is_exact else place[s.left] + 1
        passed[start:first] += 1
        if not s.is_censored:
            row = np.zeros(size)
            row[first : place[s.right] + 1] = 1
            died.append(row)
    rows = np.array(died).reshape(-1, size)

    def cost(u):
        with np.errstate(over="ignore"):
            spent = np.maximum(rows @ u, 1e-300)
            value = passed @ u - np.log(-np.expm1(-spent)).sum()
            return value, passed - rows.T @ (1 / np.expm1(spent))

    found = minimize(
        cost,
        np.full(size, 0.3),
        jac=True,
        method="L-BFGS-B",
        bounds=[(1e-12, 40)] * size,
        options={"maxiter": 5000, "maxfun": 50000, "ftol": 1e-15, "gtol": 1e-10},
    )
    return -found.fun


@settings(max_examples=80, deadline=None, derandomize=True)
@given(samples)
def test_no_search_finds_a_likelier_curve(spells):
    fit = turnbull(spells)
    assert fit.certificate < 1e-8
    assert fit.loglik == pytest.approx(best_by_search(spells), abs=1e-5)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(samples)
def test_the_log_likelihood_is_that_of_the_curve_it_came_with(spells):
    fit = turnbull(spells)
    # where nothing is known of a gap, no tree's probability may hang on it
    total = sum(math.log(chance(fit, one)) for one in spells)
    assert total == pytest.approx(fit.loglik, abs=1e-8)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(samples, st.randoms(use_true_random=False))
def test_the_order_of_the_trees_changes_nothing_at_all(spells, dice):
    shuffled = list(spells)
    dice.shuffle(shuffled)
    one, other = turnbull(spells), turnbull(shuffled)
    assert np.array_equal(one.hazard, other.hazard)
    assert one.loglik == other.loglik


@settings(max_examples=60, deadline=None, derandomize=True)
@given(samples, st.sampled_from([1 / 12, 30.4375, 1e-6, 1e9]))
def test_the_unit_of_age_changes_nothing_but_the_ages(spells, unit):
    scaled = [
        Spell(None if s.entry is None else s.entry * unit, s.left * unit, s.right * unit)
        for s in spells
    ]
    one, other = turnbull(spells), turnbull(scaled)
    assert np.array_equal(one.hazard, other.hazard)
    assert other.left == pytest.approx(one.left * unit)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(samples)
def test_every_tree_twice_is_the_same_curve(spells):
    one, twice = turnbull(spells), turnbull(spells * 2)
    assert np.exp(-twice.hazard) == pytest.approx(np.exp(-one.hazard), abs=1e-6)
    assert twice.loglik == pytest.approx(2 * one.loglik, abs=1e-8)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(samples)
def test_survival_never_rises_and_at_least_never_exceeds_at_most(spells):
    fit = turnbull(spells)
    ages = np.arange(0, 22, 0.5).tolist()
    low, high = [fit.at_least(a) for a in ages], [fit.at_most(a) for a in ages]
    assert all(0 <= a <= b <= 1 for a, b in zip(low, high, strict=True))
    assert low == sorted(low, reverse=True)
    assert high == sorted(high, reverse=True)
    assert fit.masses().sum() == pytest.approx(1)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.lists(exact_or_alive(), min_size=1, max_size=15))
def test_with_exact_ages_each_step_is_that_of_the_product_limit(spells):
    fit = turnbull(spells)
    for step in product_limit(spells).steps:
        here = fit.at_most(step.age, given=float(np.nextafter(step.age, -INF)))
        assert here == pytest.approx(1 - step.deaths / step.at_risk, abs=1e-9)


def test_a_hundred_thousand_trees_are_fitted_to_the_end():
    dice = np.random.default_rng(20)
    size = 400_000
    entry = dice.integers(0, 36, size).astype(float)
    life = 60 * dice.weibull(0.8, size)
    alive = life > entry
    entry, life = entry[alive][:100_000], life[alive][:100_000]
    gap = dice.integers(3, 19, len(entry))
    rounds = np.floor((life - entry) / gap)
    left, right = entry + rounds * gap, entry + (rounds + 1) * gap
    unseen = right > entry + 60
    left = np.where(unseen, np.minimum(left, entry + np.floor(60 / gap) * gap), left)
    fit = turnbull(Spells.from_columns(entry=entry, left=left, right=np.where(unseen, INF, right)))
    assert fit.trees == 100_000
    assert fit.certificate < 1e-12
    assert fit.is_unique
    for age in (12, 24, 36, 60):
        truth = math.exp(-((age / 60) ** 0.8))
        # entry at whole months, looks up to 18 months apart: no finer than this can be asked
        assert fit.at_least(age) == pytest.approx(truth, abs=0.02)
