"""Every tree of a group as one mark, and rows of trees beside words: counts in, svg text out."""

import math
from collections.abc import Callable

from frontend.drawings.marks import Wording, dot, stroke, written
from frontend.drawings.pen import num, wrap

PER_MARK = 240  # trees: up to so many get a mark each

Mark = Callable[[float, float], str]

MARKS: dict[str, Mark] = {
    "alive": lambda x, y: (
        f'<rect class="c-alive" x="{num(x - 2)}" y="{num(y)}" width="4" height="18"/>'
    ),
    "stale": lambda x, y: (
        f'<rect class="c-stale" x="{num(x - 1.5)}" y="{num(y + 0.5)}" width="3" height="17"/>'
    ),
    "died": lambda x, y: (
        stroke("c-event", x, y, x, y + 18) + stroke("c-event", x - 4, y + 6, x + 4, y + 6)
    ),
    "removed": lambda x, y: (
        f'<rect class="c-removed" x="{num(x - 3)}" y="{num(y + 1)}" width="6" height="16"/>'
    ),
    "unknown": lambda x, y: written(x, y + 14, "?", "c-bold c-mid"),
    "never": lambda x, y: stroke("c-event", x - 3, y + 17, x + 3, y + 17),
}


def per_mark(trees: int) -> int:
    """For how many trees one mark stands: 1 up to 240 trees, then 10, 100 …"""
    each = 1
    while trees > each * PER_MARK:
        each *= 10
    return each


def accounted(
    *,
    counts: dict[str, int],
    title: str,
    desc: str,
    words: Wording | None = None,
    wide: bool = True,
) -> str:
    """Every tree of a group as one mark, or one for every ten (hundred, …) begun of a kind.

    `counts` by kind: alive (bar), stale (open bar: alive, but long ago), died (cross), removed
    (box), unknown (?), never (a dash: never planted). `words`: the same keys, each with its number,
    and each ("one mark for up to ten trees").
    """
    say = words or {}
    w = 440 if wide else 350
    per_line = 48 if wide else 38
    each = per_mark(sum(counts.values()))
    marks = [kind for kind in MARKS for _ in range(math.ceil(counts.get(kind, 0) / each))]
    step = min(14.0, w / max(1, min(len(marks), per_line)))
    out: list[str] = []
    for i, kind in enumerate(marks):
        line, k = divmod(i, per_line)
        out.append(MARKS[kind](k * step + step / 2, 4 + line * 26))
    y = 4 + max(1, math.ceil(len(marks) / per_line)) * 26 + 10
    x = 0.0
    for kind, draw in MARKS.items():
        if not counts.get(kind):
            continue
        said = say.get(kind, str(counts[kind]))
        room = 6.9 * len(said) + 34
        if x + room > w + 18 and x:
            x, y = 0.0, y + 20
        out.append(draw(x + 5, y - 14))
        out.append(written(x + 16, y, said, "c-plum c-bold" if kind == "alive" else "c-bold"))
        x += room
    if each > 1:
        y += 20
        out.append(written(0, y, say.get("each", ""), "c-soft"))
    return wrap("".join(out), w, y + 8, title=title, desc=desc, kind="chart-drawing")


def row_of_trees(trees: int, *, filled: bool = True) -> str:
    """One dot, one tree, for a count beside its words; says nothing by itself."""
    per_line, step = 20, 11
    lines = math.ceil(trees / per_line)
    width = min(trees, per_line) * step
    kind, r = ("c-dot", 4.2) if filled else ("c-dot-open", 3.8)
    dots = [
        dot(kind, 5.5 + (i % per_line) * step, 6 + (i // per_line) * 12, r) for i in range(trees)
    ]
    return wrap("".join(dots), max(width, step), max(1, lines) * 12, kind="chart-drawing")
