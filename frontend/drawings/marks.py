"""The few marks that every chart is made of: words, lines, dots, and labels that keep apart."""

from collections.abc import Sequence
from html import escape

from frontend.drawings.pen import at, num

Pairs = Sequence[tuple[float, float]]
Wording = dict[str, str]


def written(x: float, y: float, said: object, kind: str = "") -> str:
    """Words at a place; they are escaped here."""
    cls = f' class="{kind}"' if kind else ""
    return f'<text x="{num(x)}" y="{num(y)}"{cls}>{escape(str(said))}</text>'


def stroke(kind: str, x0: float, y0: float, x1: float, y1: float) -> str:
    """One straight line."""
    return f'<path class="{kind}" d="M{at(x0, y0)}L{at(x1, y1)}"/>'


def trace(kind: str, points: Pairs) -> str:
    """A line from point to point."""
    return f'<path class="{kind}" d="M{"L".join(at(*p) for p in points)}"/>'


def area(kind: str, points: Pairs) -> str:
    """A closed outline."""
    return f'<path class="{kind}" d="M{"L".join(at(*p) for p in points)}Z"/>'


def dot(kind: str, x: float, y: float, r: float) -> str:
    """A round dot."""
    return f'<circle class="{kind}" cx="{num(x)}" cy="{num(y)}" r="{num(r)}"/>'


def spread(places: Sequence[float], apart: float, low: float, high: float) -> list[float]:
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
