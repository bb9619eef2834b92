"""Which trees to walk to, so that the looks tell most for the minutes they take."""

import math
from bisect import bisect
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol, TypeAlias

import numpy as np
from numpy.typing import ArrayLike

from survey.science.distance import EARTH_RADIUS_METRES
from survey.science.records import Floats, Whole
from survey.science.survival.next_looks import BadWalk

_TINY = 1e-9
_SHORT = 12
_STEPS = 400
Place: TypeAlias = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Pace:
    """How long things take. Metres walked count `detour` times: streets bend."""

    minutes_a_look: float = 1.5
    metres_a_minute: float = 75.0
    detour: float = 1.3
    minutes_to_a_site: float = 10.0

    def __post_init__(self) -> None:
        told = (self.minutes_a_look, self.metres_a_minute, self.detour, self.minutes_to_a_site)
        if not all(math.isfinite(value) for value in told):
            raise BadWalk("The pace of a walk must be made of known numbers.")
        if self.minutes_a_look <= 0 or self.metres_a_minute <= 0 or self.detour < 1:
            raise BadWalk("A look takes time, walking has a speed, and no way is below straight.")
        if self.minutes_to_a_site < 0:
            raise BadWalk("The way to a site cannot take less than no time.")


USUAL_PACE = Pace()


class Places(Protocol):
    """All that a walk needs to know of trees, in walking order within a site.

    `site`: a whole number for each site. `metres`: places east and north (n, 2), NaN where none is
    known.
    """

    @property
    def site(self) -> Whole: ...

    @property
    def metres(self) -> Floats: ...


@dataclass(frozen=True, slots=True)
class SiteWalk:
    """The trees (rows of `Places`) to look at on one site, in walking order."""

    site: int
    trees: tuple[int, ...]
    minutes: float
    gain: float


def plan_walks(
    trees: Places,
    gains: Floats,
    *,
    minutes: float,
    pace: Pace = USUAL_PACE,
    spot: ArrayLike | None = None,
) -> list[SiteWalk]:
    """The sites and trees to visit within so many minutes, best gain for the minutes first.

    `gains` are what looks take from the variance of the count (`Worth.settled`) or add to the
    information on the rate (`Worth.told`). Both add up over trees, and limits narrow as a concave
    function of the sum: each further look tightens them less (submodular), so that most gain is
    also narrowest limits. Going to a site costs its travel once, each look its minutes (`spot`,
    where trees differ), and walking follows the walking order past the trees chosen.

    On each site these choices are tried: the first few of the trees that tell most; the first few
    that greedily add most for each minute more; on short streets every stretch. Of these the best
    together are found exactly but for rounding. On small towns, against every choice of trees, the
    result nearly always reaches 95 of 100 of the best.
    """
    if not (math.isfinite(minutes) and minutes >= 0):
        raise BadWalk(f"A walk of {minutes} minutes cannot be planned.")
    chosen = _best_together(ways_by_site(trees, gains, minutes, pace, spot), minutes)
    return sorted(chosen, key=lambda way: (-way.gain / way.minutes, way.site))


def best_walk_on_site(
    trees: Places,
    gains: Floats,
    site: int,
    *,
    minutes: float,
    pace: Pace = USUAL_PACE,
    spot: ArrayLike | None = None,
) -> SiteWalk | None:
    """The most that so many minutes on one site can tell; None where no tree tells anything."""
    rows = np.flatnonzero((trees.site == site) & (gains > _TINY))
    stands = _on_the_spot(trees, pace, spot)
    ways = _ways_on_site(trees, gains, rows, minutes, pace, stands) if len(rows) else []
    return max(ways, key=lambda way: (way.gain, -way.minutes), default=None)


def ways_by_site(
    trees: Places,
    gains: Floats,
    minutes: float,
    pace: Pace = USUAL_PACE,
    spot: ArrayLike | None = None,
) -> list[list[SiteWalk]]:
    """For each site with a tree that tells anything, the ways to visit it alone that fit the
    minutes: cheapest first, each telling more than those before it."""
    stands = _on_the_spot(trees, pace, spot)
    asked = np.flatnonzero(gains > _TINY)
    order = asked[np.argsort(trees.site[asked], kind="stable")]
    starts = np.flatnonzero(np.diff(trees.site[order], prepend=-1 if len(order) else 0) != 0)
    return [
        plan
        for rows in np.split(order, starts[1:])
        if len(rows)
        for plan in [_ways_on_site(trees, gains, rows, minutes, pace, stands)]
        if plan
    ]


def _on_the_spot(trees: Places, pace: Pace, spot: ArrayLike | None) -> Floats:
    """The minutes that a look takes at each tree."""
    many = len(trees.site)
    if spot is None:
        return np.full(many, pace.minutes_a_look)
    stands = np.asarray(spot, dtype=np.float64)
    if stands.shape != (many,) or not (np.isfinite(stands).all() and (stands > 0).all()):
        raise BadWalk("The look at each tree takes a known time, and some.")
    return stands


def minutes_for(trees: Places, rows: Sequence[int], pace: Pace) -> float:
    """What looking at these trees of one site takes, in this order, the way there included."""
    walked = sum(_metres(trees.metres, a, b) for a, b in pairwise(rows))
    return (
        pace.minutes_to_a_site
        + len(rows) * pace.minutes_a_look
        + walked * pace.detour / pace.metres_a_minute
    )


def _metres(places: Floats, one: int, other: int) -> float:
    apart = float(np.hypot(*(places[one] - places[other])))
    return apart if math.isfinite(apart) else 0.0


def _ways_on_site(
    trees: Places, gains: Floats, rows: Whole, minutes: float, pace: Pace, spot: Floats
) -> list[SiteWalk]:
    """Ways to visit one site that fit the minutes, cheapest first, each telling more than those
    before it."""
    stands = spot[rows]
    room = int((minutes - pace.minutes_to_a_site) / stands.min() + _TINY)
    if room < 1:
        return []
    site = int(trees.site[rows[0]])
    gain = gains[rows]
    at = [(east, north) for east, north in trees.metres[rows].tolist()]
    picks = [np.argsort(-gain, kind="stable")[:room].tolist()]
    if np.ptp(stands) > 0:
        picks.append(np.argsort(-gain / stands, kind="stable")[:room].tolist())
    if any(between(one, other) for one, other in pairwise(at)):
        picks.append(_best_for_each_minute(at, gain.tolist(), stands.tolist(), room, pace))
        picks += _stretches(gain, room)
    ways = [
        way
        for pick in picks
        for way in _as_they_are_added(site, rows, at, gain, stands, pick, pace)
    ]
    return _undominated([way for way in ways if way.minutes <= minutes + _TINY])


def _stretches(gain: Floats, room: int) -> list[list[int]]:
    """From each tree on along the walk: what a walk of its neighbors would visit, one after
    another. Only on short streets, where leaving out a tree saves little."""
    many = len(gain)
    if many > _SHORT:
        return []
    return [list(range(start, min(many, start + room))) for start in range(many)]


def _as_they_are_added(
    site: int,
    rows: Whole,
    places: list[Place],
    gain: Floats,
    stands: Floats,
    pick: list[int],
    pace: Pace,
) -> Iterator[SiteWalk]:
    """The walk past the first one, two, three, .. trees of a choice, with what each costs."""
    chain: list[int] = []
    walked, told, stood = 0.0, 0.0, 0.0
    for place in pick:
        at = bisect(chain, place)
        here = places[place]
        before = places[chain[at - 1]] if at else None
        after = places[chain[at]] if at < len(chain) else None
        walked += between(before, here) + between(here, after) - between(before, after)
        chain.insert(at, place)
        told += float(gain[place])
        stood += float(stands[place])
        yield SiteWalk(
            site,
            tuple(rows[chain].tolist()),
            pace.minutes_to_a_site + stood + max(walked, 0.0) * pace.detour / pace.metres_a_minute,
            told,
        )


def between(one: Place | None, other: Place | None) -> float:
    """Metres as the crow flies; 0 where either place is not known."""
    if one is None or other is None:
        return 0.0
    apart = math.hypot(one[0] - other[0], one[1] - other[1])
    return apart if math.isfinite(apart) else 0.0


def _best_for_each_minute(
    places: list[Place], gain: list[float], stands: list[float], room: int, pace: Pace
) -> list[int]:
    """Trees in the order in which each adds most for each minute more.

    The first is the one whose neighbors on the walk tell most with it; a tree that costs as much
    walking as one more look counts for a third.
    """
    many = len(gain)
    a_metre = pace.detour / pace.metres_a_minute
    reach = pace.minutes_a_look / a_metre
    ways = [between(one, other) for one, other in pairwise(places)]
    heard = list(gain)
    for order in (range(1, many), range(many - 2, -1, -1)):
        carried = 0.0
        for place in order:
            came_from = place - 1 if order.step > 0 else place + 1
            carried = (carried + gain[came_from]) * math.exp(-ways[min(place, came_from)] / reach)
            heard[place] += carried
    first = max(range(many), key=heard.__getitem__)
    taken, chain = [first], [first]
    worth = [0.0] * many
    worth[first] = -1.0
    stale = range(many)
    while True:
        for place in stale:
            if worth[place] < 0:
                continue
            at = bisect(chain, place)
            before = places[chain[at - 1]] if at else None
            after = places[chain[at]] if at < len(chain) else None
            here = places[place]
            more = between(before, here) + between(here, after) - between(before, after)
            worth[place] = gain[place] / (stands[place] + max(more, 0.0) * a_metre)
        if len(taken) >= min(room, many):
            return taken
        best = max(range(many), key=worth.__getitem__)
        worth[best] = -1.0
        at = bisect(chain, best)
        # only between its neighbors on the walk does another tree's way round change
        stale = range(chain[at - 1] + 1 if at else 0, chain[at] if at < len(chain) else many)
        chain.insert(at, best)
        taken.append(best)


def _undominated(ways: list[SiteWalk]) -> list[SiteWalk]:
    kept: list[SiteWalk] = []
    for way in sorted(ways, key=lambda way: (way.minutes, -way.gain)):
        if not kept or way.gain > kept[-1].gain + 1e-12:
            kept.append(way)
    return kept


def _best_together(ways: list[list[SiteWalk]], minutes: float) -> list[SiteWalk]:
    """At most one way for each site, gaining most together within the minutes.

    By dynamic programming over the minutes spent, in steps of a 400th of them; each way's minutes
    are rounded up, so that the minutes are kept. What rounding left over is then filled.
    """
    step = minutes / _STEPS if minutes > 0 else 1.0
    best = np.zeros(_STEPS + 1)
    picked = np.full((len(ways), _STEPS + 1), -1)
    for which, plan in enumerate(ways):
        before = best.copy()
        for level, way in enumerate(plan):
            cost = math.ceil(way.minutes / step - _TINY)
            if cost > _STEPS:
                continue
            with_it = before[: _STEPS + 1 - cost] + way.gain
            better = with_it > best[cost:] + 1e-12
            best[cost:][better] = with_it[better]
            picked[which, cost:][better] = level
    chosen: dict[int, SiteWalk] = {}
    left = _STEPS
    for which in range(len(ways) - 1, -1, -1):
        level = int(picked[which, left])
        if level >= 0:
            chosen[which] = ways[which][level]
            left -= math.ceil(chosen[which].minutes / step - _TINY)
    spent = sum(way.minutes for way in chosen.values())
    while (found := _best_addition(ways, chosen, minutes - spent)) is not None:
        which, way = found
        spent += way.minutes - (chosen[which].minutes if which in chosen else 0.0)
        chosen[which] = way
    return list(chosen.values())


def _best_addition(
    ways: list[list[SiteWalk]], chosen: dict[int, SiteWalk], minutes: float
) -> tuple[int, SiteWalk] | None:
    """The change on one site that fits the minutes left and adds most."""
    best, most = None, _TINY
    for which, plan in enumerate(ways):
        now = chosen.get(which)
        held, gained = (now.minutes, now.gain) if now else (0.0, 0.0)
        for way in plan:
            if way.minutes - held > minutes + _TINY:
                break
            if way.gain - gained > most:
                best, most = (which, way), way.gain - gained
    return best


def metres_from_degrees(latitude: ArrayLike, longitude: ArrayLike) -> Floats:
    """Places in metres east and north of their middle, flat: good within a town. NaN stays NaN."""
    north = np.radians(np.asarray(latitude, dtype=np.float64))
    east = np.radians(np.asarray(longitude, dtype=np.float64))
    known = np.isfinite(north) & np.isfinite(east)
    if not known.any():
        return np.full((len(north), 2), np.nan)
    middle, start = float(north[known].mean()), float(east[known][0])
    across = (east - start + math.pi) % (2 * math.pi) - math.pi
    return np.column_stack([across * math.cos(middle), north - middle]) * EARTH_RADIUS_METRES
