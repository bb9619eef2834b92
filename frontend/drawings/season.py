"""The months of the year in a row, as an almanac prints them: a full block for the months meant, a
hatched one for those beside them, bare ground for the rest; a ring round the month it is now."""

from collections.abc import Collection

from django.utils.dates import MONTHS

from frontend.drawings.pen import Sheet, at, circle, num

CELL, HIGH = 24.0, 46.0
TOP, GROUND = 25.0, 39.0


def season(
    months: Collection[int],
    beside: Collection[int] = (),
    now: int | None = None,
    *,
    kind: str = "",
    title: str = "",
) -> str:
    """Twelve months from January on. `months` and `beside` are numbers from 1 to 12 as they fall
    at the reader's place; `kind` picks the mark: "" for signs of trouble, "d-do" for work."""
    sheet = Sheet(f"season-{sorted(months)}-{sorted(beside)}-{kind}", 12 * CELL, HIGH)
    sheet.stroke([(1, GROUND), (6 * CELL, GROUND + 0.6), (12 * CELL - 1, GROUND)], "d-mid")
    for month in range(1, 13):
        left = (month - 1) * CELL
        middle = left + CELL / 2
        letter = str(MONTHS[month])[:1].upper()
        sheet.words(
            middle, 15, letter, "season-letter is-on" if month in months else "season-letter"
        )
        if month == now:
            sheet.stroke(circle(middle, 10.5, 9.4), "season-now", closed=True, wobble=0.5)
        if month in months:
            _block(sheet, left)
        elif month in beside:
            _hatch(sheet, left)
        else:
            sheet.path("d-faint", f"M{at(middle, GROUND + 0.4)}v3")
    return sheet.svg(title, kind=f"drawing season {kind}".strip())


def _block(s: Sheet, left: float) -> None:
    low, high = s.near((left + 1.2, TOP), 0.6), s.near((left + CELL - 1.2, TOP), 0.6)
    s.path(
        "d-mark-fill",
        f"M{at(left + 1.2, GROUND - 1.4)}L{at(*low)}L{at(*high)}"
        f"L{at(left + CELL - 1.2, GROUND - 1.4)}Z",
    )


def _hatch(s: Sheet, left: float) -> None:
    for x in range(2, int(CELL) - 4, 5):
        lean = s.hand.uniform(-0.5, 0.5)
        s.path(
            "d-mark-fine",
            f"M{at(left + x, GROUND - 2)}L{num(left + x + 5 + lean)} {num(TOP + 1)}",
        )
