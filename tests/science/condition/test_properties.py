"""What must hold of beliefs for any evidence, with the conditions under which it must."""

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from survey.science.condition.chain import posterior
from survey.science.condition.draws import draw_losses
from survey.science.condition.gather import joined
from survey.science.condition.laws import USUAL
from survey.science.condition.learning import learn
from survey.science.condition.learnt import Learnt
from survey.science.condition.likelihood import look_factors, tables_of
from survey.science.condition.prepared import prepare
from survey.science.condition.records import (
    DEAD,
    FAILING,
    GONE,
    NOT_SAID,
    Looks,
    Trees,
)
from survey.science.condition.survival_draws import survival_by_belief
from tests.science.condition.small_towns import (
    any_learning,
    any_town,
    looks_from,
    one_tree,
    say,
)

seeds = st.integers(0, 10**6)
labels = st.integers(0, 5)
people = st.integers(0, 2)
bits = st.integers(0, 1)
CLOSE = {"abs": 1e-11}
some = settings(max_examples=15, deadline=None)


def taken(looks, order):
    return Looks(*(getattr(looks, field.name)[order] for field in fields(Looks)))


def same(one, other):
    assert one.smoothed == pytest.approx(other.smoothed, **CLOSE)
    assert one.filtered == pytest.approx(other.filtered, **CLOSE)
    assert one.log_likelihood == pytest.approx(other.log_likelihood, abs=1e-9)


@some
@given(seeds)
def test_shares_add_to_one_loss_never_falls_and_the_last_month_is_the_filters(seed):
    evidence = any_town(seed)
    found = posterior(evidence, any_learning(evidence, seed))
    assert found.smoothed.sum(axis=1) == pytest.approx(1.0, abs=1e-12)
    assert found.filtered.sum(axis=1) == pytest.approx(1.0, abs=1e-12)
    assert (found.smoothed >= 0).all()
    falls = np.diff(found.lost)
    within = np.ones(len(falls), dtype=bool)
    within[found.offsets[1:-1] - 1] = False
    assert (falls[within] >= -1e-12).all()
    last = found.offsets[1:] - 1
    assert (found.smoothed[last] == found.filtered[last]).all()


@some
@given(seeds, st.randoms(use_true_random=False))
def test_the_order_of_one_months_looks_and_of_trees_and_people_is_nothing(seed, shuffler):
    evidence = any_town(seed, looks=8.0, longest=6)
    learnt = any_learning(evidence, seed)
    found = posterior(evidence, learnt)
    order = list(range(evidence.looks.number))
    shuffler.shuffle(order)
    mixed = taken(evidence.looks, np.array(order, dtype=np.int64))
    kept = taken(mixed, np.lexsort((mixed.month, mixed.tree)))
    same(posterior(replace(evidence, looks=kept), learnt), found)

    trees = list(range(evidence.trees.number))
    shuffler.shuffle(trees)
    place = np.argsort(trees)
    moved = replace(evidence.looks, tree=place[evidence.looks.tree])
    moved = taken(moved, np.lexsort((moved.month, moved.tree)))
    columns = (getattr(evidence.trees, field.name)[trees] for field in fields(Trees))

    def pairs(rows):
        return np.column_stack([place[rows[:, 0]], rows[:, 1]])

    other = replace(
        evidence,
        trees=Trees(*columns),
        looks=moved,
        care=pairs(evidence.care),
        removals=pairs(evidence.removals),
    )
    again = posterior(other, learnt)
    for new, old in enumerate(trees):
        assert again.smoothed[again.offsets[new] : again.offsets[new + 1]] == pytest.approx(
            found.smoothed[found.offsets[old] : found.offsets[old + 1]], **CLOSE
        )


@some
@given(seeds)
def test_saying_the_same_twice_in_a_month_changes_nothing(seed):
    evidence = any_town(seed)
    looks = evidence.looks
    twice = taken(looks, np.repeat(np.arange(looks.number), 2))
    again = replace(evidence, looks=joined(twice)[0])
    learnt = any_learning(evidence, seed)
    same(posterior(again, learnt), posterior(evidence, learnt))
    assert learn(again, rounds=2).as_dict() == learn(evidence, rounds=2).as_dict()


@some
@given(seeds, st.integers(-20, 20))
def test_a_shift_of_all_dates_by_whole_years_changes_nothing(seed, years):
    evidence = any_town(seed)
    by = 12 * years

    def later(rows):
        return rows + np.array([0, by])

    trees = evidence.trees
    shifted = replace(
        evidence,
        trees=replace(
            trees, planted=trees.planted + by, first=trees.first + by, last=trees.last + by
        ),
        looks=replace(evidence.looks, month=evidence.looks.month + by),
        care=later(evidence.care),
        removals=later(evidence.removals),
    )
    learnt = any_learning(evidence, seed)
    same(posterior(shifted, learnt), posterior(evidence, learnt))
    assert learn(shifted, rounds=2).as_dict() == learn(evidence, rounds=2).as_dict()


@some
@given(seeds)
def test_the_south_half_a_year_later_is_the_north(seed):
    """What is leaf-off is the species' own calendar, and comes with the looks."""
    north = any_town(seed)

    def later(rows):
        return rows + np.array([0, 6])

    trees = north.trees
    south = replace(
        north,
        trees=replace(trees, planted=trees.planted + 6, first=trees.first + 6, last=trees.last + 6),
        looks=replace(north.looks, month=north.looks.month + 6),
        care=later(north.care),
        removals=later(north.removals),
        south=True,
    )
    learnt = any_learning(north, seed)
    same(posterior(south, learnt), posterior(north, learnt))


@some
@given(labels, people, st.integers(0, 3), st.integers(0, 11))
def test_an_evergreen_ignores_the_calendar(label, by, leaf, month):
    """An evergreen is never leaf-off, so the same look says the same in every month; of a tree
    that drops its leaves it does not."""
    evidence = one_tree(
        [(0, *say(label, by=by, leaf=leaf)), (month, *say(label, by=by, leaf=leaf))], months=12
    )
    tables = tables_of(Learnt.usual(evidence), USUAL)
    each = look_factors(prepare(evidence), tables).factor
    assert each[0] == pytest.approx(each[-1], abs=0)
    bare = one_tree([(0, *say(label, by=by, leaf=leaf, off=1))])
    off = look_factors(prepare(bare), tables).factor[0]
    assert np.abs(off / off.sum() - each[0] / each[0].sum()).max() > 1e-4


def heard(rho, evidence):
    return replace(Learnt.usual(evidence), rho=np.full(len(evidence.observers), rho))


@some
@given(seeds)
def test_a_look_without_any_trust_says_nothing(seed):
    evidence = any_town(seed)
    without = replace(
        evidence.looks, sure=np.zeros_like(evidence.looks.sure)
    )  # an overruling keeps its own trust
    evidence = replace(evidence, looks=without)
    learnt = replace(any_learning(evidence, seed), rho=np.zeros(6))
    worries = replace(evidence, looks=taken(without, np.flatnonzero(without.complaint)))
    mute = replace(
        worries.looks,
        label=np.full_like(worries.looks.label, NOT_SAID),
        scratch=np.zeros_like(worries.looks.scratch),
        leaf=np.zeros_like(worries.looks.leaf),
        signs=np.full_like(worries.looks.signs, NOT_SAID),
    )
    # that somebody came because they were worried still counts
    none = posterior(replace(worries, looks=mute), learnt)
    found = posterior(evidence, learnt)
    assert found.smoothed == pytest.approx(none.smoothed, **CLOSE)


@some
@given(seeds)
def test_with_both_silences_off_nobodys_look_leaves_what_such_trees_do(seed):
    evidence = any_town(seed, looks=0.0)
    evidence = replace(evidence, removals=evidence.removals[:0])
    learnt = replace(any_learning(evidence, seed), exposure=np.zeros(evidence.sites), logged=0.0)
    found = posterior(evidence, learnt)
    assert found.log_likelihood == pytest.approx(0.0, abs=1e-10)
    assert found.smoothed == pytest.approx(found.filtered, **CLOSE)
    quiet = posterior(evidence, replace(learnt, exposure=np.full(evidence.sites, 0.1)))
    assume(np.diff(evidence.offsets).max() > 6)
    assert np.abs(quiet.smoothed - found.smoothed).max() > 1e-4


@some
@given(seeds, labels, people, bits, st.floats(0.001, 0.999))
def test_a_word_never_lowers_what_it_says(seed, label, by, off, rho):
    """Needs each column of words to be greatest on its own state (see test_laws)."""
    before = any_town(seed, trees=1, longest=8)
    last = int(before.trees.last[0] - before.trees.first[0])
    learnt = replace(any_learning(before, seed), rho=np.full(6, rho))
    who = int(np.flatnonzero(before.observers == by)[0]) if by in before.observers else 0
    old = posterior(before, learnt).filtered[-1]
    row = (0, before.trees.first[0] + last, who, label, 0, 0, NOT_SAID, off, 0, 0)
    rows = np.column_stack([np.atleast_1d(getattr(before.looks, f.name)) for f in fields(Looks)])
    with_it = replace(before, looks=looks_from(np.vstack([rows, row])))
    new = posterior(with_it, learnt).filtered[-1]
    assert new[label] >= old[label] - 1e-12
    if label == DEAD:
        for state in range(FAILING + 1):
            assert new[DEAD] * old[state] >= old[DEAD] * new[state] - 1e-12


@some
@given(labels, people, bits, st.integers(0, 2), st.integers(0, 3), st.integers(-1, 4), bits, seeds)
def test_no_look_says_more_than_its_bound(label, by, off, scratch, leaf, signs, sure, seed):
    """|log ratio| <= log(1 + rho / (1 - rho) max(by table / noise))."""
    evidence = one_tree([(0, *say(label, by=by, scratch=scratch, leaf=leaf, signs=signs, off=off))])
    learnt = any_learning(evidence, seed)
    tables = tables_of(learnt, USUAL)
    looks = look_factors(prepare(evidence), tables)
    factor, by_table = looks.factor[0], looks.by_table[0]
    noise = factor - by_table  # (1 - rho) times what no table says
    bound = np.log1p(by_table.max() / noise.min())
    ratios = np.log(factor[:, None] / factor[None, :])
    assert np.abs(ratios).max() <= bound + 1e-12
    assert noise == pytest.approx(noise[0], rel=1e-9)


@some
@given(labels, people, bits, st.floats(0.5, 0.99))
def test_brown_speaks_for_death_more_than_no_test_and_that_more_than_green(label, by, off, rho):
    """Checked for a trust of one half and more; for tiny ones it is no theorem."""
    assume(label != GONE)
    odds = []
    for scratch in (1, 0, 2):
        evidence = one_tree([(0, *say(label, by=by, scratch=scratch, off=off))])
        tables = tables_of(heard(rho, evidence), USUAL)
        factor = look_factors(prepare(evidence), tables).factor[0]
        odds.append(factor[DEAD] / factor[: FAILING + 1])
    assert (odds[0] <= odds[1] + 1e-12).all()
    assert (odds[1] <= odds[2] + 1e-12).all()


@settings(max_examples=8, deadline=None)
@given(seeds)
def test_survival_never_rises_and_stays_between_0_and_1(seed):
    evidence = any_town(seed, trees=20, longest=50)
    found = posterior(evidence, any_learning(evidence, seed))
    losses = draw_losses(evidence, found, draws=20, seed=seed)
    shares = survival_by_belief(
        evidence, losses, evidence.trees.site, evidence.sites, range(0, 60, 6), seed=seed
    )
    assert ((shares >= 0) & (shares <= 1)).all()
    assert (np.diff(shares, axis=1) <= 0).all()
    assert (shares[:, 0] == 1).all()


@some
@given(seeds)
def test_trust_learnt_from_anything_lies_between_0_and_1(seed):
    evidence = any_town(seed)
    learnt = learn(evidence, rounds=3)
    assert ((learnt.rho > 0) & (learnt.rho < 1)).all()
    for name in ("worse", "death", "better", "cohort", "site", "complaints", "exposure"):
        assert (getattr(learnt, name) >= 0).all()
    assert 0 < learnt.logged < 1
