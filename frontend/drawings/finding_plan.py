"""A site from above: each trunk where it stands, its gap to scale at its bearing, north up."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.drawings.drawn import Drawn, in_sizes
from frontend.drawings.marks import area, dot, trace, written
from frontend.drawings.pen import num, wrap
from frontend.drawings.trunk import trunk

METERS_A_DEGREE = 111_320.0
FEET = 1 / 0.3048
WIDTHS = {"wide": 665.0, "narrow": 350.0, "paper": 665.0}
EDGE = 30.0
TALLEST, TALLEST_ON_A_NOTICE = 0.72, 0.35  # of the width
LABELED = 60
"""More trees than this are dots without tags: the list beside the plan has them."""
LETTER, LINE = 3.6, 11.0
"""Half the width of a letter of a tag, and the height of its line, in px."""
TIERS = 6
SMALLEST_GAP = 10.0
"""Percent of the round. Where a step begins at nothing ("less than a quarter") something is gone
all the same, and a trunk with it must not look like a whole one (own rule)."""


@dataclass(frozen=True, slots=True)
class Stand:
    """One tree on the plan. `lost_from` to `lost_to` in percent of the round, None where nobody
    measured; `bearing` is the middle of the gap, None where nobody said which side."""

    tag: str
    latitude: float
    longitude: float
    marked: bool
    lost_from: float | None = None
    lost_to: float | None = None
    bearing: float | None = None
    looked_at: bool = True


def plan(
    stands: Sequence[Stand],
    *,
    title: str,
    note: str,
    boundary: Sequence[Sequence[float]] = (),
    metric: bool = False,
    rings: bool = False,
    trunks: bool = True,
) -> Drawn:
    """Trees where they stand. `boundary` is a list of [longitude, latitude]; with `rings` every
    marked tree has its keep-clear ring and no gap: the drawing of a notice. Without `trunks`, for
    signs that are none of the bark, trees are dots, filled where they have the sign."""

    def draw(size: str) -> str:
        return _draw(stands, boundary, WIDTHS[size], title, note, metric, rings, trunks)

    return Drawn(
        title=title,
        note=note,
        said="",
        sizes=in_sizes(draw),
        columns=(_("Tree"), _("With the sign"), _("How far round"), _("Middle of the gap")),
        rows=tuple(
            (
                stand.tag,
                _("yes") if stand.marked else _("no") if stand.looked_at else _("not looked at"),
                _round(stand),
                ngettext("%d degree from north", "%d degrees from north", round(stand.bearing))
                % round(stand.bearing)
                if stand.bearing is not None
                else "",
            )
            for stand in stands
        ),
    )


def _round(stand: Stand) -> str:
    if not stand.marked or stand.lost_from is None:
        return ""
    low, high = round(stand.lost_from), round(stand.lost_to or stand.lost_from)
    if low == high:
        return _("%d in 100") % low
    return _("%(low)d to %(high)d in 100") % {"low": low, "high": high}


def _draw(
    stands: Sequence[Stand],
    boundary: Sequence[Sequence[float]],
    wide: float,
    title: str,
    note: str,
    metric: bool,
    rings: bool,
    trunks: bool,
) -> str:
    middle = sum(stand.latitude for stand in stands) / len(stands)
    across = METERS_A_DEGREE * math.cos(math.radians(middle))

    def meters(longitude: float, latitude: float) -> tuple[float, float]:
        return longitude * across, latitude * METERS_A_DEGREE

    points = [meters(stand.longitude, stand.latitude) for stand in stands]
    outline = [meters(float(lon), float(lat)) for lon, lat in boundary]
    west, east = (f(x for x, _y in [*points, *outline]) for f in (min, max))
    south, north = (f(y for _x, y in [*points, *outline]) for f in (min, max))
    span = max(east - west, north - south, 5.0)
    scale = min(
        (wide - 2 * EDGE) / max(east - west, span * 0.2),
        (wide * (TALLEST_ON_A_NOTICE if rings else TALLEST) - 2 * EDGE)
        / max(north - south, span * 0.1),
    )
    high = max((north - south) * scale + 2 * EDGE + 34, 140)
    shift = (wide - 2 * EDGE - (east - west) * scale) / 2

    def place(x: float, y: float) -> tuple[float, float]:
        return EDGE + shift + (x - west) * scale, EDGE + (north - y) * scale

    out = [
        f'<rect class="f-ground" x="0.5" y="0.5" width="{num(wide - 1)}" height="{num(high - 1)}"/>'
    ]
    if len(outline) > 2:
        out.append(area("f-outline", [place(*point) for point in outline]))
    places = [place(*point) for point in points]
    marked, others = _sizes(stands, places)
    sizes = [marked if stand.marked else others for stand in stands]
    order = sorted(range(len(stands)), key=lambda i: places[i][1])
    for i in order:
        out += _stand(stands[i], *places[i], sizes[i], scale, rings, trunks)
    if len(stands) <= LABELED:
        out += _labels(stands, places, sizes, (wide, high))
    out += _scale_bar(scale, high, metric)
    out.append(trace("f-thin", [(wide - 20, high - 12), (wide - 20, high - 32)]))
    out.append(
        trace("f-thin", [(wide - 24, high - 26), (wide - 20, high - 33), (wide - 16, high - 26)])
    )
    out.append(written(wide - 34, high - 13, _("N"), "c-mid"))
    return wrap("".join(out), wide, high, title=title, desc=note, kind="chart-drawing f-plan")


def _sizes(stands: Sequence[Stand], places: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """Trunks with the sign, and the others: as large as leaves most of them apart, 9 to 30 px."""
    if len(places) > 400:
        return 9.0, 9.0
    nearest: dict[bool, list[float]] = {True: [], False: []}
    for i, one in enumerate(places):
        apart = min((math.dist(one, other) for j, other in enumerate(places) if j != i), default=40)
        nearest[stands[i].marked].append(apart)

    def size(distances: list[float]) -> float:
        typical = sorted(distances)[len(distances) // 4] if distances else 20.0
        return min(30.0, max(9.0, typical * 0.95))

    marked = size(nearest[True])
    return marked, min(size(nearest[False]), marked)


def _stand(
    stand: Stand, x: float, y: float, size: float, scale: float, rings: bool, trunks: bool
) -> list[str]:
    if rings:
        ring = min(max(0.9144 * scale * 2, 6), size / 2 + 2)
        return (
            [dot("f-ring", x, y, ring), dot("c-dot", x, y, 2.4)]
            if stand.marked
            else [dot("c-dot", x, y, 2.4)]
        )
    if not stand.looked_at:
        return [dot("f-unseen", x, y, size / 2.4)]
    if not trunks or (stand.marked and stand.lost_from is None):
        return [dot("c-dot-ember" if stand.marked else "c-dot-open", x, y, size / 2.4)]
    if not stand.marked:
        drawn = trunk(0, 0, size=round(size))
    elif stand.bearing is None:
        return [
            _set_at(trunk(0, 0, size=round(size)), x, y, size),
            dot("c-dot-ember", x, y, size / 7),
        ]
    else:
        gap, most = stand.lost_from or 0.0, stand.lost_to or stand.lost_from or 0.0
        gap = max(gap, min(SMALLEST_GAP, most))
        drawn = trunk(gap, max(gap, most), bearing=stand.bearing, size=round(size))
    return [_set_at(drawn, x, y, size)]


def _set_at(drawn: str, x: float, y: float, size: float) -> str:
    """A drawing inside a drawing, its middle at x and y."""
    return drawn.replace("<svg ", f'<svg x="{num(x - size / 2)}" y="{num(y - size / 2)}" ', 1)


Box = tuple[float, float, float, float]


def _labels(
    stands: Sequence[Stand],
    places: Sequence[tuple[float, float]],
    sizes: Sequence[float],
    frame: tuple[float, float],
) -> list[str]:
    """Tags beside their trunks where no other word or trunk stands, or farther off on a thin line.
    Those with the sign choose first; a tag without any room is left to the list."""
    taken: list[Box] = [
        (x - size / 2, y - size / 2, x + size / 2, y + size / 2)
        for (x, y), size in zip(places, sizes, strict=True)
    ]
    wide, high = frame
    corners = [(0.0, high - 34, 190.0, high), (wide - 50, high - 36, wide, high)]
    out: list[str] = []
    for i in sorted(range(len(stands)), key=lambda i: (not stands[i].marked, places[i])):
        x, y = places[i]
        for cx, cy, leader in _spots(x, y, sizes[i], stands[i].tag, far=stands[i].marked):
            half = LETTER * len(stands[i].tag)
            box = (cx - half, cy - LINE + 2, cx + half, cy + 1)
            inside = box[0] > 0 and box[1] > 0 and box[2] < wide and box[3] < high - 2
            line = [(x - 0.5, min(y, cy), x + 0.5, max(y, cy - LINE))] if leader else []
            others = [*corners, *taken[:i], *taken[i + 1 :]]
            if inside and not any(_meet(mine, other) for mine in (box, *line) for other in others):
                if leader:
                    near = math.copysign(sizes[i] / 2, cy - y)
                    out.append(trace("f-lead", [(x, y + near), (x, cy + (2 if cy < y else -LINE))]))
                taken += [box, *line]
                out.append(written(cx, cy, stands[i].tag, "c-mid f-tag"))
                break
    return out


def _spots(
    x: float, y: float, size: float, tag: str, *, far: bool
) -> Iterator[tuple[float, float, bool]]:
    """Where a tag may stand, the nearest first: its middle, its foot, and whether a line leads."""
    half = LETTER * len(tag)
    for foot in (y - size / 2 - 4, y + size / 2 + LINE):
        yield x, foot, False
    for middle in (x + size / 2 + half + 3, x - size / 2 - half - 3):
        yield middle, y + 4, False
    for tier in range(1, TIERS if far else 1):
        yield x, y - size / 2 - 4 - tier * (LINE + 2), True
        yield x, y + size / 2 + LINE + tier * (LINE + 2), True


def _meet(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _scale_bar(scale: float, high: float, metric: bool) -> list[str]:
    unit = 1.0 if metric else 0.3048
    length = next(
        (n for n in (5, 10, 20, 30, 50, 100, 200, 300, 500, 1000) if n * unit * scale >= 36), 2000
    )
    long = length * unit * scale
    y = high - 18
    other = round(length / FEET) if not metric else round(length * FEET)
    words = (
        _("%(m)d m (%(ft)d ft)") % {"m": length, "ft": other}
        if metric
        else _("%(ft)d ft (%(m)d m)") % {"ft": length, "m": other}
    )
    return [
        trace("f-thin", [(14, y - 4), (14, y), (14 + long, y), (14 + long, y - 4)]),
        written(20 + long, y + 3, words),
    ]
