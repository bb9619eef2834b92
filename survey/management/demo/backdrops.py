"""Where the demo's photos were taken: sky, houses, hedge or sea, and what lies on the ground."""

import numpy as np

from survey.management.demo.brush import Brush, mixed

SKY = {"summer": "#D9E4E6", "dry": "#E6E6DA", "winter": "#DDE0E2", "spring": "#DCE7E4"}
LAWN = {
    "summer": ["#8FA06A", "#7F925C", "#9AAB76", "#71844F"],
    "spring": ["#8DA565", "#7C9656", "#9BB173", "#6D874A"],
    "dry": ["#B2A873", "#A69D69", "#BDB27F", "#97905D"],
    "winter": ["#9AA17C", "#8B9270", "#A7AD88", "#7D8564"],
}
SOIL = ["#8C7458", "#7D6850", "#9A8265"]


def behind(brush: Brush, place: str, horizon: float) -> None:
    """Houses, a hedge, a wall or the sea: where the picture was taken."""
    if place == "shore":
        brush.box(0, horizon - 34, 480, horizon + 6, "#A9BFC4")
        for _ in range(26):
            x = brush.between(0, 480)
            brush.dash(x, horizon - brush.between(2, 30), brush.between(16, 44), 0, "#B9CCD0", 2)
        brush.polygon(
            [(300, horizon - 34), (372, horizon - 52), (480, horizon - 44), (480, horizon - 34)],
            "#93A59B",
        )
        for _ in range(60):
            x = brush.between(0, 480)
            brush.blade(
                x,
                horizon + 8,
                brush.between(-5, 5),
                brush.between(10, 26),
                brush.one_of(["#A8A878", "#989A69", "#B7B58B"]),
                3,
            )
        return
    if place in {"street", "square"}:
        x = brush.between(-60, -10)
        while x < 480:
            wide, high = brush.between(84, 132), brush.between(74, 112)
            wall = brush.one_of(["#C9BBA8", "#C4B1A0", "#BFC0B4", "#CDB9A0", "#B9B3AC"])
            roof = brush.one_of(["#9B6B55", "#8B7F78", "#A77B5E", "#7C8078"])
            brush.box(x, horizon - high, x + wide, horizon + 6, wall)
            brush.polygon(
                [
                    (x - 5, horizon - high),
                    (x + wide / 2, horizon - high - 34),
                    (x + wide + 5, horizon - high),
                ],
                roof,
            )
            for row in (0, 1):
                for column in (0.18, 0.5, 0.76):
                    wx, wy = x + wide * column, horizon - high + 14 + row * 36
                    brush.box(wx, wy, wx + 13, wy + 19, "#7E8590")
            x += wide + brush.between(0, 16)
        return
    for left, wide, high in ((18, 96, 62), (136, 74, 46)):
        brush.box(left, horizon - high, left + wide, horizon, "#C9BBA8")
        brush.polygon(
            [
                (left - 8, horizon - high + 2),
                (left + wide / 2, horizon - high - 34),
                (left + wide + 8, horizon - high + 2),
            ],
            "#9B6B55" if left < 100 else "#8B7F78",
        )
        for column in (0.2, 0.6):
            brush.box(
                left + wide * column,
                horizon - high + 18,
                left + wide * column + 15,
                horizon - high + 36,
                "#7E8590",
            )
    for x in np.arange(170 if place == "park" else 230, 500, 11):
        brush.oval(
            x,
            horizon - brush.between(2, 12),
            15,
            brush.between(15, 25),
            brush.one_of(["#6F8562", "#7C9069", "#64795A"]),
        )
    if place == "school":
        for x in np.arange(0, 490, 22):
            brush.line([(x, horizon - 30), (x, horizon + 8)], "#8F9488", 3)
        brush.line([(0, horizon - 26), (480, horizon - 26)], "#8F9488", 3)
        brush.line([(0, horizon - 8), (480, horizon - 8)], "#8F9488", 3)


def ground(brush: Brush, place: str, season: str, horizon: float) -> None:
    lawn = LAWN[season]
    if place == "square":
        brush.box(0, horizon + 4, 480, 360, "#C9C1B2")
        for row in range(7):
            y = horizon + 10 + row * row * 4.2
            brush.line([(0, y), (480, y)], "#B7AE9E", 2)
        for step in range(-6, 13):
            brush.line(
                [(240 + (step - 3) * 26, horizon + 6), (240 + (step - 3) * 88, 360)], "#B7AE9E", 2
            )
        brush.oval(240, 292, 92, 22, SOIL[1])
        return
    brush.box(0, horizon + 4, 480, 360, lawn[0])
    for step in range(6):  # the stripes that a mower leaves
        left = step * 112 - 70
        brush.polygon(
            [
                (left, 360),
                (left + 60, 360),
                (90 + step * 72 - 20, horizon + 6),
                (90 + step * 72 - 46, horizon + 6),
            ],
            mixed(lawn[0], "#FFFFFF", 0.07),
        )
    if place == "street":
        brush.polygon([(0, 318), (480, 306), (480, 360), (0, 360)], "#8F8D8A")
        brush.polygon([(0, 312), (480, 300), (480, 308), (0, 321)], "#B9B4AA")
        brush.polygon(
            [(0, horizon + 18), (480, horizon + 10), (480, horizon + 34), (0, horizon + 46)],
            "#CFC6B5",
        )
        return
    brush.polygon([(0, 322), (480, 258), (480, 292), (0, 360)], "#CFC6B5")
