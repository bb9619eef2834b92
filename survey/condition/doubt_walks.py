"""Walks to the trees of which one look would tell most, planned from what is believed of each.

Nothing here is kept: beliefs are refreshed at every look, and a walk is planned from them when it
is asked for. A town of any size costs the same: the most telling trees are taken by index, and of
those the sites on which most can be settled, with sites near them.
"""

import math
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from django.db.models import Q

from survey.condition.evidence import bare_months, month_of
from survey.condition.models import Belief, Learning
from survey.science.condition.learnt import Learnt
from survey.science.condition.settled import chance_sure, is_sure
from survey.science.condition.settling import LOOK, MINUTES, SCRATCH, Doubtful
from survey.science.records import Floats, Whole
from survey.science.survival.walk_plan import (
    USUAL_PACE,
    Pace,
    SiteWalk,
    best_walk_on_site,
    metres_from_degrees,
)
from survey.science.survival.walk_route import plan_route
from survey.trees.models import Area, Site, Tree

TIMES = (30, 60, 120)
"""The minutes for which a walk is offered."""

MOST = 3000
"""Beliefs read for each list, the most telling first: many days of walking."""

BEST_SITES, NEAR_EACH = 8, 6
"""Sites on which most can be settled, and how many near each of them are tried as well."""

NAMED = 12
"""Trees that are named of those better looked at in another month."""


@dataclass(frozen=True, slots=True)
class Stop:
    """One tree of a walk and the look to take there: LOOK or SCRATCH of `settling`."""

    tree: Tree
    look: str
    gain: float

    @property
    def has_scratch_test(self) -> bool:
        return self.look == SCRATCH


@dataclass(frozen=True, slots=True)
class SiteDoubts:
    """The stops on one site in walking order; `minutes` hold the way there.

    `listed` counts the site's trees of which one look now would tell something, `unsure` those of
    them of which nobody is sure whether they live, and `settled` of how many of those one is
    expected to be sure after the walk.
    """

    site: Site
    stops: tuple[Stop, ...]
    minutes: float
    listed: int
    unsure: int
    settled: float

    @property
    def is_turned(self) -> bool:
        """Whether the site is walked from the end of its walking order."""
        first, last = (_in_walking_order(self.stops[place].tree) for place in (0, -1))
        return first > last


@dataclass(frozen=True, slots=True)
class DoubtWalk:
    """A walk, its sites in the order in which to walk; and the sites one may choose, by name."""

    sites: tuple[SiteDoubts, ...]
    choices: tuple[Site, ...]

    @property
    def minutes(self) -> float:
        return sum(one.minutes for one in self.sites)

    @property
    def stops(self) -> int:
        return sum(len(one.stops) for one in self.sites)

    @property
    def listed(self) -> int:
        return sum(one.listed for one in self.sites)

    @property
    def unsure(self) -> int:
        return sum(one.unsure for one in self.sites)

    @property
    def settled(self) -> float:
        return sum(one.settled for one in self.sites)

    @property
    def has_scratch_tests(self) -> bool:
        return any(stop.has_scratch_test for one in self.sites for stop in one.stops)


@dataclass(frozen=True, slots=True)
class Waiting:
    """Trees for which it is best to wait until a month, the most telling of them by name.

    `at_least`: more were not counted.
    """

    month: date
    trees: int
    named: tuple[Tree, ...]
    at_least: bool


@dataclass(frozen=True, slots=True)
class OtherDoubts:
    """Trees in doubt that are not for a walk now: better looked at later, by month; and those of
    which a neighbor's photo would tell most, for the desk to ask for, at most `NAMED`."""

    later: tuple[Waiting, ...]
    photos: tuple[Tree, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Spots:
    """Trees as a walk needs them; see `walk_plan.Places`."""

    site: Whole
    metres: Floats


def plan_doubt_walk(
    area: Area,
    *,
    minutes: float,
    site: Site | None = None,
    closed: Collection[int] = (),
    pace: Pace = USUAL_PACE,
) -> DoubtWalk:
    """Which trees to look at within so many minutes, in an area or on one of its sites, so that
    most of the doubt is taken away.

    `closed` are sites (by key) that nobody is sent to. Trees that have left are left out, and so
    are those that had better be looked at later, or by a neighbor's photo. A tree without a point
    stands at the end of its street. Six questions at most, however large the town.
    """
    today = area.today()
    found = _a_look_now(_open(area, site, closed), today)
    if site is None:
        chosen = _promising(found)
        found = _a_look_now(_open(area, site, closed).filter(tree__site__in=chosen), today)
    beliefs = list(found.select_related("tree__site", "tree__area")[:MOST])
    beliefs.sort(key=lambda belief: _in_walking_order(belief.tree))
    walks = _walks(beliefs, site, minutes, pace)
    chances = _chances(area, today, beliefs, [row for walk in walks for row in walk.trees])
    sites = {belief.tree.site_id: belief.tree.site for belief in beliefs}
    listed = Counter(belief.tree.site_id for belief in beliefs)
    unsure = Counter(belief.tree.site_id for belief in beliefs if _is_unsure(belief))
    told = (
        SiteDoubts(
            site=sites[walk.site],
            stops=tuple(
                Stop(beliefs[row].tree, _look_of(beliefs[row]), beliefs[row].settle_gain)
                for row in walk.trees
            ),
            minutes=walk.minutes,
            listed=listed[walk.site],
            unsure=unsure[walk.site],
            settled=sum(chances[row] for row in walk.trees if _is_unsure(beliefs[row])),
        )
        for walk in walks
    )
    return DoubtWalk(tuple(told), tuple(sorted(sites.values(), key=lambda one: one.name)))


def other_doubts(
    area: Area, *, site: Site | None = None, closed: Collection[int] = ()
) -> OtherDoubts:
    """Of the `MOST` most telling trees those that are not for a walk now. Two questions at most."""
    this_month = area.today().replace(day=1)
    rows = list(_open(area, site, closed).values_list("settle", "settle_month", "tree_id")[:MOST])
    months: dict[date, list[int]] = {}
    for settle, month, tree in rows:
        if settle == Belief.Settle.LEAF and month and month > this_month:
            months.setdefault(month, []).append(tree)
    photos = [tree for settle, _month, tree in rows if settle == Belief.Settle.PHOTO][:NAMED]
    named = {month: trees[:NAMED] for month, trees in months.items()}
    wanted = [*photos, *(tree for trees in named.values() for tree in trees)]
    known = Tree.objects.select_related("site").in_bulk(wanted) if wanted else {}
    return OtherDoubts(
        later=tuple(
            Waiting(
                month,
                len(months[month]),
                tuple(known[tree] for tree in named[month] if tree in known),
                at_least=len(rows) == MOST,
            )
            for month in sorted(months)
        ),
        photos=tuple(known[tree] for tree in photos if tree in known),
    )


def _open(area: Area, site: Site | None, closed: Collection[int]):
    """Beliefs of trees in place that somebody can be sent to, the most telling first."""
    beliefs = Belief.objects.in_doubt().filter(tree__area=area, tree__left="")
    if site is not None:
        beliefs = beliefs.filter(tree__site=site)
    return beliefs.exclude(tree__site__in=closed) if closed else beliefs


def _a_look_now(beliefs, today: date):
    """Those of which a trained look this month tells most: what waited for leaf waits no more."""
    now = Q(settle__in=[Belief.Settle.LOOK, Belief.Settle.SCRATCH])
    due = Q(settle=Belief.Settle.LEAF, settle_month__lte=today)
    return beliefs.filter(now | due)


def _promising(beliefs) -> set[int]:
    """The sites on which most can be settled, and sites near each of them."""
    gains: dict[int, float] = {}
    places: dict[int, list[tuple[float, float]]] = {}
    rows = beliefs.values_list("tree__site", "settle_gain", "tree__latitude", "tree__longitude")[
        :MOST
    ]
    for site, gain, latitude, longitude in rows:
        gains[site] = gains.get(site, 0.0) + gain
        if latitude is not None:
            places.setdefault(site, []).append((latitude, longitude))
    best = sorted(gains, key=lambda site: (-gains[site], site))[:BEST_SITES]
    chosen = set(best)
    placed = list(places)
    middles = np.array([np.median(places[site], axis=0) for site in placed]).reshape(-1, 2)
    metres = metres_from_degrees(middles[:, 0], middles[:, 1])
    for site in set(best) & set(placed):
        away = np.hypot(*(metres - metres[placed.index(site)]).T)
        chosen.update(placed[near] for near in np.argsort(away, kind="stable")[: NEAR_EACH + 1])
    return chosen


def _in_walking_order(tree: Tree) -> tuple:
    """By site along the walk; a tree without a point stands at the end of its street."""
    return tree.site_id, tree.latitude is None, tree.walk_order, tree.tag, tree.pk


def _is_unsure(belief: Belief) -> bool:
    return not is_sure(np.array(belief.shares))


def _look_of(belief: Belief) -> str:
    return SCRATCH if belief.settle == Belief.Settle.SCRATCH else LOOK


def _walks(
    beliefs: Sequence[Belief], site: Site | None, minutes: float, pace: Pace
) -> list[SiteWalk]:
    trees = [belief.tree for belief in beliefs]
    spots = _Spots(
        site=np.array([tree.site_id for tree in trees], dtype=np.int64),
        metres=metres_from_degrees(
            [math.nan if tree.latitude is None else tree.latitude for tree in trees],
            [math.nan if tree.longitude is None else tree.longitude for tree in trees],
        ),
    )
    gains = np.array([belief.settle_gain for belief in beliefs], dtype=np.float64)
    stands = [MINUTES[_look_of(belief)] for belief in beliefs]
    if site is None:
        return plan_route(spots, gains, minutes=minutes, pace=pace, spot=stands)
    alone = best_walk_on_site(spots, gains, site.pk, minutes=minutes, pace=pace, spot=stands)
    return [] if alone is None else [alone]


def _chances(
    area: Area, today: date, beliefs: Sequence[Belief], rows: Sequence[int]
) -> dict[int, float]:
    """For each of these rows how likely its look is to make sure whether the tree lives."""
    learning = Learning.objects.newest_of(area)
    if learning is None or not rows:
        return dict.fromkeys(rows, 0.0)
    asked = [beliefs[row] for row in rows]
    trees = [belief.tree for belief in asked]
    shares = np.array([belief.shares for belief in asked])
    found = chance_sure(
        Doubtful(
            shares=shares / shares.sum(axis=1, keepdims=True),
            month=month_of(today),
            leaf_off=bare_months(area, [tree.species for tree in trees]),
            planted=np.array([month_of(tree.planted_from) for tree in trees]),
            site=_numbers(learning.names["sites"], (tree.site_id for tree in trees)),
            cohort=_numbers(learning.names["plantings"], (tree.planting_id for tree in trees)),
            south=area.hemisphere == Area.Hemisphere.SOUTH,
        ),
        [_look_of(belief) for belief in asked],
        # nobody's own weight is asked about: whoever walks counts as their kind usually does
        Learnt.from_dict(learning.learnt | {"rho": [], "noise": [], "heard": []}),
    )
    return dict(zip(rows, found.tolist(), strict=True))


def _numbers(names: Sequence[int], wanted: Iterable[int]) -> Whole:
    """The numbers by which what was learnt knows these; -1 for what came after it."""
    known = {name: number for number, name in enumerate(names)}
    return np.array([known.get(one, -1) for one in wanted], dtype=np.int64)
