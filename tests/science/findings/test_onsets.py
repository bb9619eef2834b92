"""When a sign began, never more than looks allow."""

import numpy as np
import pytest
from scipy.stats import binom

from survey.science.findings.onsets import NEVER, BadWatch, Watch, after_change, after_happening


def watch(rows) -> Watch:
    return Watch(*(np.array(column, dtype=np.int64) for column in zip(*rows, strict=True)))


def test_onsets_after_a_change_are_binomial_in_the_days_watched():
    # ten trees watched from day 0 to 100; the change falls on day 50; eight begin surely after it
    rows = [(0, 60, 70)] * 8 + [(0, 20, 30), (0, 100, NEVER)]
    told = after_change(watch(rows), 50)
    assert (told.before, told.straddling, told.after) == (1, 0, 8)
    before = 8 * 50 + 20 + 50
    after = 8 * 20 + 0 + 50
    assert told.share_of_days == pytest.approx(after / (before + after))
    assert told.p == pytest.approx(binom.sf(7, 9, told.share_of_days))
    assert told.verdict == "more_after"


def test_trees_whose_looks_lie_on_both_sides_speak_against_the_change():
    rows = [(0, 40, 60)] * 12 + [(0, 100, NEVER)] * 5
    told = after_change(watch(rows), 50)
    assert told.straddling == 12
    assert told.after == 0
    assert told.p == 1.0
    assert told.verdict == "not_shown"


def test_a_change_before_or_after_all_looks_is_too_little_to_tell():
    rows = [(0, 60, 70)] * 8
    assert after_change(watch(rows), -5).verdict == "too_few"
    assert after_change(watch(rows), 500).verdict == "too_few"
    assert after_change(watch(rows[:4]), 50).verdict == "too_few"


def test_onsets_that_surely_lie_behind_a_happening_gather():
    rows = [(0, 500 + k, 520 + k) for k in range(12)] + [(0, 1000, NEVER)] * 20
    told = after_happening(watch(rows), 498, days=60)
    assert told.within == 12
    assert told.weight == pytest.approx(12)
    assert told.verdict == "gathers"
    assert told.p < 0.05
    assert told.expected < 1


def test_looks_a_year_apart_date_nothing():
    rows = [(0, 300, 660)] * 15 + [(0, 1000, NEVER)] * 20
    told = after_happening(watch(rows), 400, days=60)
    assert told.within == 0
    assert told.weight == pytest.approx(15 * 60 / 360)
    assert told.p > 0.3
    assert told.verdict == "not_shown"


def test_a_happening_outside_the_watch_is_not_judged():
    rows = [(0, 300, 310)] * 8
    assert after_happening(watch(rows), -100).verdict == "too_few"
    assert after_happening(watch(rows), 4000).verdict == "too_few"


def test_the_weight_of_a_window_is_what_it_shares_with_each_interval():
    rows = [(0, 100, 200), (0, 150, 160), (0, 10, 20), (0, 120, 260), (0, 170, 400)]
    told = after_happening(watch(rows), 140, days=60)
    by_hand = 60 / 100 + 1 + 0 + 60 / 140 + 30 / 230
    assert told.weight == pytest.approx(by_hand)
    assert told.within == 1


def test_a_window_is_held_against_days_of_its_own_season_only():
    # onsets of three summers, looked for right after a happening in the third
    rows = [(0, year * 365 + 190, year * 365 + 220) for year in (0, 1, 2) for _tree in range(6)]
    rows += [(0, 1300, NEVER)] * 4
    free = after_happening(watch(rows), 2 * 365 + 190, days=40)
    held = after_happening(watch(rows), 2 * 365 + 190, days=40, season=20)
    assert free.weight == held.weight == pytest.approx(6)
    assert free.p < held.p
    assert held.expected > free.expected
    assert held.verdict == "not_shown"


def test_where_signs_begin_at_any_time_a_window_seldom_stands_out():
    dice = np.random.default_rng(11)
    shown = 0
    for _town in range(200):
        looks = np.sort(dice.integers(0, 1000, 8))
        onset = dice.uniform(0, 1000, 40)
        rows = []
        for moment in onset:
            clean, later = looks[looks < moment], looks[looks >= moment]
            if len(clean):
                seen = int(later[0]) if len(later) and later[0] > clean[-1] else NEVER
                rows.append((int(clean[0]), int(clean[-1]), seen))
        if len(rows) < 5:
            continue
        told = after_happening(watch(rows), int(dice.integers(looks[0], 900)), days=60)
        shown += told.verdict == "gathers"
    assert shown <= 18  # 5 % of 200 and two deviations more


def test_a_steady_pace_is_seldom_called_a_change():
    dice = np.random.default_rng(12)
    shown = 0
    for _town in range(400):
        looks = np.arange(0, 1001, 100)
        rows = []
        for moment in dice.exponential(900, 40):
            clean, later = looks[looks < moment], looks[looks >= moment]
            seen = int(later[0]) if len(later) else NEVER
            rows.append((0, int(clean[-1]) if len(clean) else 0, seen))
        shown += after_change(watch(rows), int(dice.integers(200, 800))).verdict == "more_after"
    assert shown <= 20 + 9


@pytest.mark.parametrize("row", [(10, 5, NEVER), (0, 20, 20), (0, 20, 10)])
def test_days_out_of_order_are_refused(row):
    with pytest.raises(BadWatch):
        watch([row])
