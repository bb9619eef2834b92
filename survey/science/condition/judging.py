"""Holds what is believed of a town against what really happened there, where that is known.

Whole answers only: what was asked and not answered counts as the worst answer that could have been
given, so that leaving out what is hard gains nothing.
"""

from dataclasses import dataclass

import numpy as np

from survey.science.condition.records import DEAD
from survey.science.records import Floats, Whole

CLASSES = 5
"""The states that are told apart when an answer is judged: dead standing and gone are one."""

AGES = (12, 24, 36)
"""Months since planting at which survival is asked for."""

OUTLOOK_FROM_MONTH = 24
OUTLOOK_FROM_TREES = 8
"""A site is asked about from its town's 25th month on, in months with this many trees."""

SURE = 1e-3
"""No score falls below that of having been this sure: a probability of 0 or 1 is never taken."""

FEW_LOOKS = ((1, 4), (5, 9), (10, 10**9))
"""Numbers of looks between which spam is told from honest looks."""

MISSING_SHARE = 1 / CLASSES


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """What one method believes of a town. What it does not say is not a number.

    `status`: trees by (thriving, holding, slipping, failing, dead or gone) in the last month.
    `death`: trees by (median, low, high) month of death, given that it died, at 90 %.
    `survival`: cohorts by AGES by (share, low, high) at 95 %.
    `outlook`: sites by months, from `first_month` on, by (outlook, low, high) at 95 %.
    `reliability`: a weight from 0 to 1 for each observer.
    """

    status: Floats
    death: Floats
    survival: Floats
    outlook: Floats
    first_month: int
    reliability: Floats

    @property
    def p_lost(self) -> Floats:
        """The probability that each tree is dead or gone in the last month."""
        return np.asarray(self.status[:, DEAD])


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """What really happened, and what is asked about it.

    `state`: each listed tree's state in the last month, 0 to 5. `died`: the first month in which it
    was not alive, NOT_SAID if it lives; `registered`: the month it came on the list. `survival`:
    rows of cohort, place in AGES; `survival_share` beside them. `outlook`: rows of site and month,
    `outlook_value` beside them. `residents`: rows of observer, number of looks, 1 for spam. A
    cohort, site or observer of which nothing is on the list is NOT_SAID.
    """

    state: Whole
    died: Whole
    registered: Whole
    survival: Whole
    survival_share: Floats
    outlook: Whole
    outlook_value: Floats
    residents: Whole


def judge(answer: Answer, truth: Truth, *, months: int) -> dict[str, float]:
    """Every score of an answer by name; `months` is the length of the town's record.

    A score is not a number where nothing was asked. `sum_p_minus_lost` is how many trees too many
    are believed lost; `ece` the calibration error of P(lost), its tenths weighed by their trees.
    """
    status = np.where(np.isnan(answer.status), MISSING_SHARE, answer.status)
    return (
        judge_status(status, truth.state)
        | _dates(answer, truth, status[:, DEAD], months)
        | judge_bands(
            "survival",
            _asked(answer.survival, truth.survival),
            truth.survival_share,
            worst=1.0,
        )
        | judge_bands(
            "outlook",
            _asked(answer.outlook, truth.outlook - np.array([0, answer.first_month])),
            truth.outlook_value,
            worst=100.0,
        )
        | _spam(answer.reliability, truth.residents)
    )


def judge_status(status: Floats, state: Whole) -> dict[str, float]:
    """Accuracy over five classes and over lost or not, Brier, log score and calibration of
    P(lost)."""
    p, lost = status[:, DEAD], (state >= DEAD).astype(np.float64)
    safe = np.clip(p, SURE, 1 - SURE)
    tenths = calibration(p, lost)
    heavy = tenths[:, 0] / max(len(p), 1)
    return {
        "accuracy": float(np.mean(status.argmax(axis=1) == np.minimum(state, DEAD))),
        "accuracy_lost": float(np.mean((p > 0.5) == (lost > 0.5))),
        "brier": float(np.mean((p - lost) ** 2)),
        "log_score": float(-np.mean(lost * np.log(safe) + (1 - lost) * np.log(1 - safe))),
        "sum_p_minus_lost": float(p.sum() - lost.sum()),
        "lost": float(lost.sum()),
        "ece": float(np.nansum(heavy * np.abs(tenths[:, 1] - tenths[:, 2]))),
    }


def calibration(p: Floats, happened: Floats) -> Floats:
    """For each tenth of the probability: how many, the mean said, and the share that happened."""
    tenth = np.clip((p * 10).astype(np.int64), 0, 9)
    number = np.bincount(tenth, minlength=10).astype(np.float64)
    with np.errstate(invalid="ignore"):
        said = np.bincount(tenth, weights=p, minlength=10) / number
        seen = np.bincount(tenth, weights=happened, minlength=10) / number
    return np.column_stack([number, said, seen])


def judge_bands(name: str, told: Floats, true: Floats, *, worst: float) -> dict[str, float]:
    """Bias, mean absolute and root mean square error, coverage and width of (estimate, low, high).

    A row that is not a number counts as an error of `worst` that its band of that width missed.
    """
    scores = ("bias", "mae", "rmse", "cover", "width")
    if not len(true):
        return {f"{name}_{score}": np.nan for score in scores} | {f"{name}_asked": 0.0}
    missing = np.isnan(told).any(axis=1)
    error = np.where(missing, worst, told[:, 0] - true)
    held = ~missing & (told[:, 1] <= true) & (true <= told[:, 2])
    width = np.where(missing, worst, told[:, 2] - told[:, 1])
    figures = (
        error.mean(),
        np.abs(error).mean(),
        np.sqrt((error**2).mean()),
        held.mean(),
        width.mean(),
    )
    found = {f"{name}_{score}": float(x) for score, x in zip(scores, figures, strict=True)}
    return found | {f"{name}_asked": float(len(true))}


def ahead(honest: Floats, spam: Floats) -> float:
    """The chance that an honest one stands above a spammer, ties counting half; the area under the
    ROC curve."""
    if not (len(honest) and len(spam)):
        return float("nan")
    above = (honest[:, None] > spam[None]) + 0.5 * (honest[:, None] == spam[None])
    return float(above.mean())


def _dates(answer: Answer, truth: Truth, p_lost: Floats, months: int) -> dict[str, float]:
    """Of the trees that died after they came on the list, those that are believed lost."""
    asked = (truth.died > truth.registered) & (p_lost > 0.5)
    scores = judge_bands(
        "death", answer.death[asked], truth.died[asked].astype(np.float64), worst=float(months)
    )
    # a band of whole months holds both its ends
    return scores | {"death_width": scores["death_width"] + 1}


def _asked(told: Floats, where: Whole) -> Floats:
    """The rows that were asked for; not numbers where the answer has no such row."""
    found = np.full((len(where), 3), np.nan)
    inside = ((where >= 0) & (where < np.array(told.shape[:2]))).all(axis=1)
    found[inside] = told[where[inside, 0], where[inside, 1]]
    return found


def _spam(reliability: Floats, residents: Whole) -> dict[str, float]:
    observer, looks, spam = residents.reshape(-1, 3).T
    known = np.append(reliability, np.nan)[np.where(observer < 0, len(reliability), observer)]
    weight = np.where(np.isnan(known), spam, known)
    found = {}
    for least, most in FEW_LOOKS:
        some = (least <= looks) & (looks <= most)
        honest, bad = weight[some & (spam == 0)], weight[some & (spam == 1)]
        found[f"spam_auc_{least}"] = ahead(honest, bad)
    return found
