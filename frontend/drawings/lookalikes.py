"""Pictures to practice on: what is easily taken for each other, 168 x 112.

The mark lies on the thing that is asked about; what tells the two apart is drawn, never written.
Twigs, bark and trunks are drawn here, whole trees and leaves in `lookalike_trees`.
"""

from collections.abc import Callable

from frontend.drawings.growth import GROUND, bark, crumbs, foot, grass, ground, pole
from frontend.drawings.lookalike_trees import ALIKE_TREES
from frontend.drawings.pen import Point, Sheet, at, circle, num
from frontend.drawings.signs import SIZE, marked, sign

# a twig held close: its upper and lower edge from the branch on the left to the tip
_UPPER = [(-4, 66), (40, 58), (90, 50), (136, 42), (158, 36)]
_LOWER = [(-4, 92), (40, 82), (90, 71), (136, 58), (158, 46)]


def _bud(s: Sheet, x: float, y: float, up: bool, *, dry: bool = False) -> None:
    """A bud on the twig's edge: plump and alive, or a shriveled scar."""
    way = -1 if up else 1
    if dry:
        s.path("d-fine", f"M{at(x - 4, y)}q4 {num(way * 3)} 8 0M{at(x, y + way)}v{num(way * 3)}")
        return
    tip = (x + 12, y + way * 15)
    bud = [(x - 4, y), (x - 3, y + way * 9), tip, (x + 10, y + way * 5), (x + 8, y)]
    s.wash(bud, "d-leaf", off=(1, 1))
    s.stroke(bud, "d-mid", closed=True)
    s.path("d-fine", f"M{at(x, y + way * 2)}Q{at(x + 5, y + way * 6)} {at(x + 9, y + way * 11)}")


def _twig_close(s: Sheet, *, snapped: bool, buds: bool) -> None:
    end = [(158, 36), (151, 40), (162, 42), (153, 45), (158, 46)] if snapped else []
    tip = end or [(158, 36), (164, 40), (158, 46)]
    s.wash([*_UPPER, *tip[1:-1], *reversed(_LOWER)], "d-wood", off=(0, 2))
    s.stroke(_UPPER, wobble=0.2)
    s.stroke(_LOWER, wobble=0.2)
    if snapped:
        s.straight(tip)
    else:
        s.stroke(tip, wobble=0.1)
    for x, y, up in ((30, 60, True), (62, 77, False), (118, 45, True), (146, 52, False)):
        _bud(s, x, y, up, dry=not buds)
    for x in (12, 22, 52, 108):
        y = 79 - (x - 12) * 0.2
        s.path("d-fine", f"M{at(x, y)}q0.8 3 0 6")


def _scratch(s: Sheet, x: float, y: float, *, green: bool, wide: float = 26) -> None:
    """A window in the bark: smooth and moist, or dry and cracked."""
    window = [
        (x - wide / 2, y + 1),
        (x - wide / 4, y - 6.5),
        (x + wide / 4, y - 8),
        (x + wide / 2, y - 4),
        (x + wide / 4, y + 5),
        (x - wide / 4, y + 7),
    ]
    s.wash(window, "d-leaf" if green else "d-bark", off=(0, 0))
    s.stroke(window, "d-mark", closed=True)
    if green:
        for down in (-2.5, 1.5):
            s.path(
                "d-fine", f"M{at(x - wide / 3, y + down)}q{num(wide / 3)} -2 {num(wide * 0.6)} -3"
            )
        drop = f"M{at(x + 3, y + 9)}c4 4.6 4 8.4 0 9.6c-4 -1.2 -4 -5 0 -9.6Z"
        s.path("d-leaf", drop)
        s.path("d-mid", drop)
        return
    s.straight(
        [(x - wide / 3, y + 2), (x - 3, y - 3), (x + 1, y + 2), (x + wide / 3, y - 3)], "d-fine"
    )
    s.path("d-fine", f"M{at(x - 3, y - 3)}l-2 -4M{at(x + 1, y + 2)}l2 4")


def _scratch_green(s: Sheet) -> None:
    _twig_close(s, snapped=False, buds=True)
    _scratch(s, 88, 61, green=True)


def _scratch_brown(s: Sheet) -> None:
    _twig_close(s, snapped=True, buds=False)
    _scratch(s, 48, 70, green=False)
    _scratch(s, 128, 52, green=False, wide=22)


def _scratch_part(s: Sheet) -> None:
    _twig_close(s, snapped=True, buds=False)
    s.wash([(24, 58), (40, 58), (40, 62), (26, 63)], "d-wood", off=(0, 0))
    _bud(s, 24, 61, True)
    _scratch(s, 52, 69, green=True)
    _scratch(s, 130, 51, green=False, wide=22)


def _lichen(s: Sheet) -> None:
    pole(s, half=36)
    for cx, cy, r in ((73, 30, 15), (99, 58, 18), (75, 88, 13)):
        for size, pen in ((1.0, "d-mark-mid"), (0.56, "d-mark-fine")):
            rim = []
            for x, y in circle(cx, cy, r * size, n=26):
                pull = s.hand.uniform(0.8, 1.14)
                rim.append((cx + (x - cx) * pull, cy + (y - cy) * pull))
            if size == 1.0:
                s.wash(rim, "d-mark-wash", off=(0, 0))
            s.stroke(rim, pen, closed=True)


def _bracket(s: Sheet) -> None:
    left, right = [(38, 112), (40, 56), (42, 0)], [(98, 112), (96, 56), (95, 0)]
    s.wash([*left, *reversed(right)], "d-wood", off=(2, 0), sharp=True)
    s.stroke(left, lift=(0.36, 0.45))
    s.stroke(right)
    bark(s, 48, 86, 6, 104, 9)
    for y, reach, thick in ((34, 40, 11), (78, 52, 13)):
        marked(
            s,
            [
                (92, y - thick),
                (96 + reach * 0.5, y - thick * 0.8),
                (96 + reach, y - 2),
                (94 + reach, y + 4),
                (96 + reach * 0.5, y + thick * 0.5),
                (92, y + thick * 0.8),
            ],
        )
        for k in (0.35, 0.6, 0.82):
            s.path("d-mark-fine", f"M{at(94 + reach * k, y - thick * 0.7)}q6 4 4 {num(thick)}")
        s.path("d-fine", f"M{at(100, y + thick + 3)}q{num(reach / 3)} 2 {num(reach * 0.6)} -4")


def _peeling(s: Sheet) -> None:
    pole(s, half=34)
    for x, y, w, h in ((66, 22, 15, 26), (96, 44, 16, 30), (72, 82, 17, 24), (103, 96, 11, 20)):
        patch = [
            (x - w / 2, y - h / 3),
            (x, y - h / 2),
            (x + w / 2, y - h / 4),
            (x + w * 0.42, y + h / 3),
            (x - w * 0.1, y + h / 2),
            (x - w * 0.48, y + h * 0.22),
        ]
        s.wash(patch, "d-card", off=(0, 0))
        s.stroke(patch, "d-mark-mid", closed=True)
        flake = [
            (x + w * 0.42, y + h / 3),
            (x + w * 0.5, y + h * 0.62),
            (x + w * 0.1, y + h * 0.74),
            (x - w * 0.1, y + h / 2),
        ]
        s.wash(flake, "d-wood", off=(0, 0))
        s.stroke(flake, "d-mid")


def _cut_bark(s: Sheet) -> None:
    pole(s, half=34)
    hollow = [(70, 28), (92, 22), (107, 36), (108, 62), (98, 82), (78, 84), (66, 66), (64, 44)]
    marked(s, hollow)
    s.stroke([(74, 33), (91, 28), (102, 39), (103, 61)], "d-mark-fine")
    for x, top, down in ((76, 44, 26), (83, 38, 40), (90, 36, 44), (97, 46, 26)):
        s.path("d-mark-fine", f"M{at(x, top)}q1.2 {num(down / 2)} 0 {down}")
    for x, y in ((66, 66), (98, 82)):
        s.straight([(x - 4, y + 2), (x + 1, y + 7), (x + 6, y + 1)], "d-mid")


def _mower_cut(s: Sheet) -> None:
    foot(s, half=19, flare=12, ticks=(4, 52, 6))
    marked(s, [(68, 74), (80, 67), (94, 68), (105, 73), (106, 80), (104, 84), (69, 84), (66, 80)])
    s.straight([(67, 84), (106, 84)], "d-mark")
    for x in (74, 82, 90, 98):
        s.path("d-mark-fine", f"M{at(x, 73)}q1 4 0 9")
    for x in (12, 24, 36, 128, 140, 152):
        grass(s, x, GROUND, tall=1.3)
    s.path("d-fine", "M112 88l5 -2M116 91l6 1M48 89l-5 -3")


def _sun_crack(s: Sheet) -> None:
    pole(s, 92, half=30)
    marked(
        s,
        [(98, 8), (107, 28), (110, 58), (106, 88), (98, 106), (91, 86), (88, 56), (91, 26)],
        "d-mark-mid",
    )
    s.straight([(99, 14), (96, 30), (102, 44), (97, 58), (103, 72), (97, 86), (99, 99)], "d-mark")
    s.stroke(circle(24, 24, 10), "d-mid", closed=True)
    for dx, dy in ((16, 5), (11, 13), (2, 17), (17, -5)):
        s.path("d-mid", f"M{at(24 + dx, 24 + dy)}l{num(dx * 0.5)} {num(dy * 0.5)}")


def _gnawed(s: Sheet) -> None:
    left, right = foot(s, half=18, flare=8, ticks=(4, 36, 5))
    band = [(68, 52), (80, 49), (94, 53), (104, 50), (106, 84), (94, 87), (80, 83), (65, 86)]
    marked(s, band, "d-mark-mid")
    for row in range(4):
        for k in range(4):
            x, y = 71 + k * 9.4 + (row % 2) * 4, 56 + row * 7.4
            if x < 102:
                s.path("d-mark-fine", f"M{at(x, y)}l3 2M{at(x + 1, y - 2.4)}l3 2")
    for x, y in ((left - 14, 91), (left - 20, 90), (right + 10, 91), (right + 17, 91)):
        s.dot(x, y, 1.7)


def _borer_holes(s: Sheet) -> None:
    pole(s, half=34)
    for x, y, r in ((74, 22, 3.4), (98, 40, 2.4), (80, 58, 4.2), (103, 74, 3), (72, 88, 2.4)):
        s.dot(x, y, r, "d-mark-fill")
        for k in range(4):
            drift = s.hand.uniform(-2.4, 2.4)
            s.path("d-mark-fine", f"M{at(x + drift, y + r + 3 + k * 3.4)}h0.1")
        s.path("d-mark-fine", f"M{at(x - 1, y + r + 1)}q1.2 5 -0.6 11")


def _bird_holes(s: Sheet) -> None:
    pole(s, half=34)
    for row, y in enumerate((24, 42, 60, 78)):
        for k in range(6):
            x = 63 + k * 9 + row % 2
            s.path("d-mark-fill", f"M{at(x, y)}h4v4.4h-4Z")


def _flare_seen(s: Sheet) -> None:
    foot(s, half=15, flare=6, base=82, stand=False, ticks=(4, 50, 5))
    ground(s, 4, 164, 88, gap=(34, 138), tufts=2)
    for points in (
        [(70, 62), (66, 76), (52, 84), (34, 88)],
        [(102, 62), (106, 76), (120, 84), (138, 88)],
    ):
        s.stroke(points, "d-mark")
    for points in (
        [(80, 68), (76, 82), (62, 90), (46, 92)],
        [(92, 68), (96, 82), (110, 90), (126, 92)],
        [(86, 72), (87, 84), (84, 94)],
    ):
        s.stroke(points, "d-mark-mid")


def _flare_hidden(s: Sheet) -> None:
    straight: list[Point] = [(71, 88), (71, 0), (101, 0), (101, 88)]
    s.wash(straight, "d-wood", off=(2, 0), sharp=True)
    s.stroke([(71, 88), (71.4, 44), (72, 0)], lift=(0.4, 0.5))
    s.stroke([(101, 88), (100.6, 44), (100, 0)])
    bark(s, 77, 95, 6, 74, 7)
    ground(s, 4, 164, 88, gap=(71, 101), tufts=3)
    s.straight([(58, 88), (114, 88)], "d-mark")
    s.straight([(71, 78), (71, 88), (62, 88)], "d-mark-mid")
    s.straight([(101, 78), (101, 88), (110, 88)], "d-mark-mid")
    crumbs(s, 14, 154, 93, 107, 14)


ALIKE: dict[str, Callable[[Sheet], None]] = {
    "scratch_green": _scratch_green,
    "scratch_brown": _scratch_brown,
    "scratch_part": _scratch_part,
    "lichen": _lichen,
    "bracket": _bracket,
    "peeling": _peeling,
    "cut_bark": _cut_bark,
    "mower_cut": _mower_cut,
    "sun_crack": _sun_crack,
    "gnawed": _gnawed,
    "borer_holes": _borer_holes,
    "bird_holes": _bird_holes,
    "flare_seen": _flare_seen,
    "flare_hidden": _flare_hidden,
    **ALIKE_TREES,
}


def look_alike(code: str, title: str = "") -> str:
    """The practice picture of this code; an unknown code is a sheet of paper and a pencil."""
    if code not in ALIKE:
        return sign("something_else", title=title)
    sheet = Sheet(f"alike-{code}", *SIZE)
    ALIKE[code](sheet)
    return sheet.svg(title, kind="drawing is-cropped")
