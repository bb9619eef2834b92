"""Two kinds of care side by side: drawn by lot, and honest about what so few trees can tell."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import gammaln, xlog1py, xlogy

from survey.science.care.facts import si
from survey.science.care.fisher import FloatArray, rejected, strata_law, two_sided
from survey.science.care.odds import likeliest_odds, odds_limits
from survey.science.care.records import Impossible, number, whole

MOST_TREES = 1000
MOST_LOT = 2**63 - 1


@dataclass(frozen=True, slots=True)
class Drawn:
    """One tree, the block it was drawn in, and what the lot gave it."""

    tree: str
    block: str
    gets_care: bool


def draw_lots(blocks: Mapping[str, Sequence[str]], lot: int) -> tuple[Drawn, ...]:
    """Half the trees of every block get the care, by lot from a number that is kept.

    The same number and the same trees give the same lots, in whatever order they are named. In a
    block of an odd number one tree is over; as many blocks give it the care as withhold it, so the
    two sides never differ by more than one tree, in a block or in all.
    """
    seed = whole("lot", lot, at_most=MOST_LOT)
    named = [tree for trees in blocks.values() for tree in trees]
    if len(named) < 2:
        raise Impossible("trees", "too_few")
    if len(set(named)) < len(named):
        raise Impossible("trees", "twice")
    dice = np.random.default_rng(seed)
    codes = sorted(blocks)
    odd = [code for code in codes if len(blocks[code]) % 2]
    over_first = bool(dice.random() < 0.5)
    order = np.argsort(dice.random(len(odd)), kind="stable")
    more = {odd[place] for turn, place in enumerate(order) if (turn % 2 == 0) == over_first}
    drawn = []
    for code in codes:
        trees = sorted(blocks[code])
        gets = len(trees) // 2 + (code in more)
        lots = np.argsort(dice.random(len(trees)), kind="stable")
        chosen = {trees[place] for place in lots[:gets]}
        drawn += [Drawn(tree, code, tree in chosen) for tree in trees]
    return tuple(drawn)


ReachWord = Literal["can_tell", "too_small_to_tell"]


@dataclass(frozen=True, slots=True)
class Reach:
    """What a trial of this size can tell: the nearest shares to `expected` it would mostly notice.

    `better` and `worse` are shares of good outcomes among the trees with the care; None where even
    all or none of them would not be noticed often enough.
    """

    treated: int
    others: int
    expected: float
    better: float | None
    worse: float | None
    word: ReachWord


def reach(
    treated: int,
    others: int,
    expected: float,
    *,
    worth: float | None = None,
    level: float | None = None,
    power: float | None = None,
) -> Reach:
    """The smallest effect that a trial would notice, exactly, before it begins.

    `expected` is the share of good outcomes without the care. Noticed means that Fisher's exact
    test (two-sided, at `level`) calls the right side better, in at least `power` of all trials; the
    chance is added up over every outcome, nothing is simulated. *Too small to tell* when a gain of
    `worth` (our own rule: 20 in 100) would go unnoticed too often. Blocks are left out of this sum:
    they mostly help a little.
    """
    first = whole("treated", treated, at_least=1, at_most=MOST_TREES)
    second = whole("others", others, at_least=1, at_most=MOST_TREES)
    share = number("expected", expected, at_most=1)
    gain = number("worth", si("trial_worth") if worth is None else worth, above=0, at_most=1)
    alpha = number("level", si("trial_level") if level is None else level, above=0, at_most=0.5)
    often = number("power", si("trial_power") if power is None else power, above=0, at_most=0.999)
    up = rejected(first, second, alpha)
    down = rejected(second, first, alpha).T  # the others better: with the two sides exchanged
    better = _nearest(up, share, often, upward=True)
    worse = _nearest(down, share, often, upward=False)
    tells = better is not None and better - share <= gain + 1e-9
    return Reach(first, second, share, better, worse, "can_tell" if tells else "too_small_to_tell")


def _binomial(trees: int, share: float) -> FloatArray:
    good = np.arange(trees + 1)
    logs = (
        gammaln(trees + 1)
        - gammaln(good + 1)
        - gammaln(trees - good + 1)
        + xlogy(good, share)
        + xlog1py(trees - good, -share)
    )
    return np.asarray(np.exp(logs), dtype=np.float64)


def _nearest(noticed: FloatArray, share: float, often: float, *, upward: bool) -> float | None:
    """The nearest share at which the chance of being noticed reaches `often`, by halving.

    For one side of Fisher's test the chance rises with the share, because more good outcomes on
    that side never undo a rejection.
    """
    base = _binomial(noticed.shape[1] - 1, share)
    against = noticed @ base

    def chance(of: float) -> float:
        return float(_binomial(noticed.shape[0] - 1, of) @ against)

    far = 1.0 if upward else 0.0
    if chance(far) < often:
        return None
    near = share
    for _ in range(60):
        middle = (near + far) / 2
        if chance(middle) >= often:
            far = middle
        else:
            near = middle
    return far


@dataclass(frozen=True, slots=True)
class BlockOutcome:
    """Outcomes of one block: good ones of so many trees, with the care and without."""

    block: str
    treated_good: int
    treated: int
    others_good: int
    others: int


ResultWord = Literal["care_better", "care_worse", "cannot_tell", "nothing_to_weigh"]


@dataclass(frozen=True, slots=True)
class TrialResult:
    """What came out: one word, the exact chance, the odds ratio with its limits, the difference.

    `p` is how often lots alone would give an outcome as unlikely as this. `difference` is the
    share of good outcomes with the care less that without, blocks weighed after Mantel and
    Haenszel; None without two sides in any block. *Cannot tell* is not *no effect*: the limits say
    what is still possible.
    """

    word: ResultWord
    p: float
    odds_ratio: float
    low: float
    high: float
    difference: float | None
    telling_blocks: int


def weigh_trial(outcomes: Sequence[BlockOutcome], *, level: float | None = None) -> TrialResult:
    """The exact conditional test over blocks: the lots of each block taken as they were drawn.

    Given how many did well in each block, the number that did well with the care is a sum of
    hypergeometric numbers, one a block. p adds up all sums no likelier than the one that came out
    (Mehta, Patel and Gray 1985, J. Am. Stat. Assoc. 80:969). The odds ratio is the conditional
    likeliest one, its limits those of both one-sided tests.
    """
    alpha = number("level", si("trial_level") if level is None else level, above=0, at_most=0.5)
    if len({one.block for one in outcomes}) < len(outcomes):
        raise Impossible("blocks", "twice")
    tables = [_table(one) for one in outcomes]
    if not tables:
        raise Impossible("blocks", "too_few")
    law = strata_law(tables)
    seen = sum(good for good, *_ in tables)
    telling = sum(
        0 < good + other < first + second and first > 0 and second > 0
        for good, first, other, second in tables
    )
    place = seen - law.least
    likeliest = likeliest_odds(law, seen)
    low, high = odds_limits(law, seen, alpha)
    p = two_sided(law.chances, place)
    word: ResultWord = "cannot_tell"
    if len(law.chances) == 1:
        word = "nothing_to_weigh"
    elif p <= alpha:
        word = "care_better" if likeliest > 1 else "care_worse"
    return TrialResult(word, p, likeliest, low, high, _difference(tables), telling)


def _table(one: BlockOutcome) -> tuple[int, int, int, int]:
    first = whole("treated", one.treated, at_most=MOST_TREES)
    second = whole("others", one.others, at_most=MOST_TREES)
    good = whole("treated_good", one.treated_good, at_most=first)
    return good, first, whole("others_good", one.others_good, at_most=second), second


def _difference(tables: Sequence[tuple[int, int, int, int]]) -> float | None:
    both = [(g, f, o, s) for g, f, o, s in tables if f and s]
    weight = sum(f * s / (f + s) for _, f, _, s in both)
    if not weight:
        return None
    return sum((g * s - o * f) / (f + s) for g, f, o, s in both) / weight
