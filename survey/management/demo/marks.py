"""What a neighbor's photo of the base may show beside a cut: drawn over the trunk, by name."""

from survey.management.demo.brush import Brush, lightness

WOOD, WOOD_EDGE = "#E0C08C", "#5A3E28"
CHIPS = ["#9A7350", "#87623F", "#AD8861", "#7A5638", "#BC9A75"]
MIDDLE = 238.0  # where the trunk stands in the picture

Bark = tuple[str, str, str]


def base_mark(brush: Brush, mark: str, bark: Bark) -> None:
    """Draw one mark at the base. Raises KeyError for a mark that does not exist."""
    MARKS[mark](brush, bark)


def _fungus(brush: Brush, bark: Bark) -> None:
    for x, y, wide in ((196, 262, 30), (214, 238, 24), (186, 286, 34), (268, 270, 22)):
        brush.oval(x, y + 4, wide, 9, lightness(bark[1], 0.8))
        brush.oval(x, y, wide, 10, "#C9A26A")
        brush.oval(x, y - 2, wide - 5, 6, "#DDBE8C")


def _holes(brush: Brush, bark: Bark) -> None:
    for _ in range(11):
        x, y = MIDDLE + brush.between(-44, 44), brush.between(90, 262)
        brush.oval(x, y, 5, 5, lightness(bark[1], 0.45))
        brush.dash(x, y + 6, brush.between(-2, 2), brush.between(8, 22), "#D9B98A", 3)
    for _ in range(90):
        x, y = brush.inside(MIDDLE, 312, 92, 14)
        brush.oval(x, y, 4, 2.4, brush.one_of(["#D9B98A", "#CDA873", "#E4CBA2"]))


def _root(brush: Brush, bark: Bark) -> None:
    way = [(128, 300), (170, 268), (236, 254), (306, 270), (352, 306)]
    brush.line(way, lightness(bark[1], 0.8), 30)
    brush.line([(x, y - 3) for x, y in way], bark[2], 22)
    brush.line([(x, y - 9) for x, y in way], lightness(bark[2], 1.12), 5)


def _heaped(brush: Brush, bark: Bark) -> None:
    brush.polygon(
        [(40, 352), (120, 272), (182, 206), (238, 188), (296, 206), (360, 274), (440, 352)],
        CHIPS[1],
    )
    for _ in range(520):
        x = brush.between(52, 428)
        top = 192 + abs(x - MIDDLE) * 0.78
        y = brush.between(min(top, 348), 350)
        brush.dash(x, y, brush.between(-13, 13), brush.between(-5, 5), brush.one_of(CHIPS), 5)


def _torn(brush: Brush, bark: Bark) -> None:
    for x in (196, 226, 252, 280):
        top, low = brush.between(84, 130), brush.between(210, 250)
        brush.polygon([(x - 8, top), (x + 9, top + 8), (x + 7, low), (x - 7, low - 6)], WOOD)
        brush.line([(x - 8, top), (x - 7, low - 6)], WOOD_EDGE, 3)
        brush.polygon(
            [(x - 6, low - 8), (x + 7, low - 2), (x + 16, low + 34), (x + 5, low + 38)], bark[1]
        )


def _sunken(brush: Brush, bark: Bark) -> None:
    left = [(226, 20), (214, 90), (222, 168), (232, 236)]
    right = [(240, 232), (254, 160), (250, 84), (238, 20)]
    brush.polygon([*left, *right], lightness(bark[1], 0.72))
    brush.line([(233, 24), (230, 96), (238, 170), (237, 228)], lightness(bark[1], 0.4), 4)
    brush.line(left, bark[2], 4)
    brush.line(right, bark[2], 4)


def _soggy(brush: Brush, bark: Bark) -> None:
    for x, y, wide, high in ((150, 324, 96, 17), (322, 318, 104, 19), (238, 344, 150, 13)):
        brush.oval(x, y, wide, high, "#8C9AA0")
        brush.oval(x + 12, y - 3, wide * 0.6, high * 0.45, "#AEBBC0")


MARKS = {
    "fungus": _fungus,
    "holes": _holes,
    "root": _root,
    "heaped": _heaped,
    "torn": _torn,
    "sunken": _sunken,
    "soggy": _soggy,
}
