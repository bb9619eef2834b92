"""Counts in a row under the months of a chart: strokes that can be counted, or bars."""

from collections.abc import Sequence

from frontend.drawings.drawn import block, width_of
from frontend.drawings.marks import dot, written
from frontend.drawings.pen import num

APART = 2.2  # px from one stroke to the next
HIGH = 20.0  # px of the tallest bar

Counts = Sequence[tuple[float, int]]
"""(middle of the month, count)."""


def tally(counts: Counts, step: float, y: float) -> tuple[list[str], float]:
    """Strokes up to two rows a month of `step` px, else bars on one scale; the number below where
    there is room, and a speck for none. Returns where it ends.
    """
    out = []
    most = max((count for _x, count in counts), default=0)
    in_row = max(1, min(8, int((step - 3) / APART)))
    counted = step >= 7 and most <= 2 * in_row
    for x, count in counts:
        if count <= 0:
            out.append(dot("o-none", x, y + 18, 0.8))
        elif counted:
            out.append(_strokes(x, y + 22, count, in_row))
        else:
            tall = max(1.0, HIGH * count / most)
            wide = min(8.0, max(0.8, step * 0.6))
            out.append(block("c-bar o-looks", x - wide / 2, y + 22 - tall, wide, tall))
        if count > 0 and step >= 8 + 7 * (len(str(count)) - 1):
            out.append(written(x, y + 37, count, "c-soft c-mid"))
    return out, y + (42 if step >= 8 else 26)


def _strokes(x: float, foot: float, count: int, in_row: int) -> str:
    """So many strokes, in one row or two, the lower one full."""
    out = []
    rows = [count] if count <= in_row else [in_row, count - in_row]
    left = x - (min(count, in_row) - 1) * APART / 2
    for k, strokes in enumerate(rows):
        y = foot - 10 * k
        out += [f"M{num(left + i * APART)} {num(y)}v-7.5" for i in range(strokes)]
    return f'<path class="o-tally" d="{"".join(out)}"/>'


def numbers(wanted: Counts, y: float) -> list[str]:
    """Numbers at their places, the first ones first; one that finds no room is left out."""
    out = []
    taken: list[tuple[float, float]] = []
    for x, number in wanted:
        half = width_of(str(number)) / 2 + 3
        if all(x + half <= a or x - half >= b for a, b in taken):
            taken.append((x - half, x + half))
            out.append(written(x, y, number, "c-mid"))
    return out
