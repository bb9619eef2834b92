"""A chart as it stands on a page: drawings of their own for desk, phone and paper, and its table.

Whoever draws a chart fills in the table from the same numbers, in the same function: what the
drawing shows and what the table says cannot drift apart.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape

from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _

from frontend.drawings.marks import written
from frontend.drawings.pen import num

SIZES = ("wide", "narrow", "paper")
LINE = 16.0  # from one line of 12 px words to the next

MINUS = "\N{MINUS SIGN}"


@dataclass(frozen=True, slots=True)
class Drawn:
    """One chart: `title` and `said` (the sentence), a `note` on how to read it, `sizes` (an svg
    for wide, narrow and paper), and the same numbers as `columns` and `rows` of words.
    """

    title: str
    note: str
    said: str
    sizes: Mapping[str, str]
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def chart(self) -> str:
        """The drawings, of which a style sheet shows one."""
        parts = "".join(f'<div class="chart-{size}">{self.sizes[size]}</div>' for size in SIZES)
        return f'<div class="chart has-paper">{parts}</div>'

    def table(self, ident: str = "") -> str:
        """The table in a frame that scrolls by itself. The first cell of a row is its head."""
        mark = f' id="{escape(ident)}"' if ident else ""
        head = "".join(f'<th scope="col">{escape(name)}</th>' for name in self.columns)
        body = "".join(
            (f'<tr><th scope="row">{escape(first)}</th>' if first else "<tr><td></td>")
            + "".join(f"<td>{escape(cell)}</td>" for cell in rest)
            + "</tr>"
            for first, *rest in self.rows
        )
        name = escape(self.title)
        return (
            f'<div class="chart-scroll"{mark} tabindex="0" role="region" aria-label="{name}">'
            f'<table class="table chart-table"><caption class="visually-hidden">{name}</caption>'
            f"<thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
        )


def in_sizes(draw: Callable[[str], str]) -> dict[str, str]:
    """One drawing for each size."""
    return {size: draw(size) for size in SIZES}


# Widths of letters of 12 px in a wide sans serif; narrower fonts leave a little room.
_WIDTHS = {
    **dict.fromkeys("ijl.,:;'’|!", 3.6),
    **dict.fromkeys("tfrI()[]- ·“”", 4.8),
    **dict.fromkeys("acesvxyzkJ", 6.6),
    **dict.fromkeys("mwMWQOGN@%—…", 11.0),
}


def width_of(words: str, *, bold: bool = False) -> float:
    """About how wide words of 12 px are; a little more rather than less."""
    wide = sum(_WIDTHS.get(c, 8.2 if c.isupper() else 7.4) for c in words)
    return wide * (1.08 if bold else 1.0)


def lines_of(words: str, room: float, *, most: int = 3, bold: bool = False) -> list[str]:
    """Words broken into lines no wider than `room`; what is beyond `most` lines ends in "…".

    A word that is too long for a line by itself is cut: the table has it whole.
    """
    lines: list[str] = []
    for word in " ".join(str(words).split()).split(" "):
        pieces = _cut(word, room, bold)
        if lines and width_of(f"{lines[-1]} {pieces[0]}", bold=bold) <= room:
            lines[-1] += f" {pieces[0]}"
            pieces = pieces[1:]
        lines += pieces
    if len(lines) > most:
        lines = lines[:most]
        last = lines[-1]
        while last and width_of(f"{last}…", bold=bold) > room:
            last = last[:-1]
        lines[-1] = f"{last.rstrip()}…"
    return lines


def _cut(word: str, room: float, bold: bool) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and width_of(pieces[-1] + letter, bold=bold) > room:
            pieces.append("")
        pieces[-1] += letter
    return pieces


def written_lines(
    x: float, y: float, lines: Iterable[str], kind: str = "", step: float = LINE
) -> str:
    """Lines of words below each other, the first at y."""
    return "".join(written(x, y + i * step, said, kind) for i, said in enumerate(lines))


def block(kind: str, x: float, y: float, wide: float, high: float) -> str:
    """A box."""
    return (
        f'<rect class="{kind}" x="{num(x)}" y="{num(y)}" '
        f'width="{num(max(wide, 0.0))}" height="{num(max(high, 0.0))}"/>'
    )


def is_known(value: float | None) -> bool:
    """A number that can be drawn: neither missing nor infinite."""
    return value is not None and math.isfinite(value)


def whole(value: float) -> int:
    """Rounded the way people do it, halves up."""
    return math.floor(value + 0.5)


def signed(value: float) -> str:
    """ "+4.6", "−1.5", with a true minus; big ones without tenths."""
    size = abs(value)
    if round(size, 1) == 0:
        return number_format(0.0, 1)
    return ("+" if value > 0 else MINUS) + number_format(size, 1 if size < 99.95 else 0)


def in_hundred(share: float) -> str:
    """ "72 in 100", and never quite none or all: nobody is that sure of a tree."""
    if not is_known(share):
        return _("not known")
    if share < 0.005:
        return _("under 1 in 100")
    if share >= 0.995:
        return _("over 99 in 100")
    return _("%d in 100") % whole(share * 100)


def day_short(day: date, *, year: bool = True) -> str:
    """ "Sep 8, 2025" or "Sep 8"."""
    # Translators: a day in short with and without its year, as Django date formats.
    return date_format(day, _("M j, Y") if year else _("M j"))


def month_said(month: date) -> str:
    """ "June 2026"."""
    # Translators: a month, as a Django date format.
    return date_format(month, _("F Y"))


def capital(words: str) -> str:
    """A sentence with its first letter large, whatever it begins with."""
    return words[:1].upper() + words[1:]


def months_from(start: date, month: date) -> int:
    """Whole months from one month to another."""
    return (month.year - start.year) * 12 + month.month - start.month


def to_hundred(shares: Sequence[float]) -> list[int]:
    """Shares as whole numbers that add up to 100, by largest remainder; the first wins a tie."""
    total = sum(shares)
    if not total > 0:
        return [0] * len(shares)
    exact = [share * 100 / total for share in shares]
    # Remainders are compared to a billionth, so that equal shares are a tie on every machine.
    floors = [math.floor(value + 1e-9) for value in exact]
    order = sorted(range(len(shares)), key=lambda i: (-round(exact[i] - floors[i], 9), i))
    for i in order[: 100 - sum(floors)]:
        floors[i] += 1
    return floors
