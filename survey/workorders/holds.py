"""Where nobody is sent: near an open danger, until a qualified person has cleared it.

Own rule of this project: two tree heights, and a street tree is taken to be 20 m high, so 40 m.
A danger whose point is not known closes the whole site.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from survey.reports.models import Report
from survey.science.distance import metres_between
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
class Holds:
    """The open dangers of one area, asked once, for pages with many trees."""

    reports: tuple[Report, ...]
    unplaced: tuple[Report, ...] = field(init=False)
    """Dangers known only by a landmark: no place can be closed, so people must be told."""

    def __post_init__(self) -> None:
        lost = tuple(r for r in self.reports if not _points(r) and _site_of(r) is None)
        object.__setattr__(self, "unplaced", lost)

    def on_point(self, latitude: float, longitude: float) -> Report | None:
        """The danger that lies within the distance of this point."""
        for report in self.reports:
            if _near(report, (latitude, longitude)):
                return report
        return None

    def on_tree(self, tree: Tree) -> Report | None:
        """The danger that keeps people from this tree. A tree without a point is near all of its
        site's dangers."""
        here = None if tree.latitude is None else (tree.latitude, tree.longitude)
        for report in self.reports:
            if report.tree_id == tree.pk or _closes_site(report, tree.site_id):
                return report
            if here is None and _site_of(report) == tree.site_id:
                return report
            if here is not None and _near(report, here):
                return report
        return None

    def on_site(self, site: Site) -> Report | None:
        """The danger that closes the whole site, or the point where people meet there."""
        for report in self.reports:
            if _closes_site(report, site.pk):
                return report
            if site.latitude is not None and _near(report, (site.latitude, site.longitude)):
                return report
        return None

    def on_any(self, trees: Iterable[Tree]) -> dict[int, Report]:
        """The danger of each of these trees that has one, by the tree's primary key."""
        return {tree.pk: held for tree in trees if (held := self.on_tree(tree))}


def _near(report: Report, here: Point) -> bool:
    return any(metres_between(*there, *here) <= KEEP_AWAY_M for there in _points(report))


def _closes_site(report: Report, site_id: int) -> bool:
    """A danger at a site whose point nobody knows may be anywhere on it."""
    return not _points(report) and _site_of(report) == site_id


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
