"""Signs that only trained people record, drawn like those of `signs`, 168 x 112."""

from collections.abc import Callable

from frontend.drawings.growth import foot, leaf, pole
from frontend.drawings.pen import Sheet, at


def _bracket(s: Sheet) -> None:
    """Two shelves out of the wood; no mushroom on the soil."""
    foot(s, 74, half=19, flare=15, ticks=(4, 66, 5))
    for x, y, reach in ((92, 40, 30), (94, 68, 40)):
        shelf = [
            (x, y - 10),
            (x + reach * 0.6, y - 8),
            (x + reach, y + 1),
            (x + reach * 0.72, y + 7),
            (x, y + 8),
        ]
        s.wash(shelf, "d-mark-wash", off=(0, 0))
        s.stroke(shelf, "d-mark", closed=True)
        for inner in (0.45, 0.7):
            s.stroke(
                [
                    (x + 4, y - 6 + inner * 4),
                    (x + reach * inner, y - 4),
                    (x + reach * inner, y + 4),
                ],
                "d-mark-fine",
            )


def _hole_rows(s: Sheet) -> None:
    """Level rows of small holes across the trunk."""
    pole(s, half=29)
    for row, y in enumerate((26, 46, 66, 86)):
        for k in range(4):
            x = 64 + k * 11 + (row % 2) * 3 + s.hand.uniform(-0.6, 0.6)
            s.path("d-mark-fill", f"M{at(x, y)}a2.9 2.5 0 1 0 5.8 0a2.9 2.5 0 1 0 -5.8 0Z")


def _black_tips(s: Sheet) -> None:
    """A twig whose youngest leaves hang black, while the older ones stand."""
    s.stroke([(4, 88), (44, 70), (80, 50)])
    s.stroke([(80, 50), (112, 32), (146, 18)], "d-mark")
    for x, y, angle in ((16, 83, -84), (28, 78, 58), (46, 69, -96), (60, 62, 66)):
        leaf(s, x, y, angle, 31)
    for x, y, angle, size in ((90, 45, 96, 28), (118, 30, 86, 27), (146, 18, 98, 25)):
        leaf(s, x, y, angle, size, ink="d-mark", wash="d-mark-fill", rib=0.0)


RARER_SIGNS: dict[str, Callable[[Sheet], None]] = {
    "bracket": _bracket,
    "hole_rows": _hole_rows,
    "black_tips": _black_tips,
}
