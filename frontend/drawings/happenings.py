"""What happened along a chart of months: dated lines with words, and shaded stretches of time.

Nothing is said about what caused what: a line is a day and its words. Words stand above the chart
where there is room for all of them; otherwise, and on a phone, letters do, with a list below.
"""

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.translation import ngettext

from frontend.drawings.drawn import (
    LINE,
    block,
    day_short,
    lines_of,
    months_from,
    width_of,
    written_lines,
)
from frontend.drawings.marks import spread, stroke, written

MOST = 12  # happenings in the drawing; the table has all
LANES = 3  # rows of words above the chart, before letters take over
TRIES = 4000  # steps of the search for places
ROOM = 190.0  # px for the words of one happening
LETTER = 13.0  # px from one letter to the next


@dataclass(frozen=True, slots=True)
class Happening:
    """Something that happened on a day. What was `planted` has a dotted line."""

    day: date
    words: str
    planted: bool = False


@dataclass(frozen=True, slots=True)
class Spell:
    """A stretch of days with one thing in common ("no rain, 51 days")."""

    start: date
    end: date
    words: str


@dataclass(frozen=True, slots=True)
class Along:
    """Where days lie on the sheet: `months` of `step` px from `left` on, the first at `start`."""

    start: date
    months: int
    left: float
    step: float

    @property
    def edge(self) -> float:
        return self.left + self.months * self.step

    def middle(self, month: date) -> float:
        """The middle of a month."""
        return self.left + (months_from(self.start, month) + 0.5) * self.step

    def day(self, day: date, *, end: bool = False) -> float:
        """A day: its morning, or its `end`."""
        length = calendar.monthrange(day.year, day.month)[1]
        share = (day.day - (0 if end else 1)) / length
        return self.left + (months_from(self.start, day) + share) * self.step

    def holds(self, day: date) -> bool:
        return 0 <= months_from(self.start, day) < self.months


def letter(place: int) -> str:
    """a to z, then aa, ab …"""
    first, last = divmod(place, 26)
    return (letter(first - 1) if first else "") + chr(ord("a") + last)


@dataclass(frozen=True, slots=True)
class Label:
    """Words of a happening in a lane above the chart, on one side of its line at x."""

    happening: Happening
    x: float
    lane: int
    start: float
    end: float
    lines: tuple[str, ...]

    @property
    def before(self) -> bool:
        return self.end < self.x


@dataclass(frozen=True, slots=True)
class Marked:
    """The happenings of one drawing: how much room they need above it, and what stands there."""

    shown: tuple[Happening, ...]
    left_out: int
    labels: tuple[Label, ...]
    lane_height: float

    @property
    def above(self) -> float:
        """Px above the plot."""
        if not self.shown:
            return 8
        if not self.labels:
            return 20
        return 8 + self.lane_height * (1 + max(label.lane for label in self.labels))


def mark(happenings: Sequence[Happening], along: Along, width: float, *, words: bool) -> Marked:
    """Finds places for the newest happenings within the chart; without `words` letters only."""
    inside = sorted((h for h in happenings if along.holds(h.day)), key=lambda h: h.day)
    shown = tuple(inside[-MOST:])
    labels = _labels(shown, along, width) if words else ()
    tallest = max((len(label.lines) for label in labels), default=0)
    return Marked(shown, len(inside) - len(shown), labels, LINE * (tallest + 1) + 4)


def _labels(shown: Sequence[Happening], along: Along, width: float) -> tuple[Label, ...]:
    """A place for the words of every happening, in as few lanes as can be, or () for none."""
    choices: list[list[Label]] = []
    for happening in shown:
        x = along.day(happening.day)
        words = tuple(lines_of(happening.words, ROOM, most=2, bold=True))
        wide = max(
            *(width_of(line, bold=True) for line in words), width_of(day_short(happening.day))
        )
        places = [
            Label(happening, x, lane, start, start + wide, words)
            for lane in range(LANES)
            for start in (x + 5, x - 5 - wide)
        ]
        choices.append([p for p in places if p.start >= 0 and p.end <= width])
    for lanes in range(1, LANES + 1):
        found = _fit([[p for p in places if p.lane < lanes] for places in choices])
        if found:
            return found
    return ()


def _fit(choices: Sequence[Sequence[Label]]) -> tuple[Label, ...]:
    """One label of each, such that all are free; () if none is found in a bounded search."""
    placed: list[Label] = []
    tried = [0]  # for each label so far, which choice comes next
    for _turn in range(TRIES):
        if len(placed) == len(choices):
            return tuple(placed)
        here = choices[len(placed)]
        at = next((k for k in range(tried[-1], len(here)) if _is_free(here[k], placed)), None)
        if at is not None:
            placed.append(here[at])
            tried[-1] = at + 1
            tried.append(0)
        elif not placed:
            return ()
        else:
            placed.pop()
            tried.pop()
    return ()


def _is_free(label: Label, placed: Sequence[Label]) -> bool:
    """No words over words in a lane, and no line through the words of a lane below its own."""
    for other in placed:
        meet = label.start < other.end + 8 and label.end + 8 > other.start
        if label.lane == other.lane and meet:
            return False
        if other.lane >= label.lane and label.start - 2 < other.x < label.end + 2:
            return False
        if label.lane >= other.lane and other.start - 2 < label.x < other.end + 2:
            return False
    return True


def lines(marked: Marked, along: Along, top: float, base: float) -> list[str]:
    """The dated lines through the plot, and what stands above them."""
    out = []
    if marked.labels:
        for label in marked.labels:
            kind = "h-planted" if label.happening.planted else "c-event"
            y = top - 6 - marked.lane_height * label.lane - LINE * len(label.lines)
            out.append(stroke(kind, label.x, y - 10, label.x, base))
            x, side = (label.end, " c-end") if label.before else (label.start, "")
            out.append(written_lines(x, y, label.lines, f"c-bold{side}"))
            day = day_short(label.happening.day)
            out.append(written(x, y + LINE * len(label.lines), day, f"c-soft{side}"))
        return out
    xs = [along.day(happening.day) for happening in marked.shown]
    places = spread(xs, LETTER, along.left, along.edge) if xs else []
    for i, (happening, x, place) in enumerate(zip(marked.shown, xs, places, strict=True)):
        kind = "h-planted" if happening.planted else "c-event"
        out.append(stroke(kind, x, top - 4, x, base))
        out.append(written(place, top - 8, letter(i), "c-bold c-mid"))
    return out


def shades(spells: Sequence[Spell], along: Along, top: float, base: float) -> list[str]:
    """The stretches, shaded; those outside the chart are left out."""
    out = []
    for spell in visible(spells, along):
        x0, x1 = _ends(spell, along)
        out.append(block("h-spell", x0, top, x1 - x0, base - top))
    return out


def visible(spells: Sequence[Spell], along: Along) -> list[Spell]:
    """The stretches that reach into the chart, in order."""
    inside = [s for s in spells if s.start <= s.end and _ends(s, along)[1] > _ends(s, along)[0]]
    return sorted(inside, key=lambda spell: spell.start)[-MOST:]


def _ends(spell: Spell, along: Along) -> tuple[float, float]:
    return (
        max(along.left, along.day(spell.start)),
        min(along.edge, along.day(spell.end, end=True)),
    )


def named_in_place(spells: Sequence[Spell], along: Along) -> list[tuple[float, list[str]]]:
    """Where the words of the stretches stand inside the plot: (middle, lines); [] where the words
    of two would meet.
    """
    out: list[tuple[float, list[str]]] = []
    last = along.left
    for spell in visible(spells, along):
        x0, x1 = _ends(spell, along)
        words = lines_of(spell.words, max(x1 - x0, 62))
        half = max(width_of(line) for line in words) / 2
        middle = min(max((x0 + x1) / 2, along.left + half + 2), along.edge - half - 2)
        if middle - half < last:
            return []
        last = middle + half + 6
        out.append((middle, words))
    return out


def key(
    marked: Marked, spells: Sequence[Spell], along: Along, width: float, y: float, *, named: bool
) -> tuple[list[str], float]:
    """The list below the chart: what its letters mean, and (unless `named`) what is shaded."""
    out = []
    if not marked.labels:
        days = [day_short(happening.day) for happening in marked.shown]
        room = width - 22 - max(map(width_of, days), default=0.0) - 8
        for i, (happening, day) in enumerate(zip(marked.shown, days, strict=True)):
            out.append(written(0, y + 14, letter(i), "c-bold"))
            out.append(written(22, y + 14, day, "c-soft"))
            words = lines_of(happening.words, room)
            out.append(written_lines(width - room, y + 14, words))
            y += LINE * len(words) + 2
    if marked.left_out:
        said = ngettext(
            "%d earlier one is in the table", "%d earlier ones are in the table", marked.left_out
        )
        out.append(written(22, y + 14, said % marked.left_out, "c-soft"))
        y += LINE + 2
    for spell in () if named else visible(spells, along):
        out.append(block("h-spell h-sample", 0.5, y + 3.5, 14, 11))
        words = lines_of(spell.words, width - 22)
        out.append(written_lines(22, y + 14, words, "c-ember"))
        y += LINE * len(words) + 2
    return out, y
