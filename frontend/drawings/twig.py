"""Progress as a twig: leaves are answered, the bud is now, dots are still to come."""

import math

from frontend.drawings.growth import leaf
from frontend.drawings.pen import Sheet, at

_BUD = "c-4.2 -4.4 -3.6 -11.4 2.6 -16.4c4.2 5.2 3.6 12.2 -2.6 16.4Z"


def progress_twig(step: int, total: int, title: str = "") -> str:
    """A lying twig of `total` nodes; `step` (from 1) is now, and beyond the last all are leaves."""
    total = max(1, total)
    step = min(max(step, 1), total + 1)
    sheet = Sheet("progress", 350, 40)
    gap = 306 / max(1, total - 1)
    xs = [20 + i * gap for i in range(total)]

    def y(x: float) -> float:
        return 23 + 1.9 * math.sin(x / 43) + 0.9 * math.sin(x / 17)

    now = xs[step - 1] if step <= total else 348
    done = [(x, y(x)) for x in _every(2, now, 12)]
    coming = [(x, y(x)) for x in _every(now + 8, 348, 12)]
    if len(coming) > 1:
        sheet.stroke(coming, "d-faint-dots", wobble=0)
    sheet.stroke(done, "d-bold", wobble=0.15)
    for i, x in enumerate(xs):
        up = i % 2 == 0
        if i + 1 < step:
            leaf(sheet, x, y(x), -58 if up else 52, 18, rib=0.6)
        elif i + 1 == step:
            sheet.path("d-bud twig-bud", f"M{at(x, y(x))}{_BUD}")
        else:
            sheet.path("d-faint", f"M{at(x, y(x))}l2.6 {-4.5 if up else 4.5}")
    return sheet.svg(title)


def _every(start: float, end: float, step: float) -> list[float]:
    if end <= start:
        return []
    n = max(1, round((end - start) / step))
    return [start + (end - start) * i / n for i in range(n + 1)]


def twig_node(state: str, side: str = "right") -> str:
    """A node of the upright twig, 44 x 44 with the stem at x = 22.

    States: now (the plum bud that ends the twig), done (a leaf), sign (a leaf in the sign's
    color), danger (a leaf in the danger color), coming (a short faint tick). An unknown state is
    a leaf.
    """
    sheet = Sheet(f"node-{state}-{side}", 44, 44)
    out = 1 if side == "right" else -1
    if state == "now":
        sheet.path("d-bud twig-bud", "M22.3 34C14.6 27 15.4 14 22.3 4C29.2 14 30 27 22.3 34Z")
        return sheet.svg()
    if state == "coming":
        sheet.path("d-faint", f"M22.3 24l{out * 6} -5")
        return sheet.svg()
    angle = -32 if out > 0 else 212
    if state in {"sign", "danger"}:
        leaf(sheet, 22.3, 27, angle, 22, ink="d-mark-mid", wash="d-mark-wash", rib=0.6)
    else:
        leaf(sheet, 22.3, 27, angle, 21, rib=0.6)
    return sheet.svg(kind="drawing d-danger" if state == "danger" else "drawing")
