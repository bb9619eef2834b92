"""The plant label that carries a report's day and number, the loop of the pen, and the arrows."""

from frontend.drawings.pen import Sheet, escape, num, wrap


def label_shape() -> str:
    """The outline of a plant label with its string, to lie behind words; it stretches with them."""
    body = (
        '<path class="d-plum-wash" vector-effect="non-scaling-stroke" '
        'd="M14 4.5H98.6Q99.6 4.5 99.6 7V93Q99.6 95.5 98.6 95.5H14L3 74V26Z"/>'
        '<path class="d-plum-bold" vector-effect="non-scaling-stroke" '
        'd="M14 4.5H98.6Q99.6 4.5 99.6 7V93Q99.6 95.5 98.6 95.5H14L3 74V26Z"/>'
    )
    return wrap(body, 100, 100, kind="drawing label-shape", stretch=True)


def label_string() -> str:
    """The hole and the string, drawn over the outline."""
    body = (
        '<circle class="d-card" cx="42" cy="22" r="8.5"/>'
        '<circle class="d-plum-bold" cx="42" cy="22" r="8.5"/>'
        '<path class="d-plum" d="M42 22C30 34 22 10 12 20C6 26 3 24 0 22"/>'
    )
    return wrap(body, 56, 44, kind="drawing label-string")


def label(text: str, small: str = "", below: str = "") -> str:
    """A whole plant label with its words inside the drawing, for paper and pictures."""
    wide = max(300.0, 150 + 15.5 * len(text))
    sheet = Sheet("label", wide, 112)
    shape = (
        f"M46 4H{num(wide - 10)}Q{num(wide - 4)} 4 {num(wide - 4)} 10V102Q{num(wide - 4)} 108 "
        f"{num(wide - 10)} 108H46L12 82V30Z"
    )
    sheet.path("d-plum-wash", shape)
    sheet.path("d-plum-bold", shape)
    sheet.dot(40, 56, 8.5, "d-card")
    sheet.dot(40, 56, 8.5, "d-plum-bold")
    sheet.path("d-plum", "M40 56C28 68 20 44 10 54C5 59 3 57 0 55")
    if small:
        sheet.words(74, 34, small, "d-soft", anchor="start")
    sheet.words(74, 66, text, "d-name", anchor="start")
    if below:
        sheet.words(74, 94, below, "d-soft", anchor="start")
    return sheet.svg(" ".join(part for part in (small, text, below) if part))


def loop() -> str:
    """The ring of a pen round a chosen answer; it stretches to what it circles."""
    d = "M36 9C20 10 3 22 3 50C3 82 26 97 52 96C80 95 98 80 97 48C96 18 74 4 46 4C30 4 14 10 7 26"
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="loop" viewBox="0 0 100 100" '
        'preserveAspectRatio="none" aria-hidden="true" focusable="false">'
        f'<path vector-effect="non-scaling-stroke" d="{d}"/></svg>'
    )


def arrow(kind: str = "on") -> str:
    """An arrow by hand: on (to the next page), back, turn (a chevron), down."""
    paths = {
        "on": (
            "M2 12.4C11 11.4 20 12.6 28.6 12M21 5C23.6 8.2 26 10.2 29 12C26 13.6 23.4 16 21.4 19.2"
        ),
        "back": ("M29 12.4C20 11.4 11 12.6 3 12M10 5C7.4 8.2 5 10.2 2.4 12C5 13.6 7.6 16 9.6 19.2"),
        "turn": ("M9 3C12 6.4 15 9.6 17.4 12C15 14.6 12 17.6 9.4 21"),
        "down": ("M3 8C6.4 11 9.6 14 12 16.4C14.6 14 17.6 11 21 8"),
    }
    d = paths.get(kind, paths["on"])
    wide = 24 if kind in {"turn", "down"} else 32
    return wrap(f'<path d="{d}"/>', wide, 24, kind="d-arrow")


def tally(count: int, title: str = "") -> str:
    """Tally marks: four strokes and the fifth across them."""
    count = max(0, min(count, 60))
    sheet = Sheet("tally", max(8, (count + 4) // 5 * 30), 16)
    for i in range(count):
        group, k = divmod(i, 5)
        x = 3 + group * 30
        if k == 4:
            sheet.path("d-mid", f"M{num(x - 2)} 12L{num(x + 19)} 4")
        else:
            lean = sheet.hand.uniform(-0.6, 0.6)
            sheet.path("d-mid", f"M{num(x + k * 5.2 + lean)} 2L{num(x + k * 5.2)} 14")
    return sheet.svg(title or escape(str(count)))
