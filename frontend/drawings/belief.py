"""What is believed of one tree: as a stem gauge, as a hundred trees like it, and month by month.

A belief is six probabilities, in the order of `STATES`. They need not add up to one; what cannot be
a belief (not a number, negative, all zero) is drawn as a tree that nobody has looked at.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext, pgettext_lazy

from frontend.drawings.drawn import (
    Drawn,
    block,
    capital,
    in_sizes,
    month_said,
    months_from,
    to_hundred,
    width_of,
)
from frontend.drawings.gauge import GONE, gauge, pixels
from frontend.drawings.marks import Pairs, area, dot, spread, stroke, written
from frontend.drawings.months import month_axis
from frontend.drawings.pen import wrap

STATES = ("thriving", "holding", "slipping", "failing", "dead", GONE)
LOST = ("dead", GONE)
SURE = 0.8
"""A condition this likely is drawn without doubt; together, as many as it takes are plausible."""
LEAST_SHOWN = 0.001  # a smaller share of the hundred is in the table only

WORDS = {
    "thriving": pgettext_lazy("condition", "thriving"),
    "holding": pgettext_lazy("condition", "holding"),
    "slipping": pgettext_lazy("condition", "slipping"),
    "failing": pgettext_lazy("condition", "failing"),
    "dead": pgettext_lazy("condition", "dead"),
    GONE: pgettext_lazy("condition", "gone"),
}

Vector = Sequence[float]


@dataclass(frozen=True, slots=True)
class Shape:
    """What the stem gauge shows: a condition ("" = nobody has looked) and its doubt, 0 to 2."""

    condition: str
    doubt: int = 0


def normal(vector: Vector) -> tuple[float, ...]:
    """The belief with its sum one, or () where it is none."""
    shares = tuple(float(share) for share in vector)
    if len(shares) != len(STATES) or not all(0 <= share < math.inf for share in shares):
        return ()
    most = max(shares)
    if most <= 0:
        return ()
    shares = tuple(share / most for share in shares)  # first, so that no sum overflows
    total = math.fsum(shares)
    return tuple(share / total for share in shares)


def read_belief(vector: Vector) -> Shape:
    """The likeliest condition, and how many others are plausible beside it.

    Plausible are the fewest conditions that hold 80 in 100 together: one is no doubt, two are
    some, three or more are wide doubt. Dead and gone are one in this: whether a lost tree still
    stands is no doubt about its life. A gap in the ground is drawn only for a tree that is gone
    with 80 in 100; before that it is drawn as dead.
    """
    shares = normal(vector)
    if not shares:
        return Shape("")
    by_state = dict(zip(STATES, shares, strict=True))
    likeliest = max(STATES, key=lambda state: by_state[state])
    if likeliest == GONE and by_state[GONE] < SURE:
        likeliest = "dead"
    groups = {state: share for state, share in by_state.items() if state not in LOST}
    groups["dead"] = by_state["dead"] + by_state[GONE]
    first = "dead" if likeliest in LOST else likeliest
    held, plausible = groups.pop(first), 1
    for share in sorted(groups.values(), reverse=True):
        if held >= SURE - 1e-9:
            break
        held, plausible = held + share, plausible + 1
    return Shape(likeliest, min(plausible, 3) - 1)


def gauge_of_belief(vector: Vector, *, size: int = 17, title: str | None = None) -> str:
    """The stem gauge of a belief. Its name is the belief in words; title="" hides it from readers,
    for where the words stand beside it.
    """
    shape = read_belief(vector)
    said = belief_said(vector) if title is None else title
    return gauge(shape.condition, shape.doubt, size, said)


def belief_said(vector: Vector) -> str:
    """ "slipping", "slipping, could be holding", "slipping, could be holding or failing"."""
    shape = read_belief(vector)
    if not shape.condition:
        return _("not looked at yet")
    word = str(WORDS[shape.condition])
    if not shape.doubt:
        return word
    shares = dict(zip(STATES, normal(vector), strict=True))
    others = sorted((s for s in STATES if s != shape.condition), key=lambda s: -shares[s])
    if shape.condition in LOST:
        others = [state for state in others if state not in LOST]
    names = [str(WORDS[state]) for state in others[: shape.doubt] if shares[state] > 0]
    if len(names) > 1:
        return _("%(word)s, could be %(one)s or %(other)s") % {
            "word": word,
            "one": names[0],
            "other": names[1],
        }
    return _("%(word)s, could be %(one)s") % {"word": word, "one": names[0]} if names else word


@dataclass(frozen=True, slots=True)
class _Part:
    """One condition among the hundred: how many, its box on the sheet, and its words."""

    state: str
    share: float
    count: int
    x: float
    width: float

    @property
    def figure(self) -> str:
        return str(self.count) if self.count else _("under 1")

    @property
    def words(self) -> str:
        return f"{self.figure} {WORDS[self.state]}"


HUNDRED = {"wide": 640.0, "narrow": 350.0, "paper": 720.0}
GAP, SLIVER, HIGH = 3.0, 3.0, 26.0
GAUGE = 14 + 5  # px: a small gauge and the space to its word


def hundred(vector: Vector) -> Drawn:
    """Of 100 trees like this one: one bar, cut by condition, the likeliest with a heavier edge.

    Words that find no room in their box stand below it.
    """
    shares = normal(vector)
    counts = to_hundred(shares or [0.0] * len(STATES))
    title = _("So, of 100 trees like this")
    if not shares:
        said = _("Nobody has looked yet, so nothing can be said.")
    else:
        order = sorted(range(len(STATES)), key=lambda i: -shares[i])
        parts = [f"{counts[i]} {WORDS[STATES[i]]}" for i in order if counts[i]]
        said = _("Of 100 trees like this: %s.") % ", ".join(parts)
    return Drawn(
        title=title,
        note="",
        said=said,
        sizes=in_sizes(lambda size: _hundred(shares, counts, HUNDRED[size], title, said)),
        columns=(_("Condition"), _("Of 100 trees like this")),
        rows=tuple(
            (
                str(WORDS[state]),
                str(count) if count or not shares or shares[i] == 0 else _("under 1"),
            )
            for i, (state, count) in enumerate(zip(STATES, counts, strict=True))
        ),
    )


def _hundred(shares: Vector, counts: Sequence[int], width: float, title: str, said: str) -> str:
    parts = _parts(shares, counts, width)
    out: list[str] = []
    below: list[_Part] = []
    likeliest = max(parts, key=lambda part: part.share) if parts else None
    for part in parts:
        kind = "b-most" if part is likeliest else "b-part"
        out.append(block(kind, part.x + 0.5, 2.5, part.width - 1, HIGH))
        bold = part is likeliest
        middle, foot = part.x + part.width / 2, 2.5 + HIGH / 2 + 4.5
        if GAUGE + width_of(part.words, bold=bold) + 12 <= part.width:
            out.append(pixels(part.state, 0, round(part.x + 7), 8, 14))
            weight = "c-bold" if bold else ""
            out.append(written(part.x + 7 + GAUGE, foot, part.words, weight))
        elif width_of(part.figure) + 6 <= part.width:
            out.append(written(middle, foot, part.figure, "c-mid"))
            below.append(part)
        else:
            below.append(part)
    if not parts:
        out.append(block("b-part", 0.5, 2.5, width - 1, HIGH))
        out.append(written(8, 2.5 + HIGH / 2 + 4.5, _("not looked at yet"), "c-soft"))
    notes, lines = _notes(below, width)
    height = 2.5 + HIGH + 4 + 20 * lines
    return wrap(
        "".join([*out, *notes]), width, height, title=title, desc=said, kind="chart-drawing"
    )


def _parts(shares: Vector, counts: Sequence[int], width: float) -> list[_Part]:
    """The boxes, each as wide as its share but never too thin to be seen."""
    shown = [i for i, share in enumerate(shares) if share >= LEAST_SHOWN]
    room = width - GAP * max(0, len(shown) - 1)
    thin = [i for i in shown if shares[i] * room < SLIVER]
    left = room - SLIVER * len(thin)
    total = math.fsum(shares[i] for i in shown if i not in thin)
    x, out = 0.0, []
    for i in shown:
        wide = SLIVER if i in thin else left * shares[i] / total
        out.append(_Part(STATES[i], shares[i], counts[i], x, wide))
        x += wide + GAP
    return out


def _notes(parts: Sequence[_Part], width: float) -> tuple[list[str], int]:
    """Words below the boxes they belong to: under their middle, moved along where they collide."""
    placed: list[_Note] = []
    left = [part for part in parts if part.x + part.width / 2 < width / 2]
    right = [part for part in parts if part not in left]
    # From the middle outwards: the outermost boxes get the lowest lines, so that no leader
    # crosses words.
    for part, leans in [*((p, False) for p in reversed(left)), *((p, True) for p in right)]:
        # Where the box holds the number, the word alone is enough.
        inside = width_of(part.figure) + 6 <= part.width
        words = str(WORDS[part.state]) if inside else part.words
        placed.append(_note(part, words, leans, width, placed))
    out: list[str] = []
    for note in placed:
        y = 2.5 + HIGH + 18 + 20 * note.line
        if note.line:
            out.append(stroke("b-leader", note.leader, 2.5 + HIGH + 1, note.leader, y + 2))
        out.append(pixels(note.state, 0, round(note.x), round(y - 11), 14))
        out.append(written(round(note.x) + GAUGE, y, note.words))
    return out, max((note.line for note in placed), default=-1) + 1


@dataclass(frozen=True, slots=True)
class _Note:
    """Words below a box: from x to end on a line, with a leader where it is not the first line."""

    state: str
    words: str
    line: int
    x: float
    end: float
    leader: float


def _note(part: _Part, words: str, leans: bool, width: float, placed: Sequence[_Note]) -> _Note:
    wide, leader, line = GAUGE + width_of(words), part.x + part.width / 2, 0
    while True:
        if leans:  # the words end at their box
            end = part.x + part.width if line == 0 else leader - 4
            x = max(0.0, end - wide)
        else:
            x = part.x if line == 0 else leader + 4
            x = min(x, width - wide)
        end = x + wide
        free = all(
            end + 10 <= other.x or x - 10 >= other.end
            if other.line == line
            else other.line < line or not x - 3 <= other.leader <= end + 3
            for other in placed
        )
        if free:
            return _Note(part.state, words, line, x, end, leader)
        line += 1


@dataclass(frozen=True, slots=True)
class BeliefMonth:
    """What was believed of a tree in one month, and who looked: `looks` in all, of them `trained`.

    `bare` months are those in which its kind stands without leaves.
    """

    month: date
    shares: Vector
    looks: int = 0
    trained: int = 0
    bare: bool = False


@dataclass(frozen=True, slots=True)
class _Strip:
    width: float
    right: float
    high: float


STRIPS = {
    "wide": _Strip(640, 128, 112),
    "narrow": _Strip(358, 112, 104),
    "paper": _Strip(720, 128, 96),
}
FILLS = ("b-thriving", "b-holding", "b-slipping", "b-failing", "b-dead", "b-gone")
LEAST_BAR = 6.0  # px a month: below it the months run together
MOST_STEP, MOST_BAR = 34.0, 11.0  # px


def belief_strip(months: Sequence[BeliefMonth], *, name: str) -> Drawn:
    """The belief of one tree month by month: a bar a month, full of ink where it thrives and empty
    where it is dead, with the looks under the axis (filled: trained; hollow: neighbors).
    """
    shown = sorted(months, key=lambda m: m.month)
    title = _("What we believed of %s, month by month") % name
    said = _strip_said(shown)
    return Drawn(
        title=title,
        note=_strip_note(shown),
        said=said,
        sizes=in_sizes(lambda size: _strip(shown, STRIPS[size], title, said)),
        columns=(_("Month"), *(str(WORDS[state]) for state in STATES), _("Looks"), _("trained")),
        rows=tuple(
            (
                month_said(m.month),
                *(
                    [str(n) for n in to_hundred(normal(m.shares))]
                    if normal(m.shares)
                    else ["–"] * len(STATES)
                ),
                str(m.looks),
                str(m.trained),
            )
            for m in shown
        ),
    )


def _strip_note(months: Sequence[BeliefMonth]) -> str:
    note = _("of 100 trees like this; more ink, more life; filled dot: a trained look")
    if any(m.bare for m in months):
        note += "; " + _("shaded: its bare months")
    return note


def _strip_said(months: Sequence[BeliefMonth]) -> str:
    known = [m for m in months if normal(m.shares)]
    if not known:
        return _("Nobody has looked yet, so nothing can be said.")
    looks = sum(max(0, m.looks) for m in months)
    behind = ngettext("%d look is behind it.", "%d looks are behind it.", looks) % looks
    if not looks:
        behind = _("No look is behind it.")
    last = _("%(month)s: %(now)s.") % {
        "month": month_said(known[-1].month),
        "now": belief_said(known[-1].shares),
    }
    said = [last, behind]
    if len(known) > 1:
        first = _("%(month)s: %(now)s.") % {
            "month": month_said(known[0].month),
            "now": belief_said(known[0].shares),
        }
        said.insert(0, first)
    return " ".join(map(capital, said))


def _strip(months: Sequence[BeliefMonth], sheet: _Strip, title: str, said: str) -> str:
    top, base = 6.0, 6.0 + sheet.high
    right = sheet.width - sheet.right
    out: list[str] = []
    if not months:
        out = [written(0, 20, _("not looked at yet"), "c-soft")]
        return wrap("".join(out), sheet.width, 30, title=title, desc=said, kind="chart-drawing")
    start = months[0].month
    count = months_from(start, months[-1].month) + 1
    step = min(right / count, MOST_STEP)
    right = step * count
    for m in months:
        if m.bare:
            x = months_from(start, m.month) * step
            out.append(block("c-season", x, top - 4, step, sheet.high + 4))
    out += _bars(months, step, sheet.high, base)
    out.append(stroke("c-axis", 0, base, right, base))
    out += _ends(months, right, sheet.high, base)
    looked, foot = _looked(months, step, right, base)
    axis, foot = month_axis(start, count, 0, right, foot)
    body = "".join([*out, *looked, *axis])
    return wrap(body, sheet.width, foot, title=title, desc=said, kind="chart-drawing")


def _bars(months: Sequence[BeliefMonth], step: float, high: float, base: float) -> list[str]:
    """A bar of six inks for each month; where months are too narrow for that, six areas."""
    out = []
    bar = min(MOST_BAR, step * 0.6) if step >= LEAST_BAR else step
    run: list[list[Pairs]] = []
    last = -2
    for m in months:
        place = months_from(months[0].month, m.month)
        x, y = (place + 0.5) * step - bar / 2, base
        edges: list[Pairs] = []
        for fill, share in zip(FILLS, normal(m.shares), strict=False):
            tall = high * share
            y -= tall
            edges.append([(x, y + tall), (x + bar, y + tall), (x + bar, y), (x, y)])
            if step >= LEAST_BAR and tall >= 0.25:  # a hair of paper between two inks
                out.append(block(fill, x, y, bar, max(tall - 1, 0.25)))
        if edges and place == last + 1:
            run.append(edges)
        else:
            out += _areas(run) if step < LEAST_BAR else []
            run = [edges] if edges else []
        last = place
    return out + _areas(run) if step < LEAST_BAR else out


def _areas(run: Sequence[Sequence[Pairs]]) -> list[str]:
    """Months that touch, as one stepped area for each condition."""
    out = []
    for k, fill in enumerate(FILLS if run else ()):
        foot = [point for edges in run for point in edges[k][:2]]
        top = [point for edges in reversed(run) for point in edges[k][2:]]
        if any(a[1] - b[1] >= 0.25 for a, b in zip(foot, reversed(top), strict=True)):
            out.append(area(f"{fill} b-dense", [*foot, *top]))
    return out


def _ends(months: Sequence[BeliefMonth], right: float, high: float, base: float) -> list[str]:
    """The shares of the last month in words, each beside its part of the bar."""
    shares = normal(months[-1].shares)
    counts = to_hundred(shares) if shares else []
    places, y = [], base
    for i, share in enumerate(shares):
        y -= high * share
        if counts[i]:
            places.append((i, y + high * share / 2 + 4))
    heights = spread([place for _i, place in places], 17, 14, base - 2)
    x = right + 10
    out = []
    likeliest = max(range(len(counts)), key=lambda i: shares[i]) if counts else -1
    for (i, _place), height in zip(places, heights, strict=True):
        out.append(pixels(STATES[i], 0, round(x), round(height - 11), 14))
        kind = "c-bold" if i == likeliest else ""
        out.append(written(x + GAUGE, height, f"{counts[i]} {WORDS[STATES[i]]}", kind))
    return out


def _looked(
    months: Sequence[BeliefMonth], step: float, right: float, base: float
) -> tuple[list[str], float]:
    """Who looked in each month, as dots below the bars: up to three, of more one and a number."""
    out = []
    r = min(2.8, max(0.9, step / 2 - 0.4))
    rows = 1
    for m in months:
        x = (months_from(months[0].month, m.month) + 0.5) * step
        looks = max(0, m.looks)
        trained = min(max(0, m.trained), looks)
        for k in range(looks if looks <= 3 else 1):
            kind, size = ("c-dot", r) if k < trained else ("b-look", max(0.6, r - 0.5))
            out.append(dot(kind, x, base + 10 + 8 * k, size))
        rows = max(rows, min(looks, 3))
        if looks > 3 and step >= 7 * len(str(looks)):
            rows = max(rows, 2)
            out.append(written(x, base + 26, looks, "c-soft c-mid"))
    out.append(written(right + 10, base + 15, _("looks"), "c-soft"))
    return out, base + 8 + 8 * rows
