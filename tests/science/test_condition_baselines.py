"""What is done without a model, and that it is what others computed on the same towns."""

import csv
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from survey.exports.town_folder import MONTH_0, evidence_of, read_town
from survey.exports.town_truth import read_truth
from survey.science.condition.baselines import last_report, majority_of_three
from survey.science.condition.gather import LookRow, looks_of
from survey.science.condition.judging import judge
from survey.science.condition.records import Evidence, Trees, no_pairs

TOWNS = Path(__file__).parents[2] / "fixtures" / "towns"
POINTS = np.array([94.0, 89.0, 74.0, 48.0, 0.0, 0.0])
METHODS = {"last report": last_report, "majority of three": majority_of_three}
NAMES = {
    "accuracy5": "accuracy",
    "accuracy_dead": "accuracy_lost",
    "brier": "brier",
    "log_score": "log_score",
    "dead": "lost",
    "ece10": "ece",
}


@cache
def read(town):
    folder = read_town(TOWNS / town)
    return folder, evidence_of(folder), read_truth(TOWNS / town, folder)


@pytest.mark.parametrize("town", ["alder", "birchfield"])
@pytest.mark.parametrize("method", METHODS)
def test_the_status_is_scored_as_another_program_scored_it(town, method):
    # fixtures/towns/reference_scores.csv, made and judged by a program outside this project
    with (TOWNS / "reference_scores.csv").open() as opened:
        row = next(r for r in csv.DictReader(opened) if (r["town"], r["method"]) == (town, method))
    folder, evidence, truth = read(town)
    scores = judge(METHODS[method](evidence, POINTS), truth, months=folder.months)
    for theirs, ours in NAMES.items():
        assert scores[ours] == pytest.approx(float(row[theirs]), abs=1.01e-4), theirs


def test_every_other_score_is_what_another_judge_said_of_the_same_answer():
    # the answer written to files and judged by the program that made reference_scores.csv
    folder, evidence, truth = read("alder")
    scores = judge(last_report(evidence, POINTS), truth, months=folder.months)
    for name, value in {
        "death_asked": 65,
        "death_mae": 8.261538,
        "death_bias": 8.169231,
        "death_cover": 0.646154,
        "death_width": 7.846154,
        "survival_asked": 14,
        "survival_bias": -0.002299,
        "survival_rmse": 0.030529,
        "survival_cover": 1.0,
        "survival_width": 0.147099,
        "outlook_bias": -0.452031,
        "outlook_mae": 3.101535,
        "outlook_cover": 0.920139,
        "outlook_width": 17.474649,
    }.items():
        assert scores[name] == pytest.approx(value, abs=1e-6), name


def a_town(*looks, removals=None, observers=(0, 1, 2)):
    """One tree from month 0 to 9, seen by a resident (0), a volunteer (1) and staff (2)."""
    month = np.array([MONTH_0])
    return Evidence(
        trees=Trees(month, month, month + 9, np.array([0]), np.array([0])),
        looks=looks_of(
            LookRow(tree=0, month=MONTH_0 + when, observer=who, label=label)
            for when, who, label in looks
        ),
        observers=np.array(observers),
        care=no_pairs(),
        removals=no_pairs() if removals is None else removals,
        sites=1,
        cohorts=1,
    )


def test_within_a_month_the_better_trained_speaks_last():
    town = a_town((3, 0, "dead"), (3, 1, "holding"), (1, 2, "failing"))
    assert last_report(town, POINTS).status[0].argmax() == 1


def test_a_logged_removal_is_the_last_report():
    town = a_town((3, 1, "thriving"), removals=np.array([[0, MONTH_0 + 5]]))
    answer = last_report(town, POINTS)
    assert answer.p_lost[0] == 1
    assert (answer.death[0] - MONTH_0).tolist() == [5, 4, 5]


def test_the_newest_of_three_breaks_a_tie():
    town = a_town((1, 0, "thriving"), (2, 1, "dead"), (3, 2, "slipping"))
    assert majority_of_three(town, POINTS).status[0].argmax() == 2
    # only the last three are heard
    town = a_town((1, 0, "dead"), (2, 0, "holding"), (3, 1, "holding"), (4, 1, "dead"))
    assert majority_of_three(town, POINTS).status[0].argmax() == 1


def test_the_band_of_a_site_follows_the_months():
    town = a_town((0, 1, "thriving"), (4, 1, "dead"))
    outlook = last_report(town, POINTS).outlook[0, :, 0]
    assert outlook.tolist() == [94.0] * 4 + [0.0] * 6


def test_a_town_without_a_word_is_answered_by_even_shares():
    answer = last_report(a_town(), POINTS)
    assert answer.status[0].tolist() == [0.2] * 5
    assert np.isnan(answer.death).all()
