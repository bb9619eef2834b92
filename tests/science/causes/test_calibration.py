"""No number is shown before enough causes were confirmed or ruled out."""

import math

import pytest

from survey.science.causes.calibration import VERDICTS_NEEDED, calibrate
from survey.science.causes.records import CannotWeigh


def test_of_40_called_likely_31_were_confirmed():
    likely = calibrate([("likely", n < 31) for n in range(40)])["likely"]
    assert (likely.confirmed, likely.of, likely.missing) == (31, 40, 0)
    # what makes limits exact: at either of them, so many or more (or fewer) come out 25 in 1000

    def at_least(k, share):
        return sum(math.comb(40, n) * share**n * (1 - share) ** (40 - n) for n in range(k, 41))

    assert at_least(31, likely.limits.low) == pytest.approx(0.025, abs=1e-9)
    assert 1 - at_least(32, likely.limits.high) == pytest.approx(0.025, abs=1e-9)


def test_one_short_of_enough_gives_counts_and_no_limits():
    short = calibrate([("likely", True)] * (VERDICTS_NEEDED - 1))["likely"]
    assert short.limits is None
    assert short.missing == 1
    assert calibrate([("likely", True)] * VERDICTS_NEEDED)["likely"].limits is not None


def test_other_words_are_passed_over_and_nothing_is_no_error():
    told = calibrate([("", True), ("unlikely", True), ("cannot_tell", False), ("possible", True)])
    assert told["likely"].of == 0
    assert told["possible"].of == 1
    assert calibrate([])["likely"].limits is None


def test_a_verdict_that_is_neither_is_refused():
    with pytest.raises(CannotWeigh):
        calibrate([("likely", 2)])
