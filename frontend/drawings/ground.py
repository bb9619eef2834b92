"""The sign of the house (two suns over one ground line), the hero, and the ground line itself."""

from frontend.drawings.growth import bark, grass, ground, leaf, young_tree
from frontend.drawings.pen import Sheet, at, wrap


def wordmark(title: str = "") -> str:
    """Two suns on a ground line: the first summer low and small, the second risen and full."""
    body = (
        '<path class="d-ink" d="M1 22.5H42"/>'
        '<path class="d-ink" d="M4 22.5C4 14.5 12.6 13.6 15.4 19"/>'
        '<path class="d-bud" d="M17 22.5C17 10.6 35.4 10.6 35.4 22.5Z"/>'
        '<path class="d-plum" d="M26.2 8.6V3.6M33.8 11.8L37 7.6M18.6 11.8L15.4 7.6'
        'M38.2 17.6L42 16"/>'
    )
    return wrap(body, 44, 25, title=title, kind="drawing mark")


def hero(title: str = "") -> str:
    """A staked linden with a wound at its foot, one summer old: the start page's tree."""
    sheet = Sheet("hero", 232, 330, stamps_leaves=True)
    sheet.straight([(144, 330), (144, 226)])
    sheet.straight([(153, 330), (153, 226)])
    sheet.stroke([(144, 226), (148, 223.5), (153, 226)], wobble=0)
    young_tree(sheet, 112, 330, 308, dense=True, leaf_size=0.058)
    sheet.stroke([(118, 246), (130, 249), (144, 247)], "d-mid")
    sheet.stroke([(118, 254), (130, 257), (144, 255)], "d-mid")
    _wound(sheet, 112)
    return sheet.svg(title, kind="drawing hero-narrow")


def hero_row(title: str = "") -> str:
    """Five young lindens of different summers on one ground line, for wide screens."""
    sheet = Sheet("hero-row", 640, 330, stamps_leaves=True)
    for x, tall in ((46, 148), (594, 168), (140, 190), (490, 226)):
        young_tree(sheet, x, 330, tall, dense=tall > 180, leaf_size=0.075 if tall < 200 else 0.066)
    sheet.straight([(350, 330), (350, 226)])
    sheet.straight([(358, 330), (358, 226)])
    sheet.stroke([(350, 226), (354, 223.5), (358, 226)], wobble=0)
    young_tree(sheet, 318, 330, 308, dense=True, leaf_size=0.058)
    sheet.stroke([(324, 246), (336, 249), (350, 247)], "d-mid")
    sheet.stroke([(324, 254), (336, 257), (350, 255)], "d-mid")
    _wound(sheet, 318)
    return sheet.svg(title, kind="drawing hero-wide")


def _wound(sheet: Sheet, x: float) -> None:
    """Bark gone at the foot of the hero's trunk."""
    left = x - 112
    points = [
        (left + px, py)
        for px, py in (
            (102, 302),
            (107, 299),
            (115, 301),
            (121, 299),
            (122, 308),
            (123, 316),
            (117, 319),
            (109, 317),
            (102, 319),
            (101, 310),
        )
    ]
    sheet.wash(points, "d-mark-wash", off=(0, 0))
    sheet.stroke(points, "d-mark", closed=True)
    bark(sheet, x - 6, x + 6, 301, 314, 3, "d-mark-fine")


def ground_line(name: str = "ground", width: int = 1600) -> str:
    """One ground line from edge to edge, with grass and fallen leaves; cut, never squeezed."""
    sheet = Sheet(f"ground-{name}", width, 16)
    ground(sheet, 0, width, 13, tufts=width // 70)
    for k in range(width // 240):
        x = 150 + k * 240 + sheet.hand.uniform(-60, 60)
        leaf(sheet, x, 11, sheet.hand.choice((-22, 200, -12, 190)), 15)
    body = "".join(sheet.parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing is-cropped" height="16" '
        f'viewBox="0 0 {width} 16" preserveAspectRatio="xMidYMid slice" aria-hidden="true" '
        f'focusable="false">{body}</svg>'
    )


def sapling_row(standing: int, out_of: int = 10, title: str = "") -> str:
    """Ten saplings for "about n in 10": the first in leaf, the others bare and bent."""
    out_of = max(1, out_of)
    standing = min(max(standing, 0), out_of)
    sheet = Sheet(f"saplings-{out_of}", out_of * 35, 56)
    for i in range(out_of):
        x = 17.5 + i * 35
        if i < standing:
            sheet.path("d-ink", f"M{at(x, 48)}V22")
            for angle, y in ((-160, 38), (-24, 34), (-90, 30)):
                leaf(sheet, x, y, angle, 17, rib=0.6)
        else:
            sheet.stroke([(x, 48), (x + 0.5, 38), (x + 4, 31), (x + 9, 34)], "d-mid", wobble=0.2)
            sheet.stroke([(x + 0.6, 39), (x - 4, 35), (x - 7, 38)], "d-mid", wobble=0.2)
    sheet.straight([(0, 48), (out_of * 35, 48)])
    return sheet.svg(title)


def empty_ground(title: str = "") -> str:
    """Bare ground with one seed leaf: nothing here yet."""
    sheet = Sheet("empty-ground", 168, 64)
    ground(sheet, 2, 166, 50, tufts=3)
    sheet.path("d-ink", "M84 50C84 44 83 40 84 34")
    leaf(sheet, 84, 37, -150, 17)
    leaf(sheet, 84, 36, -28, 17)
    grass(sheet, 40, 50)
    return sheet.svg(title)
