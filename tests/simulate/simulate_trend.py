"""How often the bell rings at sites where nothing turns, and how soon at sites that do turn.

`make simulate` prints both for several ways of walking a town. The question is asked after each
round, with what was known by then. Sites are invented with persistent differences between people,
days of poor light, seasons, missed trees and trees that die at a usual pace.
"""

import numpy as np
import pytest

from survey.science.trend.power import Plan, chance_of_notice
from survey.science.trend.rounds import usual_of
from survey.science.trend.turns import turn_of_rounds
from tests.science.trend.sites import Habit, cut, make_looks, seasons_of

SITES = 120
TURN = 36
WALKED = [
    Habit(every=2), Habit(every=3), Habit(every=6), Habit(every=12),
    Habit(every=6, dying=0), Habit(every=6, dying=0.006), Habit(every=6, trees=8),
    Habit(every=6, trees=120), Habit(every=6, people=2, strict=0.6), Habit(every=3, people=1),
]  # fmt: skip
TURNS = [{"killed": 0.3}, {"killed": 0.6}, {"worse": 1.0}, {"dying_after": 0.02}]


def asked_each_round(looks, usual_by_year):
    for month in np.unique(looks[1]):
        rounds = cut(looks, month)
        if rounds.number >= 3:
            usual = usual_by_year[month // 12]
            yield int(month), turn_of_rounds(rounds, seasons_of(rounds.months), usual)


def known_by_year(town, years):
    return [usual_of([cut(looks, 12 * year + 11) for looks in town]) for year in range(years)]


@pytest.mark.parametrize("habit", WALKED, ids=str)
def test_flat_sites_seldom_ring(habit, capsys):
    dice = np.random.default_rng(100 + habit.every)
    town = [make_looks(habit, dice) for _ in range(SITES)]
    usual = known_by_year(town, habit.years)
    asked, rang = set(), set()
    for site, looks in enumerate(town):
        for month, turn in asked_each_round(looks, usual):
            asked.add((site, month // 12))
            if turn:
                rang.add((site, month // 12))
    share = len(rang) / len(asked)
    with capsys.disabled():
        print(  # noqa: T201 - the table is what this is run for
            f"\n{habit.trees} trees, a round each {habit.every} months, {habit.people} people "
            f"(sd {habit.strict}), dying {habit.dying}: rang in {share:.3f} of {len(asked)} "
            f"site-years (tau {usual[-1].tau:.1f}, drift {usual[-1].drift:.2f})"
        )
    # a site's years hang together, so that its years count for about half as many
    assert share <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / (len(asked) / 2))


@pytest.mark.parametrize("every", [3, 6, 12])
@pytest.mark.parametrize("turn", TURNS, ids=str)
def test_sites_that_turn_ring(every, turn, capsys):
    dice = np.random.default_rng(200 + every)
    flat = [make_looks(Habit(every=every), dice) for _ in range(30)]
    bad = [make_looks(Habit(every=every, turn_month=TURN, **turn), dice) for _ in range(30)]
    usual = known_by_year(flat + bad[:6], 6)
    first = []
    for looks in bad:
        months = [m for m, found in asked_each_round(looks, usual) if found and m >= TURN]
        first.append(min(months, default=10_000) - TURN)
    shares = [np.mean(np.array(first) < within) for within in (6, 12, 24, 36)]
    with capsys.disabled():
        print(  # noqa: T201 - the table is what this is run for
            f"\na round each {every} months, {turn}: rang within 6, 12, 24, 36 months: "
            + ", ".join(f"{share:.2f}" for share in shares)
        )
    # one grade worse is ten points at most: the hardest to tell from a strict observer
    assert shares[-1] >= (0.3 if turn.get("worse") else 0.5)


def test_how_large_a_fall_is_noticed(capsys):
    for every in (3, 6, 12):
        chances = [
            chance_of_notice(Plan(every), fall=fall, within=12, runs=1000)
            for fall in (0, 5, 10, 15, 20, 30)
        ]
        with capsys.disabled():
            print(  # noqa: T201 - the table is what this is run for
                f"\na round each {every} months, falls of 0, 5, 10, 15, 20, 30 points noticed "
                "within a year: " + ", ".join(f"{chance:.2f}" for chance in chances)
            )
        assert chances[0] <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / 1000)
        assert chances == sorted(chances)
