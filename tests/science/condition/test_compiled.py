"""The compiled pass and the pass in columns do the same sums."""

import subprocess
import sys
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from survey.science.condition import compiled, kernel
from survey.science.condition.chain import posterior
from survey.science.condition.laws import USUAL
from survey.science.condition.learning import counted, learn
from survey.science.condition.learnt import Learnt
from survey.science.condition.likelihood import tables_of
from survey.science.condition.prepared import prepare
from survey.science.condition.records import DEAD, HOLDING
from tests.science.condition.small_towns import any_learning, any_town, one_tree, say

ROOT = Path(__file__).parents[3]


WAYS = [pytest.param(kernel.pass_over, id="as it stands")]
if compiled.is_there():
    WAYS.append(pytest.param(compiled.pass_over(), id="numba"))


def agree(evidence, learnt, run):
    prepared = prepare(evidence)
    tables = tables_of(learnt, USUAL)
    mine = compiled.passed(prepared, learnt, tables, USUAL, with_shares=True, run=run)
    theirs, found = counted(prepared, learnt, USUAL), posterior(evidence, learnt)
    for field in fields(theirs.counts):
        assert getattr(mine.counts, field.name) == pytest.approx(
            getattr(theirs.counts, field.name), rel=1e-10, abs=1e-10
        ), field.name
    assert mine.fallen == pytest.approx(theirs.fallen, rel=1e-10, abs=1e-12)
    assert mine.expected == pytest.approx(theirs.expected, rel=1e-10, abs=1e-12)
    assert mine.filtered == pytest.approx(found.filtered, abs=1e-10)
    assert mine.smoothed == pytest.approx(found.smoothed, abs=1e-10)
    assert mine.log_likelihood == pytest.approx(found.log_likelihood, rel=1e-10, abs=1e-10)


@pytest.mark.parametrize("run", WAYS)
@pytest.mark.parametrize("seed", range(5))
def test_both_passes_count_the_same(run, seed):
    evidence = any_town(seed, trees=15, looks=6.0, south=seed == 4)
    agree(evidence, any_learning(evidence, seed), run)


@pytest.mark.parametrize("run", WAYS)
def test_they_agree_on_crowds_caps_and_contradictions_too(run):
    crowd = [
        (month, *say(DEAD if who % 2 else HOLDING, by=who, worried=who % 5 == 0))
        for month in (1, 2)
        for who in range(30)
    ]
    evidence = one_tree(crowd, observers=[0] * 30)
    learnt = any_learning(evidence, 1)
    agree(evidence, learnt, run)
    agree(evidence, replace(learnt, site=np.array([30.0])), run)


@pytest.mark.parametrize("run", WAYS)
def test_the_parts_and_threads_of_the_compiled_pass_change_no_digit(run, monkeypatch):
    evidence = any_town(3, trees=20)
    learnt = any_learning(evidence, 3)
    prepared, tables = prepare(evidence), tables_of(learnt, USUAL)
    one = compiled.passed(prepared, learnt, tables, USUAL, run=run)
    two = compiled.passed(prepared, learnt, tables, USUAL, run=run, threads=2)
    for field in fields(one.counts):
        assert np.array_equal(getattr(one.counts, field.name), getattr(two.counts, field.name))
    monkeypatch.setattr(compiled, "PARTS", 3)
    fewer = compiled.passed(prepared, learnt, tables, USUAL, run=run)
    assert fewer.counts.worse == pytest.approx(one.counts.worse, rel=1e-12)


@pytest.mark.parametrize("run", WAYS)
def test_a_whole_learning_ends_at_the_same_numbers(run, monkeypatch):
    monkeypatch.setattr(compiled, "pass_over", lambda: run)
    evidence = any_town(5, trees=12)
    mine = learn(evidence, rounds=3, compiler=True).as_dict()
    for name, value in learn(evidence, rounds=3, compiler=False).as_dict().items():
        assert np.asarray(mine[name]) == pytest.approx(np.asarray(value), rel=1e-9, abs=1e-12)


def test_a_large_town_is_believed_by_the_compiled_pass_and_a_small_one_is_not(monkeypatch):
    called = []

    def run(*given):
        called.append(given[0])
        kernel.pass_over(*given)

    monkeypatch.setattr(compiled, "pass_over", lambda: run)
    monkeypatch.setattr(compiled, "is_there", lambda: True)
    evidence = any_town(6, trees=4)
    usual = posterior(evidence, Learnt.usual(evidence))
    assert called == []
    monkeypatch.setattr(compiled, "WORTH_IT", 1)
    large = posterior(evidence, Learnt.usual(evidence))
    assert called
    assert large.smoothed == pytest.approx(usual.smoothed, abs=1e-12)


def test_without_numba_everything_runs_and_with_it_nothing_loads_it_unasked():
    """A town of any size is learnt from where numba cannot be imported."""
    program = """
import sys
sys.modules["numba"] = None
from survey.science.condition import compiled
from survey.science.condition.learning import learn
from tests.science.condition.small_towns import any_town
compiled.WORTH_IT = 1
print(compiled.is_worth_it(10**9), learn(any_town(1), rounds=1).rounds)
"""
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["False", "1"]
    program = """
import sys
from survey.science.condition.learning import learn
from tests.science.condition.small_towns import any_town
learn(any_town(1), rounds=1)
print("numba" in sys.modules)
"""
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["False"]
