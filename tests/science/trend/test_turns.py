"""The bell rings for a site that turns, and not for luck, seasons, observers or asking again."""

import numpy as np
import pytest

from survey.science.trend.kendall import BadSeries
from survey.science.trend.power import Plan, chance_of_notice
from survey.science.trend.rounds import Usual, usual_of
from survey.science.trend.turns import STANDS, Watch, turn_of, turn_of_rounds
from tests.science.trend.sites import Habit, cut, make_looks, seasons_of

MONTHS = np.arange(0, 72, 6)
ERRORS = np.full(12, 2.0)
SEASONS = seasons_of(MONTHS)


def ask(estimates, months=MONTHS, **kw):
    kw.setdefault("tau", 2.0)
    many = len(months)
    return turn_of(months, estimates, ERRORS[:many], seasons_of(months), **kw)


def noise(seed=0, size=12):
    return np.random.default_rng(seed).standard_normal(size) * 2.5


def test_a_step_down_rings_and_says_since_when_and_how_far():
    found = ask(80 + noise() - 20 * (MONTHS >= 36))
    assert found.shape == "step"
    assert (found.since, found.before) == (36, 30)
    assert found.fall == pytest.approx(20, abs=2.5 * found.error)
    assert 1 < found.error < 3
    assert found.p <= found.spent == pytest.approx(0.025)  # half a year after the one before
    assert found.slope_low < found.slope < 0
    assert found.rounds == 12


def test_a_slow_decline_rings_as_a_trend():
    found = ask(90 + noise(2) - 0.7 * np.maximum(MONTHS - 24, 0))
    assert found.shape == "trend"
    assert abs(found.since - 24) <= 12
    assert found.fall == pytest.approx(29, abs=8)
    assert found.slope_high < 0


def test_better_is_no_turn_down():
    assert ask(60 + noise() + 20 * (MONTHS >= 36)) is None
    assert ask(60 + noise() + MONTHS) is None


def test_a_season_is_no_turn():
    autumn = 15.0 * (SEASONS == 0)
    assert ask(80 + noise() - autumn) is None
    # winter rounds only of late: nothing to compare them with
    months = np.array([3, 8, 15, 20, 27, 36, 48])
    assert seasons_of(months).tolist() == [1, 1, 1, 1, 1, 0, 0]
    told = 80 - 15.0 * (seasons_of(months) == 0)
    assert turn_of(months, told, np.full(7, 2.0), seasons_of(months), tau=2.0) is None


def test_what_is_usual_in_the_town_is_no_turn():
    decline = 85 + noise() - 0.4 * MONTHS
    assert ask(decline) is not None
    assert ask(decline, drift=-0.4) is None


def test_a_stricter_observer_is_no_turn():
    told = 80 + noise() * 0.4 - 6.5 * (MONTHS >= 36)
    who = (MONTHS >= 36).astype(int)
    assert ask(told, tau=3.0) is not None
    assert ask(told, tau=3.0, observers=who) is None
    # with the same two people taking turns it is the trees
    assert ask(told, tau=3.0, observers=np.arange(12) % 2) is not None


def test_without_a_known_spread_rounds_are_shuffled():
    told = 80 + noise() - 20 * (MONTHS >= 36)
    found = ask(told, tau=None)
    assert (found.shape, found.since) == ("step", 36)
    # all orders of three rounds: 1 in 6 at best, and that is not enough
    few = np.array([3, 15, 27])
    assert turn_of(few, [80, 50, 20], [1, 1, 1], [1, 1, 1]) is None
    assert turn_of(few, [80, 50, 20], [1, 1, 1], [1, 1, 1], tau=2.0) is not None


def test_the_same_question_has_the_same_answer():
    told = 80 + noise() - 9 * (MONTHS >= 36)
    assert ask(told) == ask(told)
    moved = turn_of(MONTHS + 120, told + 3, ERRORS, SEASONS, tau=2.0)
    found = ask(told)
    assert (moved.since, moved.fall, moved.p) == (
        found.since + 120, pytest.approx(found.fall), found.p,
    )  # fmt: skip


def test_fewer_than_three_rounds_ring_nothing():
    assert ask([90, 10], months=np.array([3, 15])) is None
    assert turn_of([], [], [], [], tau=2.0) is None
    # never twice in one season
    assert turn_of([3, 9, 16], [90, 10, 0], [1, 1, 1], [0, 1, 2], tau=2.0) is None
    assert ask([90, 10, 0], months=np.array([3, 15, 27])) is not None


def test_each_round_spends_its_share_of_the_year():
    def spends(*months):
        many = len(months)
        watch = Watch.over(np.array(months), np.ones(many), np.zeros(many), tau=1.0)
        return watch.spends(0.05)

    assert spends(0, 12, 24) == pytest.approx(0.05)
    assert spends(0, 12, 15) == pytest.approx(0.0125)
    assert spends(0, 12, 60) == pytest.approx(0.05)


def test_a_turn_that_rang_stands_when_the_next_round_follows_soon():
    months = np.array([3, 9, 15, 21, 27, 33, 39, 40])
    told = np.array([82.0, 80, 79, 81, 78, 74, 70, 77])
    asked = {"months": months, "tau": 2.0}
    assert turn_of(months[:-1], told[:-1], ERRORS[:7], seasons_of(months[:-1]), tau=2.0)
    assert ask(told, **asked) is None
    found = ask(told, standing=True, **asked)
    assert found.spent < found.p <= STANDS
    mended = np.append(told[:-1], 81.0)
    assert ask(np.append(mended, [82.0, 83.0]), months=np.append(months, [46, 52]), tau=2.0,
               standing=True) is None  # fmt: skip


def test_both_tests_together_ring_for_luck_exactly_as_often_as_they_say():
    dice = np.random.default_rng(5)
    watch = Watch.over(MONTHS, ERRORS, SEASONS, tau=2.0, luck=0.3)
    p, _, _ = watch.chances(dice.standard_normal((4000, 12)) @ watch.root.T)
    for level in (0.01, 0.05, 0.2):
        assert np.mean(p <= level) == pytest.approx(
            level, abs=4 * np.sqrt(level * (1 - level) / 4000) + 4 * np.sqrt(level / 4999)
        )


@pytest.fixture(scope="module")
def flat_town():
    dice = np.random.default_rng(11)
    return [make_looks(Habit(every=6), dice) for _ in range(24)]


def rings(looks, usual, since=0):
    """The months of rounds at which a site rings, asked after each."""
    found = []
    for month in np.unique(looks[1]):
        rounds = cut(looks, month)
        turn = turn_of_rounds(rounds, seasons_of(rounds.months), usual)
        if turn and month >= since:
            found.append((int(month), turn))
    return found


def test_flat_sites_ring_in_at_most_a_twentieth_of_their_years(flat_town):
    usual = usual_of([cut(looks, 99) for looks in flat_town])
    years = {(site, month // 12) for site, looks in enumerate(flat_town)
             for month, _ in rings(looks, usual)}  # fmt: skip
    asked = 24 * 5  # the first year has too few rounds
    assert len(years) / asked <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / asked)


def test_a_site_that_lost_a_third_of_its_trees_rings_within_two_years(flat_town):
    usual = usual_of([cut(looks, 99) for looks in flat_town])
    dice = np.random.default_rng(12)
    struck = [make_looks(Habit(every=6, turn_month=36, killed=0.35), dice) for _ in range(8)]
    first = [next(iter(rings(looks, usual, since=36)), None) for looks in struck]
    assert sum(one is not None and one[0] < 60 for one in first) >= 6
    assert all(one[1].fall > 8 for one in first if one)


def test_more_rounds_and_larger_falls_are_noticed_more_often():
    chances = [chance_of_notice(Plan(6), fall=fall, within=12, runs=200) for fall in (0, 8, 20)]
    assert chances[0] <= 0.05 + 2 * np.sqrt(0.05 * 0.95 / 200)
    assert chances[0] < chances[1] < chances[2]
    assert chances[2] > 0.9
    often, seldom = (chance_of_notice(Plan(every), fall=10, within=12) for every in (3, 12))
    assert often > seldom
    slow = chance_of_notice(Plan(6), fall=20, within=24, shape="trend", runs=200)
    assert chances[0] < slow < chances[2]


@pytest.mark.parametrize(
    "asked",
    [
        lambda: turn_of([1, 2], [1, 2], [1], [0, 0]),
        lambda: turn_of([2, 2, 3], [1, 2, 3], [1, 1, 1], [0, 0, 0]),
        lambda: turn_of([1, 2, 3], [1, np.nan, 3], [1, 1, 1], [0, 0, 0]),
        lambda: turn_of([1, 2, 3], [1, 2], [1, 1, 1], [0, 0, 0]),
        lambda: turn_of([1, 2, 3], [1, 2, 3], [1, -1, 1], [0, 0, 0]),
        lambda: turn_of([1, 2, 3], [1, 2, 3], [1, 1, 1], [0, 0, 0], tau=0),
        lambda: turn_of([1, 2, 3], [1, 2, 3], [1, 1, 1], [0, 0, 0], level=0),
        lambda: turn_of([1, 2, 3], [1, 2, 3], [1, 1, 1], [0, 0, 0], tau=1, luck=-1),
        lambda: turn_of([1, 2], [1, 2], [1, 1], [0, 0], tau=1, covariance=[[1]]),
        lambda: Watch.over([0, 6, 12], [1] * 3, [0] * 3, tau=None).chances(np.zeros((2, 3))),
        lambda: Plan(0),
        lambda: Plan(6, before=-1),
        lambda: chance_of_notice(Plan(6), fall=-1, within=12),
    ],
)
def test_what_is_no_series_of_rounds_is_refused(asked):
    with pytest.raises(BadSeries):
        asked()


def test_luck_is_less_on_a_site_of_many_trees():
    usual = Usual(tau=2.0, drift=-0.2, dying=0.002, pairs=40)
    assert usual.luck(100) == pytest.approx(usual.luck(25) / 4)
