"""A wound over time: each measured width as a bar to scale, newest last, with its day."""

from collections.abc import Sequence
from datetime import date

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from frontend.drawings.pen import num, wrap

WIDE, LINE, TOP = 300.0, 24.0, 4.0
LEFT, MOST = 92.0, 140.0  # where bars begin, and how long the longest is


def closing_bars(rows: Sequence[tuple[date, float, str]], title: str = "") -> str:
    """Bars for (day, width in meters, width in words); all to one scale, from zero."""
    widest = max((width for _day, width, _words in rows), default=0.0) or 1.0
    out = []
    for n, (day, width, words) in enumerate(rows):
        y = TOP + n * LINE
        # Translators: a day beside a bar, as a Django date format.
        when = date_format(day, _("M j, Y"))
        out.append(f'<text x="0" y="{num(y + 14)}">{when}</text>')
        length = MOST * width / widest
        bar = f"M{num(LEFT)} {num(y + 10)}h{num(length)}"
        out.append(f'<path class="w-bar" d="{bar}" data-m="{width:.4f}"/>')
        out.append(f'<text x="{num(LEFT + length + 6)}" y="{num(y + 14)}">{words}</text>')
    height = 2 * TOP + len(rows) * LINE
    return wrap("".join(out), WIDE, height, title=title, kind="drawing closing")
