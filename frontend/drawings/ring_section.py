"""A mulch ring cut through the middle, to scale: chips, bare gap, flare, ball, turf.

Two drawings, one for a desk and one for a phone; the words of the narrow one stand below it, in the
page. Everything is drawn at one scale, so that a depth of 3 in looks as thin as it is.
"""

from dataclasses import dataclass

from frontend.drawings.growth import grass
from frontend.drawings.pen import Sheet

GROUND_Y = 150.0
FEET_DEEP_M = 0.26
BALL_TO_TRUNK = 5.0
"""Half the width of a root ball for each width of trunk: 10 in of ball for an inch of caliper, the
trade's minimum."""


@dataclass(frozen=True, slots=True)
class RingWords:
    """What the drawing says, in the reader's language and units."""

    title: str
    flare: str
    bark: str
    chips: str
    turf: str
    soil: str
    ball: str
    gap: str
    edge: str


def ring_section(
    *,
    outer_m: float,
    inner_m: float,
    depth_m: float,
    trunk_m: float,
    words: RingWords,
    narrow: bool = False,
) -> str:
    """The ring in section: radii from the middle of the trunk, its width and the depth of chips.

    All in meters. The trunk is never drawn thinner than a stroke, nor chips thinner than two.
    """
    width, turf = (340.0, 26.0) if narrow else (520.0, 60.0)
    scale = (width / 2 - turf) / max(outer_m, 0.2)
    middle = width / 2
    ground = GROUND_Y if not narrow else 110.0
    soil = min(70.0, max(44.0, FEET_DEEP_M * scale))
    height = ground + soil + (46 if not narrow else 6)
    s = Sheet(f"ring-{narrow}", width, height)
    s.wash(
        [(4, ground), (width - 4, ground), (width - 4, ground + soil), (4, ground + soil)],
        "d-soil",
        off=(0, 0),
        sharp=True,
    )
    s.straight([(4, ground), (width - 4, ground)], "d-faint")
    half_trunk = max(1.5, trunk_m / 2 * scale)
    ball = min(outer_m * 0.9, trunk_m * BALL_TO_TRUNK) * scale
    deep = min(soil - 6, ball * 1.2)
    s.stroke(
        [
            (middle - ball, ground),
            (middle - ball * 0.85, ground + deep * 0.6),
            (middle, ground + deep),
            (middle + ball * 0.85, ground + deep * 0.6),
            (middle + ball, ground),
        ],
        "d-faint-dots",
        wobble=0,
    )
    _chips(s, middle, ground, inner_m * scale, outer_m * scale, depth_m * scale)
    _trunk(s, middle, ground, half_trunk, top=8.0)
    for x in range(8, int(middle - outer_m * scale) - 2, 9):
        grass(s, x, ground)
        grass(s, width - x, ground)
    if not narrow:
        _labels(s, middle, ground, soil, inner_m * scale, outer_m * scale, depth_m * scale, words)
    kind = "drawing ring-section is-narrow" if narrow else "drawing ring-section is-wide"
    return s.svg(words.title, kind=kind)


def _chips(
    s: Sheet, middle: float, ground: float, inner: float, outer: float, depth: float
) -> None:
    thick = max(3.0, depth)
    slope = min(thick * 1.4, (outer - inner) / 3)
    for side in (-1, 1):
        near, far = middle + side * inner, middle + side * outer
        heap = [
            (near, ground),
            (near + side * slope * 0.5, ground - thick * 0.8),
            (near + side * slope, ground - thick),
            (far - side * slope, ground - thick),
            (far - side * slope * 0.5, ground - thick * 0.8),
            (far, ground),
        ]
        s.wash(heap, "d-wood", off=(0, 0))
        s.stroke(heap, "d-mid", wobble=0.2)
        for _ in range(int((outer - inner) / 9)):
            x = s.hand.uniform(
                min(near, far) + slope + 2, max(min(near, far) + slope + 3, max(near, far) - slope)
            )
            y = ground - s.hand.uniform(0.25, 0.8) * thick
            s.straight([(x - 3, y - 1), (x + 3, y + s.hand.uniform(-1, 1.5))], "d-fine")


def _trunk(s: Sheet, middle: float, ground: float, half: float, top: float) -> None:
    for side in (-1, 1):
        s.stroke(
            [
                (middle + side * half, top),
                (middle + side * half, ground - half * 4),
                (middle + side * half * 1.25, ground - half * 1.2),
                (middle + side * half * 2.2, ground + half * 0.4),
                (middle + side * half * 4.5, ground + half * 2.2),
            ],
            wobble=0.1,
        )


def _labels(
    s: Sheet,
    middle: float,
    ground: float,
    soil: float,
    inner: float,
    outer: float,
    depth: float,
    words: RingWords,
) -> None:
    s.words(middle + 40, 20, words.flare, anchor="start")
    s.words(middle + 40, 38, words.bark, anchor="start")
    s.straight([(middle + 44, 44), (middle + 10, ground - 10)], "d-faint")
    s.words(middle + 96, 72, words.chips, anchor="start")
    s.straight([(middle + 110, 77), (middle + (inner + outer) / 2, ground - depth / 2)], "d-faint")
    s.words(6, ground - 22, words.turf, anchor="start")
    s.words(middle - 96, 72, words.soil, anchor="end")
    s.straight([(middle - 110, 77), (middle - (inner + outer) / 2, ground + 8)], "d-faint")
    s.words(middle, ground + soil * 0.55, words.ball)
    y = ground + soil + 12
    s.straight([(middle - inner, y), (middle + outer, y)], "d-mid")
    for x in (middle - inner, middle, middle + outer):
        s.straight([(x, y - 5), (x, y + 5)], "d-mid")
    s.words(middle - inner - 6, y + 4, words.gap, anchor="end")
    s.words(middle + outer, y + 20, words.edge, anchor="end")
