"""The trunk seen from above: bark as a ring, what is lost as a gap to scale at its bearing."""

import math

from frontend.drawings.pen import num, wrap


def trunk(
    lost_from: float = 0,
    lost_to: float | None = None,
    bearing: float = 180,
    size: int = 46,
    title: str = "",
) -> str:
    """The ring of bark with a gap.

    `lost_from` to `lost_to` is the share of the round that is gone, in percent: the least is drawn
    as a gap, what might be gone beyond it as a broken arc outside. `bearing` is the middle of the
    gap in degrees clockwise from north, which is up.
    """
    least = min(max(lost_from, 0.0), 100.0)
    most = min(max(least if lost_to is None else lost_to, least), 100.0)
    small = size < 30
    outer, width = (40.0, 15.0) if small else (41.0, 12.5)
    middle = outer - width / 2
    out = [f'<circle class="t-wood" cx="50" cy="50" r="{num(outer - width)}" stroke-width="1"/>']
    gap = 3.6 * least
    if gap < 360:
        a, b = (bearing + gap / 2, bearing - gap / 2 + 360) if gap else (0, 360)
        out.append(f'<path class="t-bark" stroke-width="{num(width)}" d="{_arc(middle, a, b)}"/>')
    if gap:
        out.append(
            f'<path class="t-lost" stroke-width="{num(width * 1.45)}" '
            f'stroke-dasharray="{"5 3.4" if small else "3.4 2.8"}" '
            f'd="{_arc(middle, bearing - gap / 2, bearing + gap / 2)}"/>'
        )
    if most > least:
        reach = 3.6 * most
        out.append(
            f'<path class="t-maybe" stroke-width="{"4" if small else "2.6"}" '
            f'stroke-dasharray="{"5 4" if small else "3 4"}" '
            f'd="{_arc(outer + 6.5, bearing - reach / 2, bearing + reach / 2)}"/>'
        )
    return wrap("".join(out), 100, 100, title=title, kind="drawing trunk", shown=(size, size))


def _arc(r: float, start: float, end: float) -> str:
    """An arc about (50, 50), degrees clockwise from north."""

    def place(a: float) -> str:
        t = math.radians(a)
        return f"{num(50 + r * math.sin(t))} {num(50 - r * math.cos(t))}"

    radius = num(r)
    if end - start >= 359.9:
        half = start + 180
        return (
            f"M{place(start)}A{radius} {radius} 0 0 1 {place(half)}"
            f"A{radius} {radius} 0 0 1 {place(start)}"
        )
    large = 1 if end - start > 180 else 0
    return f"M{place(start)}A{radius} {radius} 0 {large} 1 {place(end)}"
