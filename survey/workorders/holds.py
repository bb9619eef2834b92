"""Where nobody is sent: near an open danger, until a qualified person has cleared it.

Own rule of this project: two tree heights, and a street tree is taken to be 20 m high, so 40 m.
A danger whose point is not known closes the whole site.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db.models import Q

from survey.reports.models import Report
from survey.science.distance import Box, box_around, metres_between
from survey.trees.models import Area, Site, Tree

TREE_HEIGHT_M = 20
KEEP_AWAY_M = 2 * TREE_HEIGHT_M

Point = tuple[float, float]


def _points(report: Report) -> list[Point]:
    """Every point that the danger may be at: the reporter's own, and the tree's."""
    places = [report, *([report.tree] if report.tree else [])]
    return [(p.latitude, p.longitude) for p in places if p.latitude is not None]


def _site_of(report: Report) -> int | None:
    return report.tree.site_id if report.tree else report.site_id


@dataclass(frozen=True, slots=True)
class _Danger:
    """One open danger with what is asked of it for every tree of a page."""

    report: Report
    tree_id: int | None
    site_id: int | None
    points: tuple[tuple[Point, Box], ...]

    def is_near(self, here: Point) -> bool:
        # The box first: nearly every tree lies outside it, and an arc is slow to work out.
        return any(
            box.holds(*here) and metres_between(*there, *here) <= KEEP_AWAY_M
            for there, box in self.points
        )

    def closes_site(self, site_id: int) -> bool:
        """A danger at a site whose point nobody knows may be anywhere on it."""
        return not self.points and self.site_id == site_id


def _danger(report: Report) -> _Danger:
    points = tuple((point, box_around(*point, KEEP_AWAY_M)) for point in _points(report))
    return _Danger(report, report.tree_id, _site_of(report), points)


@dataclass(frozen=True, slots=True)
class Holds:
    """The open dangers of one area, asked once, for pages with many trees."""

    reports: tuple[Report, ...]
    unplaced: tuple[Report, ...] = field(init=False)
    """Dangers known only by a landmark: no place can be closed, so people must be told."""
    _dangers: tuple[_Danger, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        dangers = tuple(_danger(report) for report in self.reports)
        lost = tuple(d.report for d in dangers if not d.points and d.site_id is None)
        object.__setattr__(self, "unplaced", lost)
        object.__setattr__(self, "_dangers", dangers)

    def on_point(self, latitude: float, longitude: float) -> Report | None:
        """The danger that lies within the distance of this point."""
        for danger in self._dangers:
            if danger.is_near((latitude, longitude)):
                return danger.report
        return None

    def on_tree(self, tree: Tree) -> Report | None:
        """The danger that keeps people from this tree. A tree without a point is near all of its
        site's dangers."""
        here = None if tree.latitude is None else (tree.latitude, tree.longitude)
        for danger in self._dangers:
            if danger.tree_id == tree.pk or danger.closes_site(tree.site_id):
                return danger.report
            if here is None and danger.site_id == tree.site_id:
                return danger.report
            if here is not None and danger.is_near(here):
                return danger.report
        return None

    def on_site(self, site: Site) -> Report | None:
        """The danger that closes the whole site, or the point where people meet there."""
        here = None if site.latitude is None else (site.latitude, site.longitude)
        for danger in self._dangers:
            if danger.closes_site(site.pk) or (here is not None and danger.is_near(here)):
                return danger.report
        return None

    def on_any(self, trees: Iterable[Tree]) -> dict[int, Report]:
        """The danger of each of these trees that has one, by the tree's primary key."""
        return {tree.pk: held for tree in trees if (held := self.on_tree(tree))}

    def closed_sites(self, area: Area) -> set[int]:
        """The sites (by key) of the area on which a tree in its place is closed. One question at
        most, for the trees near a danger alone."""
        if not self._dangers:
            return set()
        near = Q(pk__in=[danger.tree_id for danger in self._dangers if danger.tree_id])
        for danger in self._dangers:
            if danger.site_id is not None:
                everywhere = Q() if not danger.points else Q(latitude=None)
                near |= Q(site=danger.site_id) & everywhere
            for _point, box in danger.points:
                inside = Q(latitude__gte=box.south, latitude__lte=box.north)
                if box.west <= box.east:
                    inside &= Q(longitude__gte=box.west, longitude__lte=box.east)
                near |= inside
        trees = Tree.objects.in_place().filter(near, area=area)
        places = trees.only("site_id", "latitude", "longitude")
        return {tree.site_id for tree in places if self.on_tree(tree) is not None}


def holds_in(area: Area) -> Holds:
    """The open dangers of an area, oldest first."""
    return Holds(
        tuple(
            Report.objects.in_danger()
            .filter(area=area)
            .select_related("tree", "site")
            .order_by("submitted_at", "pk")
        )
    )


def held_by(place: Tree | Site | Point, area: Area | None = None) -> Report | None:
    """The open danger that keeps people away from a tree, a site, or a point of an area."""
    match place:
        case Tree():
            return holds_in(place.area).on_tree(place)
        case Site():
            return holds_in(place.area).on_site(place)
        case (latitude, longitude) if area is not None:
            return holds_in(area).on_point(latitude, longitude)
    raise TypeError("A point needs its area.")
