"""Survival of small plantings that lean on the rest of the town, by a model written out in full.

A planting of seven trees says little by itself. The town says what such trees do on the whole, its
species and its site say more, and how far plantings differ at all is learnt from all of them. The
shrunk figure stands *beside* the raw one, never instead of it.

The model. In each month of its age a tree of planting p, species s and site z is lost at the rate

    exp(theta[piece of age] + a[p] + b[s] + c[z])   per month,

    a[p] ~ N(0, sd_planting),  b[s] ~ N(0, sd_species),  c[z] ~ N(0, sd_site),
    theta[0] ~ N(log 0.01, 2),  theta[k + 1] - theta[k] ~ N(0, sd_step),
    sd_planting, sd_species, sd_site ~ half-normal(0.7),  sd_step ~ half-normal(0.5),

constant within the pieces that open at 0, 3, 6, 12, 18, 24, 36, 60 and 120 months, the short ones
first because the first years are the hardest. (A standard deviation of 0.7 lets two plantings in
three lie within a factor of two: wide, but two species alone cannot run off to infinity.) A loss
known to lie between two looks, and a tree that came under watch late, count exactly as such. An age
at loss that is known exactly counts as a loss within the month before it.

The random-effects hazard model in discrete time is that of Gelman & Hill (2007), Data Analysis
Using Regression and Multilevel/Hierarchical Models, chapters 12 to 15; it is fitted by Laplace's
approximation (Breslow & Clayton 1993 J. Am. Stat. Assoc. 88:9). `effects` has the arithmetic.

What it assumes: plantings differ by one factor that holds at every age, looks are right, and when
trees are looked at has nothing to do with how they fare.
"""

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from survey.science.records import Floats, Spells, Whole
from survey.science.survival.effects import (
    Effects,
    Watched,
    months_in_pieces,
    sampled_effects,
)

By: TypeAlias = Literal["planting", "species", "site", "town"]

DRAWS = 400
TOWN = ""
"""The key of the one group that `by` = "town" has."""

_FACTORS = ("planting", "species", "site")
_ROOM = 4_000_000  # numbers held at a time while survival is worked out


class BadPool(ValueError):
    """Trees, ages or draws from which nothing can be pooled. The subclasses say what is wrong."""


class NothingToPool(BadPool):
    """There are no trees."""


class NotPooled(BadPool):
    """A planting, species or site that was not among the trees of the fit."""


@dataclass(frozen=True, slots=True)
class Patch:
    """The trees of one planting, species and site. The three are any names, "" included."""

    planting: str
    species: str
    site: str
    spells: Spells


@dataclass(frozen=True, slots=True)
class Shrunk:
    """The survival to `age` that trees like these have, leaning on the others.

    `survival` is the median and `low` to `high` the limits of the posterior. `own` is the share of
    what is known of how this group differs that its own trees told, 0 to 1; the rest it borrowed.
    """

    age: float
    survival: float
    low: float
    high: float
    own: float


@dataclass(frozen=True, slots=True, eq=False)
class Pooled:
    """A fitted town: what it knows of every planting, species and site, as joint draws."""

    plantings: tuple[str, ...]
    species: tuple[str, ...]
    sites: tuple[str, ...]
    cells: tuple[Whole, Whole, Whole]  # (cells,) planting, species and site, sorted
    trees: Whole  # (cells,)
    effects: Effects
    seed: int

    @property
    def draws(self) -> int:
        """How many joint draws stand for the posterior."""
        return int(self.effects.pieces.shape[1])

    def log_hazard(self, planting: str, species: str, site: str) -> Floats:
        """Draws of the log of the monthly hazard, (pieces, draws), of one kind of tree.

        The three need not have met in the data, but each must have been in it (`NotPooled`).
        """
        told = self.effects
        return np.asarray(
            told.pieces
            + told.planting[self._place(self.plantings, planting)]
            + told.species[self._place(self.species, species)]
            + told.site[self._place(self.sites, site)]
        )

    def survival(
        self, by: By, key: str, ages: Sequence[float], *, level: float = 0.95
    ) -> list[Shrunk]:
        """Shrunk survival of one group, averaged over its trees as they are mixed."""
        if by == "town":
            chosen = np.arange(len(self.trees))
            if key != TOWN:
                raise NotPooled(f"There is one town, and {key!r} is not it.")
            place = 0
        else:
            factor = _FACTORS.index(by)
            place = self._place(self._names()[factor], key)
            if factor == 0:
                begin, end = np.searchsorted(self.cells[0], [place, place + 1])
                chosen = np.arange(begin, end)
            else:
                chosen = np.flatnonzero(self.cells[factor] == place)
        drawn = self._drawn(chosen, np.zeros(len(chosen), dtype=np.int64), 1, _ages(ages))
        return self._told(by, place, drawn[0], ages, level)

    def every(
        self, by: By, ages: Sequence[float], *, level: float = 0.95
    ) -> dict[str, list[Shrunk]]:
        """The same for every group at once, by its key."""
        wanted = _ages(ages)
        if by == "town":
            return {TOWN: self.survival(by, TOWN, ages, level=level)}
        factor = _FACTORS.index(by)
        names, group = self._names()[factor], self.cells[factor]
        order = np.argsort(group, kind="stable")
        starts = np.searchsorted(group[order], np.arange(len(names) + 1))
        at_once = max(1, _ROOM // (self.draws * max(1, len(ages))))
        answer = {}
        for begin in range(0, len(names), at_once):
            end = min(len(names), begin + at_once)
            chosen = order[starts[begin] : starts[end]]
            drawn = self._drawn(chosen, group[chosen] - begin, end - begin, wanted)
            for place in range(begin, end):
                answer[names[place]] = self._told(by, place, drawn[place - begin], ages, level)
        return answer

    def _names(self) -> tuple[tuple[str, ...], ...]:
        return self.plantings, self.species, self.sites

    def _place(self, names: tuple[str, ...], name: str) -> int:
        place = bisect_left(names, name)
        if place >= len(names) or names[place] != name:
            raise NotPooled(f"Nothing named {name!r} was among the trees of this fit.")
        return place

    def _drawn(self, chosen: Whole, group: Whole, groups: int, ages: Floats) -> Floats:
        """Draws of survival (groups, ages, draws): the mean over the trees of each group.

        The chosen cells come sorted by their group.
        """
        told = self.effects
        months = months_in_pieces(np.zeros_like(ages), ages)
        spent = months @ np.exp(told.pieces)  # (ages, draws)
        sums: Floats = np.zeros((groups, len(ages), self.draws))
        at_once = max(1, _ROOM // (self.draws * max(1, len(ages))))
        for begin in range(0, len(chosen), at_once):
            some = chosen[begin : begin + at_once]
            planting, species, site = (level[some] for level in self.cells)
            risk = np.exp(told.planting[planting] + told.species[species] + told.site[site])
            alive = np.exp(-risk[:, None, :] * spent) * self.trees[some, None, None]
            here = group[begin : begin + at_once]
            starts = np.flatnonzero(np.diff(here, prepend=-1))
            sums[here[starts]] += np.add.reduceat(alive, starts)
        trees = np.bincount(group, self.trees[chosen], groups)
        return np.asarray(sums / trees[:, None, None])

    def _told(
        self, by: By, place: int, drawn: Floats, ages: Sequence[float], level: float
    ) -> list[Shrunk]:
        if not 0 < level < 1:
            raise BadPool(f"The level of a limit lies between 0 and 1, and {level} does not.")
        tail = (1 - level) / 2
        low, middle, high = np.quantile(drawn, [tail, 0.5, 1 - tail], axis=1)
        own = 1.0
        if by != "town" and len(self._names()[_FACTORS.index(by)]) > 1:
            own = float(self.effects.weight[_FACTORS.index(by)][place])
        return [
            Shrunk(float(age), float(middle[i]), float(low[i]), float(high[i]), own)
            for i, age in enumerate(ages)
        ]


def pool(patches: Iterable[Patch], *, seed: int, draws: int = DRAWS) -> Pooled:
    """Fit the model to the trees of a town.

    Patches may come in any order and share planting, species and site. Trees of which nothing but
    their planting is known (last known alive at 0) count as trees and say nothing of the hazard.
    Raises `NothingToPool` for an empty town. The same trees and seed give the same bytes.
    """
    if draws < 100 or draws % 2:
        raise BadPool(f"Limits need an even number of at least 100 draws, not {draws}.")
    given = [patch for patch in patches if patch.spells.trees]
    if not given:
        raise NothingToPool("Nothing can be learnt from a town without trees.")
    names, cells, which = _cells_of(given)
    spells = [patch.spells for patch in given]
    lengths = [len(part.count) for part in spells]
    watched, trees = _watched(
        cells,
        (len(names[0]), len(names[1]), len(names[2])),
        cell=np.repeat(which, lengths),
        entry=np.concatenate([part.entry for part in spells]),
        left=np.concatenate([part.left for part in spells]),
        right=np.concatenate([part.right for part in spells]),
        count=np.concatenate([part.count for part in spells]),
    )
    return Pooled(
        plantings=names[0],
        species=names[1],
        sites=names[2],
        cells=cells,
        trees=trees,
        effects=sampled_effects(watched, draws=draws, seed=seed),
        seed=seed,
    )


_Names: TypeAlias = tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]


def _cells_of(patches: list[Patch]) -> tuple[_Names, tuple[Whole, Whole, Whole], Whole]:
    """Sorted names, the cells that occur in their order, and the cell of each patch."""
    columns = [[getattr(patch, factor) for patch in patches] for factor in _FACTORS]
    names = [tuple(sorted(set(column))) for column in columns]
    key = np.zeros(len(patches), dtype=np.int64)
    for column, known in zip(columns, names, strict=True):
        places = {name: place for place, name in enumerate(known)}
        key = key * len(known) + np.array([places[name] for name in column])
    distinct, which = np.unique(key, return_inverse=True)
    rest, site = np.divmod(distinct, len(names[2]))
    planting, species = np.divmod(rest, len(names[1]))
    return (names[0], names[1], names[2]), (planting, species, site), which


def _watched(
    levels: tuple[Whole, Whole, Whole],
    sizes: tuple[int, int, int],
    *,
    cell: Whole,
    entry: Floats,
    left: Floats,
    right: Floats,
    count: Whole,
) -> tuple[Watched, Whole]:
    """The sums that the likelihood needs, added in one order whatever the order of the trees."""
    order = np.lexsort((right, left, entry, cell))
    cell, count = cell[order], count[order]
    entry, left, right = (column[order] for column in (entry, left, right))
    cells = len(levels[0])
    since = np.maximum(entry, 0.0)
    died = np.isfinite(right)
    exact = died & (left == right)
    # an exact age: within the month before it, and within the first month for age 0
    opens = np.where(exact, np.maximum(np.maximum(right - 1.0, since), 0.0), left)
    closes = np.where(exact, np.maximum(right, opens + (right == 0)), right)
    months = months_in_pieces(since, np.maximum(opens, since)) * count[:, None]
    exposure = np.stack([np.bincount(cell, column, cells) for column in months.T], axis=1)
    ends = np.stack([opens[died], closes[died]], axis=1)
    distinct, which = np.unique(ends, axis=0, return_inverse=True)
    watched = Watched(
        exposure=exposure.astype(np.float64),
        levels=levels,
        sizes=sizes,
        interval=months_in_pieces(distinct[:, 0], distinct[:, 1]),
        cell=cell[died],
        which=which.ravel(),
        deaths=count[died].astype(np.float64),
        shift=np.zeros(int(died.sum())),
    )
    return watched, np.bincount(cell, count, cells).astype(np.int64)


def _ages(ages: Sequence[float]) -> Floats:
    wanted = np.array(ages, dtype=np.float64)
    if not (np.isfinite(wanted).all() and (wanted >= 0).all()):
        raise BadPool("Survival is asked at known ages from 0 on.")
    return wanted
