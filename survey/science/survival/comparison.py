"""Did these groups of trees die alike? One answer, with its size, its limits and its refusals.

Which test, and why. One contractor's streets are looked at every three months, the other's once a
year; one planting was registered on planting day, the other a year on. Then labels are *not*
exchangeable even when all trees die alike, because a label tells how closely a tree was watched: a
test that shuffles labels over all trees has the wrong variance. Shuffling within strata of like
watching (`score_tests.permuted_within`) is exact but has nothing to shuffle when each group is
watched in its own way. The likelihood has neither trouble: it conditions on entry and needs only
that looking does not depend on the tree's fate. So groups are compared by the likelihood of
proportional hazards: two by its profile ratio, whose limits then agree with p, three and more by
the score test with observed information.

Both are a little too eager in small samples, most of all when one group is small, because the
common hazard is fitted to the same few deaths. They are therefore referred to F, not chi-square,
with as second degrees of freedom three times the deaths expected in the group where fewest are.

Share of samples told apart at 5 % when all die alike, 500 samples each; looks every 3 months
and 10 % registered late against every 12 months and 40 %, about 35 % lost (chi-square beside it;
below it the score test and the permutation tests of `score_tests`, 400 samples each):

    trees       20+20  50+50  20+100  100+20  50+50, 10 losses  20x3   50x3   100x3  100+20+20
    F           0.050  0.036  0.034   0.030   0.038             0.028  0.040  0.046  0.026
    chi-square  0.064  0.040  0.044   0.056   0.046
    score       0.062  0.060  0.055   0.050
    Sun         0.048  0.058  0.068   0.032
    Finkelstein 0.055  0.058  0.065   0.032
    Wilcoxon    0.050  0.045  0.072   0.032

A group that dies twice as fast is told apart in 0.65 of samples of 50+50 (Sun 0.62, Finkelstein and
Wilcoxon 0.62) and 0.90 of 100+100; the limits hold the true ratio in 0.944 and 0.956.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from scipy.special import fdtrc

from survey.science.records import Spells
from survey.science.survival.many_tests import holm
from survey.science.survival.proportional import (
    GroupsDiffer,
    ScoreTest,
    Stratum,
    hazard_ratio,
    score_test,
)

METHOD = (
    "Proportional hazards for interval-censored, left-truncated lives (Finkelstein 1986): "
    "profile-likelihood ratio for two groups, score test with observed information for more, "
    "referred to F with three times the fewest expected deaths as second degrees of freedom"
)
FEWEST_TREES = 10
"""Fewer in any group, and no comparison is made."""
FEWEST_LOSSES = 8
"""Fewer in all groups together, and no comparison is made."""
FEWEST_EXPECTED = 2.0
"""Fewer expected in any group if all died alike: the groups were not at risk together."""
SURE = 0.05
_OF_FEWEST = 3.0  # second degrees of freedom for each death expected where fewest are

TOO_FEW_TREES = "too_few_trees"
TOO_FEW_LOSSES = "too_few_losses"
NOT_AT_RISK_TOGETHER = "not_at_risk_together"


@dataclass(frozen=True, slots=True)
class Comparison:
    """What may be said of a difference between groups. Nothing, and why, when `refused`.

    `expected` are the losses each group would have had if all had died alike. `p` is the chance of
    a difference at least this large if they did; `corrected_p` the same after allowing for the
    other comparisons made along with it, None when it stood alone. `ratio` is the second group's
    hazard as a multiple of the first's, with 95 % limits, which are not corrected; 0 and inf where
    the data set no limit. It is None for more than two groups.
    """

    trees: tuple[int, ...]
    losses: tuple[int, ...]
    expected: tuple[float, ...]
    refused: str
    p: float | None
    corrected_p: float | None
    ratio: float | None
    low: float | None
    high: float | None

    @property
    def could_be_chance(self) -> bool:
        """Whether a difference like this is no rarity among groups that die alike."""
        p = self.p if self.corrected_p is None else self.corrected_p
        return p is None or p > SURE

    @property
    def most_lost(self) -> int | None:
        """The group that lost most in proportion to what was to be expected."""
        if self.refused:
            return None
        pairs = zip(self.losses, self.expected, strict=True)
        excess = [(lost / expected) if expected > 0 else 0.0 for lost, expected in pairs]
        return None if max(excess) - min(excess) < 1e-9 else excess.index(max(excess))


@dataclass(frozen=True, slots=True)
class Pair:
    """Two of several groups, by their places, and how they compare."""

    first: int
    second: int
    comparison: Comparison


def compare(groups: Stratum) -> Comparison:
    """Compare groups of spells, two or more; see the module's words for the test.

    The answer does not depend on the order of the trees; swapping two groups turns the ratio
    upside down. Raises `GroupsDiffer` for fewer than two groups.
    """
    return compare_within([groups])


def compare_within(strata: Sequence[Stratum]) -> Comparison:
    """The same, comparing only trees of one stratum with each other: within a species, say.

    `strata[s][g]` are the spells of group g in stratum s. A stratum that holds trees of one group
    alone adds nothing. The ratio is taken to be the same in all strata.
    """
    watched = [[Spells.of(group) for group in stratum] for stratum in strata]
    if not watched or len({len(stratum) for stratum in watched}) != 1 or len(watched[0]) < 2:
        raise GroupsDiffer("Every stratum has the same groups, at least two.")
    trees = _summed([[group.trees for group in stratum] for stratum in watched])
    losses = _summed([[group.deaths for group in stratum] for stratum in watched])
    blank = Comparison(
        trees=trees,
        losses=losses,
        expected=tuple(0.0 for _ in trees),
        refused="",
        p=None,
        corrected_p=None,
        ratio=None,
        low=None,
        high=None,
    )
    if min(trees) < FEWEST_TREES:
        return replace(blank, refused=TOO_FEW_TREES)
    if sum(losses) < FEWEST_LOSSES:
        return replace(blank, refused=TOO_FEW_LOSSES)
    tested = score_test(watched)
    expected = tuple(lost - more for lost, more in zip(losses, tested.score, strict=True))
    if tested.freedom < len(trees) - 1 or min(expected) < FEWEST_EXPECTED:
        return replace(blank, refused=NOT_AT_RISK_TOGETHER)
    told = replace(blank, expected=expected)
    if len(trees) > 2:
        return replace(told, p=_p_of(tested, expected))
    found = hazard_ratio(watched, second_freedom=_OF_FEWEST * min(expected))
    return replace(told, p=found.p, ratio=found.ratio, low=found.low, high=found.high)


def compare_pairs(groups: Stratum) -> list[Pair]:
    """Every two of the groups, with p corrected by Holm's rule for how many pairs were compared."""
    watched = [Spells.of(group) for group in groups]
    places = list(combinations(range(len(watched)), 2))
    found = corrected([compare([watched[a], watched[b]]) for a, b in places])
    return [Pair(a, b, one) for (a, b), one in zip(places, found, strict=True)]


def corrected(comparisons: Iterable[Comparison]) -> list[Comparison]:
    """The same comparisons, with p corrected by Holm's rule for all that were made.

    Those refused stay as they are and do not count: nobody looked at their difference.
    """
    listed = list(comparisons)
    ps = iter(holm([one.p for one in listed if one.p is not None]))
    return [one if one.p is None else replace(one, corrected_p=next(ps)) for one in listed]


def _p_of(tested: ScoreTest, expected: Sequence[float]) -> float:
    chi_square, freedom = tested.chi_square, tested.freedom
    return float(fdtrc(freedom, _OF_FEWEST * min(expected), chi_square / freedom))


def _summed(counts: Sequence[Sequence[int]]) -> tuple[int, ...]:
    return tuple(sum(column) for column in zip(*counts, strict=True))
