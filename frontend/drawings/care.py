"""What to do (in the color of "do this") and what not to (the tool in ink, struck out once)."""

from collections.abc import Callable

from frontend.drawings.growth import GROUND, bark, foot, grass, ground, leaf_path, pole, young_tree
from frontend.drawings.pen import Sheet, at, circle

SIZE = (168, 112)


def strike(s: Sheet, x0: float, y0: float, x1: float, y1: float) -> None:
    s.stroke([(x0, y0), ((x0 + x1) / 2 + 1, (y0 + y1) / 2), (x1, y1)], "d-strike", wobble=0.3)


def _keep_tools_away(s: Sheet) -> None:
    foot(s, 84, half=13, flare=14, ticks=(2, 50, 4))
    for x in (32, 136):
        s.straight([(x, 108), (x, 46)], "d-mark")
    s.stroke([(28, 62), (58, 66), (84, 65), (112, 67), (140, 62)], "d-mark-mid")
    s.stroke([(28, 76), (58, 80), (84, 79), (112, 81), (140, 76)], "d-mark-mid")
    for x in (12, 20, 148, 158):
        grass(s, x, GROUND, tall=1.2)


def _photo_next_week(s: Sheet) -> None:
    s.wash([(58, 4), (110, 4), (110, 108), (58, 108)], "d-mark-wash", off=(0, 0), sharp=True)
    s.path("d-mark", "M64 3H104Q111 3 111 10V102Q111 109 104 109H64Q57 109 57 102V10Q57 3 64 3Z")
    s.path("d-card", "M64 14H104V92H64Z")
    s.path("d-mark-mid", "M79 100H89")
    s.path("d-sky", "M64 14H104V76H64Z")
    s.path("d-wood", "M64 76H104V92H64Z")
    s.straight([(64, 76), (104, 76)], "d-mid")
    s.stroke([(80, 76), (79, 60), (80, 22)], "d-ink", wobble=0.2)
    s.stroke([(89, 76), (90, 60), (89, 22)], "d-ink", wobble=0.2)
    s.stroke(circle(84.5, 64, 4.6, 0.9), "d-sign", closed=True, wobble=0.2)
    s.stroke([(122, 24), (136, 27), (144, 38), (142, 52)], "d-mark-mid")
    s.straight([(136, 46), (142, 53), (149, 47)], "d-mark-mid")


def _coin(s: Sheet) -> None:
    _frame(s)
    s.path("d-wood", "M34 14H134V98H34Z")
    bark(s, 38, 46, 16, 92, 4)
    bark(s, 120, 130, 16, 92, 4)
    patch = [
        (56, 28),
        (78, 22),
        (100, 26),
        (112, 24),
        (116, 52),
        (112, 84),
        (92, 90),
        (70, 86),
        (54, 90),
        (52, 58),
    ]
    s.wash(patch, "d-sign-wash", off=(0, 0))
    s.stroke(patch, "d-sign", closed=True)
    s.wash(circle(84, 57, 19, n=14), "d-card", off=(0, 0))
    s.stroke(circle(84, 57, 19, n=14), closed=True, wobble=0.2)
    s.stroke(circle(84, 57, 15, n=14), "d-fine", closed=True, wobble=0.2)
    s.path("d-mid", leaf_path(84, 68, -90, 21))


def _frame(s: Sheet) -> None:
    """The four corners of a picture to be taken."""
    for x, y, dx, dy in (
        (26, 6, 12, 12),
        (142, 6, -12, 12),
        (26, 106, 12, -12),
        (142, 106, -12, -12),
    ):
        s.straight([(x + dx, y), (x, y), (x, y + dy)])


def _feel_soil(s: Sheet) -> None:
    foot(s, 62, base=70, half=12, flare=12, stand=False, ticks=(4, 44, 3))
    ground(s, 4, 38, 70, tufts=1)
    s.straight([(86, 70), (104, 70)])
    s.straight([(126, 70), (164, 70)])
    s.stroke([(28, 74), (34, 96), (62, 106), (92, 100), (104, 84)], "d-fine")
    for line in (
        [(56, 72), (48, 84), (40, 88)],
        [(62, 72), (62, 88), (60, 100)],
        [(68, 72), (78, 84), (88, 88)],
    ):
        s.stroke(line, "d-fine")
    finger = [
        (104, 88),
        (103, 70),
        (112, 40),
        (120, 8),
        (138, 8),
        (130, 44),
        (122, 74),
        (114, 92),
        (108, 93),
    ]
    s.wash(finger, "d-mark-wash", off=(0, 0))
    s.stroke(
        [
            (120, 6),
            (112, 40),
            (103, 70),
            (104, 88),
            (109, 93),
            (115, 90),
            (122, 74),
            (130, 44),
            (139, 6),
        ],
        "d-mark",
    )
    s.stroke([(114, 46), (120, 48), (127, 47)], "d-mark-fine")
    s.stroke([(106, 84), (109, 79), (113, 81)], "d-mark-fine")


def _keep_clear(s: Sheet) -> None:
    foot(s, 84, half=13, flare=15, ticks=(2, 52, 4))
    for cx in (28, 140):
        heap = [(cx - 24, GROUND), (cx - 14, 84), (cx, 81), (cx + 14, 84), (cx + 24, GROUND)]
        s.wash([*heap, (cx, GROUND + 1)], "d-mark-wash", off=(0, 0))
        s.stroke(heap, "d-mark")
    for way, x in ((-1, 66), (1, 102)):
        s.straight([(x, 104), (x + way * 22, 104)], "d-mark-mid")
        s.straight([(x + way * 15, 99), (x + way * 22, 104), (x + way * 15, 109)], "d-mark-mid")


def _wet_flap(s: Sheet) -> None:
    left, right = [(46, GROUND), (49, 50), (50, 0)], [(94, GROUND), (90, 50), (88, 0)]
    s.wash([*left, *reversed(right)], "d-wood", off=(2, 0), sharp=True)
    s.stroke(left, lift=(0.4, 0.5))
    s.stroke(right)
    bark(s, 54, 62, 8, 84, 4)
    s.stroke([(66, 20), (60, 44), (62, 68), (70, 74)], "d-sign")
    flap = [(66, 20), (84, 24), (106, 36), (114, 54), (110, 70), (100, 66), (90, 52), (72, 44)]
    s.wash(flap, "d-card", off=(0, 0))
    s.stroke([*flap], "d-ink", closed=True)
    board = [(118, 4), (128, 1), (156, GROUND - 1), (146, GROUND)]
    s.wash(board, "d-mark-wash", off=(0, 0), sharp=True)
    s.straight(board, "d-mark", closed=True)
    ground(s, 4, 164, gap=(46, 94), tufts=1)


def _no_paint(s: Sheet) -> None:
    pole(s, half=26)
    blot = [
        (70, 40),
        (88, 34),
        (102, 42),
        (104, 58),
        (98, 60),
        (97, 74),
        (92, 74),
        (90, 62),
        (84, 63),
        (82, 82),
        (76, 82),
        (75, 64),
        (69, 60),
        (67, 48),
    ]
    s.wash(blot, "d-dot", off=(0, 0))
    s.wash([(98, 50), (112, 33), (122, 42), (106, 58)], "d-card", off=(0, 0), sharp=True)
    s.straight([(98, 50), (112, 33), (122, 42), (106, 58)], closed=True)
    s.path("d-fine", "M101 53l13 -15M104 56l13 -15")
    s.stroke([(117, 37), (134, 22), (150, 8)], "d-bold")
    strike(s, 112, 8, 148, 62)


def _no_pull_bark(s: Sheet) -> None:
    s.wash([(42, 112), (45, 0), (86, 0), (90, 112)], "d-wood", off=(2, 0), sharp=True)
    s.stroke([(42, 112), (44, 50), (45, 0)], lift=(0.36, 0.46))
    s.stroke([(90, 112), (88, 50), (86, 0)])
    bark(s, 48, 56, 6, 104, 5)
    strip = [
        (64, 24),
        (80, 30),
        (104, 30),
        (122, 18),
        (128, 26),
        (110, 42),
        (88, 48),
        (78, 62),
        (76, 84),
        (64, 84),
        (62, 52),
    ]
    s.wash(strip, "d-card", off=(0, 0))
    s.stroke(strip, closed=True)
    s.path("d-fine", "M70 40q-2 18 0 34M92 36q14 0 22 -8")
    s.stroke([(128, 20), (140, 14), (152, 12)])
    s.straight([(144, 6), (153, 12), (147, 21)])
    strike(s, 112, 76, 140, 4)


def _no_dig(s: Sheet) -> None:
    foot(s, 56, base=70, half=13, flare=14, stand=False, ticks=(4, 42, 3))
    ground(s, 4, 29, 70, tufts=1)
    ground(s, 84, 164, 70, tufts=1)
    for line in (
        [(44, 72), (30, 88), (14, 98)],
        [(54, 72), (52, 90), (44, 106)],
        [(60, 72), (72, 92), (84, 106)],
        [(68, 72), (92, 84), (118, 92)],
    ):
        s.stroke(line, "d-mid")
    s.stroke([(6, 106), (60, 107), (110, 105), (162, 107)], "d-mid")
    s.stroke([(112, 60), (128, 30), (138, 8)], "d-bold")
    s.straight([(130, 5), (147, 12)], "d-bold")
    blade = [(104, 54), (122, 63), (118, 80), (105, 92), (97, 80), (98, 66)]
    s.wash(blade, "d-card", off=(0, 0))
    s.stroke(blade, closed=True)
    strike(s, 92, 26, 146, 84)


def _no_feed(s: Sheet) -> None:
    bag = [(52, 28), (60, 20), (108, 20), (116, 28), (120, 66), (116, 104), (52, 104), (48, 66)]
    s.wash(bag, "d-wood", sharp=True)
    s.stroke([*bag, bag[0]])
    s.stroke([(60, 20), (62, 10), (84, 7), (106, 10), (108, 20)])
    s.straight([(54, 30), (114, 30)], "d-fine")
    s.path("d-card", leaf_path(84, 90, -90, 44))
    s.path("d-ink", leaf_path(84, 90, -90, 44))
    s.path("d-mid", "M84 96V62")
    strike(s, 36, 104, 132, 10)


CARE: dict[str, tuple[Callable[[Sheet], None], str]] = {
    "keep_tools_away": (_keep_tools_away, "d-do"),
    "photo_next_week": (_photo_next_week, "d-do"),
    "coin": (_coin, "d-do"),
    "feel_soil": (_feel_soil, "d-do"),
    "keep_clear": (_keep_clear, "d-do"),
    "wet_flap": (_wet_flap, "d-do"),
    "no_paint": (_no_paint, ""),
    "no_pull_bark": (_no_pull_bark, ""),
    "no_dig": (_no_dig, ""),
    "no_feed": (_no_feed, ""),
}
ALSO = {"photo_with_coin": "coin", "move_mulch_back": "keep_clear"}


def care(code: str, title: str = "") -> str:
    """The drawing of a piece of advice; an unknown code is a young tree that is well."""
    known = ALSO.get(code, code)
    s = Sheet(f"care-{known if known in CARE else 'tree'}", *SIZE)
    if known not in CARE:
        ground(s, 4, 164, 106, gap=(74, 94), tufts=2)
        young_tree(s, 84, 106, 102, leaf_size=0.13)
        return s.svg(title)
    draw, kind = CARE[known]
    draw(s)
    return s.svg(title, kind=f"drawing is-cropped {kind}".rstrip())


def photo_guide(code: str, title: str = "") -> str:
    """What a photo should show, 112 x 112: whole_tree, base, close_up (with a coin)."""
    s = Sheet(f"photo-{code if code in {'whole_tree', 'base'} else 'close_up'}", 112, 112)
    for x, y, dx, dy in (
        (2, 2, 14, 14),
        (110, 2, -14, 14),
        (2, 110, 14, -14),
        (110, 110, -14, -14),
    ):
        s.straight([(x + dx, y), (x, y), (x, y + dy)])
    if code == "whole_tree":
        s.path("d-sky", "M9 9H103V90H9Z")
        s.path("d-wood", "M9 90H103V103H9Z")
        young_tree(s, 56, 90, 76, leaf_size=0.15)
        ground(s, 9, 103, 90, gap=(49, 63), tufts=1)
    elif code == "base":
        s.path("d-sky", "M9 9H103V72H9Z")
        s.path("d-wood", "M9 72H103V103H9Z")
        foot(s, 56, top=9, base=72, half=11, flare=13, stand=False, ticks=(14, 40, 4))
        ground(s, 9, 103, 72, gap=(32, 80), tufts=1)
        patch = [(46, 46), (55, 43), (66, 46), (67, 58), (60, 64), (48, 62)]
        s.wash(patch, "d-mark-wash", off=(0, 0))
        s.stroke(patch, "d-mark", closed=True)
        for x, y in ((20, 84), (40, 92), (74, 86), (92, 94)):
            s.path("d-fine", f"M{at(x, y)}h5")
    else:
        s.path("d-wood", "M9 9H103V103H9Z")
        bark(s, 14, 24, 12, 96, 5)
        bark(s, 88, 98, 12, 96, 5)
        patch = [(32, 20), (54, 15), (78, 19), (84, 46), (80, 84), (58, 92), (34, 88), (28, 54)]
        s.wash(patch, "d-mark-wash", off=(0, 0))
        s.stroke(patch, "d-mark", closed=True)
        s.wash(circle(56, 54, 20, n=14), "d-card", off=(0, 0))
        s.stroke(circle(56, 54, 20, n=14), closed=True, wobble=0.2)
        s.stroke(circle(56, 54, 16, n=14), "d-fine", closed=True, wobble=0.2)
        s.path("d-mid", leaf_path(56, 65, -90, 21))
    return s.svg(title, kind="drawing is-cropped")
