"""The sun on a trunk: a year of sides and months, and one day seen from above.

Squares grow with the load of a clear day; filled ones are the sides whose bark comes near the
hottest of their month. From above, a petal is as long as its side's load: solid what comes straight
from the sun, open what comes from sky and ground.
"""

import math
from collections.abc import Sequence
from datetime import time

import numpy as np
from django.utils.dates import MONTHS, MONTHS_3
from django.utils.formats import number_format, time_format
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from frontend.drawings.drawn import Drawn, block, in_sizes
from frontend.drawings.marks import area, dot, stroke, written
from frontend.drawings.pen import Sheet, arc, num, wrap
from survey.science.sun.heat import (
    NEAR_THE_HOTTEST_C,
    CoatWindow,
    hottest,
    hottest_side,
)
from survey.science.sun.trunk import SIDES, Load, month_load

TOP, ROW, FOOT = 24.0, 25.0, 52.0
MOST = 19.0  # px, the side of the largest square
ROSE = 300.0
BARK, GAP, REACH = 26.0, 6.0, 88.0


def side_name(bearing: int) -> str:
    """A side of the trunk in words: "southwest"."""
    return {
        0: pgettext("side of a trunk", "north"),
        45: pgettext("side of a trunk", "northeast"),
        90: pgettext("side of a trunk", "east"),
        135: pgettext("side of a trunk", "southeast"),
        180: pgettext("side of a trunk", "south"),
        225: pgettext("side of a trunk", "southwest"),
        270: pgettext("side of a trunk", "west"),
        315: pgettext("side of a trunk", "northwest"),
    }[bearing]


def hour_said(hour: int) -> str:
    """A full hour (0 to 23) as the reader's country writes it: "4 p.m.", "16:00"."""
    return time_format(time(hour % 24), "TIME_FORMAT")


def listed(bearings: Sequence[int]) -> str:
    """Sides in words, joined: "south, southwest and west"."""
    names = [side_name(one) for one in bearings]
    if len(names) < 2:
        return "".join(names)
    return _("%(first)s and %(last)s") % {"first": ", ".join(names[:-1]), "last": names[-1]}


def sun_year(latitude: float, window: CoatWindow) -> Drawn:
    """What each side gets in each month at a latitude (degrees), and when a coat is due."""
    months = range(1, 13)
    loads = np.array([month_load(latitude, month).of_day() for month in months])
    heat = np.array([hottest(latitude, month) for month in months])
    hot = heat > heat.max(axis=1, keepdims=True) - NEAR_THE_HOTTEST_C
    warmest = window.months[-1]
    title = _("Sun on the trunk through the year")
    said = _("In %(month)s the bark of the %(side)s side gets hottest.") % {
        "month": MONTHS[warmest],
        "side": side_name(hottest_side(latitude, warmest)),
    }
    return Drawn(
        title=title,
        note=_("Larger square: more sun. Filled: near the hottest side of that month."),
        said=said,
        sizes=in_sizes(lambda size: _year(loads, hot, window, size, title, said)),
        columns=(_("Side"), *(str(MONTHS_3[month]).capitalize() for month in months)),
        rows=tuple(
            (side_name(side), *(_megajoules(loads[month, number]) for month in range(12)))
            for number, side in enumerate(SIDES)
        ),
    )


def _year(
    loads: np.ndarray, hot: np.ndarray, window: CoatWindow, size: str, title: str, said: str
) -> str:
    wide, left = {"wide": (620.0, 92.0), "narrow": (350.0, 84.0), "paper": (680.0, 92.0)}[size]
    step = (wide - left - 4) / 12
    foot = TOP + ROW * len(SIDES)
    out = []
    for month in range(12):
        name = str(MONTHS_3[month + 1])
        word = name[:1].upper() if size == "narrow" else name.capitalize()
        out.append(written(left + (month + 0.5) * step, TOP - 8, word, "c-mid c-soft"))
    for row, side in enumerate(SIDES):
        middle = TOP + (row + 0.5) * ROW
        out.append(written(0, middle + 4, side_name(side)))
        out.append(stroke("c-grid", left, middle, wide - 4, middle))
        for month in range(12):
            edge = min(MOST, step - 2) * math.sqrt(loads[month, row] / loads.max())
            x = left + (month + 0.5) * step
            kind = "s-hot" if hot[month, row] else "s-open"
            out.append(block(kind, x - edge / 2, middle - edge / 2, edge, edge))
    out += _coat(window, left, step, foot + 8)
    return wrap("".join(out), wide, foot + FOOT, title=title, desc=said)


def _coat(window: CoatWindow, left: float, step: float, y: float) -> list[str]:
    """The months for a coat as thick lines; a row of months that runs over New Year has two."""
    words = _("any dry month") if window.steady else _("put a coat on before the heat")
    out = []
    for month in window.months:
        x = left + (month - 1) * step
        out.append(stroke("s-coat", x, y, x + step, y))
    out.append(written(0, y + 4, _("Coat"), "c-bold"))
    first = left + (window.months[0] - 1) * step
    late = window.months[0] > 7
    at = left + 12 * step if late else first
    out.append(written(at, y + 19, words, "c-end c-soft" if late else "c-soft"))
    return out


def sun_from_above(of: Load, *, month: int, hot: Sequence[int]) -> Drawn:
    """One clear day on a trunk from above, north up; `hot` are the bearings told apart by ember."""
    title = _("A clear day in %s, from above") % str(MONTHS[month])
    direct, whole = of.direct_of_day(), of.of_day()
    most = [side for side, load in zip(of.sides, whole, strict=True) if load > 0.99 * whole.max()]
    said = _("Most sun falls from the %(side)s: %(load)s megajoules on a square meter.") % {
        "side": listed(most),
        "load": _megajoules(float(whole.max())),
    }
    return Drawn(
        title=title,
        note=_(
            "Solid: straight from the sun. Open: from sky and ground. Ember and bold: the sides "
            "that the sun burns here in the hot months."
        ),
        said=said,
        sizes=in_sizes(lambda size: _rose(of.sides, direct, whole, hot, title, said)),
        columns=(_("Side"), _("Straight"), _("Sky and ground"), _("Together")),
        rows=tuple(
            (
                side_name(side),
                _megajoules(direct[number]),
                _megajoules(whole[number] - direct[number]),
                _megajoules(whole[number]),
            )
            for number, side in enumerate(of.sides)
        ),
    )


def _rose(
    sides: Sequence[int],
    direct: np.ndarray,
    whole: np.ndarray,
    hot: Sequence[int],
    title: str,
    said: str,
) -> str:
    sheet = Sheet("sun-from-above", ROSE, ROSE)
    middle = ROSE / 2
    sheet.wash(arc(middle, middle, BARK - 3, 0, 350, n=14), "d-wood")
    sheet.stroke(arc(middle, middle, BARK, -80, 270, n=16), "d-ink", wobble=0.4)
    sheet.stroke(arc(middle, middle, BARK * 0.6, -60, 240, n=12), "d-fine", wobble=0.4)
    sheet.dot(middle, middle, 1.6)
    parts = []
    for number, side in enumerate(sides):
        inner = BARK + GAP
        straight = inner + REACH * direct[number] / whole.max()
        outer = inner + REACH * whole[number] / whole.max()
        kind = "s-hot" if side in hot else "s-straight"
        if direct[number] > 0.05:
            parts.append(area(kind, _petal(middle, inner, straight, side)))
        parts.append(area("s-open", _petal(middle, straight, outer, side)))
        parts.append(_named(middle, side, hot))
    return wrap("".join([*sheet.parts, *parts]), ROSE, ROSE, title=title, desc=said)


def _petal(middle: float, inner: float, outer: float, bearing: int) -> list[tuple[float, float]]:
    near = arc(middle, middle, inner, bearing - 90 - 15, bearing - 90 + 15, n=4)
    return [*near, *reversed(arc(middle, middle, outer, bearing - 105, bearing - 75, n=4))]


def _named(middle: float, bearing: int, hot: Sequence[int]) -> str:
    away = BARK + GAP + REACH + 14
    turn = math.radians(bearing - 90)
    x, y = middle + away * math.cos(turn), middle + away * math.sin(turn) + 4
    letters = {
        0: pgettext("compass letter", "N"),
        45: pgettext("compass letter", "NE"),
        90: pgettext("compass letter", "E"),
        135: pgettext("compass letter", "SE"),
        180: pgettext("compass letter", "S"),
        225: pgettext("compass letter", "SW"),
        270: pgettext("compass letter", "W"),
        315: pgettext("compass letter", "NW"),
    }
    return written(x, y, letters[bearing], "c-mid c-bold" if bearing in hot else "c-mid c-soft")


def sun_hours(of: Load, *, month: int, sides: Sequence[int]) -> Drawn:
    """The load through the hours of a clear day on some sides (bearings), W/m2 at solar time."""
    title = _("Hour by hour in %s") % str(MONTHS[month])
    rows = {side: of.total[of.sides.index(side)] for side in sides}
    peak = max(rows, key=lambda side: rows[side].max())
    when = float(of.hours[int(np.argmax(rows[peak]))])
    said = _("The %(side)s side has most sun at about %(time)s by the sun.") % {
        "side": side_name(peak),
        "time": hour_said(math.floor(when + 0.5)),
    }
    hours = range(4, 21)
    return Drawn(
        title=title,
        note=_("Watts on a square meter, by the sun's own clock."),
        said=said,
        sizes=in_sizes(lambda size: _hours(of, rows, size, title, said)),
        columns=(
            _("Hour"),
            *(_("%(side)s, W/m²") % {"side": side_name(side)} for side in sides),
        ),
        rows=tuple(
            (
                hour_said(hour),
                *(str(round(float(np.interp(hour, of.hours, rows[s])))) for s in sides),
            )
            for hour in hours
        ),
    )


DASHES = ("c-find", "c-second", "c-compare", "c-event")


def _hours(of: Load, rows: dict[int, np.ndarray], size: str, title: str, said: str) -> str:
    wide, left, high = {
        "wide": (420.0, 34.0, 190.0),
        "narrow": (350.0, 34.0, 190.0),
        "paper": (420.0, 34.0, 190.0),
    }[size]
    right, foot = wide - 92, high - 26
    top = max(float(line.max()) for line in rows.values())

    def x(hour: float) -> float:
        return left + (hour - 4) / 16 * (right - left)

    def y(load: float) -> float:
        return foot - load / top * (foot - 12)

    out = [stroke("c-axis", left, foot, right, foot)]
    levels = range(200, int(top) + 1, 200)
    out += [stroke("c-grid", left, y(level), right, y(level)) for level in levels]
    out += [written(left - 5, y(level) + 4, level, "c-end c-soft") for level in levels]
    out += [
        written(x(hour), foot + 16, hour_said(hour), "c-mid c-soft") for hour in (6, 9, 12, 15, 18)
    ]
    ends = []
    for number, (side, line) in enumerate(rows.items()):
        seen = [(x(h), y(v)) for h, v in zip(of.hours, line, strict=True) if 4 <= h <= 20]
        kind = DASHES[number % len(DASHES)]
        d = "L".join(f"{num(a)} {num(b)}" for a, b in seen)
        out.append(f'<path class="{kind}" d="M{d}"/>')
        best = int(np.argmax(line))
        out.append(dot("c-dot", x(of.hours[best]), y(line[best]), 3))
        ends.append((y(line[best]), side))
    last = -100.0
    for place, side in sorted(ends):
        last = max(place + 4, last + 16)
        out.append(written(right + 8, last, side_name(side)))
    return wrap("".join(out), wide, high, title=title, desc=said)


def _megajoules(value: float) -> str:
    return number_format(round(float(value), 1), 1)
