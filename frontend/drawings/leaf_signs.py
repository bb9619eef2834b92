"""Signs on leaves and twigs. Leaves are linden leaves: heart-shaped, uneven at the base."""

import math
from collections.abc import Callable

from frontend.drawings.growth import ground, leaf, leaf_path, leaf_point, young_tree
from frontend.drawings.pen import Sheet, at, num

_BIG = (22.0, 60.0, -7.0, 122.0)  # where one large leaf lies: stalk, angle, length


def _veins(s: Sheet, kind: str = "d-fine", reach: float = 1.0) -> None:
    """Midrib and side veins of the large leaf."""

    def q(u: float, v: float) -> str:
        return at(*leaf_point(*_BIG, u, v))

    s.path("d-ink" if kind == "d-fine" else kind, f"M{q(-0.08, 0.02)}L{q(0.84 * reach, 0)}")
    for u, full in ((0.26, 0.26), (0.4, 0.26), (0.54, 0.21), (0.67, 0.14)):
        span = full * reach
        s.path(kind, f"M{q(u, 0)}Q{q(u + span * 0.6, -span * 0.5)} {q(u + span * 0.78, -span)}")
        s.path(
            kind, f"M{q(u, 0)}Q{q(u + span * 0.6, span * 0.45)} {q(u + span * 0.78, span * 0.9)}"
        )


def _crisp_edges(s: Sheet) -> None:
    s.path("d-mark-wash", leaf_path(*_BIG))
    x, y = leaf_point(*_BIG, 0.09, -0.01)
    s.path("d-leaf", leaf_path(x, y, _BIG[2], _BIG[3] * 0.66))
    s.path("d-mark", leaf_path(*_BIG))
    _veins(s, reach=0.8)
    rim = (
        (0.15, -0.26),
        (0.25, -0.36),
        (0.4, -0.37),
        (0.55, -0.31),
        (0.7, -0.2),
        (0.84, -0.1),
        (0.84, 0.07),
        (0.7, 0.19),
        (0.55, 0.28),
        (0.4, 0.32),
        (0.26, 0.31),
        (0.16, 0.2),
    )
    for u, v in rim:
        px, py = leaf_point(*_BIG, u, v)
        s.path("d-mark-fine", f"M{at(px, py)}l2.6 -2.2")
    s.path("d-mark-mid", "M128 96l6 -4 4 3M114 105l5 -4 4 2")


def _wilting(s: Sheet) -> None:
    s.stroke([(2, 24), (40, 13), (88, 11), (152, 26)])
    for x, y, angle, size in (
        (24, 18, 99, 52),
        (58, 12.5, 84, 62),
        (97, 12, 98, 58),
        (136, 21, 82, 52),
    ):
        leaf(s, x, y, angle, size, ink="d-mark", wash="d-mark-wash", rib=0.7)
    for x, y in ((40, 82), (78, 92), (116, 86)):
        s.path("d-mark-fine", f"M{at(x, y)}q-1.6 5 0 10")


def _bare_branches(s: Sheet) -> None:
    ground(s, 4, 164, 106, gap=(74, 94), tufts=2)
    young_tree(s, 84, 106, 102, keep=0, dense=True, twig_ink="d-mark-mid", crown=False)


def _dieback(s: Sheet) -> None:
    """One branch: leaves where it comes from, bare and broken where it ends."""
    s.stroke([(2, 100), (44, 84), (88, 62)])
    s.stroke([(88, 62), (122, 42), (154, 18)], "d-mark")
    s.stroke([(62, 76), (74, 58), (84, 46)])
    s.stroke([(84, 46), (94, 28), (96, 10)], "d-mark")
    s.stroke([(84, 65), (104, 68), (122, 74)])
    s.stroke([(122, 74), (142, 76), (160, 70)], "d-mark")
    for x, y, angle in (
        (16, 95, -86),
        (34, 88, 52),
        (48, 82, -96),
        (66, 74, 64),
        (72, 61, -150),
        (98, 67, -66),
        (110, 71, 62),
    ):
        leaf(s, x, y, angle, 29)
    for x, y, dx, dy in (
        (108, 51, 2, -13),
        (122, 42, 13, 3),
        (136, 32, -1, -13),
        (146, 25, 12, 1),
        (91, 33, -10, -8),
        (96, 20, 10, -6),
        (134, 76, 4, 11),
        (146, 75, 3, -12),
    ):
        s.path("d-mark-mid", f"M{at(x, y)}l{at(dx, dy)}")


def _sticky_leaves(s: Sheet) -> None:
    s.path("d-leaf", leaf_path(*_BIG, off=(2, 2)))
    s.path("d-ink", leaf_path(*_BIG))
    _veins(s)
    for u, v, down in ((0.3, 0.3, 15), (0.52, 0.26, 11), (0.74, 0.12, 17)):
        x, y = leaf_point(*_BIG, u, v)
        d = f"M{at(x, y)}v{num(down * 0.45)}c4.4 5 4.6 9.6 0 11c-4.6 -1.4 -4.4 -6 0 -11Z"
        s.path("d-mark-wash", d)
        s.path("d-mark", d)
    for u, v in (
        (0.3, -0.24),
        (0.44, -0.26),
        (0.36, -0.12),
        (0.55, -0.14),
        (0.6, 0.08),
        (0.42, 0.14),
        (0.72, -0.06),
    ):
        x, y = leaf_point(*_BIG, u, v)
        s.dot(x, y, 2.3, "d-mark-fill")


def _spotted_leaves(s: Sheet) -> None:
    s.path("d-leaf", leaf_path(*_BIG, off=(2, 2)))
    s.path("d-ink", leaf_path(*_BIG))
    _veins(s)
    for u, v, r in (
        (0.27, -0.23, 5.5),
        (0.45, -0.27, 7.5),
        (0.62, -0.15, 4.5),
        (0.36, 0.2, 7),
        (0.57, 0.14, 5),
        (0.8, 0.0, 4.5),
    ):
        x, y = leaf_point(*_BIG, u, v)
        blot = [
            (
                x + r * s.hand.uniform(0.7, 1.35) * math.cos(a),
                y + r * s.hand.uniform(0.7, 1.25) * math.sin(a),
            )
            for a in (k * math.tau / 7 for k in range(7))
        ]
        eaten = r >= 7
        s.wash(blot, "d-paper" if eaten else "d-mark-fill", off=(0, 0))
        s.stroke(blot, "d-mark-mid", closed=True)


def _yellow_veins(s: Sheet) -> None:
    s.path("d-mark-wash", leaf_path(*_BIG))
    s.path("d-mark-mid", leaf_path(*_BIG))

    def q(u: float, v: float) -> tuple[float, float]:
        return leaf_point(*_BIG, u, v)

    s.path("d-leaf-vein", f"M{at(*q(0.2, 0))}L{at(*q(0.9, 0))}")
    for u, span in ((0.26, 0.26), (0.4, 0.26), (0.54, 0.21), (0.67, 0.14)):
        for side in (-1.0, 0.9):
            end = q(u + span * 0.78, span * side)
            s.path("d-leaf-vein", f"M{at(*q(u, 0))}L{at(*end)}")
    _veins(s)
    for u, v in ((0.33, -0.12), (0.46, -0.1), (0.6, -0.07), (0.33, 0.12), (0.47, 0.1), (0.6, 0.07)):
        px, py = q(u, v)
        s.path("d-mark-fine", f"M{at(px - 2, py)}l4 -1.6")


def _discoloured(s: Sheet) -> None:
    s.stroke([(2, 84), (52, 70), (104, 52), (146, 30)])
    places = (
        (26, 77, -74, 44, True),
        (52, 70, 44, 40, False),
        (74, 62, -82, 48, True),
        (98, 54, 34, 42, True),
        (118, 45, -96, 40, False),
        (145, 30, -30, 36, True),
    )
    for x, y, angle, size, wrong in places:
        if wrong:
            leaf(s, x, y, angle, size, ink="d-mark-mid", wash="d-mark-wash", rib=0.7)
            for u, v in ((0.36, -0.2), (0.5, -0.14), (0.42, 0.16), (0.58, 0.08)):
                px, py = leaf_point(x, y, angle, size, u, v)
                s.path("d-mark-fine", f"M{at(px - 2, py + 1)}l4 -2.4")
        else:
            leaf(s, x, y, angle, size)


def _twisted(s: Sheet) -> None:
    s.stroke([(4, 92), (54, 76), (108, 60), (152, 40)])
    for x, y, side, length in (
        (30, 84, -1, 46),
        (54, 76, 1, 34),
        (80, 69, -1, 54),
        (104, 61, 1, 38),
        (126, 52, -1, 44),
    ):
        tip = (x + 20, y + side * length)
        strap = [
            (x, y),
            (x - 2, y + side * length * 0.32),
            (x + 12, y + side * length * 0.62),
            tip,
            (x + 20, y + side * length * 0.6),
            (x + 7, y + side * length * 0.34),
        ]
        s.wash(strap, "d-mark-wash", off=(0, 0))
        s.stroke(strap, "d-mark-mid", closed=True)
        curl = [
            tip,
            (tip[0] + 7, tip[1] - side * 1),
            (tip[0] + 8, tip[1] - side * 9),
            (tip[0] + 2, tip[1] - side * 8),
        ]
        s.stroke(curl, "d-mark")
        s.path(
            "d-mark-fine",
            f"M{at(x + 1, y + side * length * 0.3)}"
            f"Q{at(x + 10, y + side * length * 0.5)} {at(x + 17, y + side * length * 0.82)}",
        )


def _sooty(s: Sheet) -> None:
    s.path("d-leaf", leaf_path(*_BIG, off=(2, 2)))
    s.path("d-ink", leaf_path(*_BIG))
    _veins(s)
    for u0, u1, v in (
        (0.2, 0.46, -0.28),
        (0.18, 0.62, -0.2),
        (0.24, 0.7, -0.12),
        (0.24, 0.52, 0.24),
        (0.26, 0.62, 0.14),
    ):
        points = []
        for k in range(9):
            u = u0 + (u1 - u0) * k / 8
            points.append(leaf_point(*_BIG, u, v + (0.035 if k % 2 else -0.035)))
        s.stroke(points, "d-mark")
    # a finger has wiped one clean track
    finger = [(116, 112), (106, 94), (105, 86), (110, 82), (117, 86), (137, 112)]
    s.wash(finger, "d-card", off=(0, 0))
    s.stroke(finger)
    s.path("d-fine", "M109 89q2.6 -3.6 5.4 -2.6")
    for dx, dy in ((-14, -6), (-20, -10), (-10, -12)):
        s.path("d-mark-fine", f"M{at(106 + dx, 86 + dy)}l-4 -2")


LEAF_SIGNS: dict[str, Callable[[Sheet], None]] = {
    "crisp_edges": _crisp_edges,
    "wilting": _wilting,
    "bare_branches": _bare_branches,
    "dieback": _dieback,
    "sticky_leaves": _sticky_leaves,
    "spotted_leaves": _spotted_leaves,
    "yellow_veins": _yellow_veins,
    "discoloured_leaves": _discoloured,
    "twisted_leaves": _twisted,
    "sooty": _sooty,
}
