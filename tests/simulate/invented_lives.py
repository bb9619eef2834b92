"""Lives of invented trees: what really happens to each, month by month, before anybody looks.

On purpose this is not the model that is fitted: each tree has a pace of its own that nobody sees,
age and season act as smooth curves, years differ, and care goes to trees in trouble.
"""

from dataclasses import dataclass

import numpy as np

from survey.science.condition.records import DEAD, GONE

ALIVE = 4
NODES, NODE_SHARES = np.polynomial.hermite_e.hermegauss(9)
NODE_SHARES = NODE_SHARES / NODE_SHARES.sum()
AGES = (6, 12, 18, 24, 36, 48)


@dataclass(frozen=True, slots=True)
class Lives:
    """How trees fare in a town. Monthly chances; spreads are of the natural logarithm."""

    worse: tuple[float, ...] = (0.05, 0.045, 0.045, 0.0)
    dies: tuple[float, ...] = (0.001, 0.0016, 0.0055, 0.043)
    better: tuple[float, ...] = (0.0, 0.06, 0.05, 0.035)
    taken_alive: float = 0.0004
    taken_dead: float = 0.06
    begins: tuple[float, ...] = (0.45, 0.4, 0.13, 0.02)
    warm_worse: float = 0.3  # how far the warm half lifts moves down, and the cool half lowers them
    warm_better: float = 0.45
    young: float = 0.5  # how much harder the first months are; it wears off with age
    site_spread: float = 0.35
    cohort_spread: float = 0.3
    tree_spread: float = 0.45
    year_spread: float = 0.0
    care_by_state: tuple[float, ...] = (0.06, 0.06, 0.17, 0.2, 0.01, 0.0)
    care_worse: float = 0.6  # what care really does to moves down
    care_better: float = 1.35


@dataclass(frozen=True, slots=True, eq=False)
class Grown:
    """Every tree ever planted. `state` is trees by months, -1 before planting; `survival` is
    cohorts by AGES: the share of such trees that lives so long, worked out and not thrown."""

    planted: np.ndarray
    site: np.ndarray
    cohort: np.ndarray
    species: np.ndarray
    x_m: np.ndarray
    y_m: np.ndarray
    state: np.ndarray
    cared: np.ndarray  # trees by months, whether care was given
    survival: np.ndarray


def warmth(month: int, south: bool) -> float:
    """From -1 in mid-winter to 1 in mid-summer."""
    return float(np.cos(2 * np.pi * (month % 12 - (0.5 if south else 6.5)) / 12))


def moves(
    lives: Lives, pace: np.ndarray, age: np.ndarray, warm: float
) -> tuple[np.ndarray, np.ndarray]:
    """Monthly moves of each tree without and with care, trees by state by state."""
    hard = pace * (1 + lives.young * np.exp(-age / 14.0)) * (1 + lives.warm_worse * warm)
    ease = 1 + lives.warm_better * warm
    both = []
    for worse, better in ((1.0, 1.0), (lives.care_worse, lives.care_better)):
        table = np.zeros((len(pace), 6, 6))
        for state in range(ALIVE):
            if state < ALIVE - 1:
                table[:, state, state + 1] = np.minimum(lives.worse[state] * hard * worse, 0.4)
            table[:, state, DEAD] = np.minimum(lives.dies[state] * hard * worse, 0.4)
            if state:
                table[:, state, state - 1] = np.minimum(lives.better[state] * ease * better, 0.18)
            table[:, state, GONE] = lives.taken_alive
            table[:, state, state] = 1 - table[:, state].sum(axis=1)
        table[:, DEAD, GONE], table[:, DEAD, DEAD] = lives.taken_dead, 1 - lives.taken_dead
        table[:, GONE, GONE] = 1
        both.append(table)
    return both[0], both[1]


def grow(
    lives: Lives,
    dice: np.random.Generator,
    *,
    trees: int,
    sites: int,
    cohorts: tuple[int, ...],
    months: int,
    south: bool,
) -> Grown:
    cohort = np.sort(dice.integers(0, len(cohorts), trees))
    planted = np.array(cohorts)[cohort] + dice.integers(0, 2, trees)
    site = dice.integers(0, sites, trees)
    # a batch is planted in some streets more than in others
    lean = dice.random((len(cohorts), sites)) ** 2
    for batch in range(len(cohorts)):
        mine = cohort == batch
        site[mine] = dice.choice(sites, size=mine.sum(), p=lean[batch] / lean[batch].sum())
    by_site = np.exp(dice.normal(0, lives.site_spread, sites))
    by_cohort = np.exp(dice.normal(0, lives.cohort_spread, len(cohorts)))
    by_year = np.exp(dice.normal(0, lives.year_spread, months // 12 + 1))
    seen_pace = by_site[site] * by_cohort[cohort]
    pace = seen_pace * np.exp(dice.normal(0, lives.tree_spread, trees))
    state = np.full((trees, months), -1, dtype=np.int8)
    cared = np.zeros((trees, months), dtype=bool)
    now = np.full(trees, -1, dtype=np.int8)
    care_chance = np.array(lives.care_by_state)
    for month in range(months):
        here = np.flatnonzero((planted < month) & (now >= 0))
        if len(here):
            warm = warmth(month, south)
            cared[here, month] = dice.random(len(here)) < (
                care_chance[now[here]] * (1 + 0.6 * warm)
            )
            plain, better = moves(
                lives, pace[here] * by_year[month // 12], month - planted[here], warm
            )
            row = np.arange(len(here))
            chances = np.where(
                cared[here, month, None], better[row, now[here]], plain[row, now[here]]
            )
            after = (dice.random(len(here))[:, None] > chances.cumsum(axis=1)).sum(axis=1)
            now[here] = np.minimum(after, GONE)
        new = planted == month
        now[new] = dice.choice(ALIVE, size=new.sum(), p=lives.begins)
        state[:, month] = now
    corner = dice.uniform(0, 1500, (sites, 2))
    spot = corner[site] + dice.uniform(0, 300, (trees, 2))
    return Grown(
        planted=planted,
        site=site,
        cohort=cohort,
        species=dice.integers(0, 4, trees),
        x_m=spot[:, 0].round(1),
        y_m=spot[:, 1].round(1),
        state=state,
        cared=cared,
        survival=_expected(lives, planted, cohort, seen_pace, by_year, months, south),
    )


def _expected(
    lives: Lives,
    planted: np.ndarray,
    cohort: np.ndarray,
    seen_pace: np.ndarray,
    by_year: np.ndarray,
    months: int,
    south: bool,
) -> np.ndarray:
    """The share alive at each age of trees such as these, over every pace a tree can have."""
    rows, number = np.unique(
        np.column_stack([cohort, planted, seen_pace]), axis=0, return_counts=True
    )
    kinds, nodes = len(rows), len(NODES)
    pace = np.repeat(rows[:, 2], nodes) * np.tile(np.exp(lives.tree_spread * NODES), kinds)
    start = np.repeat(rows[:, 1], nodes).astype(int)
    share = np.zeros((kinds * nodes, 6))
    share[:, :ALIVE] = lives.begins
    found = np.full((int(cohort.max()) + 1, len(AGES)), np.nan)
    weight = np.repeat(number, nodes) * np.tile(NODE_SHARES, kinds)
    batch = np.repeat(rows[:, 0], nodes).astype(int)
    care_chance = np.array(lives.care_by_state)
    for age in range(1, max(AGES) + 1):
        for begin in np.unique(start):
            mine = start == begin
            month = int(begin) + age
            if month >= months:
                continue
            warm = warmth(month, south)
            plain, better = moves(
                lives, pace[mine] * by_year[month // 12], np.full(mine.sum(), age), warm
            )
            chance = np.minimum(care_chance * (1 + 0.6 * warm), 1)[None, :, None]
            share[mine] = np.einsum(
                "ni,nij->nj", share[mine], chance * better + (1 - chance) * plain
            )
        if age in AGES:
            for one in range(len(found)):
                mine = batch == one
                if (start[mine] + age).max(initial=0) < months:
                    found[one, AGES.index(age)] = np.average(
                        share[mine, :ALIVE].sum(axis=1), weights=weight[mine]
                    )
    return found
