"""Practice pictures of whole young trees and of leaves, 168 x 112."""

from collections.abc import Callable

from frontend.drawings.growth import (
    crumbs,
    ground,
    leaf,
    leaf_path,
    leaf_point,
    twig,
    young_tree,
)
from frontend.drawings.pen import Sheet, at, num

_LEAF = (26.0, 64.0, -10.0, 114.0)  # one large leaf: stalk, angle, length


def _row(s: Sheet, *, outer: float) -> None:
    """Three young trees of one planting, the middle one bare; `outer` is the others' leaf."""
    ground(s, 4, 164, 104, tufts=2)
    for x in (30, 138):
        young_tree(s, x, 104, 84, keep=outer, leaf_size=0.1, crown=outer > 0, dense=outer == 0)
    young_tree(s, 84, 104, 92, keep=0, dense=True, crown=False, twig_ink="d-mark-mid")


def _row_all_bare(s: Sheet) -> None:
    _row(s, outer=0)


def _row_one_bare(s: Sheet) -> None:
    _row(s, outer=1)


def _shoots(s: Sheet) -> None:
    for line in (
        [(76, 103), (66, 92), (54, 78)],
        [(80, 104), (73, 88), (70, 70)],
        [(92, 103), (102, 92), (114, 80)],
        [(88, 104), (97, 88), (99, 72)],
    ):
        twig(
            s,
            line,
            leaves=5,
            size=11,
            start=0.34,
            ink="d-mark-mid",
            leaf_ink="d-mark-fine",
            wash="d-mark-wash",
            rib=0.2,
        )


def _shoots_crown(s: Sheet) -> None:
    ground(s, 4, 164, 104, gap=(76, 92), tufts=2)
    young_tree(s, 84, 104, 100, leaf_size=0.085, keep=1)
    _shoots(s)


def _shoots_alone(s: Sheet) -> None:
    ground(s, 4, 164, 104, gap=(76, 92), tufts=2)
    young_tree(s, 84, 104, 100, keep=0, crown=False, broken=True)
    _shoots(s)


def _veins(s: Sheet, kind: str = "d-fine") -> None:
    def q(u: float, v: float) -> str:
        return at(*leaf_point(*_LEAF, u, v))

    s.path("d-mid", f"M{q(-0.1, 0.03)}L{q(0.88, 0)}")
    for u, span in ((0.26, 0.26), (0.4, 0.26), (0.54, 0.21), (0.67, 0.14)):
        s.path(kind, f"M{q(u, 0)}Q{q(u + span * 0.6, -span * 0.5)} {q(u + span * 0.78, -span)}")
        s.path(
            kind, f"M{q(u, 0)}Q{q(u + span * 0.6, span * 0.45)} {q(u + span * 0.78, span * 0.9)}"
        )


def _scorched(s: Sheet) -> None:
    x, y, angle, length = _LEAF
    s.path("d-mark-wash", leaf_path(x, y, angle, length))
    within = leaf_point(x, y, angle, length, 0.1, 0)
    s.path("d-leaf", leaf_path(*within, angle, length * 0.62))
    s.path("d-mark-mid", leaf_path(*within, angle, length * 0.62))
    s.path("d-mark", leaf_path(x, y, angle, length))
    _veins(s)
    rim = ((0.2, -0.33), (0.34, -0.36), (0.5, -0.3), (0.66, -0.19), (0.82, -0.08), (0.95, -0.02))
    for u, v in rim:
        for side in (1, -0.86):
            px, py = leaf_point(x, y, angle, length, u, v * side)
            s.path("d-mark-mid", f"M{at(px, py)}l{num(-3)} {num(4 * (1 if side == 1 else -1))}")


def _fall_color(s: Sheet) -> None:
    x, y, angle, length = _LEAF
    s.path("d-mark-wash", leaf_path(x, y - 12, angle, length * 0.94))
    s.path("d-mark", leaf_path(x, y - 12, angle, length * 0.94))

    def q(u: float, v: float) -> str:
        return at(*leaf_point(x, y - 12, angle, length * 0.94, u, v))

    s.path("d-mark-mid", f"M{q(-0.1, 0.03)}L{q(0.88, 0)}")
    for u, span in ((0.26, 0.26), (0.4, 0.26), (0.54, 0.21), (0.67, 0.14)):
        s.path("d-mark-fine", f"M{q(u, 0)}L{q(u + span * 0.78, -span)}")
        s.path("d-mark-fine", f"M{q(u, 0)}L{q(u + span * 0.78, span * 0.9)}")
    ground(s, 4, 164, 106, tufts=0)
    for lx, turn in ((18, -12), (92, -170), (124, -24)):
        leaf(s, lx, 104, turn, 24, ink="d-mark-fine", wash="d-mark-wash", rib=0.6)


def _limp(s: Sheet) -> None:
    s.stroke([(84, 74), (83, 46), (86, 10)], "d-ink")
    for points, places in (
        ([(84, 40), (66, 26), (44, 24)], ((62, 25, 96), (44, 24, 82))),
        ([(84, 30), (104, 18), (126, 20)], ((106, 18, 84), (126, 20, 98))),
        ([(85, 18), (85, 12), (86, 8)], ((86, 12, 90),)),
    ):
        s.stroke(points)
        for x, y, angle in places:
            leaf(s, x, y, angle, 34, ink="d-mark-mid", wash="d-mark-wash", rib=0.7)


def _limp_dry(s: Sheet) -> None:
    _limp(s)
    ground(s, 4, 164, 74, tufts=0)
    for line in (
        [(24, 75), (30, 85), (24, 94), (32, 106)],
        [(30, 85), (44, 88), (52, 98)],
        [(70, 76), (74, 88), (66, 98), (74, 108)],
        [(74, 88), (92, 92), (104, 86)],
        [(110, 76), (114, 88), (106, 98), (112, 108)],
        [(114, 88), (132, 92), (142, 104)],
        [(144, 75), (140, 84), (150, 94)],
    ):
        s.straight([s.near(p) for p in line], "d-mid")


def _limp_wet(s: Sheet) -> None:
    _limp(s)
    pool = [(8, 80), (34, 74), (66, 77), (84, 79), (110, 76), (142, 73), (162, 80), (150, 90)]
    pool += [(110, 95), (60, 95), (20, 90)]
    s.wash(pool, "d-sky", off=(0, 0))
    s.stroke(pool, "d-mid", closed=True)
    for x, y, w in ((26, 83, 26), (66, 87, 36), (118, 84, 28), (50, 92, 18)):
        s.path("d-fine", f"M{at(x, y)}q{num(w / 4)} -2.4 {num(w / 2)} 0t{num(w / 2)} 0")
    crumbs(s, 16, 152, 99, 109, 10)


ALIKE_TREES: dict[str, Callable[[Sheet], None]] = {
    "row_all_bare": _row_all_bare,
    "row_one_bare": _row_one_bare,
    "shoots_crown": _shoots_crown,
    "shoots_alone": _shoots_alone,
    "scorched": _scorched,
    "fall_color": _fall_color,
    "limp_dry": _limp_dry,
    "limp_wet": _limp_wet,
}
