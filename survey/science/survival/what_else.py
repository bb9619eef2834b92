"""What else differs between groups of trees that are compared: shares side by side.

Two contractors are never given the same trees. A difference in survival may be one of species, of
season or of how often somebody looked, so whoever reads a comparison is shown where the groups
differ most. This names what could explain a difference; it does not prove that anything does.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

UNKNOWN = ""


@dataclass(frozen=True, slots=True)
class Share:
    """What part of each group has one value of an attribute."""

    value: str
    counts: tuple[int, ...]
    shares: tuple[float, ...]  # 0 for an empty group

    @property
    def apart(self) -> float:
        """The distance between the greatest share and the least."""
        return max(self.shares) - min(self.shares)


@dataclass(frozen=True, slots=True)
class Difference:
    """How far the groups differ in one attribute.

    `total_variation` is the largest, over pairs of groups, of the part of the trees that would have
    to change their value for the pair to be alike: 0 alike, 1 nothing in common. `cramers_v` is the
    same kind of figure from chi-square, over all groups (Cramer 1946, Mathematical Methods of
    Statistics, section 21.9). `standardised` is the largest standardised difference of one share
    between two groups, (a - b) / sqrt((a(1-a) + b(1-b)) / 2) (Austin 2009 Commun. Stat. Simul.
    Comput. 38:1228, who calls 0.1 and more worth a look); inf where all of one and none of the
    other group have the value. `shares` are ordered by how far they lie apart.
    """

    attribute: str
    total_variation: float
    cramers_v: float
    standardised: float
    shares: tuple[Share, ...]


def what_else_differs(
    counts: Mapping[str, Sequence[Mapping[str, int]]],
) -> tuple[Difference, ...]:
    """Where the groups differ most, first the attribute in which they differ most.

    `counts[attribute][group]` says how many trees of that group have each value; an unknown value
    is a value like any other. Attributes alike in all groups come last, with 0. Raises ValueError
    when an attribute is not counted for as many groups as the others, or a count is negative.
    """
    groups = {len(per_group) for per_group in counts.values()}
    if len(groups) > 1 or 1 in groups or 0 in groups:
        raise ValueError("Every attribute is counted for the same groups, at least two.")
    found = [_difference(attribute, per_group) for attribute, per_group in counts.items()]
    return tuple(sorted(found, key=lambda one: (-one.total_variation, -one.cramers_v)))


def _difference(attribute: str, per_group: Sequence[Mapping[str, int]]) -> Difference:
    values = sorted({value for group in per_group for value in group})
    if any(group[value] < 0 for group in per_group for value in group):
        raise ValueError("A count of trees is not below 0.")
    totals = [sum(group.values()) for group in per_group]
    shares = []
    for value in values:
        counts = tuple(group.get(value, 0) for group in per_group)
        parts = tuple(c / of if of else 0.0 for c, of in zip(counts, totals, strict=True))
        shares.append(Share(value, counts, parts))
    filled = [place for place, total in enumerate(totals) if total]
    pairs = [(a, b) for a in filled for b in filled if a < b]
    return Difference(
        attribute=attribute,
        total_variation=max(
            (sum(abs(s.shares[a] - s.shares[b]) for s in shares) / 2 for a, b in pairs),
            default=0.0,
        ),
        cramers_v=_cramers_v(shares, totals),
        standardised=max(
            (_standardised(s.shares[a], s.shares[b]) for s in shares for a, b in pairs),
            default=0.0,
        ),
        shares=tuple(sorted(shares, key=lambda share: (-share.apart, share.value))),
    )


def _cramers_v(shares: Sequence[Share], totals: Sequence[int]) -> float:
    trees = sum(totals)
    seen = [share for share in shares if sum(share.counts)]
    least = min(len(seen), sum(total > 0 for total in totals)) - 1
    if least < 1:
        return 0.0
    chi_square = 0.0
    for share in seen:
        for count, total in zip(share.counts, totals, strict=True):
            expected = sum(share.counts) * total / trees
            chi_square += (count - expected) ** 2 / expected if expected else 0.0
    return math.sqrt(min(1.0, chi_square / (trees * least)))


def _standardised(a: float, b: float) -> float:
    if a == b:
        return 0.0
    spread = math.sqrt((a * (1 - a) + b * (1 - b)) / 2)
    return abs(a - b) / spread if spread else math.inf
