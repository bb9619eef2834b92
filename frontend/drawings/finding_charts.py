"""Drawings of a finding: shares side by side with their ranges, one dot a tree, months first seen.

Each leaves its table by the same function. Ember is the finding's own; all else is ink.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.drawings.drawn import Drawn, day_short, in_sizes, lines_of, month_said, width_of
from frontend.drawings.marks import dot, stroke, written
from frontend.drawings.months import month_axis
from frontend.drawings.pen import num, wrap

WIDTHS = {"wide": 610.0, "narrow": 350.0, "paper": 610.0}
ROW = 22.0
MOST_DOTS = 60
"""Trees of one row that are drawn as dots; beyond that a bar stands for them."""


@dataclass(frozen=True, slots=True)
class Share:
    """A row of the chart of shares: so many of so many, and where the true share plausibly lies."""

    name: str
    with_sign: int
    of: int
    low: float
    high: float
    own: bool = False


def shares(rows: Sequence[Share], *, title: str, note: str, elsewhere: tuple[int, int]) -> Drawn:
    """One dot with its range for each group; a broken line where all others together lie."""
    counted = _("%(with)d of %(of)d")
    there, of_there = elsewhere
    together = ""
    if of_there:
        together = _("all others together: %(with)d of %(of)d") % {"with": there, "of": of_there}

    def draw(size: str) -> str:
        wide = WIDTHS[size]
        room = min(max((width_of(row.name, bold=row.own) for row in rows), default=60), wide * 0.34)
        left, right = room + 14, wide - 62
        out: list[str] = []
        base = 24 + ROW * len(rows)

        def x(share: float) -> float:
            return left + (right - left) * share

        marks = ((0, _("none")), (0.25, _("1 in 4")), (0.5, _("half")), (0.75, _("3 in 4")))
        for share, words in (*marks, (1, _("all"))):
            if size == "narrow" and share in (0.25, 0.75):
                continue
            out.append(stroke("c-grid", x(share), 18, x(share), base))
            out.append(written(x(share), 12, words, "c-soft c-mid"))
        if of_there:
            out.append(stroke("c-compare", x(there / of_there), 18, x(there / of_there), base + 4))
            half = width_of(together) / 2
            at = min(max(x(there / of_there), half), wide - half)
            out.append(written(at, base + 17, together, "c-soft c-mid"))
        for i, row in enumerate(rows):
            y = 34 + ROW * i
            mark, line = ("c-dot-ember", "f-range-own") if row.own else ("c-dot", "f-range")
            bold = " c-bold" if row.own else ""
            [name] = lines_of(row.name, room, most=1, bold=row.own)
            out.append(written(room + 2, y + 4, name, f"c-end{bold}"))
            out.append(stroke(line, x(row.low), y, x(row.high), y))
            out.append(dot(mark, x(row.with_sign / max(row.of, 1)), y, 5 if row.own else 4))
            said = counted % {"with": row.with_sign, "of": row.of}
            out.append(written(wide, y + 4, said, f"c-end{bold}"))
        return wrap("".join(out), wide, base + 24, title=title, desc=note, kind="chart-drawing")

    return Drawn(
        title=title,
        note=note,
        said=together,
        sizes=in_sizes(draw),
        columns=(_("Group"), _("With the sign"), _("Looked at"), _("Plausibly between")),
        rows=tuple(
            (
                row.name,
                str(row.with_sign),
                str(row.of),
                _("%(low)d and %(high)d in 100")
                % {"low": math.floor(row.low * 100), "high": math.ceil(row.high * 100)},
            )
            for row in rows
        ),
    )


@dataclass(frozen=True, slots=True)
class Pair:
    """Trees that go together, here and elsewhere: (with the sign, looked at) each."""

    name: str
    here: tuple[int, int]
    there: tuple[int, int]


def pairs(rows: Sequence[Pair], *, title: str, note: str, here: str, there: str) -> Drawn:
    """Two rows of dots a pair: one dot is one tree, filled where it has the sign."""
    counted = _("%(with)d of %(of)d")

    def draw(size: str) -> str:
        wide = WIDTHS[size]
        names = size != "narrow"
        room = min(max((width_of(row.name, bold=True) for row in rows), default=0), wide * 0.4)
        labels = max(width_of(here), width_of(there))
        left = (room + 16 if names else 0) + labels + 10
        out: list[str] = []
        y = 6.0
        for row in rows:
            if names:
                [name] = lines_of(row.name, room, most=1, bold=True)
                out.append(written(0, y + 10, name, "c-bold"))
            else:
                out.append(written(0, y + 10, row.name, "c-bold"))
                y += 18
            for own, words, (with_sign, of) in ((True, here, row.here), (False, there, row.there)):
                out.append(written(left - 8, y + 10, words, "c-end" if own else "c-end c-soft"))
                high = _dots(out, with_sign, of, left, y + 6, wide - 62 - left)
                said = counted % {"with": with_sign, "of": of} if of else _("none there")
                out.append(written(wide, y + 10, said, "c-end"))
                y += high
            y += 10
        return wrap("".join(out), wide, max(y, 10), title=title, desc=note, kind="chart-drawing")

    return Drawn(
        title=title,
        note=note,
        said="",
        sizes=in_sizes(draw),
        columns=(_("Trees"), here, there),
        rows=tuple(
            (
                row.name,
                counted % {"with": row.here[0], "of": row.here[1]},
                counted % {"with": row.there[0], "of": row.there[1]} if row.there[1] else "–",
            )
            for row in rows
        ),
    )


def _dots(out: list[str], filled: int, of: int, x: float, y: float, room: float) -> float:
    """Dots in as many lines as are needed, or a bar of the same length; returns the height."""
    step = 11.0
    if of > MOST_DOTS:
        share = filled / of
        out.append(
            f'<rect class="f-bar" x="{num(x)}" y="{num(y - 4)}" '
            f'width="{num(room)}" height="8" rx="4"/>'
        )
        if share:
            out.append(
                f'<rect class="f-bar-own" x="{num(x)}" y="{num(y - 4)}" '
                f'width="{num(max(room * share, 3))}" height="8" rx="4"/>'
            )
        return 18
    each = max(int(room // step), 1)
    for i in range(of):
        kind = "c-dot-ember" if i < filled else "c-dot-open"
        out.append(dot(kind, x + 4 + (i % each) * step, y + (i // each) * 12, 4))
    return 18 + 12 * max(0, math.ceil(of / each) - 1)


@dataclass(frozen=True, slots=True)
class Ticked:
    """A happening under the months: its day and its words; `often` ones are short ticks only."""

    day: date
    words: str
    often: bool = False


def first_seen(
    months: Mapping[str, int], happenings: Sequence[Ticked], *, title: str, note: str
) -> Drawn:
    """Trees by the month in which the sign was first *seen* on them; happenings as ticks below."""
    known = {date.fromisoformat(f"{month}-01"): number for month, number in months.items()}
    start, last = min(known), max(known)
    named = [t for t in happenings if not t.often]
    begin = min([start, *(t.day for t in named)]).replace(day=1)
    end = max([last, *(t.day for t in named)]).replace(day=1)
    count = (end.year - begin.year) * 12 + end.month - begin.month + 1

    def draw(size: str) -> str:
        wide = WIDTHS[size]
        left, right = 6.0, wide - 6
        step = (right - left) / count
        radius = min(4.0, max(1.6, step * 0.42))
        tallest = max(known.values())
        stack = min(radius * 2.6, 150 / tallest)
        base = 34 + stack * tallest
        out: list[str] = []

        def day_x(day: date) -> float:
            month = (day.year - begin.year) * 12 + day.month - begin.month
            return left + (month + (day.day - 1) / 31) * step

        for month, number in known.items():
            x = day_x(month) + step / 2
            out += [dot("c-dot-ember", x, base - 5 - i * stack, radius) for i in range(number)]
            out.append(written(x, base - 9 - number * stack, number, "c-mid c-soft"))
        out.append(stroke("c-axis", left, base, right, base))
        out += [
            stroke("c-event", day_x(tick.day), base, day_x(tick.day), base + 5)
            for tick in happenings
            if begin <= tick.day.replace(day=1) <= end
        ]
        axis, foot = month_axis(begin, count, left, right, base + 4)
        out += axis
        foot += 6
        for i, tick in enumerate(named):
            x = day_x(tick.day)
            out.append(stroke("c-event-soft", x, 14, x, base))
            out.append(written(x, 10, _letter(i), "c-bold c-mid"))
            words = f"{_letter(i)} · {day_short(tick.day)} · {tick.words}"
            for line in lines_of(words, wide, most=2):
                foot += 16
                out.append(written(0, foot, line, "c-soft"))
        return wrap("".join(out), wide, foot + 8, title=title, desc=note, kind="chart-drawing")

    often = sum(tick.often for tick in happenings)
    rows = [
        (month_said(month), ngettext("%d tree", "%d trees", number) % number)
        for month, number in known.items()
    ]
    rows += [(day_short(tick.day), tick.words) for tick in named]
    if often:
        rows.append((_("short ticks"), ngettext("%d day", "%d days", often) % often))
    return Drawn(
        title=title,
        note=note,
        said="",
        sizes=in_sizes(draw),
        columns=(_("When"), _("What was first seen, or happened")),
        rows=tuple(rows),
    )


def _letter(place: int) -> str:
    return chr(ord("a") + place % 26)
