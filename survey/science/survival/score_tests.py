"""Tests of "all groups die alike" from a score for every tree; permutations within strata.

A tree's score is high when it died early for its age, and the scores of all trees sum to 0: they
are derivatives of the log-likelihood at the curve fitted to all trees together (Turnbull), in the
direction of a worse fate for that tree. With an entry age the likelihood of a tree is its
chance given that it was alive at entry, and so is its score: Finkelstein's becomes
(S_L ln S_L - S_R ln S_R)/(S_L - S_R) - ln S_T, Sun's likewise, the Wilcoxon one S_L + S_R - S_T.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from scipy.special import ndtr

from survey.science.records import Floats, Spells
from survey.science.survival.proportional import (
    GroupsDiffer,
    Pooled,
    ScoreTest,
    Stratum,
    quadratic_test,
)


class Scores(Enum):
    """Which alternative the scores look for.

    SUN: a proportional change of the odds of dying in each cell (Sun 1996 Stat. Med. 15:1387), on
    exact ages the ordinary log-rank. FINKELSTEIN: proportional hazards (Finkelstein 1986 Biometrics
    42:845). WILCOXON: a change of the odds of having died, which weighs early deaths more (Peto &
    Peto 1972 J. R. Stat. Soc. A 135:185). All as gathered in Fay & Shaw 2010 J. Stat. Softw. 36(2).
    """

    SUN = "sun"
    FINKELSTEIN = "finkelstein"
    WILCOXON = "wilcoxon"


class NotExact(ValueError):
    """A death is known only to an interval, where a test asks for exact ages."""


@dataclass(frozen=True, slots=True)
class PermutationTest:
    """A rank test with the variance that the scores have when labels are shuffled.

    `score`, `variance` and `z` are those of the last group; `z` is None unless there are two.
    """

    score: tuple[float, ...]
    variance: float
    z: float | None
    chi_square: float
    freedom: int
    p: float


def tree_scores(pooled: Pooled, kind: Scores) -> Floats:
    """The score of each row of the pooled sample, under the curve of all its trees."""
    hazard = pooled.fit(np.zeros(pooled.groups)).hazard
    known = np.where(np.isinf(hazard), 0.0, hazard)
    cells = pooled.cells
    dying = -np.expm1(-hazard)
    if kind is Scores.WILCOXON:
        alive = np.exp(-np.concatenate([[0.0], np.cumsum(hazard)]))
        return np.asarray(alive[cells.first] + alive[cells.last + 1] - alive[cells.start])
    spent = np.concatenate([[0.0], np.cumsum(known)])
    fatal = np.concatenate([[0], np.cumsum(np.isinf(hazard))])
    moved = np.concatenate([[0.0], np.cumsum(known if kind is Scores.FINKELSTEIN else dying)])
    x = spent[cells.last + 1] - spent[cells.first]
    # a tree that may have died where nobody survives leaves no doubt that it died by then
    sure = fatal[cells.last + 1] > fatal[cells.first]
    within = moved[cells.last + 1] - moved[cells.first]
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        pulled = np.where(sure, 0.0, np.where(x > 0, within / np.expm1(x), 1.0))
    pulled = np.where(pooled.spells.is_censored, 0.0, pulled)
    return np.asarray(pulled - (moved[cells.first] - moved[cells.start]))


def permutation_test(groups: Stratum, kind: Scores) -> PermutationTest:
    """The two- or many-sample test by the normal (chi-square) approximation to permutations.

    Valid when all groups were looked at and entered alike; see `comparison` for when they were not.
    """
    pooled = _at_least_two(groups)
    scores = tree_scores(pooled, kind)
    trees = _trees(pooled)
    many = int(trees.sum())
    totals = _by_group(pooled, scores * pooled.spells.count)
    mean = float(totals.sum()) / many
    spread = float(pooled.spells.count @ (scores - mean) ** 2) / max(many - 1, 1)
    variance = spread * (np.diag(trees) - np.outer(trees, trees) / many)
    tested = quadratic_test(totals - trees * mean, variance)
    z, p = None, tested.p
    own = float(variance[-1, -1])
    if pooled.groups == 2 and own > 0:
        z = float(totals[-1] - trees[-1] * mean) / math.sqrt(own)
        p = 2 * float(ndtr(-abs(z)))
    return PermutationTest(
        score=tuple(float(total) for total in totals),
        variance=own,
        z=z,
        chi_square=tested.chi_square,
        freedom=tested.freedom,
        p=p,
    )


def permuted_within(
    groups: Stratum,
    strata: Sequence[Sequence[int]],
    *,
    seed: int,
    draws: int = 2000,
    kind: Scores = Scores.FINKELSTEIN,
) -> ScoreTest:
    """Shuffle the labels among trees of one stratum only and count how often they differ as much.

    `strata` gives, for each group, the stratum of each row of its `Spells` (rows as `Spells.of`
    sorts them). Trees of one stratum should have entered and been looked at alike: then their
    labels are exchangeable when the groups die alike, and p is exact whatever the strata do. Trees
    in strata of one group alone say nothing; when no stratum mixes groups, `freedom` is 0 and p 1.
    """
    pooled = _at_least_two(groups)
    labels = np.concatenate([np.asarray(list(part), dtype=np.int64) for part in strata])
    if len(labels) != len(pooled.group):
        raise GroupsDiffer("Every row of every group needs its stratum.")
    count = pooled.spells.count
    scores = np.repeat(tree_scores(pooled, kind), count)
    group, stratum = np.repeat(pooled.group, count), np.repeat(labels, count)
    order = np.argsort(stratum, kind="stable")
    scores, group, stratum = scores[order], group[order], stratum[order]
    member = (group == np.arange(pooled.groups)[:, None]).astype(np.float64)
    variance = np.zeros((pooled.groups, pooled.groups))
    centred = scores.copy()
    for one in np.unique(stratum):
        inside = stratum == one
        size = int(inside.sum())
        centred[inside] -= scores[inside].mean()
        trees = member[:, inside].sum(axis=1)
        spread = float((centred[inside] ** 2).sum()) / max(size - 1, 1)
        variance += spread * (np.diag(trees) - np.outer(trees, trees) / size)
    seen = quadratic_test(member @ centred, variance)
    if not seen.freedom:
        return seen
    weights = np.linalg.pinv(variance, hermitian=True)
    dice = np.random.default_rng(seed)
    as_far = 0
    for _ in range(draws):
        # sorting by stratum and then by dice shuffles each stratum within itself
        shuffled = centred[np.lexsort((dice.random(len(centred)), stratum))]
        totals = member @ shuffled
        as_far += float(totals @ weights @ totals) >= seen.chi_square * (1 - 1e-9)
    p = (1 + as_far) / (1 + draws)
    return ScoreTest(seen.score, seen.chi_square, seen.freedom, p)


def log_rank(groups: Stratum, *, rho: float = 0.0) -> ScoreTest:
    """The log-rank test on exact and right-censored ages, entry ages allowed.

    `rho` weighs each age by S^rho just before it (Harrington & Fleming 1982 Biometrika 69:553): 0
    is the log-rank, 1 the Peto & Peto form of the Wilcoxon test. The variance is hypergeometric.
    Raises `NotExact` for a death that is known only to an interval.
    """
    columns = [Spells.of(group) for group in groups]
    if len(columns) < 2:
        raise GroupsDiffer("A comparison needs two groups.")
    if any((~(part.is_exact | part.is_censored)).any() for part in columns):
        raise NotExact("The log-rank test asks for exact ages at death.")
    ages = np.unique(np.concatenate([part.left[part.is_exact] for part in columns]))
    at_risk = np.array([[part.at_risk(age) for age in ages] for part in columns], dtype=np.float64)
    died = np.array([[_died_at(part, age) for age in ages] for part in columns], dtype=np.float64)
    n, d = at_risk.sum(axis=0), died.sum(axis=0)
    before = np.concatenate([[1.0], np.cumprod(1 - d / n)[:-1]]) if len(ages) else d
    weight = before**rho
    share = at_risk / n
    score = ((died - d * share) * weight).sum(axis=1)
    spread = weight**2 * d * (n - d) / np.maximum(n - 1, 1)
    variance = np.diag((spread * share).sum(axis=1)) - (share * spread) @ share.T
    return quadratic_test(score, variance)


def _died_at(spells: Spells, age: float) -> int:
    return int(spells.count[spells.is_exact & (spells.left == age)].sum())


def _at_least_two(groups: Stratum) -> Pooled:
    pooled = Pooled.of(groups)
    if pooled.groups < 2:
        raise GroupsDiffer("A comparison needs two groups.")
    return pooled


def _by_group(pooled: Pooled, values: Floats) -> Floats:
    return np.asarray(
        np.bincount(pooled.group, weights=values, minlength=pooled.groups), dtype=np.float64
    )


def _trees(pooled: Pooled) -> Floats:
    return _by_group(pooled, pooled.spells.count.astype(np.float64))
