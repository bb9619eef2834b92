"""What a neighbor can see: one line drawing a sign, 168 x 112, the sign itself in the mark's color.

Signs on trunk, base and ground are drawn here, those on leaves and twigs in `leaf_signs`, those
for trained people alone in `rarer_signs`.
"""

from collections.abc import Callable

from frontend.drawings.growth import (
    GROUND,
    bark,
    crumbs,
    foot,
    grass,
    ground,
    leaf,
    pole,
    twig,
)
from frontend.drawings.leaf_signs import LEAF_SIGNS
from frontend.drawings.pen import Point, Sheet, at, num
from frontend.drawings.rarer_signs import RARER_SIGNS

SIZE = (168, 112)


def marked(sheet: Sheet, points: list[Point], line: str = "d-mark", *, closed: bool = True) -> None:
    """The sign itself: its wash in register, its outline in the mark."""
    sheet.wash(points, "d-mark-wash", off=(0, 0))
    sheet.stroke(points, line, closed=closed)


def _bark_wound(s: Sheet) -> None:
    foot(s, ticks=(2, 40, 5))
    marked(
        s,
        [
            (68, 58),
            (75, 54),
            (83, 56),
            (91, 52),
            (100, 55),
            (103, 62),
            (101, 70),
            (104, 78),
            (99, 86),
            (90, 85),
            (81, 88),
            (73, 85),
            (68, 80),
            (70, 70),
        ],
    )
    for x, y, down in ((76, 63, 13), (84, 60, 6), (84, 71, 9), (92, 61, 17), (98, 66, 8)):
        s.path("d-mark-fine", f"M{at(x, y)}q0.8 {num(down / 2)} 0 {down}")
    s.stroke([(103, 58), (110, 56), (113, 61), (109, 68)], "d-mark-mid")


def _bark_torn(s: Sheet) -> None:
    pole(s, half=30)
    marked(
        s, [(70, 22), (86, 17), (103, 13), (106, 34), (104, 52), (88, 60), (72, 61)], "d-mark-mid"
    )
    for i, x in enumerate((76, 84, 92, 100)):
        s.stroke([(x - 1, 22 - i * 2), (x + 2, 36 - i * 2), (x, 50 - i * 2)], "d-mark")
    for x, y, length in ((75, 60, 30), (89, 59, 38), (102, 52, 26)):
        strip = [
            (x - 3, y),
            (x - 4, y + length * 0.6),
            (x - 1, y + length),
            (x + 3, y + length * 0.94),
            (x + 3, y + length * 0.5),
            (x + 4, y),
        ]
        s.wash(strip, "d-mark-wash", off=(0, 0))
        s.stroke(strip, "d-mark-mid")


def _bark_sunken(s: Sheet) -> None:
    pole(s, half=28)
    marked(
        s,
        [
            (86, 3),
            (94, 16),
            (99, 36),
            (98, 60),
            (95, 86),
            (87, 107),
            (79, 90),
            (74, 64),
            (75, 36),
            (79, 15),
        ],
        "d-mark-mid",
    )
    s.straight(
        [(86, 12), (83, 24), (89, 35), (84, 47), (90, 60), (84, 72), (88, 84), (86, 97)], "d-mark"
    )
    for x, y in ((79, 32), (93, 42), (79, 66), (92, 74)):
        s.path("d-mark-fine", f"M{at(x, y)}q1.4 8 0 15")


def _fungus(s: Sheet) -> None:
    foot(s, 66, half=17, flare=14, ticks=(4, 70, 6))
    for y, reach in ((32, 27), (55, 36)):
        shelf = [
            (83, y - 9),
            (83 + reach * 0.55, y - 8),
            (83 + reach, y - 1),
            (83 + reach * 0.7, y + 4),
            (83, y + 6),
        ]
        marked(s, shelf)
        s.stroke([(88, y - 3), (83 + reach * 0.5, y - 2.5), (83 + reach * 0.75, y)], "d-mark-fine")
    for x, tall, cap in ((132, 19, 13), (149, 12, 9)):
        s.straight([(x - 2.4, GROUND), (x - 2, GROUND - tall)], "d-mark-mid")
        s.straight([(x + 2.4, GROUND), (x + 2, GROUND - tall)], "d-mark-mid")
        top = GROUND - tall
        marked(
            s,
            [
                (x - cap, top + 1),
                (x - cap * 0.7, top - cap * 0.62),
                (x, top - cap * 0.86),
                (x + cap * 0.7, top - cap * 0.62),
                (x + cap, top + 1),
                (x, top + 2),
            ],
        )


def _heaped_soil(s: Sheet) -> None:
    foot(s, half=14, flare=1, base=62, stand=False, ticks=(4, 44, 4))
    heap = [
        (24, GROUND),
        (48, 84),
        (66, 66),
        (78, 55),
        (96, 55),
        (108, 66),
        (126, 83),
        (150, GROUND),
    ]
    s.wash([*heap, (88, GROUND)], "d-mark-wash", off=(0, 0), sharp=True)
    s.stroke(heap, "d-mark")
    for _ in range(17):
        x = s.hand.uniform(44, 132)
        low = 60 + abs(x - 87) * 0.66
        if low < 88:
            y = s.hand.uniform(low + 3, 91)
            s.path(
                "d-mark-fine",
                f"M{at(x, y)}l{num(s.hand.uniform(4, 8))} {num(s.hand.uniform(-2, 2))}",
            )
    ground(s, 4, 164, gap=(24, 150), tufts=2)


def _circling_root(s: Sheet) -> None:
    foot(s, 86, half=15, flare=22, ticks=(4, 44, 4))
    root = [
        (130, 60),
        (126, 72),
        (110, 80),
        (88, 82),
        (68, 79),
        (52, 81),
        (38, 89),
        (28, 98),
        (42, 98),
        (54, 92),
        (70, 90),
        (90, 93),
        (114, 91),
        (132, 82),
        (139, 66),
        (136, 59),
    ]
    s.wash(root, "d-mark-wash", off=(0, 0))
    s.stroke(root, "d-mark", closed=True)
    for x, y in ((56, 86), (76, 86), (96, 88), (116, 84), (129, 74)):
        s.path("d-mark-fine", f"M{at(x - 3, y)}l6 {num(s.hand.uniform(-1.6, 1.6))}")


def _holes_sawdust(s: Sheet) -> None:
    foot(s, ticks=None)
    bark(s, 74, 78, 6, 74, 4)
    bark(s, 99, 101, 2, 58, 3)
    for x, y in ((86, 18), (95, 40), (82, 53), (91, 70)):
        s.path("d-mark-fill", f"M{at(x - 3.6, y)}a3.6 3.2 0 1 0 7.2 0a3.6 3.2 0 1 0 -7.2 0Z")
        s.path("d-mark-fine", f"M{at(x - 1, y + 6)}q1.2 4 -1 8M{at(x + 2.6, y + 7)}q1 3 0 5")
    marked(s, [(108, GROUND), (115, 88), (123, 84), (131, 85), (138, 89), (144, GROUND), (126, 95)])
    for x in (119, 125, 131, 136):
        s.path("d-mark-fine", f"M{at(x, 90 - (x % 2))}h0.1")


def _base_shoots(s: Sheet) -> None:
    foot(s, ticks=(4, 64, 6))
    shoots = (
        [(56, 93), (47, 76), (33, 57)],
        [(63, 92), (58, 68), (57, 40)],
        [(115, 92), (124, 70), (125, 44)],
        [(121, 93), (136, 78), (147, 62)],
    )
    for line in shoots:
        twig(
            s,
            line,
            leaves=6,
            size=15,
            start=0.34,
            ink="d-mark",
            leaf_ink="d-mark-mid",
            wash="d-mark-wash",
            rib=0.2,
        )


def _tie_cuts_in(s: Sheet) -> None:
    left = [(72, 112), (73, 72), (70, 66), (75, 60), (75, 56), (70, 50), (73, 42), (74, 0)]
    right = [(108, 112), (107, 72), (110, 66), (104, 60), (104, 56), (110, 50), (107, 42), (106, 0)]
    s.wash([*left, *reversed(right)], "d-wood", off=(2, 0))
    s.stroke(left, lift=(0.68, 0.74))
    s.stroke(right)
    bark(s, 84, 102, 6, 40, 3)
    bark(s, 82, 102, 74, 104, 3)
    s.stroke([(26, 112), (26, 15), (32, 11), (38, 15), (38, 112)], wobble=0.2)
    bark(s, 30, 34, 18, 100, 4)
    band = [
        (26, 53),
        (50, 51),
        (75, 55),
        (90, 57.5),
        (104, 55),
        (104, 61),
        (90, 64),
        (75, 62),
        (50, 59),
        (26, 61),
    ]
    s.wash(band, "d-mark-wash", off=(0, 0))
    s.stroke(band[:5], "d-mark")
    s.stroke(band[5:], "d-mark")


def _stake_rubs(s: Sheet) -> None:
    foot(s, 92, half=15, flare=14, ticks=(56, 84, 2))
    marked(s, [(76, 24), (84, 20), (92, 24), (94, 36), (88, 46), (79, 44), (75, 34)])
    s.wash([(30, GROUND), (40, GROUND), (94, 4), (85, 1)], "d-card", off=(0, 0), sharp=True)
    s.straight([(29, GROUND), (84, 2), (94, 6), (40, GROUND)])
    s.path("d-fine", "M40 82L46 72M56 58L61 50M72 30L77 22")
    s.stroke([(84, 15), (92, 10), (101, 12), (107, 9)], "d-mid")
    for x, y in ((98, 28), (99, 37)):
        s.path("d-mark-mid", f"M{at(x, y)}q4 -1 6 -4")


def _broken_branch(s: Sheet) -> None:
    left = [(42, 112), (44, 60), (45, 0)]
    right = [(72, 112), (70, 60), (69, 0)]
    s.wash([*left, *reversed(right)], "d-wood", off=(2, 0), sharp=True)
    s.stroke(left, lift=(0.4, 0.5))
    s.stroke(right)
    bark(s, 50, 64, 6, 104, 6)
    s.stroke([(69.5, 34), (84, 29), (98, 22)])
    s.stroke([(70, 44), (86, 38), (101, 31)])
    s.straight([(98, 22), (104, 25), (99, 28), (101, 31)], "d-mark-mid")
    s.stroke([(108, 30), (121, 46), (128, 68), (131, 88)], "d-mark")
    s.straight([(108, 30), (103, 34), (107, 37), (103, 40)], "d-mark-mid")
    s.stroke([(103, 40), (114, 54), (120, 72), (124, 90)], "d-mark")
    for x, y, a in ((131, 86, 74), (125, 90, 116), (126, 62, 28), (116, 62, 150), (129, 76, 10)):
        leaf(s, x, y, a, 18, ink="d-mark-mid", wash="d-mark-wash", rib=0.5)


def _dry_soil(s: Sheet) -> None:
    foot(s, base=76, half=14, flare=13, stand=False, ticks=(4, 52, 4))
    ground(s, 4, 164, 76, gap=(59, 113), tufts=0)
    for x in (18, 30, 142, 154):
        s.path("d-fine", f"M{at(x, 76)}q-2 -3 -6 -4M{at(x + 2, 76)}q2 -3 6 -3")
    for line in (
        [(34, 77), (39, 86), (33, 94), (40, 103)],
        [(39, 86), (50, 89), (56, 98)],
        [(70, 78), (74, 88), (69, 96), (76, 106)],
        [(74, 88), (88, 91), (95, 87)],
        [(104, 78), (107, 89), (101, 98), (106, 107)],
        [(107, 89), (121, 93), (128, 88)],
        [(136, 77), (134, 87), (141, 95), (137, 105)],
        [(134, 87), (128, 88)],
    ):
        s.straight([s.near(p) for p in line], "d-mark-mid")


def _soggy_soil(s: Sheet) -> None:
    foot(s, base=88, half=15, flare=10, stand=False, ticks=(4, 60, 5))
    pool = [
        (10, 92),
        (34, 86),
        (64, 89),
        (86, 92),
        (110, 89),
        (138, 85),
        (160, 92),
        (148, 101),
        (112, 105),
        (62, 105),
        (24, 101),
    ]
    marked(s, pool)
    for x, y, w in ((26, 94, 26), (70, 98, 34), (118, 95, 28), (44, 101, 18), (104, 102, 20)):
        s.path("d-mark-fine", f"M{at(x, y)}q{num(w / 4)} -2.4 {num(w / 2)} 0t{num(w / 2)} 0")
    grass(s, 8, 90)
    grass(s, 162, 89)


def _something_else(s: Sheet) -> None:
    s.straight([(28, 98), (28, 14), (140, 14), (140, 40)])
    s.straight([(140, 78), (140, 98), (28, 98)])
    s.stroke([(44, 36), (54, 30), (64, 38), (76, 31), (88, 37), (100, 31), (116, 35)], "d-mark")
    s.stroke([(44, 56), (54, 50), (66, 57), (80, 50), (96, 55)], "d-mark-mid")
    s.stroke([(44, 76), (58, 75), (72, 77)], "d-fine")
    pencil = [(98, 90), (138, 44), (148, 53), (108, 98)]
    s.wash([*pencil, (95, 101)], "d-card", off=(0, 0), sharp=True)
    s.straight([(98, 90), (138, 44), (148, 53), (108, 98), (95, 101)], closed=True)
    s.straight([(98, 90), (108, 98)], "d-fine")
    s.straight([(132, 51), (142, 60)], "d-fine")


def _oozing_bark(s: Sheet) -> None:
    pole(s, half=29)
    marked(s, [(78, 30), (88, 24), (98, 29), (101, 39), (95, 47), (84, 47), (76, 40)])
    for x, y, down in ((82, 46, 34), (89, 47, 52), (96, 45, 26)):
        run = [
            (x - 2.2, y),
            (x - 2, y + down * 0.7),
            (x - 3.4, y + down),
            (x, y + down + 4),
            (x + 3.4, y + down),
            (x + 2, y + down * 0.7),
            (x + 2.2, y),
        ]
        s.wash(run, "d-mark-fill", off=(0, 0))
    s.path("d-mark-fine", "M83 33q4 -3 8 0M82 39q5 3 10 0")


def _buried_flare(s: Sheet) -> None:
    s.wash(
        [(70, GROUND - 12), (70, 0), (102, 0), (102, GROUND - 12)], "d-wood", off=(2, 0), sharp=True
    )
    s.stroke([(70, 82), (70.5, 40), (71, 0)], lift=(0.4, 0.5))
    s.stroke([(102, 82), (101.5, 40), (101, 0)])
    bark(s, 77, 96, 6, 66, 6)
    ground(s, 4, 164, 82, gap=(70, 102), tufts=2)
    s.straight([(64, 82), (108, 82)], "d-mark")
    for d in ("M70 88Q66 98 52 104", "M102 88Q106 98 120 104", "M86 90V106"):
        s.path("d-mark-mid d-broken", d)
    crumbs(s, 16, 52, 88, 106, 6)
    crumbs(s, 120, 156, 88, 106, 6)


def _loose_ball(s: Sheet) -> None:
    lean = 9.0
    left = [(62, 88), (72, 72), (78 + lean, 40), (84 + lean * 1.6, 0)]
    right = [(112, 88), (102, 72), (100 + lean, 40), (104 + lean * 1.6, 0)]
    s.wash([*left, *reversed(right)], "d-wood", off=(2, 0), sharp=True)
    s.stroke(left, lift=(0.5, 0.58))
    s.stroke(right)
    bark(s, 86, 106, 8, 62, 4)
    s.stroke([(46, 82), (56, 102), (86, 109), (116, 104), (128, 88)], "d-ink")
    ground(s, 4, 36, 86, tufts=1)
    ground(s, 138, 164, 86, tufts=0)
    s.stroke([(34, 86), (42, 104), (60, 112)], "d-mark-mid")
    s.stroke([(140, 86), (134, 104), (118, 112)], "d-mark-mid")
    s.stroke([(46, 30), (58, 20), (72, 17)], "d-mark")
    s.straight([(54, 17), (45, 31), (60, 31)], "d-mark")
    s.stroke([(150, 46), (144, 34), (132, 27)], "d-mark")
    s.straight([(152, 33), (150, 47), (138, 41)], "d-mark")


def _packed_soil(s: Sheet) -> None:
    foot(s, 46, base=76, half=14, flare=13, stand=False, ticks=(4, 52, 4))
    s.straight([(4, 76), (19, 76)])
    s.straight([(73, 76), (164, 76)], "d-mark")
    s.wash([(73, 76), (164, 76), (164, 104), (73, 104)], "d-mark-wash", off=(0, 0), sharp=True)
    for row in range(4):
        for k in range(8):
            x = 78 + k * 11 + (row % 2) * 5
            s.path("d-mark-fine", f"M{at(x, 82 + row * 6)}h{num(s.hand.uniform(4, 7))}")
    stick = [(118, 74), (115, 12), (119, 9), (123, 12), (122, 74), (120, 77)]
    s.wash(stick, "d-card", off=(0, 0), sharp=True)
    s.straight(stick, closed=True)
    s.path("d-fine", "M118 24l3 1M118 40l3 1")
    s.stroke([(134, 34), (135, 50), (134, 64)], "d-mark-mid")
    s.straight([(128, 57), (134, 65), (140, 57)], "d-mark-mid")


SIGNS: dict[str, Callable[[Sheet], None]] = {
    "bark_wound": _bark_wound,
    "bark_torn": _bark_torn,
    "bark_sunken": _bark_sunken,
    "fungus": _fungus,
    "heaped_soil": _heaped_soil,
    "circling_root": _circling_root,
    "holes_sawdust": _holes_sawdust,
    "base_shoots": _base_shoots,
    "tie_cuts_in": _tie_cuts_in,
    "stake_rubs": _stake_rubs,
    "broken_branch": _broken_branch,
    "dry_soil": _dry_soil,
    "soggy_soil": _soggy_soil,
    "oozing_bark": _oozing_bark,
    "buried_flare": _buried_flare,
    "loose_ball": _loose_ball,
    "packed_soil": _packed_soil,
    "something_else": _something_else,
    **LEAF_SIGNS,
    **RARER_SIGNS,
}


def sign(code: str, title: str = "") -> str:
    """The drawing of a sign by its code; an unknown code is a sheet of paper and a pencil."""
    known = code if code in SIGNS else "something_else"
    sheet = Sheet(f"sign-{known}", *SIZE)
    SIGNS[known](sheet)
    return sheet.svg(title, kind="drawing is-cropped")
