"""A brush on a canvas: a few marks, measured in picture points, with dice of its own."""

import math

import numpy as np
from PIL import ImageDraw

Point = tuple[float, float]


def _parts(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def mixed(colour: str, other: str, share: float) -> str:
    """`colour` with `share` (0 to 1) of another in it."""
    pairs = zip(_parts(colour), _parts(other), strict=True)
    return "#" + "".join(f"{round(a + (b - a) * share):02X}" for a, b in pairs)


def lightness(colour: str, factor: float) -> str:
    """`colour` made lighter (more than 1) or darker."""
    return "#" + "".join(f"{min(255, round(part * factor)):02X}" for part in _parts(colour))


class Brush:
    """Draws on a canvas that is `finer` times as large as the picture."""

    def __init__(self, canvas: ImageDraw.ImageDraw, finer: int, dice: np.random.Generator) -> None:
        self._canvas, self._finer, self._dice = canvas, finer, dice

    # -- dice
    def between(self, low: float, high: float) -> float:
        return low + (high - low) * self._dice.random()

    def many(self, count: int, low: float, high: float) -> list[float]:
        return (low + (high - low) * self._dice.random(count)).tolist()

    def chance(self, share: float) -> bool:
        return bool(self._dice.random() < share)

    def one_of(self, things: list[str]) -> str:
        return things[int(self._dice.random() * len(things))]

    def inside(self, x: float, y: float, wide: float, high: float) -> Point:
        """A point inside an ellipse with these half axes."""
        turn, out = 2 * math.pi * self._dice.random(), math.sqrt(self._dice.random())
        return x + wide * out * math.cos(turn), y + high * out * math.sin(turn)

    @staticmethod
    def away(start: Point, degrees: float, reach: float) -> Point:
        """The point `reach` away from `start`, `degrees` clockwise from straight up."""
        turn = math.radians(degrees)
        return start[0] + reach * math.sin(turn), start[1] - reach * math.cos(turn)

    # -- marks
    def _scaled(self, points: list[Point]) -> list[Point]:
        return [(x * self._finer, y * self._finer) for x, y in points]

    def box(self, left: float, top: float, right: float, low: float, colour: str) -> None:
        self._canvas.rectangle(self._scaled([(left, top), (right, low)]), fill=colour)

    def polygon(self, points: list[Point], colour: str) -> None:
        self._canvas.polygon(self._scaled(points), fill=colour)

    def oval(self, x: float, y: float, wide: float, high: float, colour: str) -> None:
        """An ellipse around a middle, with half axes."""
        self._canvas.ellipse(
            self._scaled([(x - wide, y - high), (x + wide, y + high)]), fill=colour
        )

    def line(self, points: list[Point], colour: str, width: float) -> None:
        self._canvas.line(
            self._scaled(points), fill=colour, width=round(width * self._finer), joint="curve"
        )

    def dash(
        self, x: float, y: float, right: float, down: float, colour: str, width: float
    ) -> None:
        self.line([(x, y), (x + right, y + down)], colour, width)

    def blade(
        self, x: float, y: float, bend: float, high: float, colour: str, width: float
    ) -> None:
        """A blade of grass that stands on (x, y)."""
        half = width / 2
        self.polygon([(x - half, y), (x + half, y), (x + bend, y - high)], colour)

    def leaf(self, x: float, y: float, long: float, wide: float, colour: str) -> None:
        """A leaf: an ellipse turned by the dice."""
        turn = math.pi * (self._dice.random() - 0.5)
        cos, sin = math.cos(turn), math.sin(turn)
        ring = (
            (long * math.cos(step * math.pi / 5), wide * math.sin(step * math.pi / 5))
            for step in range(10)
        )
        self.polygon([(x + a * cos - b * sin, y + a * sin + b * cos) for a, b in ring], colour)
