"""The outlook of a site by month, with its band and what is behind it.

The outlook is told of 100 trees: how many should still stand two summers on. Where nobody looked
for a year the line is drawn lighter, because no look is no good look.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from frontend.drawings.belief import WORDS
from frontend.drawings.drawn import (
    LINE,
    Drawn,
    capital,
    in_sizes,
    is_known,
    lines_of,
    month_said,
    months_from,
    whole,
    width_of,
    written_lines,
)
from frontend.drawings.gauge import pixels
from frontend.drawings.happenings import (
    Along,
    Happening,
    Spell,
    key,
    lines,
    mark,
    named_in_place,
    shades,
)
from frontend.drawings.marks import area, dot, spread, stroke, trace, written
from frontend.drawings.months import month_axis
from frontend.drawings.pen import wrap
from frontend.drawings.site_months import (
    YEAR,
    OutlookMonth,
    Turning,
    floor_of,
    limits,
    range_said,
    unseen,
)
from frontend.drawings.tally import numbers, tally

MOST_STEP = 40.0  # px a month
BESIDE = 10.0  # px from the plot to the words beside it


@dataclass(frozen=True, slots=True)
class _Sheet:
    width: float
    left: float
    right: float
    height: float
    size: str

    @property
    def narrow(self) -> bool:
        return self.size == "narrow"


SHEETS = {
    "wide": _Sheet(870, 34, 182, 280, "wide"),
    "narrow": _Sheet(350, 44, 48, 210, "narrow"),
    "paper": _Sheet(720, 34, 176, 150, "paper"),
}


def outlook_chart(
    months: Sequence[OutlookMonth],
    *,
    name: str,
    levels: Mapping[str, float],
    happenings: Sequence[Happening] = (),
    spells: Sequence[Spell] = (),
    turning: Turning | None = None,
) -> Drawn:
    """The outlook of the site `name`.

    `levels` are the outlooks of a site whose trees are all in one condition (by condition, of 100);
    they become the worded grid lines. `spells` are shaded, `happenings` dated lines.
    """
    shown = sorted(months, key=lambda m: m.month)
    floor = floor_of(shown, levels)
    title = _("Outlook of %s by month") % name
    said = _sentence(shown, turning)

    def draw(size: str) -> str:
        sheet = SHEETS[size]
        if not shown:
            body = written(0, 20, _("not looked at yet"), "c-soft")
            return wrap(body, sheet.width, 30, title=title, desc=said, kind="chart-drawing")
        chart = _Chart(sheet, shown, floor, levels, happenings, spells, turning)
        body, height = chart.body()
        return wrap(body, sheet.width, height, title=title, desc=said, kind="chart-drawing")

    return Drawn(
        title=title,
        note=_note(shown, floor),
        said=said,
        sizes=in_sizes(draw),
        columns=(
            _("Month"),
            _("Outlook of 100"),
            _("Range"),
            _("Trees standing"),
            _("Trees planted"),
            _("Looks"),
            _("Walk survey"),
            _("What happened"),
        ),
        rows=tuple(_row(m, happenings, spells) for m in shown),
    )


def _note(months: Sequence[OutlookMonth], floor: float) -> str:
    note = _("of 100 trees like these, how many should still stand two summers on; band: 95 in 100")
    if floor > 0 and months:
        note += "; " + _("the scale begins at %d") % floor
    if any(unseen(months)):
        note += "; " + _("lighter: nobody had looked for a year")
    return note


def _sentence(months: Sequence[OutlookMonth], turning: Turning | None) -> str:
    known = [m for m in months if m.is_known]
    if not known:
        return _("Nobody has looked yet, so nothing can be said.")
    last = known[-1]
    low, high = limits(last)
    said = [
        _(
            "%(month)s: of 100 trees like these, %(n)d should still stand two summers on, "
            "somewhere between %(low)d and %(high)d."
        )
        % {
            "month": month_said(last.month),
            "n": whole(last.outlook),
            "low": low,
            "high": high,
        }
    ]
    before = [m for m in known[:-1] if months_from(m.month, last.month) >= YEAR] or known[:-1][:1]
    if before:
        was = {"month": month_said(before[-1].month), "n": whole(before[-1].outlook)}
        said.append(_("In %(month)s it was %(n)d.") % was)
    if turning:
        said.append(f"{turning.said()}.")
    return " ".join(map(capital, said))


def _row(
    m: OutlookMonth, happenings: Sequence[Happening], spells: Sequence[Spell]
) -> tuple[str, ...]:
    month = (m.month.year, m.month.month)
    told = [
        f"{date_format(h.day, _('M j'))}: {h.words}"
        for h in sorted(happenings, key=lambda h: h.day)
        if (h.day.year, h.day.month) == month
    ]
    told += [
        s.words
        for s in spells
        if (s.start.year, s.start.month) <= month <= (s.end.year, s.end.month)
    ]
    return (
        month_said(m.month),
        str(whole(m.outlook)) if m.is_known else _("not known"),
        range_said(m) if m.is_known else "",
        str(m.standing),
        str(m.trees),
        str(m.looks),
        _("yes") if m.surveyed else "",
        "; ".join(told),
    )


class _Chart:
    """One size of the chart."""

    def __init__(
        self,
        sheet: _Sheet,
        months: Sequence[OutlookMonth],
        floor: float,
        levels: Mapping[str, float],
        happenings: Sequence[Happening],
        spells: Sequence[Spell],
        turning: Turning | None,
    ) -> None:
        self.sheet, self.months, self.floor = sheet, months, floor
        self.levels = {c: v for c, v in levels.items() if is_known(v) and floor <= v <= 100}
        self.spells, self.turning = spells, turning
        count = months_from(months[0].month, months[-1].month) + 1
        room = sheet.width - sheet.left - sheet.right
        self.along = Along(months[0].month, count, sheet.left, min(room / count, MOST_STEP))
        self.marked = mark(happenings, self.along, sheet.width, words=not sheet.narrow)
        self.top = self.marked.above
        self.base = self.top + sheet.height
        self.unseen = dict(zip((m.month for m in months), unseen(months), strict=True))

    def y(self, outlook: float) -> float:
        inside = min(100.0, max(self.floor, outlook))
        return self.base - self.sheet.height * (inside - self.floor) / (100 - self.floor)

    def at(self, m: OutlookMonth) -> tuple[float, float]:
        return self.along.middle(m.month), self.y(m.outlook)

    def edges(self, m: OutlookMonth) -> tuple[float, float]:
        """Heights of the upper and the lower edge of the band."""
        return self.y(max(m.high, m.outlook)), self.y(min(m.low, m.outlook))

    def body(self) -> tuple[str, float]:
        named = named_in_place(self.spells, self.along) if not self.sheet.narrow else []
        out = shades(self.spells, self.along, self.top, self.base)
        out += self._scale()
        for middle, words in named:
            first = self.base - 8 - 15 * (len(words) - 1)
            out.append(written_lines(middle, first, words, "c-ember c-mid", step=15))
        out += self._band()
        out += lines(self.marked, self.along, self.top, self.base)
        out += self._line()
        out += self._turned()
        out.append(stroke("c-axis", self.along.left, self.base, self.along.edge, self.base))
        rows, foot = month_axis(
            self.along.start, self.along.months, self.along.left, self.along.edge, self.base
        )
        looked, foot = self._looks(foot)
        stand, foot = self._standing(foot)
        named_lines, foot = self._lines_said(foot)
        told, foot = key(
            self.marked,
            self.spells,
            self.along,
            self.sheet.width,
            foot + 6,
            named=bool(named),
        )
        return "".join([*out, *rows, *looked, *stand, *named_lines, *told]), foot + 4

    def _scale(self) -> list[str]:
        """Grid lines at the outlook of a site whose trees are all in one condition."""
        out = []
        left, edge = self.along.left, self.along.edge
        order = sorted(self.levels, key=lambda c: -self.levels[c])
        heights = [self.y(self.levels[c]) for c in order]
        apart = spread([h + 4 for h in heights], 15, self.top - 10, self.base)
        for condition, height, place in zip(order, heights, apart, strict=True):
            out.append(stroke("c-grid", left, height, edge, height))
            figure = whole(self.levels[condition])
            out.append(written(left - 6, place, figure, "c-soft c-end"))
            if self.sheet.narrow:
                out.append(pixels(condition, 0, 0, round(place - 12), 14))
        if not self.levels or max(apart) + 15 < self.base + 4:
            out.append(written(left - 6, self.base + 4, whole(self.floor), "c-soft c-end"))
        if not self.sheet.narrow:
            for condition, place in zip(order, self._beside(heights), strict=True):
                out.append(pixels(condition, 0, round(edge + BESIDE), round(place - 12)))
                words = _("if all were %s") % WORDS.get(condition, condition)
                out.append(written(edge + BESIDE + 19, place, words, "c-soft"))
        return out

    def _lines_said(self, y: float) -> tuple[list[str], float]:
        """On a phone: in words what the lines with their gauges mean."""
        if not self.sheet.narrow or not self.levels:
            return [], y
        order = sorted(self.levels, key=lambda c: -self.levels[c])
        figures = [f"{WORDS.get(c, c)} {whole(self.levels[c])}" for c in order]
        words = lines_of(_("lines: if all were %s") % ", ".join(figures), self.sheet.width)
        return [written_lines(0, y + 18, words, "c-soft")], y + 6 + LINE * len(words)

    def _beside(self, heights: Sequence[float]) -> list[float]:
        """Heights for words beside the grid lines, clear of the words at the line's end."""
        places = [h + 4 for h in heights]
        end = self._end()
        if end is None or self._end_x() + width_of(self._end_said(), bold=True) < self.along.edge:
            return spread(places, 18, self.top + 4, self.base) if places else []
        above = [p for p in places if p <= end + 8]
        below = [p for p in places if p > end + 8]
        moved = spread(above, 18, self.top - 30, end - 18) if above else []
        return moved + (spread(below, 18, end + 36, self.base + 40) if below else [])

    def _end(self) -> float | None:
        """The height of the words at the end of the line."""
        known = [m for m in self.months if m.is_known]
        return min(max(self.at(known[-1])[1] + 4, self.top + 8), self.base - 18) if known else None

    def _end_x(self) -> float:
        """Where those words begin: beside the plot, or behind a line that ends earlier."""
        last = [m for m in self.months if m.is_known][-1]
        x = self.along.middle(last.month) + (8 if self.sheet.narrow else 12)
        return self.along.edge + BESIDE if x > self.along.edge - 40 else x

    def _end_said(self) -> str:
        last = [m for m in self.months if m.is_known][-1]
        if self.sheet.narrow:
            return str(whole(last.outlook))
        # Translators: an outlook and the month it is of: "75 in June".
        return _("%(n)d in %(month)s") % {
            "n": whole(last.outlook),
            "month": date_format(last.month, "F"),
        }

    def _runs(self) -> list[list[OutlookMonth]]:
        """Months that follow each other without a gap."""
        runs: list[list[OutlookMonth]] = []
        before: OutlookMonth | None = None
        for m in self.months:
            if m.is_known:
                if before and before.is_known and months_from(before.month, m.month) == 1:
                    runs[-1].append(m)
                else:
                    runs.append([m])
            before = m
        return runs

    def _pieces(self) -> list[tuple[bool, list[OutlookMonth]]]:
        """Runs cut where looks grow too old: (whether nobody had looked, months)."""
        out: list[tuple[bool, list[OutlookMonth]]] = []
        for run in self._runs():
            out.append((self.unseen[run[0].month], [run[0]]))
            for before, m in pairwise(run):
                old = self.unseen[m.month]
                if old == out[-1][0]:
                    out[-1][1].append(m)
                elif len(out[-1][1]) == 1:
                    out[-1] = (old, [before, m])
                else:
                    out.append((old, [before, m]))
        return out

    def _band(self) -> list[str]:
        out = []
        for old, piece in self._pieces():
            kind = "c-band o-old" if old else "c-band"
            ends = [(self.along.middle(m.month), *self.edges(m)) for m in piece]
            if len(piece) == 1:
                [(x, high, low)] = ends
                out.append(stroke("c-range", x, high, x, low))
                continue
            upper = [(x, high) for x, high, _low in ends]
            out.append(area(kind, [*upper, *((x, low) for x, _high, low in reversed(ends))]))
        return out

    def _line(self) -> list[str]:
        out = []
        for old, piece in self._pieces():
            if len(piece) > 1:
                out.append(trace("c-find o-old" if old else "c-find", [self.at(m) for m in piece]))
            else:
                out.append(dot("c-point", *self.at(piece[0]), 2.6))
        known = [m for m in self.months if m.is_known]
        r = 4 if self.along.step > 9 else 2.6
        out += [dot("c-point o-round", *self.at(m), r) for m in known if m.surveyed]
        end = self._end()
        if end is None:
            return out
        x, last = self._end_x(), known[-1]
        between = range_said(last)
        if self.sheet.narrow:
            low, high = limits(last)
            between = f"{low}–{high}"
        out.append(written(x, end, self._end_said(), "c-plum c-bold c-over"))
        out.append(written(x, end + 16, between, "c-soft c-over"))
        return out

    def _turned(self) -> list[str]:
        """A leader from the line to words below the band, or above it where there is no room."""
        turning = self.turning
        if turning is None:
            return []
        here = [m for m in self.months if m.is_known and m.month >= turning.since.replace(day=1)]
        if not here or not self.along.holds(turning.since):
            return []
        x, y = self.at(here[0])
        words = turning.said(year=turning.since.year != self.months[-1].month.year)
        wide = width_of(words, bold=True)
        furthest = self.sheet.width if self.sheet.narrow else self.along.edge + BESIDE + 60
        places = []
        for start in (x - wide / 2, x - 4, x - wide + 4):
            x0 = max(0.0, min(start, furthest - wide))
            near = [m for m in self.months if m.is_known]
            near = [m for m in near if x0 - 8 <= self.at(m)[0] <= x0 + wide + 8] + [here[0]]
            below = max(self.edges(m)[1] for m in near) + 24
            above = min(self.edges(m)[0] for m in near) - 12
            is_below = below < self.base - 6 or above < self.top + 10
            place = min(below, self.base - 8) if is_below else above
            places.append((self._in_the_way(x0, x0 + wide, place), x0, place))
        _count, x0, place = min(places, key=lambda option: option[0])
        start, end = (y + 5, place - 14) if place > y else (y - 5, place + 4)
        leader = stroke("o-turn", x, start, x, end)
        return [leader, written(x0, place, words, "c-ember c-bold c-over")]

    def _in_the_way(self, start: float, end: float, place: float) -> int:
        """How much words at this height would cover: dated lines, and (far worse) other words."""
        lined = [self.along.day(happening.day) for happening in self.marked.shown]
        count = sum(start < x < end for x in lined)
        if end > self.along.edge + BESIDE - 4 and self.months:
            value = self._end() or 0.0
            taken = [value, value + 16]
            if not self.sheet.narrow:
                order = sorted(self.levels.values(), reverse=True)
                taken += self._beside([self.y(level) for level in order])
            count += 100 * sum(abs(place - other) < 16 for other in taken)
        return count

    def _looks(self, y: float) -> tuple[list[str], float]:
        """The looks of each month."""
        out: list[str] = []
        y = self._row_name(out, y, _("looks that month"))
        counts = [(self.along.middle(m.month), m.looks) for m in self.months]
        rows, foot = tally(counts, self.along.step, y)
        return out + rows, foot

    def _standing(self, y: float) -> tuple[list[str], float]:
        """Trees standing: in the last month and the first, and where the number changed."""
        out: list[str] = []
        y = self._row_name(out, y, _("trees standing"))
        changed = [b for a, b in pairwise(self.months) if a.standing != b.standing]
        wanted = [self.months[-1], self.months[0], *reversed(changed)]
        wanted += [m for m in self.months if m.surveyed]
        places = [(self.along.middle(m.month), m.standing) for m in wanted]
        return out + numbers(places, y + 14), y + 20

    def _row_name(self, out: list[str], y: float, words: str) -> float:
        """The name of a row at its end, or on a phone above it."""
        if self.sheet.narrow:
            out.append(written(0, y + 16, words, "c-soft"))
            return y + 18
        out.append(written(self.along.edge + BESIDE + 6, y + 14, words, "c-soft"))
        return y
