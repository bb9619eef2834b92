"""Which side of the trunk: the street from above, with the side in the mark."""

from frontend.drawings.growth import leaf
from frontend.drawings.pen import Sheet, arc, circle

SIDES = ("street", "path", "building", "all_round", "not_sure")


def side(code: str, title: str = "") -> str:
    """A trunk between road and house, seen from above, the asked side marked.

    An unknown code is "not sure": nothing is marked and a question stands beside it.
    """
    known = code if code in SIDES else "not_sure"
    s = Sheet(f"side-{known}", 168, 112)
    # road on the left, sidewalk on the right, a house at the edge
    s.straight([(34, 2), (34, 110)])
    s.straight([(10, 8), (10, 26)], "d-faint")
    s.straight([(10, 44), (10, 66)], "d-faint")
    s.straight([(10, 84), (10, 104)], "d-faint")
    s.straight([(104, 2), (104, 110)], "d-mid")
    s.straight([(134, 2), (134, 110)], "d-mid")
    for y in (22, 58, 92):
        s.straight([(104, y), (134, y)], "d-faint")
    s.wash([(148, -4), (172, -4), (172, 116), (148, 116)], "d-wood", off=(0, 0), sharp=True)
    s.straight([(148, 2), (148, 40)])
    s.straight([(148, 72), (148, 110)])
    s.straight([(148, 40), (158, 48)], "d-mid")
    if known == "building":
        s.wash(
            [(148, -4), (172, -4), (172, 116), (148, 116)], "d-mark-wash", off=(0, 0), sharp=True
        )
        s.straight([(148, 2), (148, 40)], "d-mark-mid")
        s.straight([(148, 72), (148, 110)], "d-mark-mid")
    s.wash(circle(70, 56, 21, n=14), "d-wood")
    s.stroke(circle(70, 56, 21, n=14), closed=True)
    for r, a in ((14, 20), (8, 150)):
        s.stroke(arc(70, 56, r, a, a + 250), "d-fine")
    s.dot(70, 56, 2)
    marks = {"street": (118, 242), "path": (20, 80), "building": (-52, 52), "all_round": (0, 350)}
    if known in marks:
        start, end = marks[known]
        s.stroke(arc(70, 56, 21, start, end, n=14), "d-mark")
        s.stroke(arc(70, 56, 26.5, start + 6, end - 6, n=14), "d-mark")
    if known == "street":
        _arrow(s, 38, 56, -1)
    elif known == "path":
        s.wash([(104, 2), (134, 2), (134, 110), (104, 110)], "d-mark-wash", off=(0, 0), sharp=True)
        s.straight([(104, 2), (104, 110)], "d-mark-mid")
        s.straight([(134, 2), (134, 110)], "d-mark-mid")
    elif known == "not_sure":
        s.stroke([(80, 14), (82, 7), (89, 4), (96, 8), (95, 15), (90, 19), (89, 24)], "d-mark")
        s.dot(89, 31, 2.2, "d-mark-fill")
    leaf(s, 58, 98, -150, 14, rib=0.5)
    return s.svg(title)


def _arrow(s: Sheet, x: float, y: float, way: int) -> None:
    s.straight([(x, y), (x + way * 20, y)], "d-mark")
    s.straight([(x + way * 12, y - 7), (x + way * 20, y), (x + way * 12, y + 7)], "d-mark")
