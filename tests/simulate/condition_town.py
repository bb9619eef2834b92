"""What many invented towns say of the condition model, side by side with simpler methods."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from survey.exports.town_folder import evidence_of
from survey.science.condition.baselines import last_report, majority_of_three
from survey.science.condition.judging import Answer, calibration, judge
from survey.science.condition.learning import learn
from survey.science.condition.learnt import Learnt
from survey.science.condition.outlook import WEIGHTS
from survey.science.condition.records import DEAD, Evidence
from survey.science.condition.whole_town import believe, static
from tests.simulate.invented_town import invent

POINTS = np.array(WEIGHTS, dtype=np.float64)


def all_weighed(evidence: Evidence) -> Answer:
    return believe(evidence, learn(evidence))


def nothing_learnt(evidence: Evidence) -> Answer:
    return believe(evidence, Learnt.usual(evidence))


METHODS = {
    "last report": lambda evidence: last_report(evidence, POINTS),
    "majority of 3": lambda evidence: majority_of_three(evidence, POINTS),
    "latent class": static,
    "nothing learnt": nothing_learnt,
    "all weighed": all_weighed,
}


@dataclass(eq=False)
class Judged:
    """Scores of one method over towns, and every tree's P(lost) beside what became of it."""

    scores: list[dict[str, float]] = field(default_factory=list)
    p: list[np.ndarray] = field(default_factory=list)
    lost: list[np.ndarray] = field(default_factory=list)

    def column(self, name: str) -> np.ndarray:
        return np.array([scores[name] for scores in self.scores])

    def mean(self, name: str) -> float:
        return float(np.nanmean(self.column(name)))

    @property
    def tenths(self) -> np.ndarray:
        """For each tenth of P(lost) over all towns: trees, the mean said, the share lost."""
        return calibration(np.concatenate(self.p), np.concatenate(self.lost))

    @property
    def calibration_error(self) -> float:
        trees, said, seen = self.tenths.T
        return float(np.nansum(trees * np.abs(said - seen)) / trees.sum())


def judged(
    kind: str, seeds: Iterable[int], methods: Iterable[str] = METHODS, **changes: object
) -> dict[str, Judged]:
    """Each method's scores on the same towns."""
    found = {name: Judged() for name in methods}
    for seed in seeds:
        invented = invent(kind, seed, **changes)
        evidence = evidence_of(invented.town)
        for name, kept in found.items():
            answer = METHODS[name](evidence)
            kept.scores.append(judge(answer, invented.truth, months=invented.town.months))
            kept.p.append(np.nan_to_num(answer.p_lost, nan=0.2))
            kept.lost.append((invented.truth.state >= DEAD).astype(np.float64))
    return found


def together(parts: Iterable[Judged]) -> Judged:
    """Several kinds of town as one."""
    found = Judged()
    for part in parts:
        found.scores += part.scores
        found.p += part.p
        found.lost += part.lost
    return found
