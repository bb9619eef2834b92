"""What must hold of every curve, whatever the sample; general libraries as referees."""

import math

import numpy as np
import pytest
import surpyval
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.records import BadSpell, Spell, Spells
from survey.science.survival.product_limit import product_limit, product_limit_of_columns
from survey.science.survival.turnbull import turnbull
from tests.science.published import channing_house

INF = math.inf


@st.composite
def lives(draw):
    entry = draw(st.none() | st.integers(0, 8))
    left = draw(st.integers(0 if entry is None else entry + 1, 14))
    return Spell(entry, left, draw(st.sampled_from([left, INF])))


samples = st.lists(lives(), min_size=1, max_size=20)


def test_the_early_death_that_empties_the_risk_set_is_named():
    # Hyde 1977, Channing House: risk set 2 at 777, 1 at 781, and 44 deaths follow
    raw = product_limit(channing_house())
    assert raw.emptied_at == 781
    assert product_limit(channing_house(), given=816).emptied_at is None
    fit = turnbull(channing_house())
    assert fit.emptied_at == 781
    support = fit.support(5)
    assert support.given > 781
    assert fit.at_least(support.until, given=support.given) > 0


def test_an_end_that_nobody_follows_has_not_emptied_anything():
    # by hand: all die at 3; then one enters at 3, then only at 2
    dead = [Spell(None, 3, 3)] * 2
    for others, emptied in (([], None), ([Spell(3, 9, INF)], 3), ([Spell(2, 9, INF)], None)):
        assert product_limit(dead + others).emptied_at == emptied
        assert turnbull(dead + others).emptied_at == emptied


def test_the_support_holds_no_gap_in_the_watch():
    spells = [Spell(None, 10, INF)] * 5 + [Spell(20, 30, INF)] * 5
    assert turnbull(spells).support(5).until == 10


@settings(max_examples=80, deadline=None, derandomize=True)
@given(samples, st.integers(0, 14))
def test_a_tree_last_seen_alive_never_lowers_the_curve_before_it(spells, age):
    one, other = product_limit(spells), product_limit([*spells, Spell(None, age, INF)])
    for at in range(age + 1):
        assert other.at(at) >= one.at(at) - 1e-12


@settings(max_examples=60, deadline=None, derandomize=True)
@given(samples)
def test_columns_counts_and_floats_tell_the_same_product_limit(spells):
    table = Spells.of(spells)
    plain = product_limit(spells)
    for scale in (1.0, 1 / 3):
        columns = product_limit_of_columns(
            entry=table.entry * scale,
            exit_age=table.left * scale,
            died=~table.is_censored,
            count=table.count,
        )
        assert columns.survival == pytest.approx(plain.survival, abs=1e-12)
        assert columns.at_risk.tolist() == plain.at_risk.tolist()
        assert columns.low == pytest.approx(plain.low, abs=1e-12)
        assert columns.age == pytest.approx(plain.age * scale)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(samples)
def test_whole_ages_are_collected_as_any_others(spells):
    whole = Spells.of(spells)
    half = Spells.from_columns(
        entry=whole.entry / 2 + 0.25, left=whole.left / 2 + 0.25, right=whole.right / 2 + 0.25,
        count=whole.count,
    )  # fmt: skip
    for name in ("entry", "left", "right"):
        assert np.array_equal(getattr(half, name), getattr(whole, name) / 2 + 0.25)
    assert half.count.tolist() == whole.count.tolist()


def test_a_million_identical_rows_are_one_spell():
    many = 1_000_000
    table = Spells.from_columns(entry=np.zeros(many), left=np.full(many, 6), right=np.full(many, 9))
    assert (table.trees, len(table.count)) == (many, 1)
    assert turnbull(table).at_least(9) == 0


@pytest.mark.parametrize(
    ("entry", "exit_age", "died"),
    [([0, 9], [4, 8], [1, 0]), ([0, 8], [4, 8], [1, 1]), ([0, -1], [4, 8], [1, 1]),
     ([0, 0], [4, math.nan], [1, 1]), ([0, math.nan], [4, 8], [1, 1]), ([0], [4, 8], [1, 1]),
     ([0, 0], [4, INF], [1, 0])],
)  # fmt: skip
def test_rows_no_life_can_have_are_refused(entry, exit_age, died):
    with pytest.raises(BadSpell):
        product_limit_of_columns(entry=entry, exit_age=exit_age, died=died)


def test_no_rows_are_a_curve_without_steps():
    assert product_limit_of_columns(exit_age=[], died=[]).steps == ()


# with late entry that program stops after 1,000 rounds, short of the maximum
@pytest.mark.filterwarnings("ignore:The Turnbull EM did not converge")
@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_is_no_less_likely_than_the_curve_of_an_independent_program(seed, late):
    dice = np.random.default_rng(seed)
    left = dice.integers(1, 30, 300).astype(float)
    right = np.where(dice.random(300) < 0.4, left + dice.integers(1, 20, 300), INF)
    entry = np.floor(left * dice.random(300)) if late else np.full(300, -INF)
    fit = turnbull(Spells.from_columns(entry=entry, left=left, right=right))
    theirs = surpyval.Turnbull.fit(xl=left, xr=right, **({"tl": entry} if late else {}))

    def alive(age):
        known = np.where(np.isinf(age), 0, age)
        return np.where(np.isposinf(age), 0, np.where(np.isneginf(age), 1, theirs.sf(known)))

    likely = np.log((alive(left) - alive(right)) / alive(entry)).sum()
    assert fit.certificate < 1e-9
    assert likely - 1e-6 <= fit.loglik < likely + 1
