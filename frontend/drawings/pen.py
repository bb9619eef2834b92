"""The pen: points become hand-drawn strokes and flat washes, the same ones every time.

A `Sheet` is one drawing. Strokes are given as points and drawn as smooth curves that waver by less
than half a unit; washes are flat tints laid a little off register. Colors are never named here:
each stroke carries a class of drawings.css, so that dark mode and paper can change them.
"""

import math
import random
from collections.abc import Iterable, Sequence
from html import escape

Point = tuple[float, float]

WOBBLE = 0.45
OFF_REGISTER = (2.0, 2.0)


def num(value: float) -> str:
    """A coordinate with one decimal and nothing superfluous ("12", "-3.5")."""
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def at(x: float, y: float) -> str:
    """A point as path text."""
    return f"{num(x)} {num(y)}"


def smooth(points: Sequence[Point], closed: bool = False) -> str:
    """Path text of a smooth curve through all points (a Catmull-Rom spline as cubic Béziers)."""
    if len(points) < 2:
        raise ValueError("a stroke needs at least two points")
    n = len(points)

    def nth(i: int) -> Point:
        return points[i % n] if closed else points[min(max(i, 0), n - 1)]

    text = [f"M{at(*points[0])}"]
    for i in range(n if closed else n - 1):
        before, start, end, after = nth(i - 1), nth(i), nth(i + 1), nth(i + 2)
        first = (start[0] + (end[0] - before[0]) / 6, start[1] + (end[1] - before[1]) / 6)
        second = (end[0] - (after[0] - start[0]) / 6, end[1] - (after[1] - start[1]) / 6)
        text.append(f"C{at(*first)} {at(*second)} {at(*end)}")
    return "".join(text) + ("Z" if closed else "")


def corners(points: Sequence[Point], closed: bool = False) -> str:
    """Path text of straight strokes from point to point."""
    return "M" + "L".join(at(*p) for p in points) + ("Z" if closed else "")


def along(points: Sequence[Point], step: float = 5.0) -> list[Point]:
    """The same smooth curve as many points, about `step` units apart."""
    n = len(points)
    found: list[Point] = []
    for i in range(n - 1):
        p0, p1 = points[max(i - 1, 0)], points[i]
        p2, p3 = points[i + 1], points[min(i + 2, n - 1)]
        pieces = max(1, round(math.dist(p1, p2) / step))
        for k in range(pieces):
            t = k / pieces
            found.append(
                (
                    _catmull(p0[0], p1[0], p2[0], p3[0], t),
                    _catmull(p0[1], p1[1], p2[1], p3[1], t),
                )
            )
    found.append(points[-1])
    return found


def _catmull(a: float, b: float, c: float, d: float, t: float) -> float:
    return 0.5 * (
        2 * b
        + (c - a) * t
        + (2 * a - 5 * b + 4 * c - d) * t * t
        + (3 * b - a - 3 * c + d) * t * t * t
    )


def circle(cx: float, cy: float, r: float, squash: float = 1.0, n: int = 10) -> list[Point]:
    """Points round a circle (or, with `squash`, an ellipse lying flat)."""
    return [
        (cx + r * math.cos(math.tau * i / n), cy + r * squash * math.sin(math.tau * i / n))
        for i in range(n)
    ]


def arc(
    cx: float, cy: float, r: float, start: float, end: float, squash: float = 1.0, n: int = 12
) -> list[Point]:
    """Points of an arc, degrees clockwise from three o'clock."""
    return [
        (
            cx + r * math.cos(math.radians(start + (end - start) * i / n)),
            cy + r * squash * math.sin(math.radians(start + (end - start) * i / n)),
        )
        for i in range(n + 1)
    ]


class Sheet:
    """One drawing on its own sheet. The name seeds the hand."""

    def __init__(
        self, name: str, width: float, height: float, *, stamps_leaves: bool = False
    ) -> None:
        self.name = name
        self.stamps_leaves = stamps_leaves
        self.width = width
        self.height = height
        self.hand = random.Random(name)  # noqa: S311 - a hand, not a secret
        self.parts: list[str] = []
        self.stamps: dict[str, str] = {}
        self.leaves = 0

    def near(self, point: Point, by: float = WOBBLE) -> Point:
        """The point, as a hand would hit it."""
        return (point[0] + self.hand.uniform(-by, by), point[1] + self.hand.uniform(-by, by))

    def path(self, kind: str, d: str) -> None:
        self.parts.append(f'<path class="{kind}" d="{d}"/>')

    def stamp(self, name: str, body: str, x: float, y: float, turn: float, scale: float) -> None:
        """Print a small drawing that this sheet shows many times; it is kept only once.

        Names are for the whole page, so a drawing that stamps stands on a page only once.
        """
        self.stamps[name] = body
        put = f"translate({at(x, y)})rotate({turn:.0f})scale({scale:.2f})"
        self.parts.append(f'<use href="#{name}" transform="{put}"/>')

    def stroke(
        self,
        points: Iterable[Point],
        kind: str = "d-ink",
        *,
        closed: bool = False,
        lift: tuple[float, float] | None = None,
        wobble: float = WOBBLE,
    ) -> None:
        """A smooth line. `lift` takes the pen off the paper between two shares of its length."""
        pts = list(points)
        if lift:
            fine = along(pts)
            a, b = (round(share * (len(fine) - 1)) for share in lift)
            for piece in (fine[: a + 1], fine[b:]):
                if len(piece) > 1:
                    self.path(kind, smooth(_thin([self.near(p, wobble / 2) for p in piece])))
            return
        if wobble:
            pts = [self.near(p, wobble) for p in pts]
        self.path(kind, smooth(pts, closed))

    def straight(
        self, points: Iterable[Point], kind: str = "d-ink", *, closed: bool = False
    ) -> None:
        """A line with corners."""
        self.path(kind, corners(list(points), closed))

    def wash(
        self,
        points: Iterable[Point],
        kind: str = "d-wood",
        *,
        off: Point = OFF_REGISTER,
        sharp: bool = False,
    ) -> None:
        """A flat tint, a little off register."""
        moved = [(x + off[0], y + off[1]) for x, y in points]
        self.path(kind, corners(moved, True) if sharp else smooth(moved, True))

    def shape(
        self,
        points: Iterable[Point],
        fill: str,
        line: str,
        *,
        sharp: bool = False,
        off: Point = OFF_REGISTER,
    ) -> None:
        """A closed outline over its wash."""
        pts = [self.near(p) for p in points]
        self.wash(pts, fill, off=off, sharp=sharp)
        self.path(line, corners(pts, True) if sharp else smooth(pts, True))

    def dot(self, x: float, y: float, r: float, kind: str = "d-dot") -> None:
        self.parts.append(f'<circle class="{kind}" cx="{num(x)}" cy="{num(y)}" r="{num(r)}"/>')

    def words(self, x: float, y: float, text: str, kind: str = "", anchor: str = "middle") -> None:
        cls = f' class="{kind}"' if kind else ""
        self.parts.append(
            f'<text x="{num(x)}" y="{num(y)}" text-anchor="{anchor}"{cls}>{escape(text)}</text>'
        )

    def svg(self, title: str = "", kind: str = "drawing", stretch: bool = False) -> str:
        """The finished drawing. Without a title it is decoration and hidden from readers."""
        kept = "".join(
            f'<g class="drawing" id="{name}">{body}</g>' for name, body in self.stamps.items()
        )
        body = (f"<defs>{kept}</defs>" if kept else "") + "".join(self.parts)
        return wrap(body, self.width, self.height, title=title, kind=kind, stretch=stretch)


def _thin(points: list[Point]) -> list[Point]:
    """Every third point, and always both ends: enough for a smooth stroke."""
    if len(points) < 5:
        return points
    return [*points[:-1:3], points[-1]]


def wrap(
    body: str,
    width: float,
    height: float,
    *,
    title: str = "",
    desc: str = "",
    kind: str = "drawing",
    shown: tuple[float, float] | None = None,
    stretch: bool = False,
) -> str:
    """An svg element round a body: an image with a name, or decoration that says nothing."""
    w, h = shown or (width, height)
    said = ' role="img"' if title else ' aria-hidden="true" focusable="false"'
    name = f"<title>{escape(title)}</title>" if title else ""
    more = f"<desc>{escape(desc)}</desc>" if desc else ""
    fit = ' preserveAspectRatio="none"' if stretch else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{kind}" width="{num(w)}" '
        f'height="{num(h)}" viewBox="0 0 {num(width)} {num(height)}"{said}{fit}>'
        f"{name}{more}{body}</svg>"
    )
