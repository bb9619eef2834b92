"""Charts: plain numbers in, svg text out. Lines differ by dash and end label, never by color alone.

Each chart is an image with a name and a description; the page prints the same numbers as a table.
Wide and narrow are separate drawings. Words arrive translated: nothing here speaks by itself.
"""

import math
from collections.abc import Sequence

from frontend.drawings.gauge import pixels
from frontend.drawings.marks import Wording, area, dot, stroke, trace, written
from frontend.drawings.pen import num, wrap


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

        out.append(stroke("c-grid", left, y(0.5), w - right, y(0.5)))
        out.append(stroke("c-axis", left, base, w - right, base))
        if wide:
            out.append(pixels(condition, 0, 0, round(base - 18)))
            out.append(written(20, base - 4, word, "c-bold"))
            out.append(written(left - 6, y(0.5) + 4, say.get("half", ""), "c-soft c-end"))
        else:
            out.append(pixels(condition, 0, 2, round(y0 - 18)))
            out.append(written(24, y0 - 5, word, "c-bold"))
        for run in _runs(values):
            highs = [(x(i), y(v[2])) for i, v in run]
            lows = [(x(i), y(v[1])) for i, v in run]
            if len(run) == 1:
                i, v = run[0]
                out.append(stroke("c-range", x(i), y(v[1]), x(i), y(v[2])))
            else:
                out.append(area("c-band", [*highs, *reversed(lows)]))
                out.append(trace("c-find", [(x(i), y(v[0])) for i, v in run]))
            for i, v in run:
                out.append(dot("c-point", x(i), y(v[0]), 2.6 if wide else 2))
        known = [(i, v) for i, v in enumerate(values) if v is not None]
        if known:
            i, v = known[-1]
            out.append(
                written(
                    x(i) + 9, min(y(v[0]) + 4, base - 1), f"{round(v[0] * 100)}", "c-plum c-bold"
                )
            )
            out.append(
                written(
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
            out.append(written(x(i), foot, month, "c-soft c-mid"))
            out.append(written(x(i), foot + 17, looked[i], "c-mid"))
    out.append(written(0, foot + 17 if wide else foot + 33, say.get("looked", ""), "c-soft"))
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
            out.append(written(0, y + 4, said, "c-bold"))
        else:
            out.append(written(4, y + 2, said, "c-bold"))
            out.append(written(w - 2, y + 2, note, "c-soft c-end"))
            y += 18
        for i in range(total):
            line, k = divmod(i, per_line)
            out.append(
                dot(
                    fill if i < filled else "c-dot-open",
                    left + 5 + k * step,
                    y + line * 13,
                    4.2 if i < filled else 3.8,
                )
            )
        lines = max(1, math.ceil(total / per_line))
        if wide:
            out.append(written(w, y + 4, note, "c-soft c-end"))
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
    out.append(stroke("c-axis", 0, half + 0.5, w, half + 0.5))
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
            out.append(written(x, base + 16, d, "c-mid"))
        count = counts[d] if d < len(counts) else 0
        out += [dot("c-dot", x, base - 6 - k * 7.4, 2.9) for k in range(min(count, 7))]
        if count > 7:
            out.append(written(x, base - 6 - 7 * 7.4 + 2, count, "c-mid c-soft"))
    x = 12 + (promise + 0.5) * step
    out.append(stroke("c-promise", x, top, x, base))
    # Early in the row there is no room to the left of the line.
    at, side = (x + 5, "") if x < w / 3 else (x - 5, " c-end")
    out.append(written(at, top - 4, say.get("promise", ""), f"c-ember{side}"))
    out.append(stroke("c-axis", 0, base + 0.5, w, base + 0.5))
    return wrap("".join(out), w, base + 22, title=title, desc=desc, kind="chart-drawing")
