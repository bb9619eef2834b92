"""Small round drawings: a crown seen from above, and the ring that says all is well."""

from frontend.drawings.pen import Sheet, arc, circle


def crown_above() -> str:
    """A tree from above: its crown with the ribs of its branches, 44 x 44."""
    sheet = Sheet("crown-above", 44, 44)
    sheet.wash(circle(22, 22, 17), "d-leaf")
    sheet.stroke(arc(22, 22, 18, -40, 285, n=16), "d-ink", wobble=0.3)
    for i in range(8):
        angle = i * 45 + 12
        sheet.stroke(
            [arc(22, 22, 5, angle, angle + 1, n=1)[0], arc(22, 22, 12, angle, angle + 1, n=1)[0]],
            "d-fine",
            wobble=0.2,
        )
    sheet.dot(22, 22, 1.8, "d-dot")
    return sheet.svg()


def all_well() -> str:
    """A ring with a tick in it, 44 x 44."""
    sheet = Sheet("all-well", 44, 44)
    sheet.stroke(arc(22, 22, 18, -75, 270, n=16), "d-mark", wobble=0.4)
    sheet.straight([(14, 22), (20, 29), (31, 15)], "d-mark")
    return sheet.svg(kind="drawing d-do")
