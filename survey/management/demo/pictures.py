"""Draws the demo's photos: flat painted scenes of invented trees. The same wish, the same bytes."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO

import numpy as np
from PIL import Image, ImageDraw

from survey.management.demo.backdrops import LAWN, SKY, SOIL, behind, ground
from survey.management.demo.brush import Brush, lightness, mixed
from survey.management.demo.marks import CHIPS, WOOD, WOOD_EDGE, base_mark

SIZE = (480, 360)
SMALL = (160, 120)
FINER = 2  # drawn at twice the size, then made smaller: smooth edges
QUALITY = 74

BARK = {
    "linden": ("#6B5F55", "#4F4740", "#877A6D"),
    "field_maple": ("#77614F", "#5A493C", "#927A64"),
    "hornbeam": ("#7C7A76", "#5E5D5A", "#979590"),
    "crape_myrtle": ("#B79C80", "#94795F", "#CFB79B"),
    "honeylocust": ("#6E5A4C", "#503F35", "#89735F"),
    "other": ("#6F5B4B", "#524236", "#8B7561"),
}
LEAF = {
    "linden": ["#5E7F45", "#6D9050", "#4F6F3B", "#7E9F5B"],
    "field_maple": ["#66823F", "#77924C", "#567035", "#89A35B"],
    "hornbeam": ["#4F7645", "#5F8750", "#426739", "#70975E"],
    "crape_myrtle": ["#567B4C", "#678C59", "#486B40", "#7A9D69"],
    "honeylocust": ["#86A04E", "#97AF5F", "#758F42", "#A8BD72"],
    "other": ["#5F8048", "#6F9055", "#50703C", "#80A065"],
}
AUTUMN = ["#C29A4A", "#B9833E", "#CFAE62", "#A9733A"]
CRISP = ["#A98A50", "#B59B5C", "#8F7443", "#9C8A55"]
FLOWER = ["#C98AA0", "#D9A3B4", "#B97590"]
WOOD_GRAIN = "#B98F57"


@dataclass(frozen=True, slots=True)
class Scene:
    """What one picture shows; everything the drawing needs and nothing else.

    `part` is whole, base or close. `leaf` is full, partial or bare; `crown` from 0 (nothing) to 1
    (dense). `wound` is the share of the trunk that lost its bark as seen from here, 0 to 1.
    """

    seed: int
    part: str
    species: str
    place: str  # park, street, square, school or shore
    season: str  # spring, summer, dry or winter
    leaf: str = "full"
    crown: float = 1.0
    crisp: float = 0.0
    wound: float = 0.0
    mulch: bool = False
    stake: bool = False
    tie_tight: bool = False
    shoots: bool = False
    coin: bool = False
    lean: float = 0.0
    broken: bool = False
    flowering: bool = False
    autumn: bool = False
    scratch: str = ""
    pale: bool = False
    mark: str = ""  # at the base: fungus, holes, root, heaped, torn, sunken or soggy


@dataclass(frozen=True, slots=True)
class Drawn:
    """The two files of one picture, as JPEG bytes, and the size of the larger."""

    picture: bytes
    small: bytes
    width: int
    height: int

    @property
    def sha256(self) -> str:
        return hashlib.sha256(self.picture).hexdigest()


def draw(scene: Scene) -> Drawn:
    """Paint one scene. Pure: no clock, no file, dice from the scene's own seed."""
    canvas = Image.new("RGB", (SIZE[0] * FINER, SIZE[1] * FINER))
    brush = Brush(ImageDraw.Draw(canvas), FINER, np.random.default_rng(scene.seed))
    {"whole": _whole, "base": _base, "close": _close}[scene.part](brush, scene)
    picture = canvas.resize(SIZE, Image.Resampling.BOX)
    small = picture.resize(SMALL, Image.Resampling.BOX)
    return Drawn(_jpeg(picture), _jpeg(small), *SIZE)


def _jpeg(picture: Image.Image) -> bytes:
    out = BytesIO()
    picture.save(out, "JPEG", quality=QUALITY, subsampling=2)
    return out.getvalue()


# ------------------------------------------------------------------------- the whole tree


def _whole(brush: Brush, scene: Scene) -> None:
    horizon = 178
    brush.box(0, 0, 480, horizon + 10, SKY[scene.season])
    behind(brush, scene.place, horizon)
    ground(brush, scene.place, scene.season, horizon)
    middle = 240 + brush.between(-26, 26)
    foot = 288 + brush.between(-8, 8)
    brush.oval(middle + 8, foot + 2, 76, 9, mixed(LAWN[scene.season][3], "#2E3626", 0.45))
    if scene.mulch:
        brush.oval(middle, foot + 3, 62, 13, CHIPS[1])
        for _ in range(70):
            x, y = brush.inside(middle, foot + 3, 60, 12)
            brush.dash(x, y, brush.between(-5, 5), brush.between(-2, 2), brush.one_of(CHIPS), 2)
    if scene.stake:
        brush.line([(middle + 27, foot + 2), (middle + 27, foot - 118)], "#A98B62", 7)
    top = _stems(brush, scene, middle, foot)
    if scene.stake:
        brush.line([(middle - 5, foot - 92), (middle + 28, foot - 92)], "#3C3A3A", 4)
    _crown(brush, scene, top)
    if scene.shoots:
        for _ in range(9):
            x = middle + brush.between(-16, 16)
            brush.line(
                [(x, foot), (x + brush.between(-7, 7), foot - brush.between(22, 46))],
                brush.one_of(LEAF[_kind(scene, LEAF)]),
                2.4,
            )
            brush.leaf(
                x + brush.between(-8, 8),
                foot - brush.between(20, 46),
                6,
                4,
                brush.one_of(LEAF[_kind(scene, LEAF)]),
            )
    if scene.wound:
        width = 14 * min(1.0, 0.35 + scene.wound)
        brush.polygon(
            [
                (middle - width / 2, foot - 20),
                (middle + width / 2, foot - 22),
                (middle + width / 2, foot - 5),
                (middle - width / 2, foot - 3),
            ],
            WOOD,
        )
    for _ in range(46):
        x = middle + brush.between(-110, 110)
        brush.blade(
            x,
            foot + brush.between(4, 40),
            brush.between(-3, 3),
            brush.between(6, 12),
            brush.one_of(LAWN[scene.season]),
            2,
        )


def _kind(scene: Scene, table: dict) -> str:
    return scene.species if scene.species in table else "other"


def _stems(brush: Brush, scene: Scene, middle: float, foot: float) -> tuple[float, float]:
    """Trunk and main branches; returns the middle of the crown."""
    bark, dark, pale = BARK[_kind(scene, BARK)]
    lean = scene.lean * 90
    if scene.species == "crape_myrtle":
        for spread in (-50, -26, -4, 20, 46):
            knee = (middle + spread * 0.45 + lean * 0.4, foot - 74)
            tip = (middle + spread * 1.35 + lean, foot - brush.between(150, 186))
            brush.line([(middle + spread * 0.12, foot), knee, tip], bark, 6)
            brush.line([(middle + spread * 0.12 - 1, foot), knee], pale, 2)
            for _ in range(6):
                end = (tip[0] + brush.between(-30, 30), tip[1] - brush.between(4, 34))
                brush.line(
                    [knee, ((knee[0] + end[0]) / 2 + brush.between(-6, 6), tip[1] + 26), end],
                    dark,
                    2,
                )
                if scene.leaf == "bare":
                    brush.oval(*end, 3, 3, "#5E4A3A")
        return middle + lean * 0.8, foot - 150
    crotch = (middle + lean * 0.55, foot - 122)
    brush.polygon(
        [
            (middle - 10, foot + 3),
            (middle + 10, foot + 3),
            (crotch[0] + 6, crotch[1]),
            (crotch[0] - 6, crotch[1]),
        ],
        bark,
    )
    brush.line([(middle - 5, foot), (crotch[0] - 3, crotch[1])], dark, 2)
    brush.line([(middle + 4, foot), (crotch[0] + 3, crotch[1])], pale, 1.6)
    for angle in (-58, -34, -12, 10, 32, 56):
        reach = brush.between(62, 96)
        end = brush.away(crotch, angle + scene.lean * 30, reach)
        brush.line([crotch, end], bark, 4)
        for _ in range(5):
            start = brush.away(crotch, angle + scene.lean * 30, reach * brush.between(0.4, 0.95))
            tip = brush.away(start, angle + brush.between(-46, 46), brush.between(18, 44))
            brush.line([start, tip], dark if scene.leaf != "full" else bark, 1.8)
    if scene.broken:
        end = brush.away(crotch, 74, 74)
        brush.line([crotch, end, (end[0] + 18, end[1] + 66)], bark, 6)
        brush.line([end, (end[0] + 7, end[1] + 12)], WOOD, 5)
        for _ in range(30):
            brush.leaf(
                end[0] + 20 + brush.between(-22, 22),
                end[1] + 66 + brush.between(-26, 20),
                brush.between(6, 11),
                5,
                brush.one_of(LEAF[_kind(scene, LEAF)]),
            )
    return crotch[0] + lean * 0.3, foot - 186


def _crown(brush: Brush, scene: Scene, top: tuple[float, float]) -> None:
    if scene.leaf == "bare":
        return
    x, y = top
    wide, high = {
        "crape_myrtle": (84, 58),
        "hornbeam": (62, 84),
        "honeylocust": (94, 62),
        "linden": (76, 78),
    }.get(scene.species, (78, 70))
    leaves = list(AUTUMN if scene.autumn else LEAF[_kind(scene, LEAF)])
    count = int((230 if scene.leaf == "full" else 95) * max(0.08, scene.crown))
    size = 0.72 if scene.species == "honeylocust" else 1.0
    clusters = [brush.inside(x, y, wide * 0.86, high * 0.86) for _ in range(9)]
    kept = clusters[: max(2, round(9 * min(1.0, scene.crown + 0.1)))]
    for step in range(count):
        near = kept[step % len(kept)]
        px, py = brush.inside(near[0], near[1], wide * 0.46, high * 0.44)
        colour = brush.one_of(CRISP) if brush.chance(scene.crisp) else brush.one_of(leaves)
        colour = lightness(colour, 1.07 - 0.16 * (py - y + high) / (2 * high))
        brush.leaf(px, py, brush.between(9, 17) * size, brush.between(6, 10) * size, colour)
    if scene.flowering:
        for _ in range(40):
            px, py = brush.inside(x, y - high * 0.5, wide * 0.9, high * 0.5)
            brush.oval(px, py, brush.between(4, 8), brush.between(5, 9), brush.one_of(FLOWER))


# ------------------------------------------------------------------------- the base


def _base(brush: Brush, scene: Scene) -> None:
    lawn = LAWN[scene.season]
    soil = scene.place == "square"
    brush.box(0, 0, 480, 360, lightness(SOIL[2] if soil else lawn[0], 1.08))
    if soil:
        for _ in range(240):
            brush.oval(
                brush.between(0, 480),
                brush.between(0, 360),
                brush.between(2, 6),
                2.4,
                brush.one_of(SOIL),
            )
    else:
        for y in sorted(brush.many(200, 0, 230)):
            brush.blade(
                brush.between(0, 480),
                y,
                brush.between(-6, 6),
                brush.between(12, 22),
                brush.one_of(lawn),
                3,
            )
    stems = (-78, 0, 74) if scene.species == "crape_myrtle" else (0,)
    for shift in stems:
        _trunk(brush, scene, 238 + shift, 0.46 if len(stems) > 1 else 1.0)
    if scene.mark:
        base_mark(brush, scene.mark, BARK[_kind(scene, BARK)])
    if scene.tie_tight:
        _tie(brush)
    if scene.coin:
        brush.oval(352, 236, 25, 25, "#85898E")
        brush.oval(352, 236, 22, 22, "#C9CCCF")
        brush.oval(352, 236, 14, 14, "#B4B8BC")
        brush.oval(352, 236, 12, 12, "#C9CCCF")
    if scene.mulch:
        for _ in range(520):
            px, py = brush.inside(238, 322, 236, 62)
            brush.dash(px, py, brush.between(-16, 16), brush.between(-5, 5), brush.one_of(CHIPS), 5)
    elif soil:
        for _ in range(220):
            brush.oval(
                brush.between(0, 480),
                brush.between(292, 360),
                brush.between(3, 8),
                3,
                brush.one_of(SOIL),
            )
    else:
        for y in sorted(brush.many(300, 286, 372)):
            brush.blade(
                brush.between(0, 480),
                y,
                brush.between(-10, 10),
                brush.between(20, 38),
                brush.one_of(lawn),
                3.4,
            )
        if scene.wound:
            for _ in range(34):  # clippings on the ground
                brush.dash(
                    brush.between(110, 390),
                    brush.between(262, 330),
                    brush.between(-13, 13),
                    brush.between(-5, 5),
                    "#D9D2A0",
                    3.4,
                )
    if scene.shoots:
        _shoots(brush, scene)


def _trunk(brush: Brush, scene: Scene, middle: float, scale: float) -> None:
    bark, dark, pale = BARK[_kind(scene, BARK)]
    half, flare = 60 * scale, 86 * scale
    left = [
        (middle - half, -10),
        (middle - half + 2, 130),
        (middle - half - 6, 218),
        (middle - flare, 300),
    ]
    right = [(2 * middle - x, y) for x, y in reversed(left)]
    bottom = [(middle + flare * 0.5, 312), (middle, 316), (middle - flare * 0.5, 312)]
    brush.polygon([*left, *reversed(bottom), *right], bark)
    for x in brush.many(int(34 * scale), middle - half + 5, middle + half - 5):
        out = (x - middle) * 0.34
        brush.line(
            [
                (x, -8),
                (x + brush.between(-5, 5), 120),
                (x + out + brush.between(-4, 4), brush.between(210, 292)),
            ],
            dark if brush.chance(0.6) else pale,
            brush.between(2, 4),
        )
    if scene.species == "crape_myrtle":
        for _ in range(5):
            brush.oval(
                middle + brush.between(-half, half) * 0.6, brush.between(20, 220), 10, 26, pale
            )
    if (scene.wound and scale == 1.0) or (scene.wound and middle > 300):
        _wound(brush, scene, middle, half)


def _wound(brush: Brush, scene: Scene, middle: float, half: float) -> None:
    """Bark gone low and level, wood showing; wider with `scene.wound`."""
    wide = half * (0.45 + 0.62 * min(1.0, scene.wound * 1.4))
    shift = 0 if scene.wound > 0.6 else brush.between(-0.3, 0.3) * half
    left, right, top, low = middle + shift - wide, middle + shift + wide, 204, 262
    edge = [
        (left, top + 4),
        (middle + shift - wide * 0.3, top - 12),
        (middle + shift + wide * 0.35, top - 8),
        (right, top + 6),
    ]
    under = [
        (right - 2, low - 6),
        (middle + shift + wide * 0.2, low - 12),
        (middle + shift - wide * 0.4, low - 8),
        (left + 3, low),
    ]
    brush.polygon([*edge, *under], WOOD)
    for step in range(4):
        y = top + 8 + step * 11
        brush.line(
            [
                (left + wide * 0.3, y + brush.between(-3, 3)),
                (middle + shift, y - 5 + brush.between(-2, 2)),
                (right - wide * 0.3, y + brush.between(-3, 3)),
            ],
            WOOD_GRAIN,
            2.6,
        )
    brush.line(edge, WOOD_EDGE, 5)
    brush.line(under, WOOD_EDGE, 4)
    if scene.wound > 0.35:  # older cuts above the fresh one
        brush.line(
            [(left + 10, top - 26), (middle + shift, top - 34), (right - 16, top - 28)],
            WOOD_EDGE,
            3,
        )


def _tie(brush: Brush) -> None:
    brush.polygon([(166, 96), (312, 90), (314, 108), (166, 116)], "#3C3A3A")
    brush.line([(170, 92), (308, 86)], "#54453A", 4)
    brush.line([(170, 120), (308, 112)], "#54453A", 4)
    brush.line([(312, 98), (420, 92)], "#3C3A3A", 10)
    brush.polygon([(418, -10), (452, -10), (450, 330), (420, 330)], "#A98B62")
    brush.line([(430, -10), (431, 326)], "#8F744E", 3)


def _shoots(brush: Brush, scene: Scene) -> None:
    leaves = LEAF[_kind(scene, LEAF)]
    for _ in range(15):
        x = 238 + brush.between(-100, 100)
        tip = (x + brush.between(-22, 22), brush.between(170, 250))
        brush.line([(x, 308), tip], "#7C8A4C", 4)
        for share in (0.3, 0.6, 0.9):
            brush.leaf(
                x + (tip[0] - x) * share + brush.between(-8, 8),
                308 + (tip[1] - 308) * share,
                13,
                8,
                brush.one_of(leaves),
            )


# ------------------------------------------------------------------------- close-ups


def _close(brush: Brush, scene: Scene) -> None:
    """A twig with its bark scratched, or leaves in the hand's distance."""
    ground = lightness(LAWN[scene.season][0], 1.16)
    brush.box(0, 0, 480, 360, mixed(ground, "#FFFFFF", 0.25))
    for _ in range(60):
        brush.oval(
            brush.between(0, 480),
            brush.between(0, 360),
            brush.between(20, 60),
            brush.between(14, 40),
            mixed(brush.one_of(LAWN[scene.season]), "#FFFFFF", 0.32),
        )
    bark, dark, pale = BARK[_kind(scene, BARK)]
    if scene.scratch:
        brush.line([(-10, 262), (210, 196), (490, 106)], bark, 40)
        brush.line([(-10, 250), (210, 184), (490, 94)], pale, 6)
        for x in brush.many(26, 0, 480):
            brush.oval(x, 262 - x * 0.33 + brush.between(-12, 12), 3, 2, dark)
        green = ["#8FB356", "#A9C671"] if scene.scratch == "green" else ["#A98A5B", "#C0A274"]
        brush.polygon(
            [(176, 194), (300, 154), (318, 163), (300, 176), (184, 212), (168, 204)], dark
        )
        brush.polygon(
            [(184, 196), (300, 160), (309, 164), (298, 171), (186, 206), (177, 203)], green[0]
        )
        brush.line([(192, 199), (298, 165)], green[1], 4)
        for x, y in ((90, 220), (392, 122)):
            brush.leaf(x, y - 16, 15, 10, dark)
        return
    leaves = LEAF[_kind(scene, LEAF)]
    if scene.pale:
        leaves = [mixed(colour, "#E3DC84", 0.62) for colour in leaves]
    brush.line([(40, 330), (200, 210), (420, 60)], dark, 9)
    for share in np.linspace(0.08, 0.95, 12):
        x, y = 40 + 380 * share, 330 - 270 * share
        for way in (-1, 1):
            px, py = x + way * 34, y + way * 26 + brush.between(-8, 8)
            colour = brush.one_of(leaves)
            brush.leaf(px, py, 46, 26, colour)
            if brush.chance(scene.crisp):
                brush.leaf(px + way * 16, py + 8, 26, 14, brush.one_of(CRISP))
            brush.line([(px - 30, py), (px + 30, py)], lightness(colour, 0.86), 2)


def contact_sheet(scenes: Iterator[Scene], columns: int = 6) -> Image.Image:
    """Small copies side by side, for looking at what is drawn."""
    pictures = [Image.open(BytesIO(draw(scene).picture)) for scene in scenes]
    wide, high = SIZE[0] // 2, SIZE[1] // 2
    rows = -(-len(pictures) // columns)
    sheet = Image.new("RGB", (columns * (wide + 6), rows * (high + 6)), "#FBF8F2")
    for place, picture in enumerate(pictures):
        at = (place % columns * (wide + 6), place // columns * (high + 6))
        sheet.paste(picture.resize((wide, high)), at)
    return sheet
