"""The survival chart: plain numbers in, svg text out.

A loss is known only to lie between two looks. So the curve is drawn as a line where it is known,
and as a hatched box where it falls somewhere between two looks: a step would name a day that nobody
knows. Hatching is how this project draws doubt.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from frontend.drawings.marks import Pairs, Wording, area, dot, spread, stroke, trace, written
from frontend.drawings.pen import at, num, wrap

Bounds = Sequence[tuple[float, float, float]]
Rates = Sequence[tuple[float, float, float, float]]
Points = list[tuple[float, float]]

SMALLEST_BOX = 4.0  # px: a box lower or narrower than this is drawn as a slope
HATCH = 5.0  # px between two hatch lines
LIMIT_END = 3.0  # px to either side of an upright


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a curve: it runs from `top` at age `start` to `bottom` at age `end`.

    Known where both are the same; otherwise it falls somewhere within.
    """

    start: float
    end: float
    top: float
    bottom: float


def pieces(curve: Bounds) -> list[Piece]:
    """The stretches of a curve given as (age, at least, at most).

    Between two ages the curve is at most what it can be at the first and at least what it can be
    at the second; neighbors of the same height are one stretch.
    """
    found: list[Piece] = []
    for (start, low, most), (end, least, _) in pairwise(curve):
        top = max(low, most, least)
        if found and (found[-1].top, found[-1].bottom) == (top, least):
            found[-1] = Piece(found[-1].start, end, top, least)
        else:
            found.append(Piece(start, end, top, least))
    return found


def slope(curve: Bounds) -> Points:
    """A curve as one line: through what is known, and straight across what is not."""
    if not curve:
        return []
    known = {age: (low + most) / 2 for age, low, most in curve}
    parts = pieces(curve)
    if not parts:
        return [(curve[0][0], known[curve[0][0]])]
    turns = [(parts[0].start, known[parts[0].start])]
    turns += [(part.end, known[part.end]) for part in parts]
    return turns


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where ages and shares lie on the sheet, and how large it is."""

    width: float
    left: float
    right: float
    top: float
    height: float
    end: float
    floor: float
    size: str

    @property
    def base(self) -> float:
        return self.top + self.height

    @property
    def edge(self) -> float:
        return self.width - self.right

    def x(self, age: float) -> float:
        return self.left + (self.edge - self.left) * age / self.end

    def y(self, share: float) -> float:
        return self.base - self.height * (share - self.floor) / (1 - self.floor)

    def px(self, points: Pairs) -> Points:
        return [(self.x(age), self.y(max(share, self.floor))) for age, share in points]


# width, left, right, top, height of the plot
SHEETS = {
    "wide": (870.0, 56.0, 152.0, 40.0, 290.0),
    "paper": (720.0, 56.0, 132.0, 34.0, 118.0),
    "narrow": (350.0, 54.0, 14.0, 38.0, 250.0),
}


def survival(
    *,
    curve: Bounds,
    title: str,
    desc: str,
    band: Bounds = (),
    death: Bounds = (),
    town: Bounds = (),
    under_watch: Sequence[tuple[float, int, int]] = (),
    seasons: Sequence[tuple[float, float, str]] = (),
    mark: tuple[float, float, float, float] | None = None,
    weighed: Rates = (),
    weighed_at: Rates = (),
    forecast: Sequence[tuple[float, float, float, float]] = (),
    words: Wording | None = None,
    size: str = "wide",
) -> str:
    """Share still standing by age: the curve with its band, beside it other lines and a forecast.

    Ages in months, shares from 0 to 1. `curve`, `death` (not dead) and `town` (other trees of the
    same year) are (age, at least, at most); `band` is (age, low, high); `under_watch` is (age,
    trees, lost so far), printed under the axis; `seasons` (from, to, words) are shaded; `mark` is
    the second summer: (age, at least) and (age, at most); `weighed` is the same trees with all
    evidence weighed, (age, share, low, high), and `weighed_at` those of its ages whose limits are
    drawn; `forecast` is (age, share, low, high) from the last look on.

    `words`: curve, curve_more, death, town, weighed, under_watch, lost, planted, years ("1 year|2
    years|…"), dates ("Nov 2023|Nov 2024|…", may be missing), shares ("none|2 in 10|…|all", by
    fifths), scale, seen_to, seen_to_more (where a forecast goes on), starts, mark, end ("Nov
    2028|27 of 44|21 to 33"). `size`: wide, narrow or paper, each a drawing of its own.
    """
    say = words or {}
    line = [(age, share, share, share) for age, share, *_ in weighed]
    frame = _frame(size, curve, band, town, [*line, *weighed_at, *forecast])
    until = curve[-1][0] if curve else 0.0
    out: list[str] = []
    out += _seasons(frame, seasons)
    out += _scale(frame, say)
    if band:
        highs = frame.px(_hull([(age, high) for age, _, high in band], early=False))
        lows = frame.px(_hull([(age, low) for age, low, _ in band], early=True))
        out.append(area("c-band", [*highs, *reversed(lows)]))
    if town:
        out.append(trace("c-compare", frame.px(slope(town))))
    if death:
        out.append(trace("c-second", frame.px(slope(death))))
    out += _curve(frame, curve)
    out += _weighed(frame, weighed, weighed_at)
    out += _forecast(frame, forecast, say)
    if len(curve) and curve[0][0] > 0:
        x = frame.x(curve[0][0])
        out.append(stroke("c-event-soft", x, frame.top, x, frame.base))
        height = frame.base - (66 if size == "narrow" else 26)  # clear of what stands below
        out.append(written(x + 5, height, say.get("starts", ""), "c-soft c-over"))
    out += _seen_to(frame, until, bool(forecast), say)
    out += _mark(frame, mark, say)
    out += _names(frame, curve, band, death, town, weighed, until, bool(forecast), say)
    out += _ages(frame, say)
    foot = frame.base + (34 if say.get("dates") else 18)
    rows, foot = _numbers(frame, under_watch, foot, say)
    out += rows
    return wrap("".join(out), frame.width, foot + 8, title=title, desc=desc, kind="chart-drawing")


def _frame(size: str, curve: Bounds, band: Bounds, town: Bounds, forecast: Sequence) -> _Frame:
    width, left, right, top, height = SHEETS[size]
    last = max([age for age, *_ in (*curve, *forecast)], default=12.0)
    shares = [low for _, low, _ in (*curve, *band)] + [low for _, _, low, _ in forecast]
    shares += [low for age, low, _ in town if age <= last]
    # Whole fifths, so that the lowest line has a name; low values move the floor to none.
    floor = max(0.0, math.floor((min(shares, default=0.0) - 0.02) * 5) / 5)
    end = max(12.0, math.ceil(last / 12) * 12)
    return _Frame(width, left, right, top, height, end, floor, size)


def _hull(points: Pairs, *, early: bool) -> Points:
    """The outline of a band: a lower edge falls `early`, at the first age, an upper edge late."""
    out: Points = list(points[:1])
    for (start, before), (end, after) in pairwise(points):
        corner = (start, after) if early else (end, before)
        out += [corner, (end, after)]
    return out


def _seasons(frame: _Frame, seasons: Sequence[tuple[float, float, str]]) -> list[str]:
    out = []
    for start, stop, said in seasons:
        a, b = max(start, 0.0), min(stop, frame.end)
        if b <= a:
            continue
        x, width = frame.x(a), frame.x(b) - frame.x(a)
        out.append(
            f'<rect class="c-season" x="{num(x)}" y="{num(frame.top)}" '
            f'width="{num(width)}" height="{num(frame.height)}"/>'
        )
        if frame.size != "narrow" and said:
            out.append(written(x + width / 2, frame.base - 7, said, "c-soft c-mid"))
    return out


def _scale(frame: _Frame, say: Wording) -> list[str]:
    """Lines with words at each fifth, and the scale's own words where it begins above none."""
    out = []
    shares = say.get("shares", "0|20|40|60|80|100").split("|")
    for k, said in enumerate(shares):
        if k / 5 >= frame.floor - 1e-9:
            y = frame.y(k / 5)
            out.append(stroke("c-grid", frame.left, y, frame.edge, y))
            out.append(written(frame.left - 6, y + 4, said, "c-soft c-end"))
    if frame.floor > 0:
        out.append(written(0, 12, say.get("scale", ""), "c-soft"))
    return out


def _curve(frame: _Frame, curve: Bounds) -> list[str]:
    """The finding: a line where it is known, a hatched box or a short slope where it falls."""
    out: list[str] = []
    line: Points = []

    def close() -> None:
        if len(line) > 1:
            out.append(trace("c-find", line))
        line.clear()

    for piece in pieces(curve):
        (x0, top), (x1, bottom) = frame.px([(piece.start, piece.top), (piece.end, piece.bottom)])
        if min(x1 - x0, bottom - top) >= SMALLEST_BOX:
            close()
            out += _box(x0, top, x1, bottom)
        else:
            if not line or line[-1] != (x0, top):
                line.append((x0, top))
            line.append((x1, bottom))
    close()
    if len(curve) == 1:
        out.append(dot("c-point", *frame.px([curve[0][:2]])[0], 3))
    return out


def _box(x0: float, top: float, x1: float, bottom: float) -> list[str]:
    """A box hatched from corner to corner: the curve enters at its top and leaves at its foot."""
    lines = []
    shift = HATCH
    while shift < (x1 - x0) + (bottom - top):
        # a line x - x0 + (y - top) = shift, cut to the box
        start = (x0 + min(shift, x1 - x0), top + max(0.0, shift - (x1 - x0)))
        stop = (x0 + max(0.0, shift - (bottom - top)), top + min(shift, bottom - top))
        lines.append(f"M{at(*start)}L{at(*stop)}")
        shift += HATCH
    corners = [(x0, top), (x1, top), (x1, bottom), (x0, bottom)]
    return [area("c-box", corners), f'<path class="c-hatch" d="{"".join(lines)}"/>']


def _weighed(frame: _Frame, weighed: Rates, told_at: Rates) -> list[str]:
    """The other reading: a thin line, and an upright from limit to limit where a figure is told.

    Nothing of it is hatched: what is not known is in its limits.
    """
    out = []
    if len(weighed) > 1:
        out.append(trace("c-weighed", frame.px([(age, share) for age, share, *_ in weighed])))
    for age, _, low, high in told_at:
        [(x, foot), (_, head)] = frame.px([(age, low), (age, high)])
        out.append(stroke("c-weighed-limit", x, head, x, foot))
        out += [stroke("c-weighed-end", x - LIMIT_END, y, x + LIMIT_END, y) for y in (head, foot)]
    return out


def _forecast(frame: _Frame, forecast: Sequence, say: Wording) -> list[str]:
    if len(forecast) < 2:
        return []
    edges = [[(age, row[k]) for age, *row in forecast] for k in (1, 2)]
    out = [trace("c-forecast-edge", frame.px(edge)) for edge in edges]
    out.append(trace("c-forecast", frame.px([(age, share) for age, share, *_ in forecast])))
    age, share, low, high = forecast[-1]
    x = frame.x(age)
    (_, y), (_, foot), (_, head) = frame.px([(age, share), (age, low), (age, high)])
    out.append(stroke("c-forecast-edge", x, head, x, foot))
    out.append(dot("c-point-open", x, y, 4))
    lines = say.get("end", "").split("|")
    kinds = ["c-soft", "c-plum c-bold", "c-soft"]
    if frame.size == "narrow":
        # below the range where there is room for three lines, otherwise above it
        first = foot + 15 if foot + 52 < frame.base else head - 40
        places, side = [first, first + 16, first + 32], " c-end c-over"
    else:
        places, side, x = [y - 12, y + 4, y + 20], "", x + 10
    out += [
        written(x, place, said, kind + side)
        for place, said, kind in zip(places, lines, kinds, strict=False)
    ]
    return out


def _seen_to(frame: _Frame, until: float, goes_on: bool, say: Wording) -> list[str]:
    narrow = frame.size == "narrow"
    x, said = frame.x(until), say.get("seen_to" if narrow or not goes_on else "seen_to_more", "")
    if not said:
        return []
    # Words go to the side where there is more room for them.
    right = x < frame.width / 2 if narrow else goes_on or x < (frame.left + frame.edge) / 2
    kind, lean = ("c-soft", 5) if right else ("c-soft c-end", 0)
    return [
        stroke("c-event", x, frame.top - 8, x, frame.base),
        written(x + lean, frame.top - 12, said, kind),
    ]


def _mark(frame: _Frame, mark: tuple | None, say: Wording) -> list[str]:
    """The second summer: a filled dot at what is sure, a hollow one at what may be."""
    if mark is None:
        return []
    late, least, early, most = mark
    [(x, y), (x2, y2)] = frame.px([(late, least), (early, most)])
    out = [dot("c-point-open", x2, y2, 3.6)] if y - y2 >= 1 else []
    out.append(dot("c-point", x, y, 4.2))
    said = say.get("mark", "")
    width = 6.4 * len(said)
    below = y + 18 if y + 40 < frame.base else y - 12
    # Left of the dot; on a phone from the axis on, as far as it goes; otherwise right of the dot.
    if x - frame.left > width + 12:
        out.append(written(x - 7, below, said, "c-plum c-over c-end"))
    elif x + 24 > frame.left + width:
        out.append(written(frame.left + 4, below, said, "c-plum c-over"))
    else:
        out.append(written(x + 7, below, said, "c-plum c-over"))
    return out


def _names(
    frame: _Frame,
    curve: Bounds,
    band: Bounds,
    death: Bounds,
    town: Bounds,
    weighed: Rates,
    until: float,
    goes_on: bool,
    say: Wording,
) -> list[str]:
    """Every line has its name: at its end, or on a phone in a short list under the lines."""
    if not curve:
        return []
    lines: list[tuple[str, str, str, float]] = []
    if not goes_on or frame.size == "narrow":
        lines.append(("c-plum c-bold", "c-find", say.get("curve", ""), curve[-1][1]))
    if death:
        lines.append(("c-steady", "c-second", say.get("death", ""), slope(death)[-1][1]))
    if town:
        lines.append(("c-soft", "c-compare", say.get("town", ""), slope(town)[-1][1]))
    if len(weighed) > 1:
        lines.append(("", "c-weighed", say.get("weighed", ""), weighed[-1][1]))
    out = []
    lowest = [*(band or [(a, low, low) for a, low, _ in curve])]
    lowest += [(age, share, share) for age, share, *_ in weighed]
    if frame.size == "narrow":
        return _key(frame, lines, lowest)
    ends = [frame.y(max(share, frame.floor)) + 4 for *_, share in lines]
    heights = spread(ends, 17, frame.top + 8, frame.base - 4)
    x = frame.x(until) + 8
    for (kind, _, said, _), height in zip(lines, heights, strict=True):
        out.append(written(x, height, said, f"{kind} c-over".strip()))
    if goes_on:
        said, more = say.get("curve", ""), say.get("curve_more", "")
        start = frame.x(curve[0][0]) + 8
        if frame.size == "paper":  # too low for two lines beside the words of the second summer
            y = frame.base - 22
            out.append(written(start, y, f"{said} {more}".strip(), "c-plum c-bold c-over"))
            return out
        y = _below(frame, lowest, start, 6.6 * max(len(said), len(more)))
        out.append(written(start, y, said, "c-plum c-bold c-over"))
        out.append(written(start, y + 16, more, "c-plum c-over"))
    return out


def _below(frame: _Frame, lowest: Bounds, x: float, width: float) -> float:
    """The height just under everything drawn between x and x + width."""
    under = [frame.y(max(low, frame.floor)) for age, low, _ in lowest if frame.x(age) < x + width]
    return min(max(under, default=frame.top) + 18, frame.base - 60)


def _key(frame: _Frame, lines: list, lowest: Bounds) -> list[str]:
    """Names with a sample of their line, in the emptiest corner of a narrow chart."""
    lines = [line for line in lines if line[2]]
    height = 17 * len(lines)
    # The left bottom corner is empty unless the curve fell early and far.
    free = frame.base - _below(frame, lowest, frame.left, 190) + 18
    top = frame.base - height - 4 if free > height else frame.base + 4
    out = []
    if top > frame.base:
        top = frame.top + 4
    for i, (kind, line, said, _) in enumerate(lines):
        y = top + 17 * i + 12
        out.append(stroke(f"{line} c-sample", frame.left + 6, y - 4, frame.left + 32, y - 4))
        out.append(written(frame.left + 38, y, said, f"{kind} c-over".strip()))
    return out


def _ages(frame: _Frame, say: Wording) -> list[str]:
    """The axis in years since planting, with the month where all were planted in one."""
    out = [stroke("c-axis", frame.left, frame.base, frame.edge, frame.base)]
    years, dates = say.get("years", "").split("|"), say.get("dates", "")
    count = int(frame.end // 12)
    most = 8 if frame.size != "narrow" else 3 if dates else 5
    every = max(1, math.ceil(count / most))
    for k in range(count + 1):
        x = frame.x(12 * k)
        out.append(stroke("c-axis", x, frame.base, x, frame.base + 4))
        if k % every:
            continue
        said = say.get("planted", "0") if k == 0 else years[k - 1] if k <= len(years) else str(k)
        # The first word begins at the edge of the sheet, so that it is never cut off.
        last = frame.size == "narrow" and k == count
        kind = "c-mid" if k > 0 and not last else "c-end" if last else ""
        place = x if k else frame.left - (34 if frame.size != "narrow" else 50)
        place = frame.width - 2 if last else place
        out.append(written(place, frame.base + 18, said, kind))
        if dates and k < len(dates.split("|")):
            out.append(written(place, frame.base + 34, dates.split("|")[k], f"c-soft {kind}"))
    return out


def _numbers(
    frame: _Frame, rows: Sequence[tuple[float, int, int]], foot: float, say: Wording
) -> tuple[list[str], float]:
    """Trees under watch and lost so far, under their ages."""
    out: list[str] = []
    shown: list[tuple[float, int, int]] = []
    room = 0.0
    for row in rows:
        half = 3.6 * len(str(max(row[1:])))
        if frame.x(row[0]) - half >= room:
            shown.append(row)
            room = frame.x(row[0]) + half + 9
    for key, column in (("under_watch", 1), ("lost", 2)):
        if not shown:
            break
        foot += 20
        if frame.size == "narrow":
            out.append(written(4, foot, say.get(key, ""), "c-soft"))
            foot += 16
        out += [written(frame.x(row[0]), foot, row[column], "c-mid") for row in shown]
        if frame.size != "narrow":
            x = frame.x(shown[-1][0]) + 26
            out.append(written(x, foot, say.get(key, ""), "c-soft"))
    return out, foot
