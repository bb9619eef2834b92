"""The step test against a published change of level and against brute force."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.datasets import nile

from survey.science.trend import step
from survey.science.trend.kendall import BadSeries
from survey.science.trend.step import pettitt


def test_the_nile_fell_between_1898_and_1899():
    # Cobb 1978 Biometrika 65:243: the yearly flow of the Nile at Aswan drops after 1898
    record = nile.load().data
    found = pettitt(record["volume"], seed=1)
    assert int(record["year"].iloc[found.at]) == 1899
    assert found.down
    assert found.p_formula < 1e-5
    assert found.p == 1 / 5000  # not one of so many orders goes as far


@given(st.lists(st.integers(0, 5), min_size=2, max_size=6))
@settings(max_examples=40, deadline=None)
def test_few_values_are_judged_by_all_their_orders(values):
    def largest(order):
        # Pettitt 1979, definition: U(t) = sum over i <= t < j of sgn(x_i - x_j)
        return max(
            abs(sum(np.sign(a - b) for a in order[:t] for b in order[t:]))
            for t in range(1, len(order))
        )

    found = pettitt(values, seed=0)
    assert found.statistic == pytest.approx(largest(values))
    share = np.mean([largest(order) >= found.statistic for order in permutations(values)])
    assert found.p == pytest.approx(share)


def test_drawn_orders_come_near_to_all_of_them(monkeypatch):
    values = [9.0, 8.0, 8.5, 9.5, 6.5, 8.2, 6.0]
    exact = pettitt(values, seed=0)
    monkeypatch.setattr(step, "MOST_ENUMERATED", 2)
    drawn = pettitt(values, seed=0)
    assert drawn.p == pytest.approx(exact.p, abs=0.025)  # four standard errors of 4999 draws
    assert drawn.p != exact.p
    assert drawn == pettitt(values, seed=0)


def test_a_step_is_found_where_it_is():
    found = pettitt([5, 6, 5.5, 6.2, 1, 1.5, 0.5, 1.2], seed=4)
    assert (found.at, found.down) == (4, True)
    assert found.p < 0.05


@pytest.mark.parametrize("values", [[], [1], [1, np.nan], [[1, 2], [3, 4]]])
def test_what_is_no_series_is_refused(values):
    with pytest.raises(BadSeries):
        pettitt(values, seed=0)
