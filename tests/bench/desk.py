"""The desk's own work: hazards read from words, causes told apart, patterns of a city.

Ratios side by side in one run: reading a report against folding its letters; a text twice as long
against the text, where twice is right and four times would be the square; ten times the trees
against the trees.
"""

import statistics
import time
from collections.abc import Callable

import numpy as np

from survey.causes.words import folded
from survey.handbook.danger_words import find_danger
from survey.science.findings.search import search
from tests.science.findings.town import town

ROUNDS = 7
REPORT = "The leaves are yellow since May, nobody waters it and a big branch hangs over the path. "
HOSTILE = ("hanging branch ", "not no not hanging ", "no or or or branch ", "was removed branch ")
CITY = 5_000


def seconds(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    took = []
    for _round in range(rounds):
        began = time.perf_counter()
        work()
        took.append(time.perf_counter() - began)
    return statistics.median(took)


def main() -> None:
    report = (REPORT * 100)[:4000]
    find_danger(report)  # the words are made ready once
    read, fold = seconds(lambda: find_danger(report)), seconds(lambda: folded(report))
    print(
        f"hazards in 4,000 letters   {read * 1000:8.2f} ms, {read / fold:6.0f} times folding them"
    )
    for piece in HOSTILE:
        short, long = (piece * (n // len(piece)) for n in (20_000, 40_000))
        times = seconds(lambda long=long: find_danger(long)) / seconds(
            lambda short=short: find_danger(short)
        )
        print(f"twice “{piece.strip()}” {times:27.2f} times as long")
    few, many = (seconds(lambda n=n: search(city(n)), rounds=1) for n in (CITY, 10 * CITY))
    print(f"patterns of {CITY:,} trees  {few:8.2f} s; of ten times as many {many / few:6.1f} times")


def city(trees: int) -> dict:
    dice = np.random.default_rng(21)
    site = dice.integers(0, trees // 40, trees)
    planting = site // 3 + 1000 * dice.integers(0, 2, trees)
    return {
        str(number): town(
            dice.random(trees) < np.where(site == 7, 0.95, share),
            site,
            planting,
            supplier=planting % 40,
            species=dice.integers(0, 30, trees),
        )
        for number, share in enumerate((0.02, 0.1, 0.3))
    }
