"""The picture scale: one whole tree at five stages, an empty place, and a tree nobody can judge."""

from frontend.drawings.growth import GROUND, grass, ground, leaf, young_tree
from frontend.drawings.pen import Sheet, circle

STEPS = ("thriving", "holding", "slipping", "failing", "dead", "gone", "cannot_tell")
_BASE = 128.0


def scale(code: str, title: str = "") -> str:
    """The whole tree at a step of the scale ("thriving" or "whole_thriving"); no color judges it.

    An unknown code is a tree that nobody can judge from here.
    """
    step = code.removeprefix("whole_")
    if step not in STEPS:
        step = "cannot_tell"
    # the same hand for all living trees: what differs is the leaves
    s = Sheet("scale-tree" if step in STEPS[:5] else f"scale-{step}", 136, 136)
    ground(s, 2, 134, _BASE, gap=(36, 56) if step == "cannot_tell" else (58, 78), tufts=2)
    if step == "thriving":
        young_tree(s, 68, _BASE, 122, dense=True, leaf_size=0.085)
    elif step == "holding":
        young_tree(s, 68, _BASE, 122, dense=True, leaf_size=0.08, keep=0.6, crown=False)
    elif step == "slipping":
        young_tree(
            s, 68, _BASE, 122, dense=True, leaf_size=0.075, keep=0.3, dead_top=0.34, crown=False
        )
    elif step == "failing":
        young_tree(
            s,
            68,
            _BASE,
            122,
            dense=True,
            leaf_size=0.075,
            keep=0.3,
            dead_top=0.92,
            droop=0.4,
            crown=False,
        )
        for x, y, a in ((40, _BASE - 2, 190), (96, _BASE - 2, -14)):
            leaf(s, x, y, a, 9, rib=0.3)
    elif step == "dead":
        young_tree(s, 68, _BASE, 122, keep=0, broken=True, crown=False)
        s.straight([(92, _BASE - 1), (112, _BASE - 4)], "d-mid")
        s.straight([(100, _BASE - 2), (104, _BASE - 8)], "d-fine")
    elif step == "gone":
        _empty_place(s)
    else:
        young_tree(s, 46, _BASE, 96, leaf_size=0.13)
        s.stroke(
            [(98, 74), (99, 61), (111, 55), (123, 60), (125, 73), (117, 82), (113, 88), (112, 98)]
        )
        s.dot(112, 110, 3)
    return s.svg(title)


def _empty_place(s: Sheet) -> None:
    """Two stakes, a hollow, nobody between them."""
    for x in (38, 98):
        s.wash(
            [(x - 4, _BASE), (x - 4, 58), (x + 4, 58), (x + 4, _BASE)],
            "d-wood",
            off=(1.5, 0),
            sharp=True,
        )
        s.straight([(x - 4, _BASE), (x - 4, 58)])
        s.straight([(x + 4, _BASE), (x + 4, 58)])
        s.stroke([(x - 4, 58), (x, 55), (x + 4, 58)], wobble=0.1)
    s.stroke([(42, 74), (50, 78), (54, 86)], "d-mid")
    s.stroke([(94, 72), (86, 75), (82, 84)], "d-mid")
    s.stroke([(56, _BASE), (62, _BASE + 5), (74, _BASE + 5), (80, _BASE)])
    s.stroke(circle(68, 74, 40, 0.98, 14)[:], "d-faint-dots", closed=True, wobble=0)
    s.path("d-faint-dots", f"M68 {GROUND + 20}V{_BASE - 2}")
    grass(s, 120, _BASE)
