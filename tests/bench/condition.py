"""How long a town takes to be learnt from and believed: with a compiler, without, and one tree.

The town is invented: trees watched for 29 to 53 months, ten looks each, one in five of them because
somebody was worried. Its columns are as narrow as they can be, as a reader of a database would make
them. The peak is that of the whole process, arrays and interpreter included; it runs in a process
of its own for each way, so that one does not hide the other.
"""

import resource
import subprocess
import sys
import time

import numpy as np

from survey.science.condition import compiled
from survey.science.condition.chain import posterior
from survey.science.condition.learning import learn
from survey.science.condition.records import Evidence, Looks, Trees

TREES, SMALL = 1_000_000, 20_000
LOOKS_A_TREE, TREES_A_SITE, TREES_A_COHORT, TREES_AN_OBSERVER = 10, 100, 200, 40
JANUARY = 2020 * 12


def invented(trees: int) -> Evidence:
    """Its looks lie anywhere and say anything: what counts here is how many there are."""
    dice = np.random.default_rng(trees)
    planted = (JANUARY + dice.integers(0, 24, trees)).astype(np.int32)
    first = (planted + dice.integers(0, 2, trees) * dice.integers(0, 12, trees)).astype(np.int32)
    last = (first + dice.integers(28, 53, trees)).astype(np.int32)
    many = trees * LOOKS_A_TREE
    tree = np.repeat(np.arange(trees, dtype=np.int32), LOOKS_A_TREE)
    offset = np.sort(dice.random((trees, LOOKS_A_TREE), dtype=np.float32), axis=1).reshape(-1)
    month = (first[tree] + offset * (last - first + 1)[tree]).astype(np.int32)
    np.minimum(month, last[tree], out=month)
    observers = max(trees // TREES_AN_OBSERVER, 3)
    words = dice.choice(6, many, p=[0.35, 0.3, 0.18, 0.08, 0.06, 0.03]).astype(np.int8)
    there = words != 5
    dead = dice.integers(0, trees, trees // 20)
    return Evidence(
        trees=Trees(
            planted,
            first,
            last,
            dice.integers(0, max(trees // TREES_A_SITE, 1), trees, dtype=np.int32),
            dice.integers(0, max(trees // TREES_A_COHORT, 1), trees, dtype=np.int32),
        ),
        looks=Looks(
            tree=tree,
            month=month,
            observer=dice.integers(0, observers, many, dtype=np.int32),
            label=words,
            scratch=dice.integers(0, 3, many, dtype=np.int8) * there,
            leaf=dice.integers(0, 4, many, dtype=np.int8) * there,
            signs=dice.integers(0, 4, many, dtype=np.int8),
            leaf_off=(month % 12 < 3) | (month % 12 > 9),
            complaint=dice.random(many, dtype=np.float32) < 0.2,
            sure=np.zeros(many, dtype=bool),
        ),
        observers=dice.choice(3, observers, p=[0.7, 0.2, 0.1]),
        care=np.column_stack([dead, first[dead] + 3]).astype(np.int64),
        removals=np.column_stack([dead, last[dead] - 1]).astype(np.int64),
        sites=max(trees // TREES_A_SITE, 1),
        cohorts=max(trees // TREES_A_COHORT, 1),
    )


def peak() -> float:
    """GB that this process ever held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6


def a_round(trees: int, way: str) -> None:
    """Prints seconds a round, after one that loads and compiles, and the peak."""
    town = invented(trees)
    print(f"{town.tree_months / 1e6:.1f} million tree-months, evidence alone {peak():.2f} GB")
    compiler = way == "compiled"
    if compiler:
        learn(invented(200), rounds=1, compiler=True)
    before = time.perf_counter()
    learn(town, rounds=0, compiler=compiler)
    ready = time.perf_counter() - before
    before = time.perf_counter()
    rounds = 3 if compiler or trees <= SMALL else 1
    learn(town, rounds=rounds, compiler=compiler, threads=2)
    took = (time.perf_counter() - before - ready) / rounds
    print(
        f"a learning round, {way:9s}   {took:8.2f} s   made ready once {ready:6.2f} s"
        f"   peak {peak():.2f} GB"
    )


def one_tree() -> None:
    """A tree run again, when somebody looked at it."""
    town = invented(1_000)
    learnt = learn(town, rounds=1, compiler=False)
    alone = [town.of_trees([tree]) for tree in range(50)]
    posterior(alone[0], learnt)
    before = time.perf_counter()
    for evidence in alone:
        posterior(evidence, learnt)
    took = (time.perf_counter() - before) / len(alone)
    print(f"one tree run again              {took * 1e3:8.2f} ms")


def main(trees: int = TREES) -> None:
    print(f"{trees:,} trees, {trees * LOOKS_A_TREE:,} looks, two threads", flush=True)
    ways = ["compiled"] if compiled.is_there() else []
    for way in [*ways, "columns"]:
        program = f"from tests.bench import condition; condition.a_round({trees}, {way!r})"
        subprocess.run([sys.executable, "-c", program], check=True)
    one_tree()
