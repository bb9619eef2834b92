"""Limits of shares against published tables."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from survey.science.proportions import BadShare, Limits, clopper_pearson, jeffreys, wilson

# Wilson: 81/263, 15/148, 0/20, 1/29 and 29/29 are in Newcombe 1998, Stat. Med. 17:857, Table I, to
# four places; the rest computed with statsmodels 0.15 and scipy 1.17.
SHARES = [
    # count, of, Wilson, Clopper-Pearson, Jeffreys
    (81, 263, (0.255289, 0.366210), (0.252737, 0.367622), (0.254522, 0.365647)),
    (15, 148, (0.062386, 0.160487), (0.057844, 0.161650), (0.060449, 0.157643)),
    (0, 20, (0, 0.161125), (0, 0.168433), (0.000024, 0.116639)),
    (1, 29, (0.006113, 0.171755), (0.000873, 0.177644), (0.003746, 0.150078)),
    (29, 29, (0.883030, 1), (0.880555, 1), (0.917714, 0.999983)),
    (3, 5, (0.230724, 0.882379), (0.146633, 0.947255), (0.209417, 0.905610)),
    (0, 5, (0, 0.434482), (0, 0.521824), (0.000093, 0.379377)),
    (5, 5, (0.565518, 1), (0.478176, 1), (0.620623, 0.999907)),
    (0, 1, (0, 0.793451), (0, 0.975), (0.000386, 0.853254)),
]


@pytest.mark.parametrize(("count", "of", "score", "exact", "posterior"), SHARES)
def test_agrees_with_the_published_limits(count, of, score, exact, posterior):
    for found, expected in (
        (wilson(count, of), score),
        (clopper_pearson(count, of), exact),
        (jeffreys(count, of, amended=False), posterior),
    ):
        assert (found.low, found.high) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0, 0.1611),
     (1, 29, 0.0061, 0.1718)],
)  # fmt: skip
def test_wilson_is_the_printed_table(count, of, low, high):
    # Newcombe 1998, Stat. Med. 17:857, Table I, method 3, as printed
    assert round(wilson(count, of).low, 4) == low
    assert round(wilson(count, of).high, 4) == high


@given(st.integers(1, 2000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_every_kind_holds_the_share_and_stays_within_0_and_1(case):
    count, of = case
    for kind in (wilson, clopper_pearson, jeffreys):
        found = kind(count, of)
        assert 0 <= found.low <= count / of <= found.high <= 1


@given(
    st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
    st.sampled_from([0.8, 0.9, 0.99]),
)
def test_agrees_with_an_independent_program(case, level):
    count, of = case
    for kind, name in ((wilson, "wilson"), (clopper_pearson, "beta")):
        found = kind(count, of, level=level)
        theirs = proportion_confint(count, of, alpha=1 - level, method=name)
        assert (found.low, found.high) == pytest.approx(theirs, abs=1e-9)


@pytest.mark.parametrize("kind", [wilson, clopper_pearson])
def test_nothing_looked_at_is_nothing_known(kind):
    assert kind(0, 0) == Limits(0, 1)


def test_the_posterior_of_nothing_looked_at_is_the_whole_range():
    assert jeffreys(0, 0) == Limits(0, 1)


@pytest.mark.parametrize("kind", [wilson, clopper_pearson, jeffreys])
@pytest.mark.parametrize(
    ("count", "of", "level"),
    [(-1, 5, 0.95), (6, 5, 0.95), (math.nan, 5, 0.95), (1, math.inf, 0.95), (1, 5, 0), (1, 5, 1.5)],
)
def test_what_is_no_share_is_refused(kind, count, of, level):
    with pytest.raises(BadShare):
        kind(count, of, level=level)
