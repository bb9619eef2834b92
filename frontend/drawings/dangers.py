"""Dangers to people, 168 x 112, the danger in the alarm color; and how far to stand away."""

import math
from collections.abc import Callable

from frontend.drawings.growth import bark, grass, ground, leaf, young_tree
from frontend.drawings.pen import Sheet, at, circle

SIZE = (168, 112)


def spark(s: Sheet, x: float, y: float, kind: str = "d-mark-mid") -> None:
    """Broken rays round the end of a live wire."""
    for angle in (-196, -158, -124, -54, -20, 14):
        c, q = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        s.path(
            kind,
            f"M{at(x + 7 * c, y + 7 * q)}l{at(3 * c - 2 * q, 3 * q + 2 * c)} "
            f"{at(2 * c + 4 * q, 2 * q - 4 * c)} {at(4 * c, 4 * q)}",
        )


def somebody(s: Sheet, x: float, y: float, scale: float = 1.0) -> None:
    """Somebody standing, far off: head and coat, no face."""
    r = 5.2 * scale
    s.stroke(circle(x, y - 41 * scale, r), closed=True, wobble=0.2)
    coat = [
        (x - 8.5, -9),
        (x - 7, -22),
        (x - 4.6, -31),
        (x, -33.5),
        (x + 4.6, -31),
        (x + 7, -22),
        (x + 8.5, -9),
    ]
    points = [(x + (px - x) * scale, y + py * scale) for px, py in coat]
    s.stroke(points, wobble=0.2)
    s.straight([points[0], points[-1]])
    for dx in (-3, 3):
        s.straight([(x + dx * scale, y - 9 * scale), (x + dx * scale, y)])


def _wire(s: Sheet) -> None:
    young_tree(s, 46, 98, 88, leaf_size=0.15)
    s.straight([(150, 98), (150, 6)])
    s.straight([(138, 15), (164, 15)])
    s.path("d-fine", "M142 15v-4M160 15v-4")
    s.stroke([(0, 14), (28, 24), (58, 27), (86, 22), (98, 25)], "d-mark")
    s.stroke([(142, 11), (137, 40), (124, 68), (106, 87)], "d-mark")
    spark(s, 105, 88)
    ground(s, 2, 166, 98, gap=(37, 55), tufts=2)


def _fire(s: Sheet) -> None:
    ground(s, 2, 166, 98, gap=(44, 66), tufts=2)
    young_tree(s, 55, 98, 96, keep=0, dense=False, crown=False)
    flame = [
        (34, 64),
        (28, 50),
        (36, 36),
        (38, 46),
        (46, 30),
        (44, 14),
        (56, 24),
        (60, 38),
        (68, 28),
        (74, 44),
        (80, 38),
        (82, 54),
        (76, 66),
        (56, 70),
    ]
    s.wash(flame, "d-mark-wash", off=(0, 0))
    s.stroke(flame, "d-mark", closed=True)
    s.stroke([(46, 64), (44, 54), (51, 42), (55, 54), (62, 46), (66, 58), (62, 66)], "d-mark-mid")
    for x, low, high in ((94, 74, 14), (112, 62, 8), (130, 70, 20)):
        n = (low - high) // 11
        line = [(x + i * 3 + (5 if i % 2 else -3), low - i * 11) for i in range(n + 1)]
        s.stroke(line, "d-mark-mid")


def _hurt(s: Sheet) -> None:
    s.stroke(circle(29, 83, 10), "d-mark", closed=True)
    body = [
        (44, 75),
        (60, 69),
        (80, 71),
        (110, 79),
        (150, 85),
        (152, 93),
        (110, 94),
        (48, 94),
        (41, 86),
    ]
    s.wash(circle(29, 83, 10), "d-mark-wash", off=(0, 0))
    s.wash(body, "d-mark-wash", off=(0, 0))
    s.stroke(body, "d-mark", closed=True)
    s.stroke([(62, 76), (72, 82), (70, 92)], "d-mark-mid")
    limb = [(60, 16), (124, 95), (138, 95), (73, 10)]
    s.wash(limb, "d-wood", off=(2, 1), sharp=True)
    s.stroke([(60, 16), (92, 56), (124, 95)], lift=(0.5, 0.56))
    s.stroke([(73, 10), (106, 54), (138, 95)])
    s.straight([(60, 16), (63, 9), (67, 14), (73, 10)])
    bark(s, 84, 92, 30, 48, 2)
    bark(s, 104, 114, 56, 80, 3)
    for line, leaves in (
        ([(84, 26), (106, 24), (128, 17)], ((128, 17, -16), (114, 22, 46), (100, 25, -66))),
        ([(106, 53), (128, 46), (150, 48)], ((150, 48, 14), (136, 46, -62), (124, 48, 58))),
    ):
        s.stroke(line)
        for x, y, a in leaves:
            leaf(s, x, y, a, 18, rib=0.5)
    ground(s, 2, 166, 98, tufts=0)


def _hanging_limb(s: Sheet) -> None:
    left = [(48, 112), (50, 60), (51, 0)]
    right = [(80, 112), (77, 60), (75, 0)]
    s.wash([*left, *reversed(right)], "d-wood", off=(2, 0), sharp=True)
    s.stroke(left, lift=(0.34, 0.42))
    s.stroke(right)
    bark(s, 56, 70, 10, 104, 6)
    s.stroke([(76.5, 26), (86, 22), (96, 18)])
    s.stroke([(77, 48), (88, 42), (98, 36)])
    s.straight([(96, 18), (92, 24), (100, 27), (93, 32), (98, 36)], "d-mark-mid")
    limb = [(104, 24), (120, 34), (132, 54), (137, 82), (130, 84), (122, 62), (112, 48), (101, 42)]
    s.wash(limb, "d-mark-wash", off=(0, 0), sharp=True)
    s.stroke([(104, 24), (120, 34), (132, 54), (137, 84)], "d-mark")
    s.stroke([(101, 42), (112, 48), (122, 62), (129, 86)], "d-mark")
    s.straight([(104, 24), (99, 30), (106, 33), (101, 42)], "d-mark-mid")
    for x, y, a in ((136, 84, 60), (130, 86, 108), (133, 58, 14), (120, 62, 156), (137, 76, -10)):
        leaf(s, x, y, a, 19, ink="d-mark-mid", wash="d-mark-wash", rib=0.5)
    s.path("d-mark-fine", "M150 96v8M142 100v7M128 104v5")


def _crack(s: Sheet) -> None:
    wood = [
        (63, 112),
        (66, 62),
        (38, 0),
        (66, 0),
        (85, 34),
        (104, 0),
        (132, 0),
        (101, 60),
        (104, 112),
    ]
    s.wash(wood, "d-wood", off=(2, 2), sharp=True)
    s.stroke([(63, 112), (66, 64), (54, 34), (38, 0)], lift=(0.28, 0.36))
    s.stroke([(66, 0), (76, 18), (83, 31)])
    s.stroke([(88, 31), (95, 17), (104, 0)])
    s.stroke([(132, 0), (115, 32), (102, 62), (104, 112)])
    bark(s, 72, 76, 72, 106, 3)
    bark(s, 95, 98, 66, 104, 3)
    s.path("d-fine", "M52 12l4 9M60 30l4 8M118 14l-4 9M109 32l-4 8")
    left = [(83, 31), (86, 45), (80, 57), (87, 70), (82, 84), (87, 103)]
    right = [(87, 103), (90, 84), (95, 70), (89, 57), (94, 45), (88, 31)]
    s.wash([*left, *right], "d-mark-wash", off=(0, 0), sharp=True)
    s.straight(left, "d-mark")
    s.straight(right, "d-mark")


def _leaning(s: Sheet) -> None:
    ground(s, 2, 166, 98, gap=(50, 72), tufts=2)
    s.path("d-faint-dots", "M60 86V8")
    s.parts.append('<g transform="rotate(30 60 98)">')
    young_tree(s, 60, 100, 88, leaf_size=0.15)
    s.parts.append("</g>")
    s.stroke([(30, 22), (44, 12), (62, 9), (78, 13)], "d-mark")
    s.straight([(71, 5), (80, 13), (69, 19)], "d-mark")


def _soil_lifted(s: Sheet) -> None:
    mound = [(18, 98), (30, 86), (46, 78), (64, 79), (80, 90), (88, 98)]
    s.wash([*mound, (54, 99)], "d-mark-wash", off=(0, 0))
    s.stroke(mound, "d-mark")
    for line in (
        [(34, 84), (38, 91), (33, 97)],
        [(52, 78), (55, 87), (50, 95)],
        [(68, 82), (69, 89), (64, 96)],
    ):
        s.straight(line, "d-mark-mid")
    young_tree(s, 92, 98, 92, lean=0.24, leaf_size=0.14)
    ground(s, 2, 18, 98, tufts=0)
    ground(s, 104, 166, 98, tufts=2)
    s.stroke([(76, 98), (66, 106), (52, 109)], "d-mark-mid")
    grass(s, 40, 79, "d-fine", 0.8)


def _on_something(s: Sheet) -> None:
    body = [
        (20, 88),
        (22, 74),
        (42, 68),
        (56, 47),
        (66, 43),
        (98, 43),
        (110, 49),
        (122, 66),
        (145, 72),
        (148, 88),
    ]
    s.wash(body, "d-wood", sharp=True)
    s.stroke([(34, 88), (20, 88), (22, 75), (42, 68), (55, 48), (66, 43), (84, 42.5)], wobble=0.2)
    s.stroke(
        [(104, 44), (112, 51), (122, 66), (140, 70), (148, 77), (148, 88), (134, 88)], wobble=0.2
    )
    s.straight([(58, 88), (110, 88)])
    s.path("d-fine", "M42 68H78M96 68H121M82 46V68")
    for x in (46, 122):
        s.dot(x, 88, 11, "d-card")
        s.dot(x, 88, 11, "d-ink")
        s.dot(x, 88, 3.6, "d-fine")
    upper = [(-4, 24), (38, 22), (84, 34), (128, 42), (172, 43)]
    lower = [(172, 55), (124, 54), (78, 47), (36, 37), (-4, 39)]
    s.wash([*upper, *lower], "d-mark-wash", off=(0, 0), sharp=True)
    s.stroke(upper, "d-mark")
    s.stroke(lower, "d-mark")
    for line, ends in (
        ([(62, 29), (76, 17), (100, 9)], ((100, 9, -8), (88, 13, -88), (76, 18, 30))),
        ([(112, 39), (126, 25), (146, 17)], ((146, 17, -10), (134, 21, -88), (124, 27, 24))),
        ([(86, 49), (88, 60), (84, 74)], ((84, 74, 98), (87, 62, 26))),
    ):
        s.stroke(line, "d-mark-mid")
        for x, y, a in ends:
            leaf(s, x, y, a, 17, ink="d-mark-mid", wash="d-mark-wash", rib=0.5)
    ground(s, 2, 166, 99, tufts=0)


def _something_else(s: Sheet) -> None:
    s.straight([(28, 98), (28, 14), (140, 14), (140, 40)])
    s.straight([(140, 78), (140, 98), (28, 98)])
    s.stroke([(44, 36), (54, 30), (64, 38), (76, 31), (88, 37), (100, 31), (116, 35)], "d-mark")
    s.stroke([(44, 56), (54, 50), (66, 57), (80, 50), (96, 55)], "d-mark-mid")
    s.stroke([(44, 76), (58, 75), (72, 77)], "d-fine")
    pencil = [(98, 90), (138, 44), (148, 53), (108, 98), (95, 101)]
    s.wash(pencil, "d-card", off=(0, 0), sharp=True)
    s.straight(pencil, closed=True)
    s.straight([(98, 90), (108, 98)], "d-fine")


def _not_sure(s: Sheet) -> None:
    young_tree(s, 52, 98, 88, leaf_size=0.15)
    s.stroke(
        [(108, 41), (109, 26), (124, 19), (140, 25), (143, 40), (133, 51), (127, 58), (126, 70)],
        "d-mark",
    )
    s.dot(126, 84, 3.4, "d-mark-fill")
    ground(s, 2, 166, 98, gap=(43, 61), tufts=2)


DANGERS: dict[str, Callable[[Sheet], None]] = {
    "wire": _wire,
    "fire": _fire,
    "hurt": _hurt,
    "hanging_limb": _hanging_limb,
    "crack": _crack,
    "leaning": _leaning,
    "soil_lifted": _soil_lifted,
    "on_something": _on_something,
    "something_else": _something_else,
    "not_sure": _not_sure,
}
ALSO = {"new_lean": "leaning"}


def danger(code: str, title: str = "") -> str:
    """The drawing of a danger by its code; an unknown code counts as one that nobody has named."""
    known = ALSO.get(code, code)
    if known not in DANGERS:
        known = "not_sure"
    sheet = Sheet(f"danger-{known}", *SIZE)
    DANGERS[known](sheet)
    return sheet.svg(title, kind="drawing d-danger is-cropped")


def keep_back(kind: str, words: str) -> str:
    """The hazard left, somebody right, and between them the distance in words (`words`).

    Kinds: wire, fire, limb (a leaning tree with its height beside it; also for an unknown kind).
    """
    known = kind if kind in {"wire", "fire"} else "limb"
    s = Sheet(f"back-{known}", 350, 124)
    start = 62.0
    if known == "wire":
        s.straight([(18, 98), (18, 6)])
        s.straight([(6, 16), (32, 16)])
        s.stroke([(28, 12), (34, 44), (42, 72), (54, 92)], "d-mark")
        spark(s, 54, 90)
    elif known == "fire":
        young_tree(s, 40, 98, 84, keep=0, crown=False)
        flame = [
            (24, 66),
            (20, 54),
            (28, 40),
            (32, 48),
            (40, 26),
            (50, 42),
            (56, 36),
            (60, 54),
            (54, 68),
            (40, 72),
        ]
        s.wash(flame, "d-mark-wash", off=(0, 0))
        s.stroke(flame, "d-mark", closed=True)
    else:
        start = 74.0
        young_tree(s, 62, 98, 84, lean=0.12, leaf_size=0.14)
        s.straight([(18, 97), (18, 14)], "d-mark-mid")
        s.straight([(12, 14), (24, 14)], "d-mark-mid")
        s.straight([(12, 97), (24, 97)], "d-mark-mid")
    somebody(s, 322, 98, 0.94)
    ground(s, 2, 348, 98, tufts=0)
    s.stroke([(start, 113), (190, 112.4), (306, 113)], "d-mark-mid")
    s.straight([(start + 9, 107), (start, 113), (start + 9, 119)], "d-mark-mid")
    s.straight([(297, 107), (306, 113), (297, 119)], "d-mark-mid")
    s.words((start + 318) / 2, 86, words, "d-say-mark")
    return s.svg(words, kind="drawing d-danger far-drawing")
