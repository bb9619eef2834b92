"""The strip map: the trees of one site as a walker meets them, on both sides of a street."""

import math
from dataclasses import dataclass

from survey.trees.models import Site, Tree

SAME_ROW_METRES = 8.0  # trees this close along the street stand across from each other
METRES_A_DEGREE = 111_195.0


@dataclass(frozen=True, slots=True)
class Row:
    """One step along the way. On a street with trees on both sides either may be missing."""

    left: Tree | None = None
    right: Tree | None = None


@dataclass(frozen=True, slots=True)
class Strip:
    rows: list[Row]
    two_sides: bool


def strip_of(site: Site, trees: list[Tree]) -> Strip:
    """Lay out a site's trees, given in walking order.

    Two sidewalks are drawn only where the trees say which way their street lies; everything else
    is one path, because a side that nobody wrote down would be made up.
    """
    sides = _sides(trees) if site.kind == Site.Kind.STREET else None
    if sides is None:
        return Strip([Row(left=tree) for tree in trees], two_sides=False)
    along = _along(trees)
    rows: list[Row] = []
    last = -math.inf
    for tree in sorted(trees, key=lambda t: (along[t.pk], t.walk_order, t.pk)):
        is_left = sides[tree.pk]
        near = along[tree.pk] - last <= SAME_ROW_METRES
        if rows and near and is_left and rows[-1].left is None:
            rows[-1] = Row(left=tree, right=rows[-1].right)
        elif rows and near and not is_left and rows[-1].right is None:
            rows[-1] = Row(left=rows[-1].left, right=tree)
        else:
            rows.append(Row(left=tree) if is_left else Row(right=tree))
            last = along[tree.pk]
    return Strip(rows, two_sides=True)


def _sides(trees: list[Tree]) -> dict[int, bool] | None:
    """Which trees stand on the walker's left; None when that is not known, or all stand on one."""
    if not trees or any(tree.street_bearing is None for tree in trees):
        return None
    heading = _heading(trees)
    left: dict[int, bool] = {}
    for tree in trees:
        # The street lies to the right of a walker's heading for trees on the left sidewalk.
        turn = (tree.street_bearing - heading) % 360
        left[tree.pk] = 0 < turn < 180
    return left if len(set(left.values())) == 2 else None


def _heading(trees: list[Tree]) -> float:
    """Which way the walk goes, in degrees from north; across the first tree's street if unknown."""
    placed = [tree for tree in trees if tree.latitude is not None]
    if len(placed) > 1:
        first = placed[0]
        last = max(placed, key=lambda tree: math.hypot(*_metres(first, tree)))
        east, north = _metres(first, last)
        if math.hypot(east, north) > 1:
            return math.degrees(math.atan2(east, north)) % 360
    return (trees[0].street_bearing - 90) % 360


def _metres(start: Tree, end: Tree) -> tuple[float, float]:
    """How far east and north `end` lies of `start`, on a street's scale."""
    north = (end.latitude - start.latitude) * METRES_A_DEGREE
    shrink = math.cos(math.radians(start.latitude))
    return (end.longitude - start.longitude) * METRES_A_DEGREE * shrink, north


def _along(trees: list[Tree]) -> dict[int, float]:
    """How far along the walk each tree stands, in metres; by number where points are missing."""
    if any(tree.latitude is None for tree in trees):
        return {tree.pk: place * (SAME_ROW_METRES + 1) for place, tree in enumerate(trees)}
    heading = math.radians(_heading(trees))
    found = {}
    for tree in trees:
        east, north = _metres(trees[0], tree)
        found[tree.pk] = east * math.sin(heading) + north * math.cos(heading)
    return found
