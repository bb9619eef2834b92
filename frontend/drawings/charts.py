"""Charts: plain numbers in, svg text out. Lines differ by dash and end label, never by color alone.

Each chart is an image with a name and a description; the page prints the same numbers as a table.
Wide and narrow are separate drawings. Words arrive translated: nothing here speaks by itself.
"""

import math
from collections.abc import Sequence
from html import escape

from frontend.drawings.gauge import pixels
from frontend.drawings.pen import at, num, wrap

Pairs = Sequence[tuple[float, float]]
Wording = dict[str, str]


def _text(x: float, y: float, said: object, kind: str = "") -> str:
    cls = f' class="{kind}"' if kind else ""
    return f'<text x="{num(x)}" y="{num(y)}"{cls}>{escape(str(said))}</text>'


def _line(kind: str, x0: float, y0: float, x1: float, y1: float) -> str:
    return f'<path class="{kind}" d="M{at(x0, y0)}L{at(x1, y1)}"/>'


def _path(kind: str, points: Pairs) -> str:
    return f'<path class="{kind}" d="M{"L".join(at(*p) for p in points)}"/>'


def _dot(kind: str, x: float, y: float, r: float) -> str:
    return f'<circle class="{kind}" cx="{num(x)}" cy="{num(y)}" r="{num(r)}"/>'


def _stairs(points: Pairs) -> list[tuple[float, float]]:
    """A step line: each value holds until the next one."""
    out: list[tuple[float, float]] = []
    for i, (x, y) in enumerate(points):
        if i:
            out.append((x, points[i - 1][1]))
        out.append((x, y))
    return out


def _spread(places: list[float], apart: float, low: float, high: float) -> list[float]:
    """Labels moved just far enough that none covers another; the order is kept."""
    order = sorted(range(len(places)), key=lambda i: places[i])
    moved = [0.0] * len(places)
    last = low - apart
    for i in order:
        moved[i] = last = max(places[i], last + apart)
    limit = high
    for i in reversed(order):
        moved[i] = limit = min(moved[i], limit)
        limit -= apart
    return moved


def survival(
    *,
    at_least: Pairs,
    title: str,
    desc: str,
    at_most: Pairs = (),
    band: Sequence[tuple[float, float, float]] = (),
    compare: Pairs = (),
    at_risk: Sequence[tuple[float, int]] = (),
    lost: Sequence[tuple[float, int]] = (),
    seasons: Sequence[tuple[float, float, str]] = (),
    points: Sequence[tuple[float, float, str]] = (),
    seen_to: float | None = None,
    words: Wording | None = None,
    wide: bool = True,
) -> str:
    """Share still standing by age, as step lines with a band.

    Ages in months, shares from 0 to 1. `at_least` is the finding; `at_most` the other end of what
    is not known between two looks; `compare` another group; `band` (age, low, high); `at_risk` and
    `lost` are printed under the axis; `seasons` (from, to, words) are shaded; `points` (age, share,
    words) are dots with a label. `words`: at_least, at_most, compare, at_risk, lost, planted,
    years ("1 year|2 years|…"), shares ("none|2 in 10|…|all", by fifths), seen_to.
    """
    say = words or {}
    w, left, right, top = (870, 56, 148, 22) if wide else (350, 48, 12, 20)
    plot_h = 290 if wide else 240
    base = top + plot_h
    last = max([a for a, _ in at_least] + [a for a, _ in at_most] + [12.0])
    end = max(12.0, math.ceil(last / 12) * 12)
    values = [s for _, s in at_least] + [s for _, s in compare] + [lo for _, lo, _ in band]
    floor = max(0.0, math.floor((min(values or [0.0]) - 0.02) * 5) / 5)

    def x(age: float) -> float:
        return left + (w - left - right) * age / end

    def y(share: float) -> float:
        return base - plot_h * (share - floor) / (1 - floor)

    out: list[str] = []
    for start, stop, said in seasons:
        a, b = max(start, 0.0), min(stop, end)
        if b > a:
            out.append(
                f'<rect class="c-season" x="{num(x(a))}" y="{num(top)}" '
                f'width="{num(x(b) - x(a))}" height="{num(plot_h)}"/>'
            )
            if wide and said:
                out.append(_text((x(a) + x(b)) / 2, base - 7, said, "c-soft c-mid"))
    shares = say.get("shares", "0|20|40|60|80|100").split("|")
    for k in range(6):
        if k / 5 >= floor - 1e-9:
            out.append(_line("c-grid", left, y(k / 5), w - right, y(k / 5)))
            out.append(_text(left - 6, y(k / 5) + 4, shares[k], "c-soft c-end"))
    if band:
        highs = _stairs([(x(a), y(h)) for a, _, h in band])
        lows = _stairs([(x(a), y(max(lo, floor))) for a, lo, _ in band])
        out.append(
            f'<path class="c-band" d="M{"L".join(at(*p) for p in [*highs, *reversed(lows)])}Z"/>'
        )
    if compare:
        out.append(_path("c-compare", _stairs([(x(a), y(s)) for a, s in compare])))
    if at_most:
        out.append(_path("c-second", _stairs([(x(a), y(s)) for a, s in at_most])))
    out.append(_path("c-find", _stairs([(x(a), y(s)) for a, s in at_least])))
    if seen_to is not None:
        out.append(_line("c-event", x(seen_to), top - 6, x(seen_to), base))
        out.append(
            _text(
                x(seen_to) + 5 if wide else x(seen_to) - 5,
                top - 8,
                say.get("seen_to", ""),
                "c-soft" if wide else "c-soft c-end",
            )
        )

    ends = [
        ("c-plum c-bold", "at_least", at_least),
        ("c-steady", "at_most", at_most),
        ("c-soft", "compare", compare),
    ]
    shown = [(kind, say.get(key, ""), line) for kind, key, line in ends if line]
    if wide:
        heights = _spread([y(line[-1][1]) + 4 for _, _, line in shown], 20, top + 8, base - 2)
        for (kind, said, line), height in zip(shown, heights, strict=True):
            out.append(_text(max(x(line[-1][0]), x(last)) + 8, height, said, kind))
    else:
        for i, (kind, said, _) in enumerate(shown):
            dash = ("c-find", "c-second", "c-compare")[
                [e[2] is shown[i][2] for e in ends].index(True)
            ]
            row = base - 14 - 17 * (len(shown) - 1 - i)
            out.append(_line(dash, left + 8, row - 4, left + 34, row - 4))
            out.append(_text(left + 40, row, said, kind))
    for age, share, said in points:
        out.append(_dot("c-point", x(age), y(share), 4.2))
        out.append(_text(x(age) - 7, y(share) + 16, said, "c-plum c-end"))

    out.append(_line("c-axis", left, base, w - right, base))
    years = say.get("years", "").split("|")
    for k in range(int(end // 12) + 1):
        out.append(_line("c-axis", x(k * 12), base, x(k * 12), base + 4))
        said = say.get("planted", "0") if k == 0 else (years[k - 1] if k <= len(years) else str(k))
        # The first word begins at the axis: on paper, letters grow and would touch the shares.
        out.append(_text(x(k * 12), base + 18, said, "c-mid" if k else "c-bold"))
    foot = base + 18
    for key, rows in (("at_risk", at_risk), ("lost", lost)):
        if not rows:
            continue
        if wide:
            foot += 20
            out.append(_text(w - right + 8, foot, say.get(key, ""), "c-soft"))
        else:
            foot += 20
            out.append(_text(left - 40, foot, say.get(key, ""), "c-soft"))
            foot += 16
        room = 0.0
        for age, n in rows:
            if x(age) >= room:
                out.append(_text(x(age), foot, n, "c-mid"))
                room = x(age) + 24
    return wrap("".join(out), w, foot + 8, title=title, desc=desc, kind="chart-drawing is-broad")


def shares(
    *,
    months: Sequence[str],
    looked: Sequence[int],
    rows: Sequence[tuple[str, str, Sequence[tuple[float, float, float] | None]]],
    title: str,
    desc: str,
    words: Wording | None = None,
    wide: bool = True,
) -> str:
    """The share of trees in each condition, month by month: one strip a condition, one scale.

    `rows` are (condition, its word, one (share, low, high) or None a month); `looked` the number of
    trees behind each month; `words`: looked, half. A month without trees is a gap.
    """
    say = words or {}
    w, left, right = (870, 112, 66) if wide else (350, 30, 44)
    strip, gap = (58, 10) if wide else (50, 22)
    n = max(1, len(months))
    top = 8 if wide else 20
    out: list[str] = []
    highest = max([v[2] for _, _, values in rows for v in values if v], default=1.0)
    ceiling = min(1.0, max(0.5, math.ceil(highest * 4) / 4))

    def x(i: int) -> float:
        return left + (w - left - right) * (i + 0.5) / n

    for r, (condition, word, values) in enumerate(rows):
        y0 = top + r * (strip + gap)
        base = y0 + strip

        def y(share: float, base: float = base) -> float:
            return base - strip * share / ceiling

        out.append(_line("c-grid", left, y(0.5), w - right, y(0.5)))
        out.append(_line("c-axis", left, base, w - right, base))
        if wide:
            out.append(pixels(condition, 0, 0, round(base - 18)))
            out.append(_text(20, base - 4, word, "c-bold"))
            out.append(_text(left - 6, y(0.5) + 4, say.get("half", ""), "c-soft c-end"))
        else:
            out.append(pixels(condition, 0, 2, round(y0 - 18)))
            out.append(_text(24, y0 - 5, word, "c-bold"))
        for run in _runs(values):
            highs = [(x(i), y(v[2])) for i, v in run]
            lows = [(x(i), y(v[1])) for i, v in run]
            if len(run) == 1:
                i, v = run[0]
                out.append(_line("c-range", x(i), y(v[1]), x(i), y(v[2])))
            else:
                outline = "L".join(at(*p) for p in [*highs, *reversed(lows)])
                out.append(f'<path class="c-band" d="M{outline}Z"/>')
                out.append(_path("c-find", [(x(i), y(v[0])) for i, v in run]))
            for i, v in run:
                out.append(_dot("c-point", x(i), y(v[0]), 2.6 if wide else 2))
        known = [(i, v) for i, v in enumerate(values) if v is not None]
        if known:
            i, v = known[-1]
            out.append(
                _text(x(i) + 9, min(y(v[0]) + 4, base - 1), f"{round(v[0] * 100)}", "c-plum c-bold")
            )
            out.append(
                _text(
                    x(i) + 30,
                    min(y(v[0]) + 4, base - 1),
                    f"{math.floor(v[1] * 100 + 1e-9)}–{math.ceil(v[2] * 100 - 1e-9)}",
                    "c-soft",
                )
                if wide
                else ""
            )
    foot = top + len(rows) * (strip + gap) - gap + 18
    every = max(1, math.ceil(n / (18 if wide else 6)))
    for i, month in enumerate(months):
        if (n - 1 - i) % every == 0:
            out.append(_text(x(i), foot, month, "c-soft c-mid"))
            out.append(_text(x(i), foot + 17, looked[i], "c-mid"))
    out.append(_text(0, foot + 17 if wide else foot + 33, say.get("looked", ""), "c-soft"))
    height = foot + (24 if wide else 42)
    return wrap("".join(out), w, height, title=title, desc=desc, kind="chart-drawing is-broad")


def _runs(
    values: Sequence[tuple[float, float, float] | None],
) -> list[list[tuple[int, tuple[float, float, float]]]]:
    """Months that follow each other without a gap."""
    runs: list[list[tuple[int, tuple[float, float, float]]]] = []
    before = -2
    for i, v in enumerate(values):
        if v is None:
            continue
        if before == i - 1:
            runs[-1].append((i, v))
        else:
            runs.append([(i, v)])
        before = i
    return runs


def dots(
    *,
    rows: Sequence[tuple[str, int, int, str]],
    title: str,
    desc: str,
    marked: bool = False,
    wide: bool = True,
) -> str:
    """One dot, one tree: (words, filled, all, note) a row; filled = yes, hollow = no.

    Large counts run on in lines of eighteen (wide) or twenty-six (narrow). `marked` fills
    in the sign's color.
    """
    w, left, per_line, step = (440, 150, 18, 11) if wide else (350, 4, 26, 12)
    out: list[str] = []
    y = 14.0
    fill = "c-dot-ember" if marked else "c-dot"
    for said, filled, everything, note in rows:
        total = max(everything, filled)
        if wide:
            out.append(_text(0, y + 4, said, "c-bold"))
        else:
            out.append(_text(4, y + 2, said, "c-bold"))
            out.append(_text(w - 2, y + 2, note, "c-soft c-end"))
            y += 18
        for i in range(total):
            line, k = divmod(i, per_line)
            out.append(
                _dot(
                    fill if i < filled else "c-dot-open",
                    left + 5 + k * step,
                    y + line * 13,
                    4.2 if i < filled else 3.8,
                )
            )
        lines = max(1, math.ceil(total / per_line))
        if wide:
            out.append(_text(w, y + 4, note, "c-soft c-end"))
        y += lines * 13 + 11
    return wrap("".join(out), w, y, title=title, desc=desc, kind="chart-drawing")


def in_and_out(
    *,
    came: Sequence[int],
    left: Sequence[int],
    title: str,
    desc: str,
    wide: bool = True,
) -> str:
    """Reports that came (filled, above the line) and decisions (hollow, below it), a bar a day."""
    w, half = (300, 38) if wide else (350, 44)
    n = max(1, len(came))
    most = max([1, *came, *left])
    step = w / n
    bar = max(2.0, step * 0.68)
    out: list[str] = []
    for i, count in enumerate(came):
        h = half * count / most
        if count:
            out.append(
                f'<rect class="c-bar" x="{num(i * step)}" y="{num(half - h)}" '
                f'width="{num(bar)}" height="{num(h)}"/>'
            )
    for i, count in enumerate(left):
        h = half * count / most
        if count:
            out.append(
                f'<rect class="c-bar-open" x="{num(i * step + 0.6)}" y="{num(half + 1)}" '
                f'width="{num(bar - 1.2)}" height="{num(h)}"/>'
            )
    out.append(_line("c-axis", 0, half + 0.5, w, half + 0.5))
    return wrap("".join(out), w, half * 2 + 6, title=title, desc=desc, kind="chart-drawing")


def waited(
    *,
    counts: Sequence[int],
    title: str,
    desc: str,
    promise: int = 7,
    words: Wording | None = None,
    wide: bool = True,
) -> str:
    """How many days each open report has waited: one dot, one report, and where our promise ends.

    `counts[d]` reports have waited d days; a day with more than seven shows seven and the number.
    What stands to the right of the line has waited longer than `promise` days.
    """
    say = words or {}
    w, top, base = (300, 22, 96) if wide else (350, 22, 102)
    days = max(promise + 1, len(counts))
    step = (w - 20) / days
    out: list[str] = []
    for d in range(days):
        x = 12 + d * step
        if d % max(1, math.ceil(days / 12)) == 0 or d == promise:
            out.append(_text(x, base + 16, d, "c-mid"))
        count = counts[d] if d < len(counts) else 0
        out += [_dot("c-dot", x, base - 6 - k * 7.4, 2.9) for k in range(min(count, 7))]
        if count > 7:
            out.append(_text(x, base - 6 - 7 * 7.4 + 2, count, "c-mid c-soft"))
    x = 12 + (promise + 0.5) * step
    out.append(_line("c-promise", x, top, x, base))
    # Early in the row there is no room to the left of the line.
    at, side = (x + 5, "") if x < w / 3 else (x - 5, " c-end")
    out.append(_text(at, top - 4, say.get("promise", ""), f"c-ember{side}"))
    out.append(_line("c-axis", 0, base + 0.5, w, base + 0.5))
    return wrap("".join(out), w, base + 22, title=title, desc=desc, kind="chart-drawing")


def accounted(
    *,
    alive: int,
    died: int,
    removed: int,
    unknown: int,
    title: str,
    desc: str,
    words: Wording | None = None,
    wide: bool = True,
) -> str:
    """Every tree of a planting as one mark.

    Bar = alive, cross = died, box = removed alive, ? = lost from sight. `words`: alive, died,
    removed, unknown (each with its number).
    """
    say = words or {}
    w = 440 if wide else 350
    per_line = 48 if wide else 38
    kinds = ["a"] * alive + ["d"] * died + ["r"] * removed + ["u"] * unknown
    step = min(14.0, w / max(1, min(len(kinds), per_line)))
    out: list[str] = []
    for i, kind in enumerate(kinds):
        line, k = divmod(i, per_line)
        x, y = k * step + step / 2, 4 + line * 26
        if kind == "a":
            out.append(
                f'<rect class="c-alive" x="{num(x - 2)}" y="{num(y)}" width="4" height="18"/>'
            )
        elif kind == "d":
            out.append(
                _line("c-event", x, y, x, y + 18) + _line("c-event", x - 4, y + 7, x + 4, y + 7)
            )
        elif kind == "r":
            out.append(
                f'<rect class="c-removed" x="{num(x - 2.6)}" y="{num(y + 1)}" width="5.2" '
                f'height="16"/>'
            )
        else:
            out.append(_text(x, y + 14, "?", "c-bold c-mid"))
    y = 4 + max(1, math.ceil(len(kinds) / per_line)) * 26 + 10
    counts = {"alive": alive, "died": died, "removed": removed, "unknown": unknown}
    parts = [say.get(key, str(n)) for key, n in counts.items() if n]
    x = 0.0
    for i, said in enumerate(parts):
        room = 6.6 * len(said) + 18
        if x + room > w + 18 and x:
            x, y = 0.0, y + 16
        out.append(_text(x, y, said, "c-plum c-bold" if i == 0 and alive else "c-bold"))
        x += room
    return wrap("".join(out), w, y + 8, title=title, desc=desc, kind="chart-drawing")
