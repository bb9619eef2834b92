"""What grows: linden leaves, twigs, trunks, young trees, and the ground line they stand on."""

import math
from collections.abc import Callable
from itertools import pairwise

from frontend.drawings.pen import Point, Sheet, at, num

GROUND = 94.0  # where the ground line lies in a picture of 168 x 112


# a linden leaf along the x axis: heart-shaped, uneven at the base, drawn to a point
_LOBE_LEFT = ((0.2, 0.0), (0.12, -0.16), (0.06, -0.42), (0.36, -0.42))
_LOBE_TIP_LEFT = ((0.62, -0.41), (0.76, -0.16), (1.04, 0.01))
_LOBE_TIP_RIGHT = ((0.8, 0.13), (0.62, 0.35), (0.34, 0.37))
_LOBE_RIGHT = ((0.08, 0.37), (0.1, 0.13), (0.2, 0.0))


def leaf_path(x: float, y: float, angle: float, length: float, off: Point = (0, 0)) -> str:
    """Path text of a leaf whose stalk leaves the twig at (x, y), pointing at `angle` degrees."""
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))

    def put(p: Point) -> str:
        u, v = p[0] * length, p[1] * length
        return at(x + u * c - v * s + off[0], y + u * s + v * c + off[1])

    start, *rest = _LOBE_LEFT
    text = f"M{put(start)}C{' '.join(map(put, rest))}"
    for curve in (_LOBE_TIP_LEFT, _LOBE_TIP_RIGHT, _LOBE_RIGHT):
        text += f"C{' '.join(map(put, curve))}"
    return text + "Z"


def leaf_point(x: float, y: float, angle: float, length: float, u: float, v: float) -> Point:
    """A point of a leaf's own plane (u along, v across, in leaf lengths) on the sheet."""
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return (x + length * (u * c - v * s), y + length * (u * s + v * c))


def leaf(
    sheet: Sheet,
    x: float,
    y: float,
    angle: float,
    length: float,
    *,
    ink: str = "d-mid",
    wash: str = "d-leaf",
    rib: float = 0.66,
) -> None:
    """A leaf with its stalk and midrib."""
    if wash:
        off = (1.8, 2.0) if length > 12 else (1.0, 1.2)
        sheet.path(wash, leaf_path(x, y, angle, length, off))
    sheet.path(ink, leaf_path(x, y, angle, length))
    end = leaf_point(x, y, angle, length, max(rib, 0.2), 0)
    fine = "d-mark-fine" if "mark" in ink else "d-fine"
    sheet.path(fine, f"M{at(x, y)}L{at(*end)}")


STAMPED = 16.0  # length of the one leaf that a stamping sheet prints again and again


def stamped_leaf(sheet: Sheet, x: float, y: float, angle: float, length: float) -> None:
    """The same leaf as a print: a crown of hundreds would weigh more than the page around it."""
    wash = f'<path class="d-leaf" d="{leaf_path(0, 0, 0, STAMPED)}"/>'
    rib = f'<path class="d-fine" d="M0 0L{num(STAMPED * 0.66)} 0"/>'
    line = f'<path class="d-mid" d="{leaf_path(0, 0, 0, STAMPED)}"/>{rib}'
    scale = length / STAMPED
    sheet.stamp(f"{sheet.name}-wash", wash, x + 1.6, y + 1.8, angle, scale)
    sheet.stamp(f"{sheet.name}-leaf", line, x, y, angle, scale)


def twig(
    sheet: Sheet,
    points: list[Point],
    *,
    leaves: int = 6,
    size: float = 15,
    start: float = 0.3,
    droop: float = 0.0,
    ink: str = "d-ink",
    leaf_ink: str = "d-mid",
    wash: str = "d-leaf",
    keep: float = 1.0,
    rib: float = 0.66,
) -> None:
    """A twig and its leaves, alternating. `keep` is the share of leaves still on it."""
    sheet.stroke(points, ink, wobble=0.2)
    if not leaves:
        return
    for i in range(leaves):
        t = start + (1 - start) * i / max(1, leaves - 1)
        x, y, heading = _on(points, t)
        last = i == leaves - 1
        side = 1 if i % 2 else -1
        turn = 0.0 if last else side * sheet.hand.uniform(40, 62)
        angle = heading + turn
        if droop:
            angle += ((90 - angle + 180) % 360 - 180) * droop
        grow = sheet.hand.uniform(0.84, 1.12)
        sheet.leaves += 1
        if (sheet.leaves * 0.618) % 1 < keep:  # spread evenly over the crown, not by chance
            if sheet.stamps_leaves:
                stamped_leaf(sheet, x, y, angle, size * grow)
                continue
            leaf(sheet, x, y, angle, size * grow, ink=leaf_ink, wash=wash, rib=rib)
        else:
            far = leaf_point(x, y, angle, 4.5, 1, 0)
            sheet.path("d-mark-fine" if "mark" in ink else "d-fine", f"M{at(x, y)}L{at(*far)}")


def _on(points: list[Point], t: float) -> tuple[float, float, float]:
    """Place and heading (degrees) at the share t of a line's length."""
    lengths = [math.dist(a, b) for a, b in pairwise(points)]
    left = t * sum(lengths)
    for (a, b), part in zip(pairwise(points), lengths, strict=True):
        if left <= part or (a, b) == (points[-2], points[-1]):
            share = min(1.0, left / part) if part else 0
            heading = math.degrees(math.atan2(b[1] - a[1], b[0] - a[0]))
            return a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share, heading
        left -= part
    raise ValueError("a line needs two points")


def ground(
    sheet: Sheet,
    x0: float,
    x1: float,
    y: float = GROUND,
    *,
    gap: tuple[float, float] | None = None,
    tufts: int = 1,
    ink: str = "d-ink",
) -> None:
    """The ground line: one stroke that lifts now and then, with grass; `gap` is kept free."""
    x = x0
    while x < x1:
        end = min(x1, x + sheet.hand.uniform(64, 140))
        for a, b in _around(x, end, gap):
            if b - a > 2:
                sheet.straight([(a, y), (b, y)], ink)
        x = end + sheet.hand.uniform(6, 10)
    for _ in range(tufts):
        gx = sheet.hand.uniform(x0 + 8, x1 - 8)
        if gap and gap[0] - 10 < gx < gap[1] + 10:
            continue
        grass(sheet, gx, y)


def _around(a: float, b: float, gap: tuple[float, float] | None) -> list[Point]:
    if gap is None or b <= gap[0] or a >= gap[1]:
        return [(a, b)]
    return [(a, gap[0]), (gap[1], b)]


def grass(sheet: Sheet, x: float, y: float, kind: str = "d-fine", tall: float = 1.0) -> None:
    """Three blades."""
    sheet.path(
        kind,
        f"M{at(x - 3, y)}q-0.8 {num(-4.5 * tall)} -3.8 {num(-6.5 * tall)}"
        f"M{at(x, y)}q0.2 {num(-6 * tall)} 0.8 {num(-9 * tall)}"
        f"M{at(x + 3, y)}q0.8 {num(-4 * tall)} 4 {num(-6 * tall)}",
    )


def crumbs(sheet: Sheet, x0: float, x1: float, y0: float, y1: float, n: int) -> None:
    """Soil under the ground line: dots and short dashes."""
    for _ in range(n):
        x, y = sheet.hand.uniform(x0, x1), sheet.hand.uniform(y0, y1)
        sheet.path("d-fine", f"M{at(x, y)}h{sheet.hand.choice(('0.1', '0.1', '3', '5'))}")


def bark(
    sheet: Sheet, x0: float, x1: float, y0: float, y1: float, n: int, kind: str = "d-fine"
) -> None:
    """Short upright strokes, spread over a piece of trunk."""
    for i in range(n):
        y = y0 + (y1 - y0) * (i + 0.5) / n + sheet.hand.uniform(-2.5, 2.5)
        x = x0 + (x1 - x0) * ((i * 0.618 + 0.23) % 1) + sheet.hand.uniform(-1, 1)
        bow, down = sheet.hand.uniform(-1.1, 1.1), sheet.hand.uniform(6, 10)
        sheet.path(kind, f"M{at(x, y)}q{num(bow)} {num(down / 2)} {num(-bow / 2)} {num(down)}")


def foot(
    sheet: Sheet,
    cx: float = 86,
    *,
    top: float = 0,
    base: float = GROUND,
    half: float = 17,
    flare: float = 15,
    stand: bool = True,
    ticks: tuple[float, float, int] | None = (6, 58, 5),
) -> tuple[float, float]:
    """The foot of a trunk on the ground line, open at the top; the pen lifts on the light side.

    Returns the two places where it meets the ground.
    """
    left, right = cx - half - flare, cx + half + flare
    rise = base - 28
    side_l = [(left, base), (cx - half - 3.4, base - 9), (cx - half, rise), (cx - half + 1.4, top)]
    side_r = [(right, base), (cx + half + 3.0, base - 9), (cx + half, rise), (cx + half - 1.6, top)]
    outline = [*side_l, *reversed(side_r)]
    sheet.wash([(left + 3, base), *outline[1:-1], (right - 1, base)], "d-wood", sharp=True)
    sheet.stroke(side_l, "d-ink", lift=(0.52, 0.62))
    sheet.stroke(side_r, "d-ink")
    if ticks:
        bark(sheet, cx - half * 0.55, cx + half * 0.7, *ticks)
    if stand:
        ground(sheet, 4, 164, base, gap=(left, right))
    return left, right


def pole(
    sheet: Sheet,
    cx: float = 86,
    *,
    half: float = 28,
    base: float = 112,
    ticks: int = 7,
) -> None:
    """A piece of trunk close up, cut off by the picture's edge."""
    side_l = [(cx - half - 1.5, base), (cx - half, base / 2), (cx - half + 2, 0)]
    side_r = [(cx + half + 2, base), (cx + half, base / 2), (cx + half - 1.5, 0)]
    sheet.wash([*side_l, *reversed(side_r)], "d-wood", off=(2, 0), sharp=True)
    sheet.stroke(side_l, "d-ink", lift=(0.36, 0.45))
    sheet.stroke(side_r, "d-ink")
    bark(sheet, cx - half * 0.85, cx - half * 0.5, 6, 104, ticks)
    bark(sheet, cx + half * 0.55, cx + half * 0.85, 4, 100, ticks - 1)


def young_tree(
    sheet: Sheet,
    x: float,
    y: float,
    tall: float,
    *,
    leaf_size: float = 0.062,
    keep: float = 1.0,
    dead_top: float = 0.0,
    droop: float = 0.0,
    dense: bool = False,
    lean: float = 0.0,
    leaf_ink: str = "d-mid",
    wash: str = "d-leaf",
    crown: bool = True,
    stem_wash: bool = True,
    broken: bool = False,
    twig_ink: str = "",
    top_ink: str = "",
) -> None:
    """A young street tree, root flare to tip.

    `keep` is the share of leaves it still carries, `dead_top` the upper share that is bare,
    `lean` the sideways reach of the tip in tree heights, `broken` shortens the branch ends.
    `twig_ink` and `top_ink` draw all twigs, or those of the bare top, with another pen.
    """

    def bend(h: float) -> float:
        return x + lean * tall * h * h

    sides: list[tuple[float, int, float, float]] = []  # height, side, reach, rise
    rows = 9 if dense else 6
    for i in range(rows):
        h = 0.37 + 0.5 * i / (rows - 1)
        # an egg on its stalk, widest low: the outline of a young linden
        up = (h - 0.37) / 0.6
        reach = (0.35 - 0.26 * up**1.25) * (0.82 if i == 0 else 1.0)
        sides.append((h, -1 if i % 2 else 1, reach, 0.11 + 0.09 * up))
    width = max(1.6, tall * 0.03)

    if crown and keep > 0.75:
        blob = []
        for k in range(16):
            a = math.tau * k / 16
            wide = (0.36 + 0.07 * math.sin(a)) * (1 + sheet.hand.uniform(-0.04, 0.04))
            up = 0.67 - 0.34 * math.sin(a)
            blob.append((bend(min(up, 1)) + tall * wide * math.cos(a), y - tall * up))
        sheet.wash(blob, "d-leaf-far", off=(tall * 0.012, tall * 0.012))

    fork = 0.4
    left = [
        (x - width * 1.9, y),
        (x - width * 1.05, y - tall * 0.05),
        (bend(0.2) - width * 0.8, y - tall * 0.2),
        (bend(fork) - width * 0.55, y - tall * fork),
    ]
    right = [
        (x + width * 1.9, y),
        (x + width * 1.05, y - tall * 0.05),
        (bend(0.2) + width * 0.8, y - tall * 0.2),
        (bend(fork) + width * 0.55, y - tall * fork),
    ]
    if stem_wash:
        sheet.wash([*left, *reversed(right)], "d-wood", off=(tall * 0.008, 0), sharp=True)

    top = 0.8 if broken else 0.97
    leader = [(bend(h), y - tall * h) for h in (0.38, 0.55, 0.75, top)]
    bare_above = 1 - dead_top * 0.6
    ink = twig_ink or ("d-ink" if tall > 60 else "d-mid")
    n = 5 if dense else 3
    leader_keep = 0 if dead_top > 0 else keep
    if dead_top and top_ink:
        twig(sheet, leader[:2], leaves=0, ink=ink)
        twig(sheet, leader[1:], leaves=0, ink=top_ink)
    else:
        twig(
            sheet,
            leader,
            leaves=n + 1,
            size=tall * leaf_size,
            start=0.5,
            keep=leader_keep,
            droop=droop,
            ink=ink,
            leaf_ink=leaf_ink,
            wash=wash,
        )
    if dense and tall > 200 and keep > 0.9 and not dead_top:
        _inner_shoots(sheet, bend, y, tall, leaf_size, ink, leaf_ink, wash)
    for h, side, reach, rise in sides:
        short = sheet.hand.uniform(0.45, 0.75) if broken else 1.0
        bx, by = bend(h), y - tall * h
        ex, ey = bx + side * reach * tall * short, by - rise * tall * short
        mid = (bx + side * reach * tall * 0.5 * short, by - rise * tall * 0.72 * short)
        here = 0.0 if h + rise > bare_above else keep
        pen = top_ink if here == 0 and top_ink else ink
        twig(
            sheet,
            [(bx, by), mid, (ex, ey)],
            leaves=n,
            size=tall * leaf_size,
            start=0.42,
            keep=here,
            droop=droop,
            ink=pen,
            leaf_ink=leaf_ink,
            wash=wash,
        )
        if dense:
            fx, fy = bx + side * reach * tall * 0.36, by - rise * tall * 0.55
            tip = (fx + side * reach * tall * 0.42, fy + rise * tall * 0.15)
            if here > 0.9 and tall > 200:  # a big crown closes at its edge
                rise_tip = (bx + side * reach * tall * 0.62, by - rise * tall * 1.5)
                twig(
                    sheet,
                    [(bx + side * reach * tall * 0.3, by - rise * tall * 0.45), rise_tip],
                    leaves=4,
                    size=tall * leaf_size,
                    start=0.3,
                    keep=here,
                    ink=pen,
                    leaf_ink=leaf_ink,
                    wash=wash,
                )
            twig(
                sheet,
                [(fx, fy), tip],
                leaves=3,
                size=tall * leaf_size,
                start=0.3,
                keep=here,
                droop=droop,
                ink=pen,
                leaf_ink=leaf_ink,
                wash=wash,
            )
    sheet.stroke(left, "d-ink", lift=(0.5, 0.6), wobble=0.15)
    sheet.stroke(right, "d-ink", wobble=0.15)


def _inner_shoots(
    sheet: Sheet,
    bend: Callable[[float], float],
    y: float,
    tall: float,
    leaf_size: float,
    ink: str,
    leaf_ink: str,
    wash: str,
) -> None:
    """Short leafy shoots on the leader of a large drawing, so that the crown is full inside."""
    for i in range(9):
        h = 0.47 + 0.055 * i
        side = 1 if i % 2 else -1
        reach = tall * (0.13 - 0.009 * i)
        start = (bend(h), y - tall * h)
        end = (start[0] + side * reach, start[1] - tall * 0.085)
        twig(
            sheet,
            [start, end],
            leaves=4,
            size=tall * leaf_size,
            start=0.35,
            ink=ink,
            leaf_ink=leaf_ink,
            wash=wash,
        )
