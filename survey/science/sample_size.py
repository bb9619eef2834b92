"""How many trees to look at so that a share is known well enough."""

import math
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
