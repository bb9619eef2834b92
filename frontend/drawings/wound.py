"""The clock face of a trunk from above: where twelve lies, and its wounds to scale."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from frontend.drawings.pen import num, wrap

MIDDLE = 80.0
BARK, WIDTH = 46.0, 13.0  # radius of the middle of the bark, and how thick it is drawn
HOUR = 30.0  # degrees


@dataclass(frozen=True, slots=True)
class Arc:
    """One wound on the face: first hour, hours covered, and its number at the rim."""

    first: float
    hours: float
    name: str = ""


def clock_face(
    arcs: Sequence[Arc] = (),
    *,
    maybe: float = 0.0,
    street: str = "",
    title: str = "",
    size: int = 160,
) -> str:
    """The trunk as a ring of bark, hours round it, a gap for each wound, to scale.

    `maybe` is the share of the round (0 to 1) that is lost at a place not known: a broken arc
    outside the ring, from where the placed wounds end. `street` is the word at twelve.
    """
    out = [
        f'<circle class="t-wood" cx="80" cy="80" r="{num(BARK - WIDTH / 2)}" stroke-width="1"/>',
        f'<circle class="t-bark" cx="80" cy="80" r="{num(BARK)}" stroke-width="{num(WIDTH)}"/>',
    ]
    for arc in arcs:
        start, end = arc.first * HOUR, (arc.first + arc.hours) * HOUR
        out.append(
            f'<path class="t-gap" stroke-width="{num(WIDTH + 2)}" d="{_round(BARK, start, end)}"/>'
        )
        out.append(
            f'<path class="t-lost" stroke-width="{num(WIDTH * 1.3)}" stroke-dasharray="3.4 2.8" '
            f'd="{_round(BARK, start, end)}"/>'
        )
    if maybe > 0:
        start = max((arc.first + arc.hours for arc in arcs), default=0.0) * HOUR
        out.append(
            '<path class="t-maybe" stroke-width="2.6" stroke-dasharray="3 4" '
            f'd="{_round(BARK + WIDTH / 2 + 5, start, start + 360 * min(maybe, 1.0))}"/>'
        )
    for hour in range(12):
        inner, outer = (54.5, 58.5) if hour % 3 else (54.5, 60.5)
        out.append(
            f'<path class="t-hour" d="M{_place(inner, hour * HOUR)}L{_place(outer, hour * HOUR)}"/>'
        )
    out += [_word(hour or 12, 67.0, hour * HOUR) for hour in (0, 3, 6, 9)]
    for arc in arcs:
        if arc.name:
            out.append(_word(arc.name, 27.0, (arc.first + arc.hours / 2) * HOUR, bold=True))
    if street:
        out.append(f'<text x="80" y="-1" class="t-street">{_safe(street)}</text>')
    return wrap(
        "".join(out), 160, 160, title=title, kind="drawing trunk clock-face", shown=(size, size)
    )


def _safe(words: object) -> str:
    return str(words).replace("&", "&amp;").replace("<", "&lt;")


def _word(words: object, radius: float, degrees: float, *, bold: bool = False) -> str:
    x, y = _point(radius, degrees)
    kind = ' class="t-name"' if bold else ""
    return f'<text x="{num(x)}" y="{num(y + 4)}"{kind}>{_safe(words)}</text>'


def _point(radius: float, degrees: float) -> tuple[float, float]:
    turn = math.radians(degrees)
    return MIDDLE + radius * math.sin(turn), MIDDLE - radius * math.cos(turn)


def _place(radius: float, degrees: float) -> str:
    x, y = _point(radius, degrees)
    return f"{num(x)} {num(y)}"


def _round(radius: float, start: float, end: float) -> str:
    """An arc clockwise from one bearing to the other, degrees from twelve."""
    r = num(radius)
    if end - start >= 359.9:
        half = start + 180
        return (
            f"M{_place(radius, start)}A{r} {r} 0 0 1 {_place(radius, half)}"
            f"A{r} {r} 0 0 1 {_place(radius, start)}"
        )
    large = 1 if end - start > 180 else 0
    return f"M{_place(radius, start)}A{r} {r} 0 {large} 1 {_place(radius, end)}"
