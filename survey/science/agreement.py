"""How far people who looked at the same trees said the same, beyond what chance would do."""

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from survey.science.proportions import wilson
from survey.science.records import Floats

Weighing: TypeAlias = Literal["all or nothing", "linear", "quadratic"]
Scale: TypeAlias = Literal["nominal", "ordinal", "interval"]


class BadRatings(ValueError):
    """Ratings that cannot be compared: not a table of counts, or columns of unequal length."""


@dataclass(frozen=True, slots=True)
class Share:
    """In how many of so many cases both said the same, with 95 % limits."""

    agreed: int
    of: int
    share: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Kappa:
    """Agreement beyond chance: 1 is full agreement, 0 what chance would do, below 0 is worse.

    `observed` and `by_chance` are the shares (weighted, where weights were asked for) it comes
    from; `error` is its standard error, NaN for the agreement of many.
    """

    value: float
    error: float
    observed: float
    by_chance: float
    items: int


def same_word(one: ArrayLike, other: ArrayLike, *, level: float = 0.95) -> Share | None:
    """The plain share of cases in which two said the same, with Wilson limits.

    NaN says "did not say"; a case that either left out does not count. None if no case is left.
    """
    first, second = _pair(one, other)
    if not len(first):
        return None
    agreed = int((first == second).sum())
    limits = wilson(agreed, len(first), level=level)
    return Share(agreed, len(first), agreed / len(first), limits.low, limits.high)


def crossed(one: ArrayLike, other: ArrayLike, words: int) -> Floats:
    """How often one said i where the other said j, `words` by `words`; NaN says "did not say"."""
    first, second = _pair(one, other)
    told = np.concatenate([first, second])
    if ((told < 0) | (told >= words) | (told != np.floor(told))).any():
        raise BadRatings(f"Words are whole numbers from 0 to {words - 1}.")
    places = first.astype(np.int64) * words + second.astype(np.int64)
    return np.bincount(places, minlength=words * words).reshape(words, words).astype(np.float64)


def cohen_kappa(
    table: ArrayLike, *, weights: Weighing | ArrayLike = "all or nothing"
) -> Kappa | None:
    """Agreement of two observers from a square table of counts.

    `weights` may be a square table of how bad each disagreement is (0 on the diagonal). None where
    nothing was rated, or both used one and the same word throughout: then chance explains it all.

    Sources: Cohen 1960 Educ. Psychol. Meas. 20:37; weighted, Cohen 1968 Psychol. Bull. 70:213;
    standard error, Fleiss, Cohen & Everitt 1969 Psychol. Bull. 72:323.
    """
    counts = np.asarray(table, dtype=np.float64)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1]:
        raise BadRatings("Two observers make a square table.")
    if not (np.isfinite(counts).all() and (counts >= 0).all()):
        raise BadRatings("A table of ratings holds counts.")
    number = counts.sum()
    if number == 0:
        return None
    agreeing = _agreeing(weights, len(counts))
    share = counts / number
    rows, columns = share.sum(axis=1), share.sum(axis=0)
    observed = float((agreeing * share).sum())
    by_chance = float(rows @ agreeing @ columns)
    if by_chance >= 1 - 1e-12:
        return None
    value = (observed - by_chance) / (1 - by_chance)
    row_pull, column_pull = agreeing @ columns, rows @ agreeing
    pull = agreeing - (row_pull[:, None] + column_pull[None, :]) * (1 - value)
    spread = float((share * pull**2).sum()) - (value - by_chance * (1 - value)) ** 2
    error = math.sqrt(max(spread, 0.0) / number) / (1 - by_chance)
    return Kappa(value, error, observed, by_chance, int(number))


def fleiss_kappa(counts: ArrayLike) -> Kappa | None:
    """Agreement of many: a row for each item, how many observers used each word.

    Each item must have been rated equally often, at least twice, by whomever. None where one word
    was used throughout. Source: Fleiss 1971 Psychol. Bull. 76:378.
    """
    told = np.asarray(counts, dtype=np.float64)
    if told.ndim != 2 or not (np.isfinite(told).all() and (told >= 0).all()):
        raise BadRatings("Counts of words come as a row for each item.")
    if not len(told):
        return None
    each = told.sum(axis=1)
    if (each != each[0]).any() or each[0] < 2:
        raise BadRatings("Each item must have been rated equally often, and at least twice.")
    used = told.sum(axis=0) / told.sum()
    by_chance = float((used**2).sum())
    if by_chance >= 1 - 1e-12:
        return None
    observed = float(((told * (told - 1)).sum(axis=1) / (each * (each - 1))).mean())
    return Kappa((observed - by_chance) / (1 - by_chance), math.nan, observed, by_chance, len(told))


def krippendorff_alpha(ratings: ArrayLike, *, scale: Scale = "nominal") -> float | None:
    """Agreement of any number of observers where anybody may have left out anything.

    `ratings` has a row for each observer and a column for each item; NaN is "did not say". An item
    with a single rating tells nothing and does not count. None where fewer than two items are left
    to compare or all ratings are one and the same.

    Source: Krippendorff 2011, Computing Krippendorff's alpha-reliability (coincidence matrix).
    """
    told = np.asarray(ratings, dtype=np.float64)
    if told.ndim != 2 or np.isinf(told).any():
        raise BadRatings("Ratings come as a row for each observer and a column for each item.")
    values = np.unique(told[~np.isnan(told)])
    counts = (
        np.stack([(told == value).sum(axis=0) for value in values], axis=1)
        if len(values)
        else np.zeros((told.shape[1], 0))
    )
    counts = counts[counts.sum(axis=1) >= 2].astype(np.float64)
    if len(counts) < 2:
        return None
    pairs = counts / (counts.sum(axis=1) - 1)[:, None]
    together = counts.T @ pairs - np.diag(pairs.sum(axis=0))
    used = together.sum(axis=1)
    apart = _apart(values, used, scale)
    by_chance = float(used @ apart @ used) / (used.sum() - 1)
    if by_chance <= 0:
        return None
    return float(1 - (together * apart).sum() / by_chance)


def _apart(values: Floats, used: Floats, scale: Scale) -> Floats:
    """How far two values lie apart, squared."""
    if scale == "nominal":
        return 1 - np.eye(len(values))
    if scale == "interval":
        return np.asarray((values[:, None] - values[None, :]) ** 2)
    # ordinal: as many ratings as lie between them, each end by half
    ranks = np.cumsum(used) - used / 2
    return np.asarray((ranks[:, None] - ranks[None, :]) ** 2)


def _agreeing(weights: Weighing | ArrayLike, words: int) -> Floats:
    """What each pair of words counts as agreement: 1 for the same, down to 0 for the worst."""
    if isinstance(weights, str):
        step = np.abs(np.arange(words)[:, None] - np.arange(words)[None, :]).astype(np.float64)
        bad = {"all or nothing": (step > 0) * 1.0, "linear": step, "quadratic": step**2}.get(
            weights
        )
        if bad is None:
            raise BadRatings(f"{weights!r} is no way to weigh disagreements.")
    else:
        bad = np.asarray(weights, dtype=np.float64)
        if bad.shape != (words, words) or not (bad >= 0).all() or np.diag(bad).any():
            raise BadRatings("Weights of disagreement are a square table with 0 on the diagonal.")
    worst = float(bad.max()) if bad.size else 0.0
    return np.asarray(1 - bad / worst) if worst > 0 else np.ones((words, words))


def _pair(one: ArrayLike, other: ArrayLike) -> tuple[Floats, Floats]:
    first = np.asarray(one, dtype=np.float64)
    second = np.asarray(other, dtype=np.float64)
    if first.ndim != 1 or first.shape != second.shape:
        raise BadRatings("Two observers must have columns of one length.")
    both = ~(np.isnan(first) | np.isnan(second))
    return first[both], second[both]
