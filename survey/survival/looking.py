"""Which looks would tighten the survival of an area or a group most, for the minutes they take."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from django.db.models import QuerySet

from survey.science.records import Floats
from survey.science.survival.next_looks import (
    Band,
    Curve,
    Trees,
    Worth,
    count_band,
    curve_through,
    worth_of_looks,
)
from survey.science.survival.walk_plan import (
    USUAL_PACE,
    Pace,
    SiteWalk,
    best_walk_on_site,
    metres_from_degrees,
    plan_walks,
)
from survey.survival.keys import trees_in
from survey.survival.models import Group
from survey.survival.spells import Life, trees_and_lives
from survey.trees.models import Area, Site, Tree
from survey.trees.species import kinds_in

USUAL_LOSS = 0.055
"""Share lost in a year where a town has no curve yet: the middle of planting cohorts, 4.4 to 6.5 %
(quartiles of annual mortality, Hilbert et al. 2019 Arboriculture & Urban Forestry 45:167)."""


@dataclass(frozen=True, slots=True)
class SiteLooks:
    """A walk on one site: the trees to look at, and within what the number of its `of` trees that
    stand lies before the walk and, on average, after it. `gain` is what it takes from the variance
    of that number."""

    site: Site
    trees: tuple[Tree, ...]
    minutes: float
    gain: float
    of: int
    before: Band
    after: Band


def looks_that_tell_most(
    area: Area,
    *,
    minutes: float,
    group: tuple[str, str] = ("town", "all"),
    closed: Collection[int] = (),
    pace: Pace = USUAL_PACE,
) -> list[SiteLooks]:
    """The sites and trees to visit within so many minutes so that the number known to stand today
    is tightened most, best for its minutes first.

    `group` is a way of grouping and a key. `closed` are trees (by key) that nobody is sent to. Two
    queries for every two thousand trees and three more. Only trees that count in the rates.
    """
    told = _told(area, trees_in(area, *group), closed)
    walks = plan_walks(told.trees, told.gains, minutes=minutes, pace=pace)
    return [told.site_looks(walk) for walk in walks]


def walks_of_sites(
    area: Area,
    sites: Collection[int],
    *,
    minutes: Sequence[float],
    pace: Pace = USUAL_PACE,
) -> Iterator[tuple[int, int, dict[float, SiteLooks]]]:
    """Of each of these sites (by key) with trees that count: the site, their number, and the best
    walk of at most so many minutes, for each of the minutes in which looks tell anything.

    Two queries for every two thousand trees and two more; all the sites' trees are in memory.
    """
    told = _told(area, trees_in(area, "town", "all").filter(site__in=sites), ())
    for site, (rows, _worth) in told.worths.items():
        found = {
            limit: best_walk_on_site(told.trees, told.gains, site, minutes=limit, pace=pace)
            for limit in minutes
        }
        walks = {limit: told.site_looks(walk) for limit, walk in found.items() if walk is not None}
        yield site, len(rows), walks


@dataclass(frozen=True, slots=True, eq=False)
class _Told:
    rows: list[tuple[Tree, Life]]
    trees: Trees
    gains: Floats
    worths: dict[int, tuple[list[int], Worth]]  # by site: its rows, and what looks there tell

    def site_looks(self, walk: SiteWalk) -> SiteLooks:
        rows, worth = self.worths[walk.site]
        looked = np.isin(rows, walk.trees)
        return SiteLooks(
            site=self.rows[walk.trees[0]][0].site,
            trees=tuple(self.rows[row][0] for row in walk.trees),
            minutes=walk.minutes,
            gain=walk.gain,
            of=len(rows),
            before=count_band(worth),
            after=count_band(worth, looked),
        )


def _told(area: Area, members: QuerySet[Tree], closed: Collection[int]) -> _Told:
    """Every one of these trees that counts, by site in walking order, and what a look would tell.

    Each site has its own pace, leaning towards the town's curve.
    """
    rows = [
        (tree, life) for tree, life in trees_and_lives(members, area, kinds_in(area)) if life.counts
    ]
    rows.sort(key=lambda row: (row[0].site_id, row[0].walk_order, row[0].tag, row[0].pk))
    shut = set(closed)
    columns = _columns(rows, shut)
    curve = _curve_of(area)
    by_site: dict[int, list[int]] = {}
    for place, (tree, _life) in enumerate(rows):
        by_site.setdefault(tree.site_id, []).append(place)
    gains = np.zeros(len(rows))
    worths = {}
    for site, places in by_site.items():
        worth = worth_of_looks(_columns([rows[place] for place in places], shut), curve)
        gains[places] = worth.settled
        worths[site] = (places, worth)
    return _Told(rows, columns, gains, worths)


def _columns(rows: Sequence[tuple[Tree, Life]], closed: Collection[int]) -> Trees:
    lives = [life for _tree, life in rows]
    return Trees.of(
        site=[tree.site_id for tree, _life in rows],
        entry=[life.entry or 0.0 for life in lives],
        seen=[min(life.left, life.age_now) for life in lives],
        lost=[life.right for life in lives],
        now=[life.age_now for life in lives],
        milestone=[life.age_now for life in lives],
        # nobody finds again what is lost from sight, and what has left is not there
        open_=[tree.left == "" and tree.pk not in closed for tree, _life in rows],
        metres=metres_from_degrees(
            [np.nan if tree.latitude is None else tree.latitude for tree, _life in rows],
            [np.nan if tree.longitude is None else tree.longitude for tree, _life in rows],
        ),
    )


def _curve_of(area: Area) -> Curve:
    """The town's curve, halfway between at least and at most."""
    town = Group.objects.filter(area=area, by="town", key="all").verified().first()
    points = (town.curves if town else {}).get("loss", [])
    if len(points) < 2:
        return curve_through([0, 12], [1, 1 - USUAL_LOSS])
    return curve_through([row[0] for row in points], [(row[1] + row[2]) / 2 for row in points])
