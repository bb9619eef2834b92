"""How many trees to look at so that a share is known well enough."""

import math
from collections.abc import Sequence
from statistics import NormalDist


class BadSample(ValueError):
    """A margin, share, level or population for which no sample size exists."""


def trees_to_sample(
    *,
    margin: float,
    population: int | None = None,
    share: float = 0.5,
    level: float = 0.95,
    z: float | None = None,
) -> int:
    """Trees to draw at random so that the estimated share misses by at most `margin`.

    n0 = z^2 p (1 - p) / d^2, and for a finite population n = n0 / (1 + (n0 - 1) / N): Cochran
    (1977) Sampling Techniques, 3rd ed., section 4.4. Rounded up, which is the safe side.
    `share` = 0.5 asks for the most; `z` overrides the normal quantile of `level`.
    """
    if not (0 < margin < 1 and 0 <= share <= 1 and 0 < level < 1):
        raise BadSample("Margin and level must lie between 0 and 1, and the share within 0 to 1.")
    if population is not None and population < 1:
        raise BadSample(f"A population of {population} cannot be sampled.")
    quantile = NormalDist().inv_cdf(0.5 + level / 2) if z is None else z
    endless = quantile**2 * share * (1 - share) / margin**2
    wanted = endless if population is None else endless / (1 + (endless - 1) / population)
    # 1e-9: a size that is whole but for rounding is not raised by one
    size = max(1, math.ceil(wanted - 1e-9))
    return size if population is None else min(size, population)


def trees_to_sample_by_site(
    *,
    margin: float,
    populations: Sequence[int],
    shares: Sequence[float] | None = None,
    level: float = 0.95,
) -> list[int]:
    """Trees to draw at random on each site so that the share of all sites together misses by at
    most `margin`.

    Cochran (1977) Sampling Techniques, 3rd ed., section 5.9: with W_h the share of all N trees
    that stand on site h, S_h^2 = N_h p_h (1 - p_h) / (N_h - 1) and V = (d/z)^2, the trees wanted in
    all are (sum W_h S_h)^2 / (V + sum W_h S_h^2 / N), and site h gets as many as N_h S_h asks
    (Neyman 1934). `shares` are the shares expected; without them one half on every site, which asks
    for the most and spreads the looks as the trees are spread. The sizes are raised until the
    margin is met in whole trees, a tree at a time where it helps most. At least one a site (the
    estimate must know every site), and a site of one tree is known when that is seen.
    """
    expected = [0.5] * len(populations) if shares is None else list(shares)
    if len(expected) != len(populations) or not populations:
        raise BadSample("Every site needs its number of trees and, if shares are given, one share.")
    if not (0 < margin < 1 and 0 < level < 1 and all(0 <= share <= 1 for share in expected)):
        raise BadSample("Margin and level must lie between 0 and 1, and the share within 0 to 1.")
    if min(populations) < 1:
        raise BadSample(f"A population of {min(populations)} cannot be sampled.")
    trees = sum(populations)
    weights = [here / trees for here in populations]
    spread = [
        math.sqrt(here * share * (1 - share) / (here - 1)) if here > 1 else 0.0
        for here, share in zip(populations, expected, strict=True)
    ]
    allowed = (margin / NormalDist().inv_cdf(0.5 + level / 2)) ** 2
    together = sum(weight * sd for weight, sd in zip(weights, spread, strict=True))
    fixed = sum(weight * sd**2 for weight, sd in zip(weights, spread, strict=True)) / trees
    wanted = together**2 / (allowed + fixed)
    sizes = [
        min(here, max(1, math.floor(wanted * weight * sd / together))) if together else 1
        for here, weight, sd in zip(populations, weights, spread, strict=True)
    ]
    missing = [
        (weight * sd) ** 2 for weight, sd in zip(weights, spread, strict=True)
    ]  # the variance of the share is the sum of missing[h] (1 / n_h - 1 / N_h)
    while _variance(missing, sizes, populations) > allowed * (1 + 1e-12):
        helps = [
            part * (1 / size - 1 / (size + 1)) if size < here else -1.0
            for part, size, here in zip(missing, sizes, populations, strict=True)
        ]
        sizes[helps.index(max(helps))] += 1
    return sizes


def _variance(missing: Sequence[float], sizes: Sequence[int], populations: Sequence[int]) -> float:
    return sum(
        part * (1 / size - 1 / here)
        for part, size, here in zip(missing, sizes, populations, strict=True)
    )
