"""One group against the others, against scipy, statsmodels and worked examples."""

import math

import numpy as np
import pytest
from scipy.stats import fisher_exact, hypergeom, nchypergeom_fisher
from scipy.stats.contingency import odds_ratio
from statsmodels.stats.contingency_tables import StratifiedTable

from survey.science.findings.exact import BadTable, Table, chances

# Penicillin and rabbits, in Mantel 1963 J. Am. Stat. Assoc. 58:690-700, as R prints them under
# `mantelhaen.test`; data and answers (exact p 0.03994, common odds ratio 10.36102) from memory.
RABBITS = [(0, 6, 0, 5), (3, 3, 0, 6), (6, 0, 2, 4), (5, 1, 6, 0), (2, 0, 5, 0)]


def table(a, b, c, d):
    return Table(a, a + b, c, c + d)


def test_fishers_tea_lady_has_a_chance_of_17_in_70():
    # Fisher 1935, The Design of Experiments, chapter II: three of four cups told right
    assert chances([table(3, 1, 1, 3)]).at_least == pytest.approx(17 / 70, rel=1e-12)


def test_fishers_convicted_twins():
    # Fisher 1962 Aust. J. Stat. 4:41, as R prints it under `fisher.test` (from memory): 10 of 13
    # one-egg and 2 of 17 two-egg twins; p 0.0004652, limits of the ratio one-sided
    known = chances([table(2, 15, 10, 3)])
    assert known.at_most == pytest.approx(0.0004652, abs=5e-8)
    assert known.odds().ratio == pytest.approx(0.04693661, abs=5e-8)
    assert known.odds(level=0.9).high == pytest.approx(
        0.2849601, rel=1e-5
    )  # R stops its search early


def test_several_tables_at_once_as_in_the_rabbits():
    known = chances([table(*row) for row in RABBITS])
    assert known.seen == 16 - 2  # the last table has one outcome only and tells nothing
    assert known.as_odd == pytest.approx(0.03994, abs=5e-6)
    assert known.odds().ratio == pytest.approx(10.36102, rel=1e-5)


def test_the_limits_are_where_the_tails_hold_a_fortieth():
    """Under each limit as the true ratio, by scipy's noncentral law and every combination."""
    tables = [table(3, 3, 0, 6), table(4, 2, 2, 4), table(5, 3, 1, 6)]
    known = chances(tables)

    def tail(ratio, keep):
        laws = [
            nchypergeom_fisher(t.of_here + t.of_there, t.of_here, t.here + t.there, ratio)
            for t in tables
        ]
        ways = np.ndindex(*(t.of_here + 1 for t in tables))
        return sum(
            math.prod(law.pmf(k) for law, k in zip(laws, way, strict=True))
            for way in ways
            if keep(sum(way))
        )

    assert tail(known.odds().low, lambda n: n >= known.seen) == pytest.approx(0.025, rel=1e-6)
    assert tail(known.odds().high, lambda n: n <= known.seen) == pytest.approx(0.025, rel=1e-6)


@pytest.mark.parametrize("seed", range(30))
def test_one_table_is_as_in_scipy(seed):
    dice = np.random.default_rng(seed)
    of_here, of_there = (int(n) for n in dice.integers(1, 60, 2))
    here, there = int(dice.integers(0, of_here + 1)), int(dice.integers(0, of_there + 1))
    rows = [[here, of_here - here], [there, of_there - there]]
    known = chances([Table(here, of_here, there, of_there)])
    assert known.at_least == pytest.approx(fisher_exact(rows, "greater").pvalue, rel=1e-9)
    assert known.at_most == pytest.approx(fisher_exact(rows, "less").pvalue, rel=1e-9)
    assert known.as_odd == pytest.approx(fisher_exact(rows).pvalue, rel=1e-9)
    if 0 < here + there < of_here + of_there:
        ours, theirs = known.odds(), odds_ratio(rows, kind="conditional")
        limits = theirs.confidence_interval(0.95)
        assert ours.ratio == pytest.approx(theirs.statistic, rel=1e-6)
        assert ours.low == pytest.approx(limits.low, rel=1e-6)
        assert ours.high == pytest.approx(limits.high, rel=1e-6)


def test_the_sum_over_tables_is_counted_out():
    """The convolution against every combination of single outcomes."""
    tables = [Table(3, 4, 2, 6), Table(1, 3, 1, 4), Table(4, 5, 3, 9)]
    total, at_least = 0.0, 0.0
    seen = sum(one.here for one in tables)
    laws = [
        hypergeom(one.of_here + one.of_there, one.here + one.there, one.of_here) for one in tables
    ]
    for ways in np.ndindex(*(one.of_here + 1 for one in tables)):
        chance = math.prod(law.pmf(k) for law, k in zip(laws, ways, strict=True))
        total += chance
        at_least += chance if sum(ways) >= seen else 0.0
    assert total == pytest.approx(1.0)
    assert chances(tables).at_least == pytest.approx(at_least, rel=1e-10)


def test_many_trees_agree_with_the_large_sample_test_of_mantel_and_haenszel():
    dice = np.random.default_rng(8)
    tables = []
    for share in (0.1, 0.2, 0.35, 0.05):
        here, there = dice.binomial(300, share * 1.25), dice.binomial(500, share)
        tables.append(Table(int(here), 300, int(there), 500))
    rows = [[[t.here, t.of_here - t.here], [t.there, t.of_there - t.there]] for t in tables]
    theirs = StratifiedTable([np.array(r) for r in rows])
    known = chances(tables)
    assert known.odds().ratio == pytest.approx(theirs.oddsratio_pooled, rel=0.02)
    assert known.as_odd == pytest.approx(theirs.test_null_odds(correction=True).pvalue, rel=0.15)
    low, high = theirs.oddsratio_pooled_confint()
    assert known.odds().low == pytest.approx(low, rel=0.02)
    assert known.odds().high == pytest.approx(high, rel=0.02)


def test_far_tails_are_kept_and_not_called_nothing():
    known = chances([Table(500, 500, 0, 100_000)])
    assert 0 <= known.at_least < 1e-300
    assert known.at_least == pytest.approx(math.exp(known.log_weight[-1]), rel=1e-6)
    assert chances([Table(40, 40, 0, 4000)]).at_least == pytest.approx(
        hypergeom(4040, 40, 40).pmf(40), rel=1e-6
    )


def test_tables_without_a_margin_say_nothing():
    alone = chances([Table(3, 5, 1, 9)])
    beside = chances([Table(3, 5, 1, 9), Table(4, 4, 0, 0), Table(0, 7, 0, 9), Table(2, 2, 3, 3)])
    assert beside.at_least == alone.at_least
    assert beside.odds() == alone.odds()
    nothing = chances([])
    assert nothing.at_least == nothing.at_most == 1.0
    assert math.isnan(nothing.odds().ratio)
    assert nothing.odds().high == math.inf


@pytest.mark.parametrize("counts", [(5, 4, 0, 3), (-1, 4, 0, 3), (1, 4, 9, 3)])
def test_impossible_counts_are_refused(counts):
    with pytest.raises(BadTable):
        Table(*counts)
