"""The stem gauge: what we believe of a tree, as a stem of four joints on a ground tick.

Four joints filled = thriving, three = holding, two = slipping, one = failing; a dead stem is cut
short, open at the top, and nothing is filled. The topmost filled joints are hatched when they are
in doubt (1: two conditions are plausible, 2: three or more); dead in doubt has broken walls. Ink
only. Two drawings, never one scaled: up to 29 units it sits on whole pixels (14 or 17 high), from
30 up it is drawn as a twig: tapered, flared at the root, bent a little at each joint, with buds.
"""

import math

from frontend.drawings.pen import Point, num, smooth, wrap

JOINTS = {"thriving": 4, "holding": 3, "slipping": 2, "failing": 1, "dead": 0}
CONDITIONS = tuple(JOINTS)
GONE = "gone"


def gauge(condition: str, doubt: int = 0, size: int = 17, title: str = "") -> str:
    """The gauge as an svg element; `title` names it for readers, empty hides it.

    A tree that is gone leaves a gap in the ground. An unknown condition draws an empty stem:
    nobody has looked yet.
    """
    doubt = min(max(int(doubt), 0), 2)
    if size < 30:
        high = 14 if size < 16 else 17
        d = _pixels(condition, doubt, high)
        body = f'<path class="g-fill" shape-rendering="crispEdges" d="{d}"/>'
        return wrap(body, 14, high, title=title, kind="gauge")
    body = _twig(condition, doubt)
    return wrap(body, 64, 100, title=title, kind="gauge", shown=(size * 0.64, size))


def pixels(condition: str, doubt: int, x: int, y: int, high: int = 17) -> str:
    """The small gauge as a path inside another drawing, its top left corner at whole (x, y)."""
    d = _pixels(condition, min(max(doubt, 0), 2), high)
    return (
        f'<g class="gauge" transform="translate({x} {y})">'
        f'<path class="g-fill" shape-rendering="crispEdges" d="{d}"/></g>'
    )


def _cell(x: int, y: int, w: int, h: int) -> str:
    return f"M{x} {y}h{w}v{h}h-{w}z"


def _pixels(condition: str, doubt: int, high: int) -> str:
    filled = JOINTS.get(condition)
    joint = 2 if high == 14 else 3
    base = high - 1
    if condition == GONE:
        return _cell(1, base, 3, 1) + _cell(10, base, 3, 1)
    out = [_cell(1, base, 12, 1)]
    if filled == 0:
        return "".join(out) + _stump(doubt, base, joint)
    for i in range(4):
        wide = 8 if i == 0 else 6
        left, top = 7 - wide // 2, base - 1 - i * (joint + 1) - joint
        if filled is None or i >= filled:
            out.append(_cell(left, top, 1, joint) + _cell(left + wide - 1, top, 1, joint))
            if filled is None:
                out.append(_cell(left, top, wide, 1) if i == 3 else "")
        elif i >= filled - doubt:
            out.extend(_hatch_cells(left, top, wide, joint, loose=doubt > filled))
        else:
            out.append(_cell(left, top, wide, joint))
    return "".join(out)


def _hatch_cells(left: int, top: int, wide: int, joint: int, loose: bool) -> list[str]:
    """A joint in doubt: single cells. Loose = the only joint, in wide doubt: fewer, no walls."""
    every = (2 if joint == 2 else 3) + loose
    cells = [
        _cell(left + k, top + row, 1, 1)
        for row in range(joint)
        for k in range(wide)
        if (k + row) % every == 0
    ]
    if joint == 3 and not loose:
        cells += [_cell(left, top, 1, joint), _cell(left + wide - 1, top, 1, joint)]
    return cells


def _stump(doubt: int, base: int, joint: int) -> str:
    """Two uneven walls, open at the top; in doubt they break, in wide doubt nearly vanish."""
    tall, short = (7, 4) if joint == 2 else (9, 5)
    if not doubt:
        return (
            _cell(3, base - 2, 8, 1)
            + _cell(3, base - 1 - tall, 1, tall)
            + _cell(10, base - 1 - short, 1, short)
        )
    every, kept = (3, 2) if doubt == 1 else (3, 1)
    return "".join(
        _cell(x, base - 2 - k, 1, 1)
        for x, height in ((3, tall), (10, short))
        for k in range(height)
        if k % every < kept
    )


# the drawn gauge: units of a 64 x 100 box
_NODES: list[Point] = [(32, 94), (33.6, 69), (30.6, 47.5), (33.4, 27), (31.4, 7)]
_HALF = [14.0, 7.4, 6.4, 5.5, 4.6]
_GAP = 2.1


def _joint(i: int) -> list[Point]:
    """The corners of joint i, from the ground up: left foot, left top, right top, right foot."""
    (x0, y0), (x1, y1) = _NODES[i], _NODES[i + 1]
    lower, upper = y0 - _GAP, y1 + _GAP
    foot, top = _HALF[i], _HALF[i + 1] * 1.04
    if i:
        foot *= 0.98
    return [(x0 - foot, lower), (x1 - top, upper), (x1 + top, upper), (x0 + foot, lower)]


def _walls(i: int, y: float) -> tuple[float, float]:
    """Where the left and the right wall of joint i stand at height y.

    The root flares like a trunk; the others are a little waisted, like a twig between two nodes.
    """
    a, b, c, d = _joint(i)
    t = (a[1] - y) / (a[1] - b[1])
    reach = 1 - (1 - t) ** 2.4 if i == 0 else t
    waist = 0.0 if i == 0 else 0.8 * math.sin(math.pi * t)
    return a[0] + (b[0] - a[0]) * reach + waist, d[0] + (c[0] - d[0]) * reach - waist


def _joint_path(i: int) -> str:
    a, b, _, _ = _joint(i)
    heights = [a[1] + (b[1] - a[1]) * k / 6 for k in range(7)]
    left = [(_walls(i, y)[0], y) for y in heights]
    right = [(_walls(i, y)[1], y) for y in reversed(heights)]
    rest = smooth(right)
    return smooth(left) + "L" + rest[1:] + "Z"


def _hatching(i: int) -> str:
    """Slanting strokes inside joint i, cut to its walls so that no clip path is needed."""
    a, b, _, _ = _joint(i)
    top, foot = b[1] + 1.2, a[1] - 1.2

    out = []
    for k in range(-2, 9):
        start = foot + 9 - k * 5.2
        points = []
        for step in range(41):
            x = 18 + step * 0.7
            y = start - (x - 18) * 0.72
            if top <= y <= foot:
                left, right = _walls(i, y)
                if left + 1.1 <= x <= right - 1.1:
                    points.append((x, y))
        if len(points) > 2:
            (x0, y0), (x1, y1) = points[0], points[-1]
            out.append(f"M{num(x0)} {num(y0)}L{num(x1)} {num(y1)}")
    return "".join(out)


def _twig(condition: str, doubt: int) -> str:
    filled = JOINTS.get(condition)
    if condition == GONE:
        return '<path class="g-line" stroke-width="4.4" d="M9 96.4H21M43 96.4H55"/>'
    out = ['<path class="g-line" stroke-width="4.4" d="M9 96.4H55"/>']
    if filled == 0:
        broken = ("", ' stroke-dasharray="6.4 5.2"', ' stroke-dasharray="1.2 5.6"')[doubt]
        walls = ("M17.6 91Q25 86.5 25.4 70L24.6 44", "M46.4 91Q40 86.5 39.6 72L40.4 60")
        return out[0] + "".join(
            f'<path class="g-line" stroke-width="3.2"{broken} d="{d}"/>' for d in walls
        )
    for i in range(4):
        d = _joint_path(i)
        if filled is None or i >= filled:
            out.append(f'<path class="g-line" stroke-width="2.4" d="{d}"/>')
        elif i >= filled - doubt:
            # a failing stem has one joint for both doubts: in wide doubt its walls break too
            broken = ' stroke-dasharray="3.4 4.6"' if doubt > filled else ""
            out.append(f'<path class="g-line" stroke-width="2.4"{broken} d="{d}"/>')
            out.append(f'<path class="g-line" stroke-width="2.2" d="{_hatching(i)}"/>')
        else:
            out.append(f'<path class="g-full" stroke-width="2.4" d="{d}"/>')
        if i:
            out.append(_bud(i))
    return "".join(out)


def _bud(i: int) -> str:
    """A bud at the foot of joint i, alternating sides."""
    x, y = _NODES[i]
    side = 1 if i % 2 else -1
    x += side * (_HALF[i] + 2.2)
    reach, rise = side * 5.4, -8.6
    bulge = math.copysign(4.2, side)
    return (
        f'<path class="g-line" stroke-width="2.1" d="M{num(x)} {num(y)}'
        f'q{num(bulge)} -1 {num(reach)} {num(rise)}"/>'
    )
