"""What a town has taught the condition model, as plain numbers that can be stored and read back."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Self

import numpy as np

from survey.science.condition.laws import USUAL, WARM, Law
from survey.science.condition.records import KINDS, Evidence
from survey.science.records import Floats, Whole


class BadLearning(ValueError):
    """Stored numbers that cannot have come from `Learnt.as_dict`."""


@dataclass(frozen=True, eq=False)
class Learnt:
    """Everything learnt, numbered as in the evidence it was learnt from.

    By observer: `rho`, the share of looks that follow the tables (a new observer starts at the mean
    of their kind); `noise`, the words of the others; `heard`, how many looks. `cohort` and `site`
    are factors of getting worse and of dying, `exposure` complaints a month of a thriving tree at
    each site, `complaints` how many times more there are of a tree in each state, `logged` the
    share of removals on record, `start` the states at registration (at planting; later).
    """

    rho: Floats
    noise: Floats
    heard: Whole
    kind_noise: Floats
    scratch: Floats
    leaf: Floats
    signs: Floats
    worse: Floats
    death: Floats
    better: Floats
    removed: float
    removal: float
    age: Floats
    worse_in_season: Floats
    better_in_season: Floats
    worse_under_care: float
    better_under_care: float
    cohort: Floats
    site: Floats
    exposure: Floats
    town_exposure: float
    complaints: Floats
    logged: float
    start: Floats
    rounds: int
    log_likelihood: float

    @classmethod
    def usual(cls, evidence: Evidence, law: Law = USUAL) -> Self:
        """Nothing learnt: the law as it stands, and complaints at the town's mean rate."""
        observers = evidence.observers
        return cls(
            rho=law.mean_trust[observers],
            noise=np.tile(law.noise_words, (len(observers), 1)),
            heard=np.zeros(len(observers), dtype=np.int64),
            kind_noise=np.tile(law.noise_words, (len(KINDS), 1)),
            scratch=np.array(law.noise_scratch),
            leaf=np.tile(law.noise_leaf, (2, 1)),
            signs=np.tile(law.noise_signs, (len(KINDS), 1)),
            worse=np.array(law.worse),
            death=np.array(law.death),
            better=np.array(law.better),
            removed=law.removed,
            removal=law.removal,
            age=np.array(law.age),
            worse_in_season=np.array(law.worse_in_season),
            better_in_season=np.array(law.better_in_season),
            worse_under_care=law.worse_under_care,
            better_under_care=law.better_under_care,
            cohort=np.ones(evidence.cohorts),
            site=np.ones(evidence.sites),
            exposure=np.full(evidence.sites, complaint_rate(evidence, law)),
            town_exposure=complaint_rate(evidence, law),
            complaints=np.array(law.complaints),
            logged=law.logged,
            start=np.array(law.start),
            rounds=0,
            log_likelihood=0.0,
        )

    def reaching(self, evidence: Evidence, law: Law = USUAL) -> Self:
        """The same, with observers, sites and cohorts that came since at what is usual for them:
        an observer at the mean of the kind, a site or cohort at the town's own mean.
        """
        new = np.asarray(evidence.observers[len(self.rho) :])
        cohorts = max(0, evidence.cohorts - len(self.cohort))
        sites = max(0, evidence.sites - len(self.site))
        if not (len(new) or cohorts or sites):
            return self
        return replace(
            self,
            rho=np.concatenate([self.rho, law.mean_trust[new]]),
            noise=np.concatenate([self.noise, self.kind_noise[new].reshape(-1, 6)]),
            heard=np.concatenate([self.heard, np.zeros(len(new), dtype=np.int64)]),
            cohort=np.concatenate([self.cohort, np.ones(cohorts)]),
            site=np.concatenate([self.site, np.ones(sites)]),
            exposure=np.concatenate([self.exposure, np.full(sites, self.town_exposure)]),
        )

    def as_dict(self) -> dict[str, Any]:
        """Plain numbers and lists, for JSON; nothing is rounded."""
        return {
            field.name: value.tolist() if isinstance(value, np.ndarray) else value
            for field in fields(self)
            for value in [getattr(self, field.name)]
        }

    @classmethod
    def from_dict(cls, stored: Mapping[str, Any]) -> Self:
        """What `as_dict` gave. Raises `BadLearning` for anything else."""
        names = [field.name for field in fields(cls)]
        if set(stored) != set(names):
            raise BadLearning("The stored learning does not have the parts this version knows.")
        try:
            read = {name: _number(name, stored[name]) for name in names}
        except (TypeError, ValueError) as wrong:
            raise BadLearning("The stored learning holds something that is no number.") from wrong
        if np.size(read["noise"]) == 0:  # a list of no rows does not say how long they are
            read["noise"] = np.zeros((0, 6))
        learnt = cls(**read)
        learnt._refuse_impossible()
        return learnt

    def _refuse_impossible(self) -> None:
        for name in ("rho", "site", "cohort"):
            if np.ndim(getattr(self, name)) != 1:
                raise BadLearning(f"The stored {name} is not a list of numbers.")
        shapes: dict[str, tuple[int, ...]] = {
            "noise": (len(self.rho), 6),
            "heard": (len(self.rho),),
            "kind_noise": (len(KINDS), 6),
            "scratch": (2,),
            "leaf": (2, 3),
            "signs": (len(KINDS), 4),
            "worse": (3,),
            "death": (4,),
            "better": (3,),
            "age": (3,),
            "worse_in_season": (2,),
            "better_in_season": (2,),
            "exposure": (len(self.site),),
            "complaints": (6,),
            "start": (2, 6),
        }
        for name, shape in shapes.items():
            column = getattr(self, name)
            if not isinstance(column, np.ndarray) or column.shape != shape:
                raise BadLearning(f"The stored {name} does not have the shape {shape}.")
        for field in fields(self):
            column = np.asarray(getattr(self, field.name))
            low = -np.inf if field.name == "log_likelihood" else 0.0
            if not (np.isfinite(column).all() and (column >= low).all()):
                raise BadLearning(f"The stored {field.name} holds impossible numbers.")


def _number(name: str, value: Any) -> Any:
    if name == "rounds":
        return int(value)
    if isinstance(value, list):
        return np.array(value, dtype=np.int64 if name == "heard" else np.float64)
    return float(value)


def is_warm(months: Whole, *, south: bool) -> Whole:
    """1 in the warm half of the year and 0 in the cool, for whole months."""
    north = (months % 12 >= 3) & (months % 12 < 9)
    return np.asarray(north != south, dtype=np.int64)


def complaint_rate(evidence: Evidence, law: Law = USUAL) -> float:
    """Complaints a cool tree-month of the whole town, were every tree thriving."""
    trees = evidence.trees
    if not evidence.tree_months:
        return 0.0
    # a whole year has six months of each season; the rest of a tree's months weigh by their own
    low = int(trees.first.min())
    every = np.arange(low, int(trees.last.max()) + 1)
    rate = np.array(law.visits_in_season)[is_warm(every, south=evidence.south)]
    so_far = np.concatenate([[0.0], np.cumsum(rate)])
    weighed = so_far[trees.last - low + 1] - so_far[trees.first - low]
    return float(evidence.looks.complaint.sum() / weighed.sum())


__all__ = ["USUAL", "WARM", "BadLearning", "Learnt", "complaint_rate", "is_warm"]
