"""How far round the bark is gone: a slice of trunk, seen from above at an angle."""

import math
from itertools import pairwise

from frontend.drawings.pen import Point, Sheet, arc, at, corners

_CX, _CY, _RX, _SQUASH, _DEEP, _INNER = 68.0, 44.0, 58.0, 0.64, 17.0, 0.85
_MIDDLE = (
    104.0  # where the gap faces, degrees clockwise from three o'clock: the viewer, a little left
)

SHARES = {
    "less_than_quarter": 0.17,
    "quarter_to_half": 0.4,
    "half_or_more": 0.68,
    "all_round": 1.0,
    "cannot_see": 0.0,
}
ALSO = {"more_than_half": "half_or_more"}


def extent(code: str, title: str = "") -> str:
    """The slice for a step of "how far round"; an unknown code is one that cannot be seen."""
    known = ALSO.get(code, code)
    if known not in SHARES:
        known = "cannot_see"
    sheet = Sheet(f"extent-{known}", 136, 104)
    _slice(sheet, SHARES[known])
    if known == "cannot_see":
        _grown_over(sheet)
    return sheet.svg(title)


def _ring(start: float, end: float, share: float, down: float = 0) -> list[Point]:
    n = max(2, round(abs(end - start) / 9))
    return arc(_CX, _CY + down, _RX * share, start, end, _SQUASH, n)


def _slice(s: Sheet, gone: float) -> None:
    half = gone * 180
    gap = (_MIDDLE - half, _MIDDLE + half)

    def bare(angle: float) -> bool:
        return gone > 0 and any(gap[0] < angle + turn < gap[1] for turn in (-360, 0, 360))

    # the wall that faces us, from three to nine o'clock, in runs of bark and of bare wood
    edges = [0.0, 180.0]
    edges += [e % 360 for e in gap if 0 < e % 360 < 180 and 0 < gone < 1]
    edges.sort()
    walls = [(a, b, bare((a + b) / 2)) for a, b in pairwise(edges)]
    for a, b, is_bare in walls:
        share = _INNER if is_bare else 1.0
        face = [*_ring(a, b, share), *reversed(_ring(a, b, share, _DEEP))]
        s.path("d-mark-wash" if is_bare else "d-wood", corners(face, True))

    s.path("d-card", corners(_ring(0, 360, _INNER), True))
    if gone < 1:
        a, b = (gap[1], gap[0] + 360) if gone else (0.0, 360.0)
        band = [*_ring(a, b, 1), *reversed(_ring(a, b, _INNER))]
        s.path("d-bark", corners(band, True))
        s.path("d-mid", corners(band, True))
    s.path("d-mid", corners(_ring(0, 360, _INNER), True))
    for i, share in enumerate((0.16, 0.34, 0.5, 0.68)):
        s.stroke(_ring(30 + i * 62, 320 + i * 62, share), "d-fine", wobble=0.25)
    s.dot(_CX, _CY, 1.9)

    for a, b, is_bare in walls:
        share, ink = (_INNER, "d-mark") if is_bare else (1.0, "d-ink")
        s.path(ink, corners(_ring(a, b, share, _DEEP)))
        for edge in (a, b):
            x, y = _ring(edge, edge + 1, share)[0]
            s.straight([(x, y), (x, y + _DEEP)], ink)
        ticks = max(1, round((b - a) / 17))
        for k in range(1, ticks + 1):
            turn = a + (b - a) * k / (ticks + 1)
            x, y = _ring(turn, turn + 1, share)[0]
            down = s.hand.uniform(6, 9)
            s.path("d-mark-fine" if is_bare else "d-fine", f"M{at(x, y + 4)}v{down:.1f}")
    if gone:
        whole = gone >= 1
        s.path("d-mark", corners(_ring(*(0, 360) if whole else gap, _INNER), whole))


def _grown_over(s: Sheet) -> None:
    """Grass, a guard or mulch in the way."""
    bush = [
        (10, 101),
        (14, 84),
        (28, 78),
        (38, 66),
        (54, 72),
        (68, 62),
        (84, 72),
        (100, 69),
        (110, 80),
        (124, 86),
        (128, 101),
        (68, 102.5),
    ]
    s.path("d-card", corners(bush, True))
    s.wash(bush, "d-leaf", off=(0, 0))
    s.stroke(bush, closed=True)
    for x, y in ((32, 88), (58, 82), (88, 84), (108, 93), (74, 94), (44, 96)):
        s.path("d-fine", f"M{at(x - 4, y)}q4 {-4 + math.sin(x):.1f} 8 0")
