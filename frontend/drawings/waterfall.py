"""How each look moved a belief: a waterfall in points, on an axis of odds.

Ten points are ten times likelier. A bar runs from the odds before a look to the odds after it:
filled to the right makes the claim likelier, hollow to the left less likely. A stretch in which
nobody looked is a thinner bar. Odds are told in words along the axis and as "72 in 100" beside
every row.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext

from frontend.drawings.drawn import (
    Drawn,
    day_short,
    in_hundred,
    in_sizes,
    is_known,
    lines_of,
    signed,
    width_of,
    written_lines,
)
from frontend.drawings.marks import area, dot, stroke, written
from frontend.drawings.pen import wrap

MOST_ROWS = 12  # steps: of more, the older ones are folded into one line
EDGE = 27.0  # points, 1 in 500: beyond it the axis ends and a bar ends in a point
LEAST_SPAN = 14.0  # points along the axis, so that a small step does not look large
LABEL = 44.0  # px kept free for the points beside a bar
BAR, THIN = 9.0, 4.0  # px, the height of a bar for a look and for a stretch


@dataclass(frozen=True, slots=True)
class Step:
    """One pull on the belief: a look, or a stretch (`stretch`) in which nobody looked.

    `day` is the day of the look or the last one of the stretch, None if not known. `points` is
    10*log10 of the factor on the odds; `after` the probability of the claim after it, from 0 to 1.
    What is not a number is said to be not known.
    """

    day: date | None
    words: str
    points: float
    after: float
    stretch: bool = False


@dataclass(frozen=True, slots=True)
class _Row:
    """What stands on one line: its step, from which odds to which, and its words."""

    when: str
    step: Step
    start: float | None
    end: float | None

    @property
    def label(self) -> str:
        return _points_said(self.step.points, self.start, self.end)


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Where the columns of a drawing lie. On a phone the words stand above their bar."""

    width: float
    words: float
    room: float
    left: float
    right: float

    @property
    def stacked(self) -> bool:
        return self.left == 0


SHEETS = {
    "wide": _Sheet(640, 90, 234, 328, 546),
    "paper": _Sheet(720, 90, 262, 366, 626),
    "narrow": _Sheet(350, 84, 266, 0, 256),
}


def waterfall(
    steps: Sequence[Step],
    *,
    start: float,
    claim: str,
    started: str = "",
    start_day: date | None = None,
) -> Drawn:
    """How `steps`, oldest first, moved the probability of `claim` from `start` on.

    `claim` is what is believed, in the reader's language ("dead", "slipping or worse"); `started`
    says where the start comes from (else "Before the first look"), `start_day` from when. More than
    twelve steps are folded: "12 earlier looks". The table has all of them.
    """
    first = Step(start_day, started or _("Before the first look"), 0.0, start)
    rows = list(_rows([first, *steps]))
    shown = rows
    if len(steps) > MOST_ROWS:
        shown = [rows[0], _folded(rows[1 : 1 - MOST_ROWS]), *rows[1 - MOST_ROWS :]]
    title = _("How each look moved “%s”") % claim
    said = _sentence(rows, claim)
    return Drawn(
        title=title,
        note=_("ten points = ten times likelier"),
        said=said,
        sizes=in_sizes(lambda size: _draw(shown, SHEETS[size], title, said)),
        columns=(_("When"), _("What was seen"), _("Points"), claim),
        rows=tuple(
            (row.when, row.step.words, row.label if i else "", in_hundred(row.step.after))
            for i, row in enumerate(rows)
        ),
    )


def _odds(share: float) -> float | None:
    """A probability in points; None when it is not one."""
    if not is_known(share) or not 0 <= share <= 1:
        return None
    if share in (0, 1):
        return math.copysign(math.inf, share - 0.5)
    return 10 * (math.log10(share) - math.log10(1 - share))


def _rows(steps: Sequence[Step]) -> Iterator[_Row]:
    """Every step with its day in words; a stretch tells how long it was."""
    before: date | None = None
    level: float | None = None
    for step in steps:
        when = ""
        if step.stretch:
            if step.day and before and step.day > before:
                days = (step.day - before).days
                when = ngettext("%d day", "%d days", days) % days
        elif step.day:
            when = day_short(step.day, year=before is None or before.year != step.day.year)
        after = _odds(step.after)
        yield _Row(when, step, level, after)
        level = level if after is None else after
        before = step.day or before


def _folded(rows: Sequence[_Row]) -> _Row:
    """Many rows as one: their points together, and where they led."""
    looks = sum(not row.step.stretch for row in rows)
    words = ngettext("%d earlier look", "%d earlier looks", looks) % looks
    if not looks:
        words = _("Earlier months without a look")
    points = math.fsum(r.step.points for r in rows if math.isfinite(r.step.points))
    if any(not math.isfinite(r.step.points) for r in rows):
        points = math.nan
    known = [row for row in rows if row.end is not None]
    last = known[-1] if known else rows[-1]
    step = replace(last.step, day=None, words=words, points=points, stretch=not looks)
    return _Row("", step, rows[0].start, last.end)


def _points_said(points: float, start: float | None, end: float | None) -> str:
    if math.isnan(points):
        moved = None if start is None or end is None else end - start
        points = math.nan if moved is None else moved
    if math.isnan(points):
        return _("not known")
    return signed(points) if math.isfinite(points) else _("settles it")


def _sentence(rows: Sequence[_Row], claim: str) -> str:
    looks = sum(not row.step.stretch for row in rows[1:])
    if len(rows) == 1:
        return _("“%(claim)s”: %(start)s; nobody has looked yet.") % {
            "claim": claim,
            "start": in_hundred(rows[0].step.after),
        }
    said = ngettext(
        "“%(claim)s”: %(start)s before, %(end)s after %(n)d look.",
        "“%(claim)s”: %(start)s before, %(end)s after %(n)d looks.",
        looks,
    ) % {
        "claim": claim,
        "start": in_hundred(rows[0].step.after),
        "end": in_hundred(rows[-1].step.after),
        "n": looks,
    }
    pulls = [row for row in rows[1:] if not math.isnan(row.step.points) and not row.step.stretch]
    if not pulls:
        return said
    strongest = max(pulls, key=lambda row: abs(row.step.points))
    more = _("The strongest pull: %(words)s (%(points)s).") % {
        "words": strongest.step.words,
        "points": strongest.label,
    }
    return f"{said} {more}"


class _Axis:
    """Odds along the sheet: as far as the rows go, never beyond EDGE."""

    def __init__(self, rows: Sequence[_Row], sheet: _Sheet) -> None:
        levels = [max(-EDGE, min(EDGE, r.end)) for r in rows if r.end is not None] or [0.0]
        low, high = min(levels), max(levels)
        # Even odds, one in ten or nine in ten: one of them is always in sight.
        if high < -10 * math.log10(9):
            high = -10 * math.log10(9)
        if low > 10 * math.log10(9):
            low = 10 * math.log10(9)
        spare = max(0.0, LEAST_SPAN - (high - low)) / 2
        self.low, self.high = low - spare, high + spare
        falls = any(r.start is not None and r.end is not None and r.end < r.start for r in rows)
        self.left = sheet.left + (LABEL if falls else 8)
        self.right = sheet.right - LABEL
        self.sheet = sheet

    def x(self, level: float) -> float:
        inside = max(self.low, min(self.high, level))
        return self.left + (self.right - self.left) * (inside - self.low) / (self.high - self.low)

    def is_beyond(self, level: float | None) -> bool:
        return level is not None and abs(level) > EDGE

    def lines(self) -> list[tuple[float, str]]:
        """Grid lines with room for their words; even odds come first."""
        tens = 10 * math.log10(9)
        named = [
            (0.0, pgettext("odds", "even")),
            (-tens, _("1 in 10")),
            (tens, _("9 in 10")),
            (-10 * math.log10(99), _("1 in 100")),
            (10 * math.log10(99), _("99 in 100")),
        ]
        kept: list[tuple[float, str]] = []
        edges: list[tuple[float, float]] = []
        for level, words in named:
            if not self.low - 1e-6 <= level <= self.high + 1e-6:
                continue
            x, half = self.x(level), width_of(words) / 2 + 4
            if all(x + half <= a or x - half >= b for a, b in edges):
                kept.append((x, words))
                edges.append((x - half, x + half))
        return kept


def _inside(x: float, words: str) -> tuple[float, float]:
    """Where words above a grid line stand, not beyond the edge of the sheet."""
    return max(x, width_of(words) / 2), 12


def _draw(rows: Sequence[_Row], sheet: _Sheet, title: str, said: str) -> str:
    axis = _Axis(rows, sheet)
    out: list[str] = []
    y = 34.0
    bars: list[float] = []
    for i, row in enumerate(rows):
        last = i == len(rows) - 1
        lines = lines_of(row.step.words, sheet.room, most=2 if sheet.stacked else 3)
        soft = "c-soft c-over" if row.step.stretch or i == 0 else "c-over"
        out.append(written(0, y, row.when, "c-soft c-over"))
        out.append(written_lines(sheet.words, y, lines, soft, step=15))
        if sheet.stacked:
            y += 15 * len(lines) + 1
        bars.append(y - 4)
        kind = "c-end c-bold" if last else "c-end c-soft"
        out.append(written(sheet.width, y, in_hundred(row.step.after), kind))
        y += 24 if sheet.stacked else 20 + 15 * (len(lines) - 1)
    foot = bars[-1] + 10
    grid = []
    for x, words in axis.lines():
        grid += [
            stroke("c-grid", x, 18, x, foot),
            written(*_inside(x, words), words, "c-soft c-mid"),
        ]
    drawn = [_bar(axis, row, middle) for row, middle in zip(rows, bars, strict=True)]
    links = [
        stroke("w-link", axis.x(above.end), top + BAR / 2, axis.x(above.end), below - BAR / 2)
        for (above, _row), (top, below) in zip(pairwise(rows), pairwise(bars), strict=True)
        if above.end is not None and not sheet.stacked
    ]
    body = "".join([*grid, *links, *drawn, *out])
    height = max(y - 8, foot + 2)
    return wrap(body, sheet.width, height, title=title, desc=said, kind="chart-drawing")


def _bar(axis: _Axis, row: _Row, middle: float) -> str:
    """The bar of a row with its points, a dot where nothing was before, or nothing."""
    if row.end is None:
        return written(axis.left, middle + 4, _("not known"), "c-soft c-over")
    if row.start is None:
        return dot("c-dot", axis.x(row.end), middle, 3.6)
    a, b = axis.x(row.start), axis.x(row.end)
    rises = row.end > row.start or (row.end == row.start and row.step.points > 0)
    kind = "w-up" if rises else "w-down"
    half = (THIN if row.step.stretch else BAR) / 2
    if abs(a - b) < 1.6:  # too small to see: a tick
        b = a + math.copysign(1.6, 1 if rises else -1)
    moved = abs(row.step.points) > 0.05 or row.start != row.end
    tip = math.copysign(7, b - a) if moved and axis.is_beyond(row.end) else 0.0
    corners = [(a, middle - half), (b, middle - half), (b, middle + half), (a, middle + half)]
    if tip:
        corners.insert(2, (b + tip, middle))
    x = max(a, b) + max(tip, 0) + 5 if rises else min(a, b) + min(tip, 0) - 5
    label = row.label
    side = "c-over" if rises else "c-end c-over"
    limit = axis.sheet.right if rises else axis.sheet.left
    if width_of(label) > abs(limit - x) + 6:  # the other side of the bar has more room
        x, side = (min(a, b) - 5, "c-end c-over") if rises else (max(a, b) + 5, "c-over")
    return area(kind, corners) + written(x, middle + 4, label, side)
