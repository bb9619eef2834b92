"""Whether a kind of care helped: survival and condition after it, against matched trees without it.

Never a model with a term for care fitted to everything: care goes to trees in trouble, and such a
term shows harm where there is help. Here trees are matched before the care (`care_sets`) and only
later looks are the outcome.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from survey.science.rates import constant_hazard
from survey.science.records import Floats, Spells, Truths, Whole
from survey.science.survival.care_sets import (
    LOST,
    Before,
    MatchedSet,
    Matching,
    Rules,
    Watched,
    match,
)
from survey.science.survival.cells import Cells, cells_of
from survey.science.survival.increments import most_likely_increments
from survey.science.survival.limits import limit_without_deaths
from survey.science.survival.turnbull import passed_and_died

METHOD = (
    "risk-set matching at each first care; interval-censored maximum likelihood from that day in "
    "both arms, controls left at their own care; limits by drawing the matched sets again; "
    "permutation test within sets (1)"
)
DRAWS = 400
USUAL = Rules()
SHUFFLES = 4000
_FURTHER = 24  # months: what happens later is known only as "later"


@dataclass(frozen=True, slots=True)
class Missing:
    """Why there is no figure: what is wanting, how much there is, and how much it takes."""

    code: str
    have: int
    need: int


@dataclass(frozen=True, slots=True)
class Effect:
    """Share standing at the horizon with care and without, and the difference with 95 % limits."""

    with_care: float
    without: float
    difference: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Change:
    """Steps of condition gained (lost, if negative) since before, and how much more with care."""

    with_care: float
    without: float
    difference: float
    low: float
    high: float
    sets: int


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """What can be said of one kind of care.

    `effect` follows controls up to their own care: care now against no care within the horizon.
    `followed` follows them to the end whatever they get later: care now against care later or
    never. `plain` is what trees that are not alike would have shown. `p` is the chance of so great
    a difference if care made none to any tree. All are None where something is `missing`.
    """

    matching: Matching
    controls: int
    losses_with_care: int
    losses_without: int
    cared_for_later: int
    missing: tuple[Missing, ...]
    effect: Effect | None
    followed: Effect | None
    plain: Effect | None
    p: float | None
    change: Change | None


@dataclass(frozen=True, slots=True, eq=False)
class _Lives:
    """Lives after the landmark as columns, one row for each member of a set; ages in whole months
    from `stale` months before the landmark."""

    of_set: Whole
    treated: Whole  # 1 or 0
    weight: Floats  # controls of one set weigh 1 together
    entry: Floats
    left: Floats
    right: Floats
    change: Floats  # NaN where nobody looked in time


def care_effect(
    trees: Sequence[Watched],
    *,
    seed: int,
    rules: Rules = USUAL,
    before: Before | None = None,
    draws: int = DRAWS,
) -> Comparison:
    """Compare trees after their first care with matched trees not cared for by then.

    *Estimand*: among trees that had the care and could be matched, by how much more of them stand
    `rules.horizon` months later than would have stood without it. It is that only if, among trees
    alike in site, kind, age and what was last seen, (i) who was cared for had nothing else to do
    with how the tree would fare, (ii) controls cared for later would have fared like those that
    were not, (iii) who was looked at again did not depend on what had happened. None can be
    checked here; (ii) is not needed for `followed`, nor for the test.

    A tree cared for was alive that day. A control is only known alive at its last look, and may
    have died since: it enters at that look, and the curve is conditioned on the landmark, so
    that no unseen death counts as one after the care. Deaths between looks are split within the
    interval by a straight fall. The test shuffles which tree of a set was cared for, on score
    residuals of one steady danger for all, and follows everybody to the end, because under no
    effect later care changes nothing.

    Same trees, same seed: same numbers.
    """
    found = match(trees, rules, seed=seed, before=before)
    censored = _lives(trees, found.sets, rules, follow=False)
    followed = _lives(trees, found.sets, rules, follow=True)
    lost = np.isfinite(censored.right) & (censored.left < censored.right)
    with_care = censored.treated == 1
    later = sum(
        trees[row].care_from <= trees[one.treated].care_from + rules.horizon
        for one in found.sets
        for row in one.controls
    )
    missing = _missing(found, censored, rules)
    if missing:
        effect = whole = plain = p = change = None
    else:
        effect = _effect(censored, rules, seed, draws)
        whole = _effect(followed, rules, seed, draws)
        plain = _effect(_lives(trees, found.plain, rules, follow=False), rules, seed, draws)
        p = _chance_alone(followed, seed)
        change = _change(censored, seed, draws)
    return Comparison(
        matching=found,
        controls=int((~with_care).sum()),
        losses_with_care=int((lost & with_care).sum()),
        losses_without=int((lost & ~with_care).sum()),
        cared_for_later=later,
        missing=missing,
        effect=effect,
        followed=whole,
        plain=plain,
        p=p,
        change=change,
    )


def _lives(
    trees: Sequence[Watched], sets: Sequence[MatchedSet], rules: Rules, *, follow: bool
) -> _Lives:
    rows: list[tuple[float, ...]] = []
    start = math.ceil(rules.stale_months)
    for number, one in enumerate(sets):
        cared = trees[one.treated]
        for place, row in enumerate((one.treated, *one.controls)):
            is_treated = place == 0
            end = math.inf if is_treated or follow else trees[row].care_from
            # a tree cared for was alive then; a control was so when last seen
            alive = 0.0 if is_treated else -one.unseen[place]
            entry, gone, later = alive, math.inf, math.nan
            for time, grade in trees[row].looks:
                if not cared.care_to < time < end:
                    continue
                month = time - cared.care_from
                if grade == LOST:
                    gone = month
                else:
                    alive = month
                in_time = rules.change_from <= month <= rules.change_to
                early_loss = grade == LOST and month < rules.change_from
                if math.isnan(later) and (in_time or early_loss):
                    later = one.grade - grade
            first = float(start + math.floor(entry))
            right = start + min(math.ceil(gone), _FURTHER + 1) if gone < math.inf else math.inf
            # seen alive and lost in one month: lost within it
            left = max(first, min(start + math.floor(alive), start + _FURTHER, right - 1))
            weight = 1.0 if is_treated else 1 / len(one.controls)
            rows.append((number, float(is_treated), weight, first, left, right, later))
    columns = np.array(rows, dtype=np.float64).reshape(-1, 7).T
    return _Lives(
        columns[0].astype(np.int64), columns[1].astype(np.int64), *(columns[k] for k in range(2, 7))
    )


def _missing(found: Matching, lives: _Lives, rules: Rules) -> tuple[Missing, ...]:
    start = math.ceil(rules.stale_months)
    lost = np.isfinite(lives.right)
    settled = lost | (lives.left >= start + rules.horizon)
    wants = [
        ("treated", len(found.sets), rules.least_treated),
        ("losses", int(lost.sum()), rules.least_losses),
        ("losses_without", int((lost & (lives.treated == 0)).sum()), rules.least_losses),
        ("seen_with_care", int((settled & (lives.treated == 1)).sum()), rules.least_seen),
        ("seen_without", int((settled & (lives.treated == 0)).sum()), rules.least_seen),
    ]
    return tuple(Missing(code, have, need) for code, have, need in wants if have < need)


def _effect(lives: _Lives, rules: Rules, seed: int, draws: int) -> Effect:
    """The difference at the horizon, and limits by drawing whole sets again.

    An arm without any loss draws nothing but itself; its limit is then that of no loss among so
    many trees (Clopper & Pearson 1934).
    """
    dice = np.random.default_rng(seed)
    sets = int(lives.of_set.max()) + 1
    times = np.vstack([np.ones(sets), dice.multinomial(sets, np.full(sets, 1 / sets), draws)])
    arms = []
    floors = []
    for treated in (1, 0):
        mine = lives.treated == treated
        arms.append(_standing(lives, mine, times, rules))
        none = not np.isfinite(lives.right[mine]).any()
        floors.append(limit_without_deaths(int(mine.sum()), 0.025) if none else 1.0)
    difference = arms[0] - arms[1]
    point = float(difference[0])
    low, high = (float(value) for value in np.quantile(difference[1:], [0.025, 0.975]))
    return Effect(
        with_care=float(arms[0][0]),
        without=float(arms[1][0]),
        difference=point,
        low=max(-1.0, min(low, point, point - (1 - floors[0]))),
        high=min(1.0, max(high, point, point + (1 - floors[1]))),
    )


def _standing(lives: _Lives, mine: Truths, times: Floats, rules: Rules) -> Floats:
    """Of one arm, the share alive at the horizon of those alive at the landmark, (draws,)."""
    columns = np.column_stack([lives.entry[mine], lives.left[mine], lives.right[mine]])
    distinct, which = np.unique(columns, axis=0, return_inverse=True)
    spells = Spells.from_columns(entry=distinct[:, 0], left=distinct[:, 1], right=distinct[:, 2])
    share = np.zeros((times.shape[1], len(distinct)))
    np.add.at(share, (lives.of_set[mine], which.ravel()), lives.weight[mine])
    weights = times @ share
    cells = cells_of(spells)
    passed, deaths, first, last = passed_and_died(cells, weights)
    solved = most_likely_increments(
        passed=np.where(passed < 1e-9, 0.0, passed),  # thirds do not add up to whole trees exactly
        deaths=np.where(deaths < 1e-9, 0.0, deaths),
        first=first,
        last=last,
        trees=weights.sum(axis=1),
        tolerance=1e-9,
        exactly=False,
    )
    # what happened before the landmark may rest on one tree and say that all died: it is left out
    since = float(math.ceil(rules.stale_months))
    spent = np.where(solved.unsettled | (cells.right <= since), 0.0, solved.hazard)
    at_start = _alive_at(since, cells, spent)
    at_end = _alive_at(since + rules.horizon, cells, spent)
    return np.divide(at_end, at_start, out=np.zeros_like(at_end), where=at_start > 0)


def _alive_at(age: float, cells: Cells, spent: Floats) -> Floats:
    """The curve at an age, falling straight between the two ends of a cell."""
    alive = np.exp(-np.hstack([np.zeros((len(spent), 1)), np.cumsum(spent, axis=1)]))
    width = cells.right - cells.left
    passed = np.where(width > 0, (age - cells.left) / np.where(width > 0, width, 1.0), 0.0)
    return np.asarray(1 - ((alive[:, :-1] - alive[:, 1:]) * np.clip(passed, 0, 1)).sum(axis=1))


def _chance_alone(lives: _Lives, seed: int) -> float:
    """How often shuffling who was cared for within sets gives as great a difference, two-sided."""
    scores = _scores(lives)
    sets = int(lives.of_set.max()) + 1
    size = np.bincount(lives.of_set, minlength=sets)
    table = np.zeros((sets, int(size.max())))
    place = np.arange(len(scores)) - np.concatenate([[0], np.cumsum(size)])[lives.of_set]
    table[lives.of_set, place] = scores
    expected = float((table.sum(axis=1) / size).sum())
    seen = abs(float(scores[lives.treated == 1].sum()) - expected)
    dice = np.random.default_rng(seed)
    picks = (dice.random((SHUFFLES, sets)) * size).astype(np.int64)
    drawn = np.abs(table[np.arange(sets), picks].sum(axis=1) - expected)
    return float((1 + (drawn >= seen - 1e-9).sum()) / (1 + SHUFFLES))


def _scores(lives: _Lives) -> Floats:
    """For each life, how much more loss there was in it than one steady danger for all lets expect.

    Not from the curve of all together: trees cared for enter at the landmark and their controls
    before it, and the most likely curve then puts all doubtful deaths before the landmark.
    """
    rate = constant_hazard(
        Spells.from_columns(entry=lives.entry, left=lives.left, right=lives.right)
    ).per_month
    watched = rate * (lives.left - lives.entry)
    died = np.isfinite(lives.right)
    run = np.maximum(rate * (np.where(died, lives.right, lives.left) - lives.left), 1e-12)
    # the derivative of log(S^x(left) - S^x(right)) - log S^x(entry) by the power x, at 1
    return np.asarray(np.where(died, run / np.expm1(run), 0.0) - watched)


def _change(lives: _Lives, seed: int, draws: int) -> Change | None:
    """Change of condition in sets where the tree cared for and a control were looked at again."""
    sets = int(lives.of_set.max()) + 1
    seen = ~np.isnan(lives.change)
    told = np.where(seen, lives.change, 0.0)
    sums, numbers = np.zeros((2, sets)), np.zeros((2, sets))
    np.add.at(sums, (lives.treated, lives.of_set), told)
    np.add.at(numbers, (lives.treated, lives.of_set), seen)
    both = (numbers > 0).all(axis=0)
    many = int(both.sum())
    if many < 2:
        return None
    means = sums[:, both] / numbers[:, both]
    apart = means[1] - means[0]
    dice = np.random.default_rng(seed)
    drawn = dice.multinomial(many, np.full(many, 1 / many), draws) @ apart / many
    low, high = (float(value) for value in np.quantile(drawn, [0.025, 0.975]))
    return Change(
        with_care=float(means[1].mean()),
        without=float(means[0].mean()),
        difference=float(apart.mean()),
        low=low,
        high=high,
        sets=many,
    )
