"""Sites beside each other on one scale, and the trees behind an outlook: many small drawings.

A small drawing is the same on desk, phone and paper: the page sets more or fewer of them in a row.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.drawings.belief import STATES, WORDS, Shape
from frontend.drawings.drawn import (
    Drawn,
    day_short,
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
from frontend.drawings.marks import area, stroke, trace, written
from frontend.drawings.pen import wrap
from frontend.drawings.site_months import OutlookMonth, limits

WIDE, PLOT, HIGH = 168.0, 104.0, 72.0  # px of a small drawing, and of its plot
MONTHS = 24
"""How many months a small drawing shows; the last one is the same for all."""

PLUS_MINUS = "\N{PLUS-MINUS SIGN}"


@dataclass(frozen=True, slots=True)
class SiteLine:
    """One site among others: its months, how many trees, whether a walk survey makes it comparable,
    a link to its page, and whether it is the `chosen` one.
    """

    name: str
    trees: int
    months: Sequence[OutlookMonth]
    comparable: bool = True
    url: str = ""
    chosen: bool = False

    @property
    def known(self) -> list[OutlookMonth]:
        return [m for m in self.months if m.is_known] if self.comparable else []


@dataclass(frozen=True, slots=True)
class Sites:
    """All sites on one scale: the drawings as a list, and the same numbers as a table."""

    title: str
    note: str
    said: str
    drawn: tuple[tuple[SiteLine, str], ...]
    table: Drawn

    def chart(self) -> str:
        """The list of small drawings, each under the name of its site."""
        items = []
        for line, svg in self.drawn:
            name = f"<b>{escape(line.name)}</b>"
            if line.url:
                name = f'<a href="{escape(line.url)}">{escape(line.name)}</a>'
            chosen = ' class="is-chosen" aria-current="true"' if line.chosen else ""
            count = ngettext("%d tree", "%d trees", line.trees) % line.trees
            items.append(
                f'<li{chosen}><div class="site-head">{name} <span>{escape(count)}</span></div>'
                f"{svg}</li>"
            )
        return f'<ul class="chart small-sites">{"".join(items)}</ul>'


def sites_on_one_scale(lines: Sequence[SiteLine], *, levels: Mapping[str, float]) -> Sites:
    """Every site's outlook over the last two years, in the order given.

    The scale and the months are the same for all. `levels` are the outlooks of sites whose trees
    are all in one condition; they are the lines. A site without a walk survey has no line: it is
    said that it cannot be compared.
    """
    known = [m for line in lines for m in line.known]
    last = max((m.month for m in known), default=None)
    shown = [m for m in known if last and months_from(m.month, last) < MONTHS]
    named = {c: v for c, v in levels.items() if c in STATES[:3] and is_known(v)}
    floor = _floor(shown, named)
    title = _("All sites on the same scale")
    figures = ", ".join(f"{whole(v)} ({WORDS[c]})" for c, v in named.items())
    note = _("outlook of 100; last value and its plus or minus")
    if figures:
        note += "; " + _("lines: %s") % figures
    if floor > 0:
        note += "; " + _("the scale begins at %d") % floor
    said = _comparison(lines)
    rows = []
    for line in lines:
        if line.known:
            m = line.known[-1]
            figure = (str(whole(m.outlook)), f"{PLUS_MINUS}{_half(m)}", month_said(m.month))
        else:
            figure = (_("not comparable"), "", "")
        rows.append((line.name, str(line.trees), *figure))
    table = Drawn(
        title=title,
        note=note,
        said=said,
        sizes=in_sizes(lambda _size: ""),
        columns=(_("Site"), _("Trees"), _("Outlook of 100"), _("Plus or minus"), _("Month")),
        rows=tuple(rows),
    )
    drawn = tuple((line, _small(line, last, floor, named)) for line in lines)
    return Sites(title, note, said, drawn, table)


def _floor(months: Sequence[OutlookMonth], levels: Mapping[str, float]) -> float:
    """Where the scale of all begins: at the five below the lowest of what is drawn."""
    lowest = min([*(m.low for m in months), *levels.values()], default=0.0)
    return min(90.0, max(0.0, math.floor((lowest - 1) / 5) * 5.0))


def _half(m: OutlookMonth) -> int:
    """The larger half of the band, in whole trees of 100."""
    return max(0, math.ceil(max(m.high - m.outlook, m.outlook - m.low) - 1e-9))


def _comparison(lines: Sequence[SiteLine]) -> str:
    told = [
        _("%(name)s %(n)d, plus or minus %(half)d")
        % {"name": line.name, "n": whole(line.known[-1].outlook), "half": _half(line.known[-1])}
        for line in lines
        if line.known
    ]
    left_out = sum(not line.known for line in lines)
    said = [_("Outlook of 100: %s.") % "; ".join(told)] if told else []
    if left_out:
        said.append(
            ngettext(
                "%d site had no walk survey and cannot be compared.",
                "%d sites had no walk survey and cannot be compared.",
                left_out,
            )
            % left_out
        )
    return " ".join(said) or _("There are no sites yet.")


def _small(line: SiteLine, last: date | None, floor: float, levels: Mapping[str, float]) -> str:
    """One small drawing."""
    top = 4.0
    base = top + HIGH

    def y(outlook: float) -> float:
        return base - HIGH * (min(100.0, max(floor, outlook)) - floor) / (100 - floor)

    out = [stroke("c-grid", 0, y(v), PLOT, y(v)) for v in levels.values()]
    known = line.known
    if not known or last is None:
        said = _("%s: no walk survey, not comparable") % line.name
        words = lines_of(_("no walk survey, not comparable"), PLOT + 20)
        first = base - HIGH / 2 + 4 - 7.5 * (len(words) - 1)
        out.append(written_lines(2, first, words, "c-soft c-over", 15))
        return wrap("".join(out), WIDE, base + 4, title=said, kind="chart-drawing")
    newest = known[-1]

    def x(m: OutlookMonth) -> float:
        return PLOT * (1 - (months_from(m.month, last) + 0.5) / MONTHS)

    runs: list[list[OutlookMonth]] = []
    for m in known:
        if months_from(m.month, last) >= MONTHS:
            continue
        if runs and months_from(runs[-1][-1].month, m.month) == 1:
            runs[-1].append(m)
        else:
            runs.append([m])
    band, find = ("c-band", "c-find s-find") if line.chosen else ("s-band", "s-line")
    for run in runs:
        if len(run) == 1:
            m = run[0]
            out.append(stroke(find, x(m) - 2, y(m.outlook), x(m) + 2, y(m.outlook)))
            continue
        upper = [(x(m), y(max(m.high, m.outlook))) for m in run]
        lower = [(x(m), y(min(m.low, m.outlook))) for m in reversed(run)]
        out.append(area(band, [*upper, *lower]))
        out.append(trace(find, [(x(m), y(m.outlook)) for m in run]))
    place = min(max(y(newest.outlook) + 4, top + 8), base)
    figure = str(whole(newest.outlook))
    ink = "c-plum c-bold" if line.chosen else "c-bold"
    out.append(written(PLOT + 6, place, figure, ink))
    after = PLOT + 10 + width_of(figure, bold=True)
    out.append(written(after, place, f"{PLUS_MINUS}{_half(newest)}", "c-soft"))
    low, high = limits(newest)
    said = _("%(name)s: %(n)d in %(month)s, somewhere between %(low)d and %(high)d") % {
        "name": line.name,
        "n": whole(newest.outlook),
        "month": month_said(newest.month),
        "low": low,
        "high": high,
    }
    return wrap("".join(out), WIDE, base + 4, title=said, kind="chart-drawing")


MOST_DATES = 4
PER_STEM = 60  # trees: of more, one stem stands for ten, a hundred …


@dataclass(frozen=True, slots=True)
class TreesOn:
    """The trees of a site on one day as their gauges show them, and the outlook of them all."""

    day: date
    shapes: Sequence[Shape]
    outlook: float


@dataclass(frozen=True, slots=True)
class _Behind:
    width: float
    left: float
    right: float


BEHIND = {
    "wide": _Behind(420, 92, 44),
    "narrow": _Behind(350, 0, 44),
    "paper": _Behind(330, 86, 40),
}


def trees_behind(days: Sequence[TreesOn]) -> Drawn:
    """The trees behind the number: a row of gauges for each of the newest four days, thriving
    first, with the outlook at its end. Of more than sixty trees one stem stands for ten, and so on.
    """
    shown = sorted(days, key=lambda on: on.day)[-MOST_DATES:]
    each = per_stem(max((len(on.shapes) for on in shown), default=0))
    title = _("The trees behind the number")
    note = ""
    if each > 1:
        note = ngettext("one stem for up to %d tree", "one stem for up to %d trees", each) % each
    said = " ".join(_day_said(on) for on in shown) or _(
        "Nobody has looked yet, so nothing can be said."
    )
    return Drawn(
        title=title,
        note=note,
        said=said,
        sizes=in_sizes(lambda size: _behind(shown, each, BEHIND[size], title, said)),
        columns=(_("Day"), *(str(WORDS[state]) for state in STATES), _("Outlook of 100")),
        rows=tuple(
            (
                day_short(on.day),
                *(str(_count(on, state)) for state in STATES),
                _outlook_of(on),
            )
            for on in shown
        ),
    )


def per_stem(trees: int) -> int:
    """For how many trees one stem stands."""
    each = 1
    while trees > each * PER_STEM:
        each *= 10
    return each


def _count(on: TreesOn, state: str) -> int:
    return sum(shape.condition == state for shape in on.shapes)


def _outlook_of(on: TreesOn) -> str:
    return str(whole(on.outlook)) if is_known(on.outlook) else _("not known")


def _day_said(on: TreesOn) -> str:
    counts = ", ".join(f"{_count(on, s)} {WORDS[s]}" for s in STATES if _count(on, s))
    return _("%(day)s: %(counts)s; outlook %(n)s.") % {
        "day": day_short(on.day),
        "counts": counts or _("no tree"),
        "n": _outlook_of(on),
    }


def _behind(shown: Sequence[TreesOn], each: int, sheet: _Behind, title: str, said: str) -> str:
    out: list[str] = []
    stacked = sheet.left == 0
    y = 16.0
    edge = sheet.width - (0 if stacked else sheet.right)
    for i, on in enumerate(shown):
        bold = "c-bold" if i == len(shown) - 1 else ""
        figure = _outlook_of(on) if is_known(on.outlook) else "–"
        out.append(written(0, y, day_short(on.day), bold))
        out.append(written(sheet.width, y, figure, "c-bold c-end"))
        if stacked:
            y += 22
        x = sheet.left
        for k, state in enumerate(STATES):
            stems = _stems(on.shapes, state, each)
            for doubt in stems:
                if x + 14 > edge and x > sheet.left:
                    x, y = sheet.left, y + 22
                out.append(pixels(state, doubt, round(x), round(y - 13)))
                x += 18
            if stems and k < len(STATES) - 1:
                x += 5
        y += 30
    if not shown:
        out.append(written(0, y, _("not looked at yet"), "c-soft"))
        y += 20
    return wrap("".join(out), sheet.width, y - 14, title=title, desc=said, kind="chart-drawing")


def _stems(shapes: Sequence[Shape], state: str, each: int) -> list[int]:
    """The doubts of the stems of one condition, the surest first; of many trees every `each`th."""
    doubts = sorted(shape.doubt for shape in shapes if shape.condition == state)
    return doubts[::each]
