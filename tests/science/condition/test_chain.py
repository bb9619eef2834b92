"""The filter and the smoother against enumeration, another library and the worst of evidence."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hmmlearn.hmm import CategoricalHMM

from survey.science.condition import smoother
from survey.science.condition.chain import Posterior, blocks, posterior
from survey.science.condition.laws import USUAL
from survey.science.condition.learnt import Learnt
from survey.science.condition.records import DEAD, FAILING, GONE, HOLDING, STATES, THRIVING
from tests.science.condition.small_towns import (
    NEW_YEAR,
    any_learning,
    any_town,
    by_force,
    one_tree,
    say,
    town,
)

GOLDEN = Path(__file__).parents[3] / "fixtures" / "condition" / "golden_case.json"


def silent(evidence):
    """Nothing learnt, with both terms for silence off."""
    usual = Learnt.usual(evidence)
    return replace(usual, exposure=np.zeros(evidence.sites), logged=0.0)


def test_the_golden_case_is_believed_as_enumerated():
    golden = json.loads(GOLDEN.read_text(encoding="utf-8"))
    rows = [
        (
            look["month"] - 8,
            *say(
                STATES.index(look["condition"]),
                by=0 if look["group"] == "resident" else 1,
                scratch=2 if look["scratch"] == "brown" else 0,
                off=look["leaf_off"],
            ),
        )
        for look in golden["reports"]
    ]
    evidence = one_tree(rows, first=8, months=6, observers=(0, 2))
    found = posterior(evidence, silent(evidence))
    # fixtures/condition/golden_case.json, given to ten digits
    assert found.log_likelihood[0] == pytest.approx(golden["log_likelihood"], abs=1e-12)
    assert found.smoothed == pytest.approx(np.array(golden["posterior"]), abs=1e-10)


@pytest.mark.parametrize("seed", range(12))
def test_every_path_added_up_gives_the_same_with_all_terms_on(seed):
    evidence = any_town(seed, trees=1, longest=5, looks=5.0, south=seed % 3 == 0)
    learnt = any_learning(evidence, seed)
    found = posterior(evidence, learnt)
    log_likelihood, shares = by_force(evidence, learnt)
    assert found.log_likelihood[0] == pytest.approx(log_likelihood, abs=1e-12)
    assert found.smoothed == pytest.approx(shares, abs=1e-12)


def test_rates_that_add_to_more_than_a_month_holds_are_cut_as_defined():
    evidence = one_tree([(0, *say(HOLDING)), (2, *say(DEAD))], months=4)
    usual = Learnt.usual(evidence)
    learnt = replace(usual, site=np.array([20.0]), cohort=np.array([3.0]))
    log_likelihood, shares = by_force(evidence, learnt)
    found = posterior(evidence, learnt)
    assert found.log_likelihood[0] == pytest.approx(log_likelihood, abs=1e-12)
    assert found.smoothed == pytest.approx(shares, abs=1e-12)


@pytest.mark.parametrize("age", [10, 34])
def test_the_classes_of_age_end_with_the_12th_and_the_36th_month(age):
    evidence = one_tree(
        [(0, *say(HOLDING)), (4, *say(DEAD, by=1))], months=5, planted=NEW_YEAR - age
    )
    learnt = replace(any_learning(evidence, 2), age=np.array([3.0, 1.0, 0.2]))
    log_likelihood, shares = by_force(evidence, learnt)
    found = posterior(evidence, learnt)
    assert found.log_likelihood[0] == pytest.approx(log_likelihood, abs=1e-12)
    assert found.smoothed == pytest.approx(shares, abs=1e-12)


@pytest.mark.parametrize("at", range(3))
def test_a_removal_on_record_is_counted_in_any_month(at):
    evidence = one_tree(
        [(0, *say(HOLDING)), (2, *say(THRIVING, by=2))], months=4, removals=[(0, NEW_YEAR + at)]
    )
    learnt = any_learning(evidence, 7)
    found = posterior(evidence, learnt)
    log_likelihood, shares = by_force(evidence, learnt)
    assert found.log_likelihood[0] == pytest.approx(log_likelihood, abs=1e-12)
    assert found.smoothed == pytest.approx(shares, abs=1e-12)


def test_another_library_agrees_where_it_can_do_the_case():
    """hmmlearn's CategoricalHMM knows one table and moves that are the same in every month."""
    law = replace(USUAL, worse_in_season=(1.0, 1.0), better_in_season=(1.0, 1.0))
    dice = np.random.default_rng(4)
    said = dice.choice(6, 200, p=[0.3, 0.25, 0.2, 0.1, 0.1, 0.05])
    evidence = one_tree(
        [(month, *say(int(label), by=0)) for month, label in enumerate(said)],
        months=200,
        observers=(1,),
        planted=NEW_YEAR - 40,
    )
    usual = silent(evidence)
    learnt = replace(
        usual, worse_in_season=np.ones(2), better_in_season=np.ones(2), rho=np.array([0.9])
    )
    theirs = CategoricalHMM(n_components=6, init_params="")
    move = np.zeros((6, 6))
    for state in range(4):
        if state:
            move[state, state - 1] = learnt.better[state - 1]
        if state < FAILING:
            move[state, state + 1] = learnt.worse[state] * learnt.age[2]
        move[state, DEAD] += learnt.death[state] * learnt.age[2]
        move[state, GONE] = learnt.removed
    move[DEAD, GONE] = learnt.removal
    theirs.transmat_ = move + np.diag(1 - move.sum(axis=1))
    theirs.startprob_ = learnt.start[1]
    theirs.emissionprob_ = 0.9 * law.words[1, 0] + 0.1 / 6
    log_likelihood, shares = theirs.score_samples(said[:, None])
    found = posterior(evidence, learnt, law)
    assert found.log_likelihood[0] == pytest.approx(log_likelihood, rel=1e-13)
    assert found.smoothed == pytest.approx(shares, abs=1e-12)


def test_trees_of_all_lengths_side_by_side_are_believed_as_each_alone():
    evidence = any_town(3, trees=40)
    learnt = any_learning(evidence, 3)
    together = posterior(evidence, learnt)
    for tree in range(40):
        months = slice(*together.offsets[tree : tree + 2])
        alone = posterior(evidence.of_trees([tree]), learnt)
        assert alone.smoothed == pytest.approx(together.smoothed[months], abs=1e-14)
        assert alone.filtered == pytest.approx(together.filtered[months], abs=1e-14)
        assert alone.log_likelihood == pytest.approx(together.log_likelihood[[tree]], abs=1e-12)


def test_a_town_in_parts_is_believed_as_the_whole(monkeypatch):
    evidence = any_town(5, trees=30)
    learnt = any_learning(evidence, 5)
    whole = posterior(evidence, learnt)
    monkeypatch.setattr(smoother, "AT_ONCE", 50)
    parts = posterior(evidence, learnt)
    assert parts.smoothed == pytest.approx(whole.smoothed, abs=1e-14)
    found = [(which, posterior(part, learnt)) for which, part in blocks(evidence, 7)]
    assert np.concatenate([which for which, _ in found]).tolist() == list(range(30))
    joined = np.concatenate([part.smoothed for _, part in found])
    assert joined == pytest.approx(whole.smoothed, abs=1e-14)


def test_no_trees_are_nothing_to_believe():
    evidence = any_town(1).of_trees([])
    found = posterior(evidence, Learnt.usual(evidence))
    assert found.smoothed.shape == (0, 6)
    assert found.now.shape == (0, 6)
    assert found.log_likelihood.shape == (0,)


def test_a_tree_that_nobody_looked_at_is_believed_as_such_trees_fare():
    evidence = one_tree(months=3)
    found = posterior(evidence, silent(evidence))
    assert found.smoothed[0] == pytest.approx(USUAL.start[0], abs=1e-12)
    assert found.smoothed == pytest.approx(found.filtered, abs=1e-12)
    assert found.log_likelihood[0] == pytest.approx(0.0, abs=1e-12)


def is_sound(found: Posterior):
    assert np.isfinite(found.smoothed).all()
    assert np.isfinite(found.log_likelihood).all()
    assert found.smoothed.sum(axis=1) == pytest.approx(1.0, abs=1e-12)
    assert found.filtered.sum(axis=1) == pytest.approx(1.0, abs=1e-12)


def test_a_thousand_looks_in_an_hour_on_either_side_cancel_out():
    """Each look weighs the same on either side, so what is left is as if nobody had come."""
    words = np.full((6, 6), 0.1)
    np.fill_diagonal(words, 0.5)
    law = replace(USUAL, words=np.broadcast_to(words, (3, 2, 6, 6)))
    observers = [0] * 1000
    crowd = [(2, *say(DEAD if who % 2 else HOLDING, by=who)) for who in range(1000)]
    evidence = one_tree(crowd, observers=observers)
    found = posterior(evidence, silent(evidence), law)
    is_sound(found)
    alone = one_tree(observers=observers)
    nobody = posterior(alone, silent(alone), law).smoothed[2]
    left = found.smoothed[2, [DEAD, HOLDING]]
    assert left / left.sum() == pytest.approx(
        nobody[[DEAD, HOLDING]] / nobody[[DEAD, HOLDING]].sum(), abs=1e-9
    )


def test_hundreds_of_looks_that_contradict_a_felled_stump_leave_sound_numbers():
    observers = [2] * 300
    gone = [(1, *say(GONE, by=who)) for who in range(300)]
    back = [(month, *say(THRIVING, by=who)) for month in (2, 3, 4) for who in range(300)]
    evidence = one_tree(gone + back, observers=observers, removals=[(0, NEW_YEAR + 1)])
    found = posterior(evidence, Learnt.usual(evidence))
    is_sound(found)
    assert found.smoothed[4, THRIVING] > 0.99


def test_alive_after_a_logged_removal_takes_more_than_one_look():
    removed = {"removals": [(0, NEW_YEAR + 2)], "months": 8}
    one = one_tree([(0, *say(THRIVING, by=2)), (4, *say(THRIVING, by=0))], **removed)
    assert posterior(one, Learnt.usual(one)).now[0, GONE] > 0.9
    looks = [(month, *say(THRIVING, by=2, scratch=1)) for month in (0, 3, 4, 5, 6, 7)]
    many = one_tree(looks, **removed)
    assert posterior(many, Learnt.usual(many)).now[0, GONE] < 0.01


def test_an_overruling_weighs_more_than_a_trained_look_and_less_than_all_looks():
    looks = [(month, *say(THRIVING, by=2, scratch=1)) for month in (1, 3)]
    dead = say(DEAD, by=2, sure=1)
    overruled = one_tree([*looks, (5, *dead)])
    doubted = one_tree([*looks, (5, *say(DEAD, by=2))])
    ruled = posterior(overruled, Learnt.usual(overruled)).now[0, DEAD]
    assert ruled > 0.95
    assert ruled > posterior(doubted, Learnt.usual(doubted)).now[0, DEAD]
    rho_gone = replace(Learnt.usual(overruled), rho=np.full(3, 1e-9))
    assert posterior(overruled, rho_gone).now[0, DEAD] > 0.9


def test_who_and_what_came_since_the_learning_starts_at_what_is_usual():
    evidence = town(
        [(NEW_YEAR, NEW_YEAR, NEW_YEAR + 20, 0, 0), (NEW_YEAR, NEW_YEAR, NEW_YEAR + 20, 1, 1)],
        [(1, NEW_YEAR + 5, *say(DEAD, by=3))],
        observers=(0, 1, 2, 1),
    )
    known = Learnt.usual(evidence.of_trees([0]))
    before = replace(
        known,
        rho=known.rho[:3],
        noise=known.noise[:3],
        heard=known.heard[:3],
        site=known.site[:1],
        cohort=known.cohort[:1],
        exposure=known.exposure[:1],
    )
    assert posterior(evidence, before).smoothed == pytest.approx(
        posterior(evidence, replace(known, town_exposure=0.0)).smoothed, abs=1e-14
    )
    assert before.reaching(evidence).rho[3] == pytest.approx(0.9)  # a volunteer: 18 of 20
