"""What would settle it: the look at a doubtful tree from which most is to be expected.

The doubt of a tree is the variance of two yes-or-no questions about it today: is it lost, and is
it slipping or worse, the second by a quarter. A look's gain is how much of that it is expected to
take away, over everything the observer might say. Why the variance, and not how likely a wrong
decision is: a look that cannot by itself change a decision would be worth nothing then, though the
first of two that together do is worth half; and it is what the Brier score will fall by, and what
the counts of lost and of ailing trees become surer by: it adds up over trees, so that a walk list
can be built from it.

A look in some months tells of today too, through how trees change; that is how waiting for leaves
is weighed against looking now. What waiting costs is a rule: each month a tenth of the gain.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from survey.science.condition.laws import ALIVE, USUAL, Law
from survey.science.condition.learnt import Learnt, is_warm
from survey.science.condition.moves import factors
from survey.science.condition.prepared import age_class
from survey.science.condition.records import DEAD, GONE, KINDS, SLIPPING, Truths
from survey.science.condition.tables import SHAPE, noise, signals
from survey.science.records import Floats, Whole

LOOK, SCRATCH, LEAF, PHOTO = "look", "scratch", "leaf", "photo"
LOOKS = (PHOTO, LOOK, SCRATCH, LEAF)
"""From the least trouble to the most: a neighbor's photo now; a trained look now; a trained look
with a scratch test now; a trained look once the tree should be in leaf."""

NOTHING = -1
VOLUNTEER = KINDS.index("volunteer")
RESIDENT = KINDS.index("resident")

AILING_WEIGHT = 0.25  # how much the second question counts against the first (our choice)
A_MONTH = 0.9  # of a gain is left for each month it is waited for (our choice)
NEAR_ENOUGH = 0.9  # of the best gain: then the one with less trouble will do (our choice)
LEAST_GAIN = 0.01  # of a variance that is at most 5/16: below it, nothing is worth the way
MINUTES: Mapping[str, float] = {PHOTO: 5.0, LOOK: 1.5, SCRATCH: 2.5, LEAF: 1.5}
"""What each takes on the spot; a photo, to ask for it and read the answer (common practice, no
source)."""

_AT_ONCE = 4096


class BadQuestion(ValueError):
    """Columns of unequal length, or beliefs that are no shares."""


@dataclass(frozen=True, slots=True, eq=False)
class Doubtful:
    """Trees as columns of one length, as they are believed to be in `month`.

    `shares[n, 6]` by state; `leaf_off[n, 12]`: may the species be bare in January, February, ..;
    `planted` months; `site` and `cohort` numbered as in what was learnt.
    """

    shares: Floats
    month: int
    leaf_off: Truths
    planted: Whole
    site: Whole
    cohort: Whole
    south: bool = False

    def __post_init__(self) -> None:
        many = len(self.shares)
        if self.shares.shape != (many, 6) or self.leaf_off.shape != (many, 12):
            raise BadQuestion("Each tree needs six shares and twelve months of leaf.")
        if any(column.shape != (many,) for column in (self.planted, self.site, self.cohort)):
            raise BadQuestion("The columns of trees differ in length.")
        near_one = np.abs(self.shares.sum(axis=1) - 1) < 1e-6
        if not (np.isfinite(self.shares).all() and (self.shares >= 0).all() and near_one.all()):
            raise BadQuestion("What is believed of a tree are shares that add to 1.")

    @property
    def is_bare(self) -> Truths:
        """Whether each tree may be without leaves this month."""
        return np.asarray(self.leaf_off[:, self.month % 12])

    @property
    def months_to_leaf(self) -> Whole:
        """How long until it should be in leaf; 0 if it is, or if it never is."""
        ahead = (self.month + np.arange(12)) % 12
        return np.asarray(np.argmin(self.leaf_off[:, ahead], axis=1), dtype=np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Settling:
    """What each look is expected to take from the doubt, and which to choose.

    `doubt[n]` now; `gains[n, look]` in the order of LOOKS, waiting discounted, 0 where a look makes
    no sense; `best[n]` its place or NOTHING; `gain[n]` of the best; `month[n]` to go in. `plan[n]`:
    what a trained look today gains where that is worth the way and no wait is better; it is made
    for `plan_walks`, which adds gains up.
    """

    doubt: Floats
    gains: Floats
    best: Whole
    gain: Floats
    month: Whole
    plan: Floats

    def name(self, place: int) -> str:
        """The best look of one tree, a word of LOOKS; "" where nothing is worth the way."""
        best = int(self.best[place])
        return "" if best == NOTHING else LOOKS[best]


def doubt_of(shares: Floats) -> Floats:
    """The doubt about trees: the variance of "lost" and a quarter of that of "ailing"."""
    lost, ailing = _answers(shares)
    return np.asarray(lost * (1 - lost) + AILING_WEIGHT * ailing * (1 - ailing))


def best_look(
    trees: Doubtful,
    learnt: Learnt,
    law: Law = USUAL,
    *,
    kind: int = VOLUNTEER,
    walking: ArrayLike | None = None,
    possible: Sequence[str] = LOOKS,
) -> Settling:
    """For each tree the look that would settle most.

    `kind` is who goes, a place in KINDS, at that kind's usual weight. With `walking`, the minutes
    it takes to get to each tree, the best gain for each minute is chosen; without, the best gain,
    but if a look of less trouble brings nine tenths of it, that one. `possible` leaves out what
    cannot be done. Below `LEAST_GAIN` nothing is.
    """
    many = len(trees.shares)
    unknown = set(possible) - set(LOOKS)
    if unknown or kind not in range(len(KINDS)):
        raise BadQuestion(f"Nobody can be sent for {sorted(unknown)} as kind {kind}.")
    way = None if walking is None else np.asarray(walking, dtype=np.float64)
    if way is not None and not (way.shape == (many,) and np.isfinite(way).all() and
                                (way >= 0).all()):  # fmt: skip
        raise BadQuestion("The way to each tree takes a known number of minutes.")
    doubt, gains = doubt_of(trees.shares), np.zeros((many, len(LOOKS)))
    wait = trees.months_to_leaf
    asked = np.flatnonzero(doubt >= LEAST_GAIN)  # no look gains more than there is
    for begin in range(0, len(asked), _AT_ONCE):
        rows = asked[begin : begin + _AT_ONCE]
        for place, name in enumerate(LOOKS):
            if name in possible:
                gains[rows, place] = _gains(trees, rows, name, kind, learnt, law)
    later = LOOKS.index(LEAF)
    gains[:, later] *= A_MONTH**wait
    if way is None:
        most = gains.max(axis=1, initial=0.0)
        best = np.argmax(gains >= NEAR_ENOUGH * most[:, None], axis=1)
    else:
        spot = np.array([MINUTES[name] for name in LOOKS])
        spent = spot + way[:, None] * (np.array(LOOKS) != PHOTO)
        best = np.argmax(np.where(gains >= LEAST_GAIN, gains / spent, 0.0), axis=1)
    gain = gains[np.arange(many), best]
    worth = gain >= LEAST_GAIN
    best = np.where(worth, best, NOTHING)
    today = gains[:, [LOOKS.index(LOOK), LOOKS.index(SCRATCH)]].max(axis=1, initial=0.0)
    plan = np.where((best != later) & (today >= LEAST_GAIN), today, 0.0)
    month = trees.month + np.where(best == later, wait, 0)
    return Settling(doubt, gains, best, np.where(worth, gain, 0.0), month, plan)


def _answers(shares: Floats) -> tuple[Floats, Floats]:
    return shares[..., DEAD] + shares[..., GONE], shares[..., SLIPPING:].sum(axis=-1)


def _gains(trees: Doubtful, rows: Whole, name: str, kind: int, learnt: Learnt, law: Law) -> Floats:
    """The expected fall of the doubt about today by one kind of look at these trees."""
    bare, shares = trees.is_bare[rows], trees.shares[rows]
    found = np.zeros(len(rows))
    if name == LEAF:
        wait = trees.months_to_leaf[rows]
        said = said_of(LOOK, False, kind, learnt, law)
        for months in np.unique(wait[wait > 0]):
            some = np.flatnonzero(wait == months)
            moved = moves_ahead(trees, rows[some], int(months), learnt, law)
            # how likely each answer then is, given what the tree is today
            found[some] = _fall(shares[some], moved @ said.T)
        return found
    who = RESIDENT if name == PHOTO else kind
    for off in (False, True):
        some = np.flatnonzero(bare == off)
        if len(some):
            said = said_of(name, off, who, learnt, law)
            found[some] = _fall(shares[some], said.T)
    return found


def _fall(shares: Floats, said: Floats) -> Floats:
    """By how much the doubt is expected to fall, with `said[state, answer]` alike for all trees or
    `said[n, state, answer]` for each.

    With p the chance of a yes and a that of a yes together with an answer: the variance left is
    the sum of a (1 - a / chance of the answer), so what falls is the sum of a^2 / chance, less p^2.
    """
    answer = _together(shares, said)
    fell = np.zeros(len(shares))
    for weight, first, yes in (
        (1.0, DEAD, _answers(shares)[0]),
        (AILING_WEIGHT, SLIPPING, _answers(shares)[1]),
    ):
        both = _together(shares[:, first:], said[..., first:, :])
        known = np.divide(both**2, answer, out=np.zeros_like(both), where=answer > 0)
        fell += weight * np.maximum(known.sum(axis=1) - yes**2, 0.0)
    return fell


def _together(shares: Floats, said: Floats) -> Floats:
    if said.ndim == 2:
        return np.asarray(shares @ said)
    return np.asarray((shares[:, None, :] @ said)[:, 0])


def said_of(name: str, off: bool, kind: int, learnt: Learnt, law: Law = USUAL) -> Floats:
    """[answer, state]: how likely each answer to a look is; over the answers it adds to 1.

    An answer is a word, what the leaves are like and, with a scratch test, what it shows. Signs are
    left out: they mostly repeat the word. The share `rho` of the kind follows the tables, the rest
    none of them.
    """
    scratch = (1, 2) if name == SCRATCH else (0,)
    word, mark, leaf = (
        part.ravel() for part in np.meshgrid(range(1, 7), scratch, range(1, 4), indexing="ij")
    )
    alike = np.zeros_like(word)
    code = np.ravel_multi_index((alike + kind, alike + int(off), word, mark, leaf, alike), SHAPE)
    rest = noise(law, learnt.scratch, learnt.leaf, learnt.signs)[code]
    rho = law.mean_trust[kind]
    astray = learnt.kind_noise[kind][word - 1] * rest
    return np.asarray(rho * signals(law)[code] + (1 - rho) * astray[:, None])


def moves_ahead(
    trees: Doubtful, rows: Whole, months: int, learnt: Learnt, law: Law = USUAL
) -> Floats:
    """[tree, state today, state then]: how these trees change in so many months, uncared for."""
    own = _of_group(learnt.site, trees.site[rows]) * _of_group(learnt.cohort, trees.cohort[rows])
    worse, death, better = factors(learnt, law)
    moved = np.broadcast_to(np.eye(6), (len(rows), 6, 6))
    live = np.arange(ALIVE)
    for ahead in range(1, months + 1):
        month = trees.month + ahead
        warm = int(is_warm(np.array([month]), south=trees.south)[0])
        cell = (age_class(month - trees.planted[rows], law) * 2 + warm) * 2
        step = np.zeros((len(rows), 6, 6))
        step[:, live[:-1], live[1:]] = learnt.worse * (worse[cell] * own)[:, None]
        step[:, live[1:], live[:-1]] = learnt.better * better[warm * 2]
        step[:, :ALIVE, DEAD] = learnt.death * (death[cell] * own)[:, None]
        step[:, :ALIVE, GONE] = learnt.removed
        step[:, DEAD, GONE] = learnt.removal
        leave = step.sum(axis=2)
        step *= np.where(leave > law.most, law.most / np.maximum(leave, 1e-300), 1.0)[:, :, None]
        step[:, np.arange(6), np.arange(6)] = 1 - step.sum(axis=2)
        moved = moved @ step
    return np.asarray(moved)


def _of_group(factor: Floats, which: Whole) -> Floats:
    """The factor of each tree's group; 1 for a group that came after the learning."""
    known = (which >= 0) & (which < len(factor))
    answer = np.ones(len(which))
    answer[known] = factor[which[known]]
    return answer
