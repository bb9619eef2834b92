"""Survival from drawn losses: each drawing of the months of loss makes curves that might be so.

A model that weighs all evidence does not say when a tree was lost; it gives a chance for each
month. So the months of loss are drawn many times over. Each drawing is counted like a town in which
everything was seen, by age and with delayed entry, and the hazard at each age is drawn from

    Beta(lost + 5 h, at risk - lost + 5 (1 - h)),   h = the town's hazard at that age

where what is lost and at risk lies half way between the drawing and the mean of all (`KEPT`),
because the figures are about trees like these, not only about these: without this step the limits
hold the rate about half of the time. The five trees' worth of the town keep an age at which two
trees were watched from being told as 0 or 100 of 100. Losses at one age are parted among deaths and
removals for other reasons by a second Beta of the same kind, which together is one Dirichlet draw.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from survey.science.records import Floats, Truths, Whole

NEVER = np.iinfo(np.int16).max
"""The age or month of a loss that does not come."""

TOWN_TREES = 5.0  # how many trees the town's hazard counts for
KEPT = 0.5
"""How much of a drawing's distance from the mean drawing is kept. Losses that nobody saw are drawn
at the rates that the town taught, so what is drawn again from the Beta is in part the same doubt:
counted whole, the limits held 96 to 99 of 100 on simulated towns, the more the less was seen; so,
96 to 98. A number chosen on simulated towns, not derived.
"""
SMOOTHED_OVER = 7  # months of age
LEVEL = 0.95

_AT_ONCE = 20_000  # trees that are counted together

Numbers: TypeAlias = NDArray[np.uint64]
_SCATTER = (0x9E3779B97F4A7C15, 0xBF58476D1CE4E5B9, 0x94D049BB133111EB)


def dice(keys: Numbers, draws: int, seed: int) -> Floats:
    """A number from 0 to 1 for each drawing (row) and tree (column), told by the tree's key alone.

    So a tree draws the same whatever stands before it in the list, and no order of the trees gives
    other figures. The numbers of one tree are spread evenly, one in each n-th from 0 to 1, so that
    means over drawings come closer to what they estimate.
    """
    within = np.argsort(_scattered(keys, draws, seed), axis=0)
    return np.asarray((within + _scattered(keys, draws, seed + 1)) / draws)


def _scattered(keys: Numbers, draws: int, seed: int) -> Floats:
    """Counters scattered over 0 to 1, as by Steele, Lea and Flood 2014 (Fast splittable
    pseudorandom number generators, OOPSLA '14, pages 453-472)."""
    step, one, two = (np.uint64(n) for n in _SCATTER)
    turn = np.arange(1, draws + 1, dtype=np.uint64) * step
    z = keys[None, :] + turn[:, None] + np.array([seed], dtype=np.uint64) * two
    z = (z ^ (z >> np.uint64(30))) * one
    z = (z ^ (z >> np.uint64(27))) * two
    z ^= z >> np.uint64(31)
    return np.asarray((z >> np.uint64(11)).astype(np.float64) * 2.0**-53)


def months_lost(chance: Floats, offsets: Whole, first: Whole, thrown: Floats) -> Whole:
    """The month in which each tree was lost, by drawing and tree; NEVER where it was not.

    `chance` is the chance to be lost by each month, which never falls within a tree; a tree's
    months lie from its offset to the next, and begin with the month `first`. A throw falls into the
    first month whose chance reaches it, which draws from the months as they truly are.
    """
    trees = len(first)
    apart = 2.0 * np.arange(trees)
    line = chance + np.repeat(apart, np.diff(offsets))
    place = np.searchsorted(line, thrown + apart, side="left")
    month = first + place - offsets[:-1]
    return np.where(place < offsets[1:], month, NEVER)


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """Trees as columns of one length; ages are whole months since planting.

    A tree is under watch after the age `entry` and up to and with the age `until`. From the age
    `other` on, a loss is a removal that had nothing to do with health; NEVER where none was.
    """

    entry: Whole
    until: Whole
    other: Whole

    @property
    def trees(self) -> int:
        return len(self.entry)

    def of(self, which: Whole) -> "Watched":
        return Watched(self.entry[which], self.until[which], self.other[which])


@dataclass(frozen=True, slots=True, eq=False)
class Tally:
    """What each drawing counts by age: rows are drawings, columns the ages from 0 on.

    `at_risk` are the trees that stood under watch as the month of that age began; those of them
    lost within it are `died` or `taken` (for another reason than health).
    """

    at_risk: Whole
    died: Whole
    taken: Whole

    @property
    def draws(self) -> int:
        return len(self.at_risk)

    @property
    def ages(self) -> int:
        return int(self.at_risk.shape[1])

    @property
    def lost(self) -> Whole:
        return self.died + self.taken


def tally(watched: Watched, lost: Whole, ages: int) -> Tally:
    """Count drawings by age up to (not with) `ages`; `lost` holds an age a drawing and tree.

    A tree drawn as lost by the age of its entry adds nothing: had it been, nobody would have
    come to watch it.
    """
    counted = np.zeros((3, len(lost), ages), dtype=np.int64)
    for begin in range(0, watched.trees, _AT_ONCE):
        some = slice(begin, begin + _AT_ONCE)
        counted += _tally(watched.of(np.arange(watched.trees)[some]), lost[:, some], ages)
    return Tally(np.cumsum(counted[0], axis=1), counted[1], counted[2])


def _tally(watched: Watched, lost: Whole, ages: int) -> Whole:
    """Of some trees, by drawing and age: how many more are under watch, died and were taken."""
    draws = len(lost)
    enters = lost > watched.entry
    ends = np.minimum(lost, watched.until)
    ended = enters & (lost <= watched.until)
    rows = np.arange(draws)[:, None] * (ages + 1)

    def counted(which: Truths, age: Whole) -> Whole:
        places = (rows + np.minimum(age, ages))[which]
        found = np.bincount(places, minlength=draws * (ages + 1))
        return np.asarray(found.reshape(draws, ages + 1)[:, :ages])

    stays = enters & (ends > watched.entry)
    begins = counted(stays, np.broadcast_to(watched.entry + 1, lost.shape))
    other = lost >= watched.other
    return np.stack(
        [
            begins - counted(stays, ends + 1),
            counted(ended & ~other, ends),
            counted(ended & other, ends),
        ]
    )


@dataclass(frozen=True, slots=True, eq=False)
class Hazard:
    """A town's chance by age to die, and to be taken for another reason, within that month."""

    died: Floats
    taken: Floats


def hazard_of(town: Tally) -> Hazard:
    """The town's hazards: the mean of the drawings over seven months of age, leaning by one tree
    on all ages together, so that none is 0 for want of trees."""
    at_risk = town.at_risk.mean(axis=0)
    died, taken = town.died.mean(axis=0), town.taken.mean(axis=0)
    lost = died.sum() + taken.sum()
    usual = (lost + 0.5) / (at_risk.sum() + 1.0)
    share = (taken.sum() + 0.5) / (lost + 1.0) if taken.any() else 0.0

    def smooth(lost: Floats, leaning: float) -> Floats:
        return np.asarray((_window(lost) + leaning) / (_window(at_risk) + 1.0))

    return Hazard(smooth(died, usual * (1 - share)), smooth(taken, usual * share))


def _window(values: Floats) -> Floats:
    half = SMOOTHED_OVER // 2
    sums = np.concatenate([[0.0], np.cumsum(values)])
    ages = np.arange(len(values))
    first, last = np.maximum(ages - half, 0), np.minimum(ages + half + 1, len(values))
    return np.asarray(sums[last] - sums[first])


@dataclass(frozen=True, slots=True)
class Share:
    """An estimate with its 95 % limits."""

    mean: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Curves:
    """Curves that such trees might have: rows are drawings, columns ages from `given` on.

    `loss` is the share still standing of those that stood at the age `given`; `death` the share not
    dead, living trees taken for other reasons competing.
    """

    given: int
    loss: Floats
    death: Floats

    @cached_property
    def steps(self) -> dict[str, list[Share]]:
        """Each curve as its shares by age, the first at the age `given`."""
        found: dict[str, list[Share]] = {}
        for name, rows in (("loss", self.loss), ("death", self.death)):
            if name == "death" and rows is self.loss:
                found[name] = found["loss"]
                continue
            ends = np.quantile(rows, [(1 - LEVEL) / 2, (1 + LEVEL) / 2], axis=0)
            found[name] = [
                _ordered(*values) for values in zip(rows.mean(axis=0), *ends, strict=True)
            ]
        return found

    def at(self, curve: str, age: int) -> Share:
        """The share at one age, `given` or later."""
        return self.steps[curve][age - self.given]

    def over(self, curve: str, ages: Whole) -> Share:
        """The mean share of trees that are asked about at ages of their own."""
        rows = (self.loss if curve == "loss" else self.death)[:, ages - self.given].mean(axis=1)
        return _ordered(rows.mean(), *np.quantile(rows, [(1 - LEVEL) / 2, (1 + LEVEL) / 2]))


def _ordered(mean: float, low: float, high: float) -> Share:
    """Limits hold their estimate, however crooked the drawings lie around it."""
    return Share(float(mean), float(min(low, mean)), float(max(high, mean)))


def curves(
    counted: Tally, town: Hazard, *, given: int = 0, repeats: int, seed: tuple[int, ...]
) -> Curves:
    """Draw the curves of a group, `repeats` for each drawing of its losses.

    The same counts, town and seed give the same curves. Where no tree of the group was taken for
    another reason the two curves are one.
    """
    rng = np.random.default_rng(seed)
    ages = slice(given + 1, counted.ages)
    at_risk = _nearer(counted.at_risk[:, ages])
    died, taken = _nearer(counted.died[:, ages]), _nearer(counted.taken[:, ages])
    shape = (repeats, *at_risk.shape)
    usual = town.died[ages] + town.taken[ages]
    hazard = rng.beta(
        died + taken + TOWN_TREES * usual,
        at_risk - died - taken + TOWN_TREES * (1.0 - usual),
        size=shape,
    )
    loss = _from_one(np.asarray(np.cumprod(1.0 - hazard, axis=-1)))
    if not counted.taken.any():
        return Curves(given, loss, loss)
    deadly = rng.beta(
        died + TOWN_TREES * town.died[ages], taken + TOWN_TREES * town.taken[ages], size=shape
    )
    fell = np.cumsum(loss[:, :-1] * (hazard * deadly).reshape(len(loss), -1), axis=-1)
    return Curves(given, loss, _from_one(np.asarray(1.0 - fell)))


def _nearer(counted: Whole) -> Floats:
    """Counts of each drawing, drawn towards the mean of all; sums and order among them stay."""
    mean = counted.mean(axis=0)
    return np.asarray(mean + KEPT * (counted - mean), dtype=np.float64)


def _from_one(steps: Floats) -> Floats:
    """Drawings one below the other, with the start before their first step."""
    rows = np.asarray(steps, dtype=np.float64).reshape(-1, steps.shape[-1])
    return np.concatenate([np.ones((len(rows), 1)), rows], axis=1)
