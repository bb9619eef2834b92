"""What is believed of over fifty invented towns, held against what really happened in them.

Long runs, kept out of the everyday tests; `make simulate` prints the tables. The towns hold every
fault that people and records have (see `invented_town`), and are not thrown from the model.
"""

import numpy as np
import pytest

from tests.simulate.condition_town import METHODS, Judged, judged, together

TOWNS = {"base": 14, "hard": 14, "shifted": 12, "complaints": 10, "southern": 6}
SHOWN = (
    "accuracy",
    "brier",
    "log_score",
    "sum_p_minus_lost",
    "death_mae",
    "death_cover",
    "survival_bias",
    "survival_rmse",
    "survival_cover",
    "outlook_bias",
    "outlook_mae",
    "outlook_cover",
)
MOST_BIASED_TENTH = 0.05
MOST_CALIBRATION_ERROR = 0.02
ENOUGH_TREES = 1000
LEAST_COVER, MOST_COVER = 0.92, 0.98


@pytest.fixture(scope="module")
def towns() -> dict[str, dict[str, Judged]]:
    return {kind: judged(kind, range(number)) for kind, number in TOWNS.items()}


@pytest.fixture
def tell(capsys):
    """Puts a line on the terminal: the tables are what this is run for."""

    def line(text: str) -> None:
        with capsys.disabled():
            print(text)  # noqa: T201

    return line


def test_the_tables_are_told(towns, tell):
    assert sum(TOWNS.values()) >= 50
    for kind, methods in towns.items():
        tell(f"\n{kind}, {TOWNS[kind]} towns")
        tell(" " * 18 + "".join(f"{name[:12]:>13}" for name in SHOWN))
        for name, scores in methods.items():
            said = SHOWN[:4] if name == "latent class" else SHOWN  # it says no more than states
            cells = "".join(f"{_mean(scores, score):13.4f}" for score in said)
            tell(f"  {name:<16}{cells}")
    tell("\nP(dead) of all towns by tenths: trees, said, seen")
    for trees, said, seen in of_all(towns, "all weighed").tenths:
        tell(f"  {int(trees):7d}  {said:.3f}  {seen:.3f}")


def _mean(scores: Judged, name: str) -> float:
    values = scores.column(name)
    return float(np.nanmean(values)) if not np.isnan(values).all() else float("nan")


def of_all(towns: dict[str, dict[str, Judged]], method: str) -> Judged:
    return together(methods[method] for methods in towns.values())


@pytest.mark.parametrize("other", [name for name in METHODS if name != "all weighed"])
@pytest.mark.parametrize("score", ["brier", "log_score"])
def test_it_is_nearer_the_truth_than_any_simpler_method(towns, tell, other, score):
    ours, theirs = of_all(towns, "all weighed"), of_all(towns, other)
    ahead = theirs.column(score) - ours.column(score)
    error = ahead.std(ddof=1) / np.sqrt(len(ahead))
    tell(f"\n{score}: ahead of {other} by {ahead.mean():.4f}, standard error {error:.4f}")
    assert ahead.mean() > 3 * error


@pytest.mark.parametrize("kind", TOWNS)
@pytest.mark.parametrize("score", ["brier", "death_mae", "survival_rmse", "outlook_mae"])
def test_it_beats_the_last_report_on_every_kind_of_town(towns, kind, score):
    ours, theirs = towns[kind]["all weighed"], towns[kind]["last report"]
    assert ours.mean(score) < theirs.mean(score)


def test_what_it_says_comes_true_as_often_as_it_says(towns):
    ours = of_all(towns, "all weighed")
    trees, said, seen = ours.tenths.T
    enough = trees >= ENOUGH_TREES
    assert enough.sum() >= 3
    assert np.abs(said - seen)[enough].max() <= MOST_BIASED_TENTH
    assert ours.calibration_error <= MOST_CALIBRATION_ERROR


@pytest.mark.parametrize("band", ["survival", "outlook"])
def test_the_bands_hold_the_truth_as_often_as_they_claim(towns, tell, band):
    """Weighted by what was asked, so that a town with many sites counts for them all."""
    ours = of_all(towns, "all weighed")
    asked = ours.column(f"{band}_asked")
    cover = np.average(ours.column(f"{band}_cover"), weights=asked)
    tell(f"\n95 % bands of {band} held {cover:.4f} of {int(asked.sum())}")
    assert LEAST_COVER <= cover <= MOST_COVER


def test_spam_loses_its_weight(towns):
    ours = of_all(towns, "all weighed")
    assert ours.mean("spam_auc_10") > 0.95
    assert ours.mean("spam_auc_5") > 0.9
    assert ours.mean("spam_auc_1") > 0.65


def test_a_town_where_nobody_dies_is_not_thought_to_lose_trees(tell):
    found = judged("flat", range(6), ["all weighed", "last report"])
    ours, last = found["all weighed"], found["last report"]
    tell(f"\nflat: {ours.mean('sum_p_minus_lost'):.1f} trees believed lost of about 490")
    assert ours.mean("sum_p_minus_lost") < 8
    assert ours.mean("brier") < 0.3 * last.mean("brier")
