"""The judge: worked cases by hand, and what leaving something out costs."""

import numpy as np
import pytest

from survey.science.condition.judging import (
    Answer,
    Truth,
    ahead,
    calibration,
    judge,
    judge_bands,
    judge_status,
)
from survey.science.condition.records import NOT_SAID


def one_hot(*places):
    return np.eye(5)[list(places)]


TRUTH = Truth(
    state=np.array([0, 4, 5, 2]),
    died=np.array([NOT_SAID, 30, 10, NOT_SAID]),
    registered=np.array([5, 5, 12, 5]),
    survival=np.array([[0, 0], [0, 2], [NOT_SAID, 1]]),
    survival_share=np.array([0.9, 0.6, 0.5]),
    outlook=np.array([[0, 30], [0, 31]]),
    outlook_value=np.array([80.0, 70.0]),
    residents=np.array([[0, 3, 0], [1, 3, 1], [2, 12, 0], [NOT_SAID, 12, 1]]),
)


def an_answer(**changes):
    fields = {
        "status": np.array(
            [
                [0.9, 0.1, 0, 0, 0],
                [0, 0, 0.1, 0.1, 0.8],
                [0, 0, 0, 0.4, 0.6],
                [0, 0.5, 0.2, 0, 0.3],
            ]
        ),
        "death": np.array(
            [[np.nan] * 3, [33.0, 28, 35], [12.0, 11, 13], [np.nan] * 3],
        ),
        "survival": np.array([[[0.85, 0.8, 0.95], [np.nan] * 3, [0.7, 0.65, 0.8]]]),
        "outlook": np.array([[[82.0, 75, 90], [60.0, 50, 69]]]),
        "first_month": 30,
        "reliability": np.array([0.7, 0.2, 0.9]),
    }
    return Answer(**fields | changes)


def test_every_score_is_what_a_hand_reckons():
    scores = judge(an_answer(), TRUTH, months=60)
    assert scores["accuracy"] == 0.75  # the last tree is taken for holding and is slipping
    assert scores["accuracy_lost"] == 1.0
    assert scores["brier"] == pytest.approx((0.0 + 0.04 + 0.16 + 0.09) / 4)
    assert scores["log_score"] == pytest.approx(
        -(np.log(0.999) + np.log(0.8) + np.log(0.6) + np.log(0.7)) / 4
    )
    assert scores["sum_p_minus_lost"] == pytest.approx(1.7 - 2)
    assert scores["ece"] == pytest.approx((0.0 + 0.2 + 0.4 + 0.3) / 4)
    # the third tree died before it came on the list, so only the second is asked about
    assert (scores["death_asked"], scores["death_bias"], scores["death_cover"]) == (1, 3, 1)
    assert scores["death_width"] == 8
    # the lost cohort is not answered: the worst error, 1, and not held
    assert scores["survival_bias"] == pytest.approx((-0.05 + 0.1 + 1) / 3)
    assert scores["survival_rmse"] == pytest.approx(np.sqrt((0.0025 + 0.01 + 1) / 3))
    assert scores["survival_cover"] == pytest.approx(1 / 3)
    assert scores["outlook_mae"] == 6
    assert scores["outlook_bias"] == -4
    assert scores["outlook_cover"] == 0.5
    assert scores["outlook_width"] == 17
    assert scores["spam_auc_1"] == 1.0
    assert np.isnan(scores["spam_auc_5"])
    # a spammer who is not answered counts as fully trusted
    assert scores["spam_auc_10"] == 0.0


def test_what_is_left_out_counts_as_the_worst_answer():
    nothing = an_answer(
        status=np.full((4, 5), np.nan),
        survival=np.full((1, 3, 3), np.nan),
        outlook=np.full((1, 2, 3), np.nan),
        reliability=np.full(3, np.nan),
    )
    scores = judge(nothing, TRUTH, months=60)
    assert scores["brier"] == pytest.approx((2 * 0.2**2 + 2 * 0.8**2) / 4)
    assert (scores["survival_bias"], scores["survival_cover"]) == (1.0, 0.0)
    assert (scores["outlook_mae"], scores["outlook_cover"]) == (100.0, 0.0)
    assert scores["spam_auc_1"] == 0.0


def test_a_tree_that_is_believed_lost_and_not_dated_costs_the_whole_record():
    scores = judge(an_answer(death=np.full((4, 3), np.nan)), TRUTH, months=60)
    assert (scores["death_mae"], scores["death_cover"]) == (60.0, 0.0)


def test_months_and_sites_outside_the_answer_are_not_answered():
    scores = judge(an_answer(first_month=31), TRUTH, months=60)
    assert scores["outlook_mae"] == (100 + 12) / 2


def test_nobody_gains_by_being_surer_than_one_in_a_thousand():
    told, state = one_hot(0, 4), np.array([0, 4])
    assert judge_status(told, state)["log_score"] == pytest.approx(-np.log(0.999))
    assert judge_status(told[::-1], state)["log_score"] == pytest.approx(-np.log(0.001))


def test_the_tenths_hold_every_probability_and_1_is_in_the_last():
    table = calibration(np.array([0.0, 0.05, 0.1, 0.999, 1.0]), np.array([0.0, 1, 0, 1, 1]))
    assert table[:, 0].tolist() == [2, 1, 0, 0, 0, 0, 0, 0, 0, 2]
    assert table[0, 1:].tolist() == [0.025, 0.5]
    assert np.isnan(table[3, 1:]).all()


def test_nothing_asked_is_no_score():
    scores = judge_bands("outlook", np.zeros((0, 3)), np.zeros(0), worst=100.0)
    assert np.isnan(scores["outlook_mae"])
    assert scores["outlook_asked"] == 0


def test_standing_ahead_counts_ties_half():
    assert ahead(np.array([0.9, 0.5]), np.array([0.5])) == 0.75
    assert np.isnan(ahead(np.array([0.9]), np.array([])))
