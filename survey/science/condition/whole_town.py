"""Everything that is believed of a town at once, as it can be judged where the truth is known."""

import numpy as np

from survey.science.condition.chain import Posterior, posterior
from survey.science.condition.dates import when_died
from survey.science.condition.draws import draw_losses
from survey.science.condition.judging import AGES, Answer
from survey.science.condition.latent_class import static_latent_class
from survey.science.condition.laws import USUAL, Law
from survey.science.condition.learnt import Learnt
from survey.science.condition.outlook import outlook
from survey.science.condition.records import DEAD, Evidence
from survey.science.condition.survival_draws import survival_by_belief
from survey.science.records import Floats

DRAWS = 60
REPEATS = 20


def believe(evidence: Evidence, learnt: Learnt, law: Law = USUAL, *, seed: int = 0) -> Answer:
    """What the condition model believes after it has learnt; the same seed gives the same answer.

    The seed is that of the drawings from which survival is counted; nothing else is drawn.
    """
    believed = posterior(evidence, learnt, law)
    died = when_died(believed, evidence)
    ahead = outlook(evidence, believed, evidence.trees.site, evidence.sites)
    return Answer(
        status=_five(believed.smoothed[believed.offsets[1:] - 1]),
        death=np.column_stack([died.median, died.low, died.high]).astype(np.float64),
        survival=survival(evidence, believed, seed=seed),
        outlook=np.stack([ahead.outlook, ahead.low, ahead.high], axis=-1),
        first_month=ahead.first,
        reliability=learnt.rho,
    )


def static(evidence: Evidence) -> Answer:
    """What the static latent-class model says: the states in the last month and nothing else."""
    trees, nothing = evidence.trees, np.nan
    return Answer(
        status=_five(static_latent_class(evidence)),
        death=np.full((trees.number, 3), nothing),
        survival=np.full((evidence.cohorts, len(AGES), 3), nothing),
        outlook=np.full((evidence.sites, 0, 3), nothing),
        first_month=0,
        reliability=np.full(len(evidence.observers), nothing),
    )


def survival(evidence: Evidence, believed: Posterior, *, seed: int) -> Floats:
    """Survival of such trees, by cohort and AGES, with 95 % limits, from drawn months of loss.

    Not a number where no tree of the cohort can be that old by the last month.
    """
    trees = evidence.trees
    if not trees.number:
        return np.full((evidence.cohorts, len(AGES), 3), np.nan)
    losses = draw_losses(evidence, believed, draws=DRAWS, seed=seed)
    found = survival_by_belief(
        evidence, losses, trees.cohort, evidence.cohorts, AGES, seed=seed, repeats=REPEATS
    )
    oldest = np.zeros(evidence.cohorts, dtype=np.int64)
    np.maximum.at(oldest, trees.cohort, trees.last - trees.planted)
    found[np.array(AGES) > oldest[:, None]] = np.nan
    return found


def _five(states: Floats) -> Floats:
    """Dead standing and gone as one."""
    shares = states[:, : DEAD + 1].copy()
    shares[:, DEAD] += states[:, DEAD + 1]
    return np.asarray(shares)
