"""The static latent-class model: what is true of each item when unequal observers disagree.

Time plays no part: this is what the condition month by month is measured against. Source: Dawid &
Skene 1979 Applied Statistics 28:20-28.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from survey.science.condition.records import NOT_SAID, STATES, Evidence
from survey.science.records import Floats, Whole


class BadVotes(ValueError):
    """Votes that name no item, observer or class there is."""


@dataclass(frozen=True, slots=True, eq=False)
class Votes:
    """Who called what by which word, as columns of one length; all counted from 0."""

    item: Whole
    observer: Whole
    label: Whole
    items: int
    observers: int
    classes: int

    @classmethod
    def of(cls, item: ArrayLike, observer: ArrayLike, label: ArrayLike, classes: int) -> "Votes":
        """Collect votes; the items and observers are as many as the highest number says."""
        columns = [np.asarray(column, dtype=np.int64) for column in (item, observer, label)]
        if len({column.shape for column in columns}) > 1 or columns[0].ndim != 1:
            raise BadVotes("The columns of votes differ in length.")
        if any(len(column) and column.min() < 0 for column in columns):
            raise BadVotes("Items, observers and labels are counted from 0.")
        if len(columns[2]) and columns[2].max() >= classes:
            raise BadVotes(f"A vote names class {columns[2].max()}, and there are {classes}.")
        sizes = [int(column.max()) + 1 if len(column) else 0 for column in columns[:2]]
        return cls(columns[0], columns[1], columns[2], sizes[0], sizes[1], classes)


@dataclass(frozen=True, slots=True, eq=False)
class LatentClass:
    """What the model makes of votes.

    `posterior[item, class]`; `shares[class]`; `tables[observer, class, label]`: how often each
    observer uses a word of items that truly are of a class. `path` is the log-likelihood of the
    votes, pseudo-counts left out, at the start of each round; `objective` the same with them, which
    no round may lower. `moved` is the most that the last round moved any posterior: with it below
    the tolerance, and no fall on the way, `converged` is true and the answer a (local) maximum.
    """

    posterior: Floats
    shares: Floats
    tables: Floats
    path: tuple[float, ...]
    objective: tuple[float, ...]
    moved: float
    converged: bool

    @property
    def log_likelihood(self) -> float:
        return self.path[-1]


def latent_class(
    votes: Votes,
    *,
    pseudo: ArrayLike = 0.0,
    share_pseudo: float = 0.0,
    rounds: int = 1000,
    tolerance: float = 1e-10,
) -> LatentClass:
    """The latent-class model by EM, started from the share of votes for each class.

    The start is fixed on purpose: the likelihood has several maxima, and the one next to what most
    people said keeps the names of the classes. `pseudo` is added to each cell of every observer's
    table (a number, or class by label, or observer by class by label), `share_pseudo` to each
    class. Without them an observer who was never wrong can never be believed wrong.
    """
    many, classes = votes.items, votes.classes
    added = np.broadcast_to(
        np.asarray(pseudo, dtype=np.float64), (votes.observers, classes, classes)
    )
    if not (np.isfinite(added).all() and (added >= 0).all() and share_pseudo >= 0):
        raise BadVotes("Pseudo-counts are numbers of at least 0.")
    if many == 0:
        raise BadVotes("Without votes there is nothing to learn from.")
    if tolerance <= 0 or rounds < 1:
        raise BadVotes("A fit needs at least one round and a tolerance above 0.")
    # equal votes of one observer on one item are one row with a count
    key = (votes.item * votes.observers + votes.observer) * classes + votes.label
    distinct, count = np.unique(key, return_counts=True)
    rest, label = np.divmod(distinct, classes)
    item, observer = np.divmod(rest, votes.observers)
    weight = count.astype(np.float64)

    belief = np.zeros((many, classes))
    np.add.at(belief, (item, label), weight)
    voted = belief.sum(axis=1, keepdims=True)
    belief = np.where(voted > 0, belief / np.maximum(voted, 1), 1 / classes)
    path: list[float] = []
    objective: list[float] = []
    while True:
        shares, tables = _counted(belief, item, observer, label, weight, added, share_pseudo)
        with np.errstate(divide="ignore"):
            log_tables, log_shares = np.log(tables), np.log(shares)
        score = np.tile(log_shares, (many, 1))
        np.add.at(score, item, weight[:, None] * log_tables[observer, :, label])
        highest = score.max(axis=1, keepdims=True)
        told = np.exp(score - highest)
        total = told.sum(axis=1, keepdims=True)
        after = told / total
        path.append(float((np.log(total) + highest).sum()))
        with np.errstate(invalid="ignore"):
            prior = np.where(added > 0, added * log_tables, 0).sum()
        if share_pseudo:
            prior += share_pseudo * log_shares.sum()
        objective.append(path[-1] + float(prior))
        moved = float(np.abs(after - belief).max())
        belief = after
        if moved < tolerance or len(path) >= rounds:
            break
    fell = any(
        later < sooner - 1e-9 * max(1.0, abs(sooner)) for sooner, later in pairwise(objective)
    )
    return LatentClass(
        belief, shares, tables, tuple(path), tuple(objective), moved, moved < tolerance and not fell
    )


def _counted(
    belief: Floats,
    item: Whole,
    observer: Whole,
    label: Whole,
    weight: Floats,
    added: Floats,
    share_pseudo: float,
) -> tuple[Floats, Floats]:
    """Shares of the classes and the observers' tables from beliefs about the items."""
    shares = belief.sum(axis=0) + share_pseudo
    shares = shares / shares.sum()
    observers, classes, _ = added.shape
    cells = np.zeros((observers * classes, classes))
    np.add.at(cells, observer * classes + label, weight[:, None] * belief[item])
    tables = cells.reshape(observers, classes, classes).transpose(0, 2, 1) + added
    rows = tables.sum(axis=2, keepdims=True)
    # a class that an observer never met says nothing of them: all words alike
    return shares, np.where(rows > 0, tables / np.where(rows > 0, rows, 1), 1 / classes)


USUAL_PSEUDO = 0.5 + 4.5 * np.eye(len(STATES))
"""Before their first vote everybody is taken to be right in most cases (an assumption)."""


def static_latent_class(
    evidence: Evidence, *, window: int = 12, pseudo: ArrayLike = USUAL_PSEUDO
) -> Floats:
    """P(state) of each tree at its last month by the static model, trees by states.

    The looks at one tree within `window` months are one item, so that observers who looked at about
    the same time are weighed against each other: with a single month most items have one vote, and
    no observer can be told from another. The last item of a tree speaks for its last month,
    however long ago; a tree without a label gets the shares of the classes. Only labels count: no
    season, no scratch test, no silence, no time.
    """
    looks, trees = evidence.looks, evidence.trees
    if window < 1:
        raise BadVotes("A window is at least one month.")
    said = np.flatnonzero(looks.label != NOT_SAID)
    if not len(said):
        return np.full((trees.number, len(STATES)), 1 / len(STATES))
    # counted back from the last month, so that the last window is whole
    ago = (trees.last[looks.tree[said]] - looks.month[said]) // window
    places, item = np.unique(np.column_stack([looks.tree[said], -ago]), axis=0, return_inverse=True)
    votes = Votes.of(item.ravel(), looks.observer[said], looks.label[said], len(STATES))
    found = latent_class(votes, pseudo=pseudo, share_pseudo=1.0, rounds=100, tolerance=1e-4)
    answer = np.tile(found.shares, (trees.number, 1))
    answer[places[:, 0]] = found.posterior  # rows in order of time: the last one stays
    return answer
