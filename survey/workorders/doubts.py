"""Where a look would settle most, away from every open danger: for the pages and the interface."""

from dataclasses import dataclass

from survey.condition.doubt_walks import (
    DoubtWalk,
    Waiting,
    other_doubts,
    plan_doubt_walk,
)
from survey.reports.models import Report
from survey.trees.models import Area, Site, Tree
from survey.workorders.holds import holds_in


@dataclass(frozen=True, slots=True)
class Doubts:
    """A walk, what had better wait, and what the desk may ask a photo of.

    `closed`: the site that was asked for is closed, wholly or in part. `unplaced`: dangers that
    nobody could find the place of.
    """

    walk: DoubtWalk
    later: tuple[Waiting, ...]
    photos: tuple[Tree, ...]
    closed: bool
    unplaced: tuple[Report, ...]


def doubts_to_settle(area: Area, *, minutes: float, site: Site | None = None) -> Doubts:
    """A walk of so many minutes in an area, or on one of its sites, without any site on which a
    danger is open. The same number of questions for a town of any size."""
    holds = holds_in(area)
    closed = holds.closed_sites(area)
    if holds.reports:
        sites = Site.objects.filter(area=area).only("latitude", "longitude")
        closed |= {one.pk for one in sites if holds.on_site(one)}
    asked = {"site": site, "closed": closed}
    others = other_doubts(area, **asked)
    return Doubts(
        walk=plan_doubt_walk(area, minutes=minutes, **asked),
        later=others.later,
        photos=others.photos,
        closed=site is not None and site.pk in closed,
        unplaced=holds.unplaced,
    )
