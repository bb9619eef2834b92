"""Sites to visit one after another on foot: as `walk_plan`, with the real way from one to the next.

`plan_walks` gives each site the same time to get there, which suits sites that are reached one by
one on different days. A walk of one afternoon goes on from where the last site ended.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from numpy.typing import ArrayLike

from survey.science.records import Floats
from survey.science.survival.next_looks import BadWalk
from survey.science.survival.walk_plan import (
    USUAL_PACE,
    Pace,
    Place,
    Places,
    SiteWalk,
    between,
    ways_by_site,
)

_TINY = 1e-9
_BEGINNINGS = 5
_NEAR = 10
_WAYS = 12


@dataclass(frozen=True, slots=True)
class _Leg:
    """A way to visit one site: where it begins and ends, None where no tree has a place, and the
    minutes on the site itself."""

    way: SiteWalk
    begins: Place | None
    ends: Place | None
    stay: float

    def turned(self) -> "_Leg":
        back = replace(self.way, trees=tuple(reversed(self.way.trees)))
        return _Leg(back, self.ends, self.begins, self.stay)


def plan_route(
    trees: Places,
    gains: Floats,
    *,
    minutes: float,
    pace: Pace = USUAL_PACE,
    spot: ArrayLike | None = None,
) -> list[SiteWalk]:
    """The sites and trees to visit within so many minutes, in the order in which to walk.

    Getting to the first site takes the pace's minutes; from there on each way is walked, from the
    last tree of one site to the nearer end of the next. Where a place is not known, getting there
    takes those minutes again. The minutes of each walk hold the way to it. `gains` add up over
    trees.

    It begins at each of the sites that tell most for their minutes, and adds what tells most for
    each minute more, a site near by or more trees of one it has, while the minutes last; the best
    of these walks, and of those on one site alone, is taken.
    """
    if not (math.isfinite(minutes) and minutes >= 0):
        raise BadWalk(f"A walk of {minutes} minutes cannot be planned.")
    ways = [
        [_leg(trees, way, pace) for way in _thinned(plan)]
        for plan in ways_by_site(trees, gains, minutes, pace, spot)
    ]
    ways.sort(key=lambda plan: -max(leg.way.gain / leg.way.minutes for leg in plan))
    best = [max((plan[-1] for plan in ways), key=lambda leg: leg.way.gain)] if ways else []
    for first in ways[:_BEGINNINGS]:
        found = _grown(first, _nearest(first, ways), minutes, pace)
        if _gain(found) > _gain(best) + _TINY:
            best = found
    return list(_timed(_turned(best, pace), pace))


def _thinned(plan: list[SiteWalk]) -> list[SiteWalk]:
    """Some of many ways to visit a site, the shortest and the longest among them."""
    if len(plan) <= _WAYS:
        return plan
    return [plan[round(step * (len(plan) - 1) / (_WAYS - 1))] for step in range(_WAYS)]


def _leg(trees: Places, way: SiteWalk, pace: Pace) -> _Leg:
    placed = [
        (east, north)
        for east, north in trees.metres[list(way.trees)].tolist()
        if math.isfinite(east) and math.isfinite(north)
    ]
    stay = way.minutes - pace.minutes_to_a_site
    return _Leg(way, placed[0], placed[-1], stay) if placed else _Leg(way, None, None, stay)


def _nearest(first: list[_Leg], ways: list[list[_Leg]]) -> list[list[_Leg]]:
    """The sites nearest to one, without it; those that are nowhere come last."""
    here = first[-1].begins

    def away(plan: list[_Leg]) -> float:
        there = plan[-1].begins
        return between(here, there) if here and there else math.inf

    return sorted((plan for plan in ways if plan is not first), key=away)[:_NEAR]


def _grown(first: list[_Leg], others: list[list[_Leg]], minutes: float, pace: Pace) -> list[_Leg]:
    """A walk that begins with one site and takes what tells most for each minute more."""
    walk: list[_Leg] = []
    spent = 0.0
    while True:
        best, most = None, 0.0
        for plan in [first, *others] if walk else [first]:
            site = plan[0].way.site
            had = next((place for place, leg in enumerate(walk) if leg.way.site == site), None)
            gained, stayed = (walk[had].way.gain, walk[had].stay) if had is not None else (0.0, 0.0)
            for leg in plan:
                more = leg.way.gain - gained
                # what the stay alone costs: most ways are no better even if nothing is walked
                if more <= most * max(leg.stay - stayed, _TINY) or more <= _TINY:
                    continue
                for tried in _with(walk, had, leg):
                    cost = _minutes(tried, pace)
                    if cost <= minutes + _TINY and more > most * max(cost - spent, _TINY):
                        best, most = (tried, cost), more / max(cost - spent, _TINY)
        if best is None:
            return walk
        walk, spent = best


def _with(walk: list[_Leg], had: int | None, leg: _Leg) -> Iterator[list[_Leg]]:
    """The walk with a way put in place of its site's, or with a new site put in anywhere."""
    if had is not None:
        yield [*walk[:had], leg, *walk[had + 1 :]]
        return
    for place in range(len(walk) + 1):
        yield [*walk[:place], leg, *walk[place:]]


def _minutes(walk: Sequence[_Leg], pace: Pace) -> float:
    """What a walk takes if each site is walked from the end that makes the whole way shortest."""
    stays = sum(leg.stay for leg in walk) + pace.minutes_to_a_site
    return stays + min(_ways(walk, pace))


def _ways(walk: Sequence[_Leg], pace: Pace) -> tuple[float, float]:
    """The minutes from site to site if the last is walked in its order, and if it is turned."""
    forth = back = 0.0
    for one, other in pairwise(walk):
        forth, back = (
            min(
                forth + _way(one.ends, entry, pace),
                back + _way(one.begins, entry, pace),
            )
            for entry in (other.begins, other.ends)
        )
    return forth, back


def _way(one: Place | None, other: Place | None, pace: Pace) -> float:
    """The minutes on foot from one place to another; those to any site where one is not known."""
    if one is None or other is None:
        return pace.minutes_to_a_site
    return math.hypot(one[0] - other[0], one[1] - other[1]) * pace.detour / pace.metres_a_minute


def _turned(walk: Sequence[_Leg], pace: Pace) -> list[_Leg]:
    """Each site walked from the end that makes the whole way shortest."""
    legs: list[_Leg] = []
    entry: Place | None = None
    for many in range(len(walk), 0, -1):
        leg = walk[many - 1]
        forth, back = _ways(walk[:many], pace)
        if legs:
            forth += _way(leg.ends, entry, pace)
            back += _way(leg.begins, entry, pace)
        leg = leg if forth <= back else leg.turned()
        legs.insert(0, leg)
        entry = leg.begins
    return legs


def _timed(walk: Sequence[_Leg], pace: Pace) -> Iterator[SiteWalk]:
    """The walks of a route with the minutes of the way to each."""
    for place, leg in enumerate(walk):
        way = _way(walk[place - 1].ends, leg.begins, pace) if place else pace.minutes_to_a_site
        yield replace(leg.way, minutes=leg.stay + way)


def _gain(walk: Sequence[_Leg]) -> float:
    return sum(leg.way.gain for leg in walk)
