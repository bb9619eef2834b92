"""Small round drawings: a crown seen from above, and the ring that says all is well."""

from frontend.drawings.pen import Sheet, arc, circle, wrap


def crown_above() -> str:
    """A tree from above: its crown with the ribs of its branches, 44 x 44."""
    return wrap(_crown(), 44, 44)


def crown_stamp() -> str:
    """The same crown, shown nowhere: `crown_print` shows it as often as a page has trees."""
    return wrap(
        # the strokes are styled where they are printed, so the pen's class goes along
        f'<symbol id="crown" viewBox="0 0 44 44"><g class="drawing">{_crown()}</g></symbol>',
        44,
        44,
        kind="drawing visually-hidden",
    )


def crown_print() -> str:
    """One print of the stamp that stands on the same page."""
    return wrap('<use href="#crown"/>', 44, 44)


def _crown() -> str:
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
    return "".join(sheet.parts)


def all_well() -> str:
    """A ring with a tick in it, 44 x 44."""
    sheet = Sheet("all-well", 44, 44)
    sheet.stroke(arc(22, 22, 18, -75, 270, n=16), "d-mark", wobble=0.4)
    sheet.straight([(14, 22), (20, 29), (31, 15)], "d-mark")
    return sheet.svg(kind="drawing d-do")
