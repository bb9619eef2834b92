"""Counts, curves and figures of a group, against arithmetic done by hand."""

from dataclasses import replace
from datetime import date
from itertools import pairwise

import pytest

from survey.survival import figures
from survey.survival.fates import Fates
from survey.survival.figures import under_watch
from survey.survival.keys import Keys
from survey.survival.spells import Life

AS_OF = date(2026, 6, 16)
KEYS = Keys("p", "linden", "s", "2023", "q", "all")
INF = float("inf")


def life(left, right=INF, entry=None, outcome="", status="alive", **more):
    return Life(
        tree=1,
        ref="t",
        keys=KEYS,
        excluded="",
        entry=entry,
        left=left,
        right=right,
        outcome=outcome or ("died" if right < INF else ""),
        status=status if right == INF or status != "alive" else "gone",
        age_now=31,
        second=(22, 22),
        last_seen=date(2026, 6, 1),
        gaps=(200,),
        wide_date=False,
        late=entry is not None,
        **more,
    )


def work_out(trees):
    return figures.work_out(Fates.of(trees, AS_OF))


def told(worked, milestone, curve="loss"):
    return next(f for f in worked.figures if (f.milestone, f.curve) == (milestone, curve))


def test_ten_trees_of_which_two_were_lost():
    # watched from planting; one lost between 6 and 9 months, one between 15 and 20
    trees = [life(30)] * 8 + [life(6, 9), life(15, 20)]
    worked = work_out(trees)
    second = told(worked, "second_summer")
    assert (second.at_least, second.at_most) == (0.8, 0.8)
    assert (second.alive, second.lost, second.unknown, second.events) == (8, 2, 0, 2)
    assert second.at_risk == 8
    assert second.low < 0.8 < second.high
    assert told(worked, "12").at_least == 0.9
    assert told(worked, "36").withheld == "not_old_enough"


def test_inside_an_interval_there_are_two_answers():
    trees = [life(30)] * 8 + [life(6, 9), life(20, 26)]
    second = told(work_out(trees), "second_summer")
    assert (second.at_least, second.at_most) == (0.8, 0.9)
    assert (second.alive, second.lost, second.unknown) == (8, 1, 1)


def test_all_alive_is_no_proof_of_immortality():
    second = told(work_out([life(30)] * 5), "second_summer")
    assert (second.at_least, second.at_most, second.high) == (1, 1, 1)
    # Clopper & Pearson's exact lower limit for 5 of 5: 0.025 ** (1 / 5)
    assert second.low == pytest.approx(0.478176, abs=1e-6)


def test_fewer_than_five_trees_have_counts_only():
    worked = work_out([life(30)] * 3 + [life(3, 9)])
    assert {f.withheld for f in worked.figures} == {"too_few"}
    second = told(worked, "second_summer")
    assert (second.alive, second.lost, second.at_least) == (3, 1, None)
    assert worked.curves == {}


def test_a_group_without_trees_in_the_rates_still_says_why():
    out = replace(life(0), excluded="not_found_alive")
    worked = work_out([out] * 7)
    assert worked.counts["excluded"]["not_found_alive"] == 7
    assert (worked.counts["registered"], worked.counts["in_rates"]) == (7, 0)
    assert all(f.withheld for f in worked.figures)


def test_nobody_seen_at_an_age_gives_no_figure_for_it():
    worked = work_out([life(14)] * 12)
    assert told(worked, "24").withheld == "not_seen"
    assert told(worked, "12").at_least == 1


def test_a_group_watched_only_from_later_on_says_from_which_age():
    trees = [life(30, entry=14)] * 11 + [life(16, 20, entry=14)]
    worked = work_out(trees)
    assert worked.counts["from_age"] == 14
    assert told(worked, "12").withheld == "not_watched"
    assert told(worked, "24").at_least == pytest.approx(11 / 12, abs=1e-6)


def test_live_removals_for_other_reasons_count_as_lost_and_not_as_dead():
    # by hand: at 12 months 1 of 10 dead and 1 of 10 removed; the two causes add to the loss
    trees = [life(30)] * 8 + [
        life(6, 9),
        life(9, 10, outcome="removed_other", status="removed_other"),
    ]
    worked = work_out(trees)
    assert told(worked, "12").at_least == pytest.approx(0.8)
    assert told(worked, "12", "death").at_least == pytest.approx(0.9)
    assert told(worked, "12", "death").events == 1
    assert set(worked.curves) >= {"loss", "death"}


def test_without_such_removals_both_curves_are_one():
    worked = work_out([life(30)] * 8 + [life(6, 9)])
    assert told(worked, "24").at_least == told(worked, "24", "death").at_least
    assert "death" not in worked.curves


def test_trees_of_many_ages_are_asked_at_the_oldest_for_at_least_and_youngest_for_at_most():
    early = replace(life(30), second=(18, 18))
    late = replace(life(18, 20), second=(22, 22))
    second = told(work_out([early] * 9 + [late]), "second_summer")
    assert second.age == 22
    assert (second.at_least, second.at_most) == (0.9, 1)


def test_a_tree_lost_from_sight_has_a_bound_of_its_own():
    trees = [life(30)] * 9 + [life(6, status="lost")]
    worked = work_out(trees)
    assert told(worked, "second_summer").at_least == 1
    # counted as lost within a month of its last look: 9 of 10
    assert worked.counts["if_lost_were_gone"] == pytest.approx(0.9, abs=1e-6)


def test_under_watch_counts_whom_the_curve_rests_on():
    trees = [
        life(30),  # seen alive later
        life(16),  # seen alive half a year before
        life(9),  # not for more than a year before
        life(20, 22),  # known lost
        life(30, entry=24),  # came too late
        replace(life(22), age_now=21),  # not that old
    ]
    assert under_watch(Fates.of(trees, AS_OF).in_rates, 22) == 2


def test_a_year_of_age_has_a_mortality_of_its_own():
    trees = [life(30)] * 16 + [life(5, 6)] * 4
    worked = work_out(trees)
    first, second = worked.mortality["bands"]
    assert (first["from"], first["to"], first["at_most"]) == (0, 12, 0.2)
    assert (second["from"], second["at_most"]) == (12, 0)
    assert worked.mortality["overall"]["losses"] == 4
    assert 0 < worked.mortality["overall"]["annual"] < 0.2


def test_the_same_trees_in_any_order_give_the_same_numbers():
    trees = [life(30)] * 8 + [life(6, 9), life(20, 26), life(12, entry=4)]
    assert work_out(trees) == work_out(trees[::-1])


def test_curves_never_rise_and_lie_within_their_band():
    trees = [life(30)] * 8 + [life(6, 9), life(20, 26), life(12, 20), life(15, entry=4)]
    rows = work_out(trees).curves["loss"]
    for before, after in pairwise(rows):
        assert after[1] <= before[1]
        assert after[2] <= before[2]
    for _, least, most, low, high in rows:
        assert 0 <= low <= least <= most <= high <= 1
