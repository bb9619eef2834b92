"""The survival chart: what is drawn is what was given, and what nobody knows is drawn as that."""

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from frontend.drawings import survival
from frontend.drawings.accounted import accounted, per_mark, row_of_trees
from frontend.drawings.survival import Piece, pieces, slope

SIZES = ("wide", "narrow", "paper")
NAMED = {"title": "Still standing", "desc": "At least 77 of 100."}
WORDS = {
    "curve": "still standing",
    "curve_more": "(every loss counts)",
    "death": "not dead",
    "town": "all planted in 2023: 92 trees",
    "under_watch": "under watch",
    "lost": "known lost so far",
    "scale": "The scale does not begin at none.",
    "seen_to": "looks end here",
    "seen_to_more": "looks end here; beyond it, a forecast",
    "starts": "watched from here on",
    "mark": "second summer: at least 77",
    "end": "Nov 2028|27 of 33|21 to 33",
    "weighed": "all evidence weighed",
    "dates": "Nov 2023|Nov 2024|Nov 2025|Nov 2026|Nov 2027|Nov 2028",
}
# Looks at six and at twelve months: what was lost between them fell on a day that nobody knows.
CURVE = [
    *((age, 1.0, 1.0) for age in range(7)),
    *((age, 0.8, 1.0) for age in range(7, 12)),
    *((age, 0.8, 0.8) for age in range(12, 24)),
]
FULL = {
    "curve": CURVE,
    "band": [(0, 1.0, 1.0), (6, 0.9, 1.0), (12, 0.6, 0.95), (23, 0.6, 0.95)],
    "death": [(0, 1.0, 1.0), (6, 1.0, 1.0), (12, 0.9, 0.9), (23, 0.9, 0.9)],
    "town": [(0, 1.0, 1.0), (23, 0.88, 0.88)],
    "under_watch": [(0, 44, 0), (12, 40, 4), (18, 33, 10)],
    "seasons": [(6, 11, "first summer"), (90, 99, "never reached")],
    "mark": (22, 0.8, 21, 0.85),
    "forecast": [(23, 0.8, 0.8, 0.8), (60, 0.6, 0.45, 0.75)],
    "words": WORDS,
}
WEIGHED = {
    "weighed": [(0, 1.0, 1.0, 1.0), (12, 0.86, 0.78, 0.93), (23, 0.62, 0.5, 0.71)],
    "weighed_at": [(12, 0.86, 0.78, 0.93), (22, 0.64, 0.52, 0.73)],
}
HARD = [
    FULL,
    {"curve": [(0, 1.0, 1.0)]},
    {"curve": [(0, 1.0, 1.0), (3, 0.0, 0.0)]},
    {"curve": [(0, 1.0, 1.0), (1, 0.0, 1.0), (300, 0.0, 0.0)]},
    {"curve": [(32, 1.0, 1.0), (53, 1.0, 1.0)], "words": WORDS},
    {"curve": []},
    FULL | WEIGHED,
    {"curve": [], **WEIGHED},
    {"curve": CURVE, "weighed": [(0, 1.0, 1.0, 1.0)], "weighed_at": [(300, 0.0, 0.0, 0.0)]},
]


def said(svg):
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def paths(svg, kind):
    found = re.findall(rf'<path class="{kind}" d="([^"]*)"', svg)
    return [
        [tuple(map(float, point.split())) for point in re.split("[MLZ]", d) if point.strip()]
        for d in found
    ]


class Scale:
    """Ages and shares read back from the marks on the axes."""

    def __init__(self, svg):
        words = re.findall(r'<text x="[\d.-]+" y="([\d.-]+)"[^>]*>(\d+)<', svg)
        grid = sorted({points[0][1] for points in paths(svg, "c-grid")})
        shares = [int(t) / 100 for y, t in words for g in grid if abs(float(y) - 4 - g) < 0.2]
        self.top, self.base, self.floor = grid[0], grid[-1], min(shares)
        ticks = [points for points in paths(svg, "c-axis") if points[0][0] == points[1][0]]
        self.left, self.year = ticks[0][0][0], ticks[1][0][0] - ticks[0][0][0]

    def read(self, point):
        x, y = point
        share = self.floor + (1 - self.floor) * (self.base - y) / (self.base - self.top)
        return (x - self.left) / self.year * 12, share


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("given", HARD)
def test_the_chart_is_a_named_image_without_styles_or_colors(given, size):
    svg = survival.survival(**given, **NAMED, size=size)
    root = ET.fromstring(svg)
    assert root.attrib["role"] == "img"
    assert [child.tag.rpartition("}")[2] for child in root][:2] == ["title", "desc"]
    for element in root.iter():
        assert not {"style", "id", "fill", "stroke"} & set(element.attrib)
    assert "nan" not in svg
    assert "inf" not in svg


def test_each_size_is_a_drawing_of_its_own_and_fits_its_sheet():
    widths = [
        float(ET.fromstring(survival.survival(**FULL, **NAMED, size=size)).attrib["width"])
        for size in SIZES
    ]
    assert widths[0] <= 870
    assert widths[1] <= 358  # a phone of 390 less its margins
    assert widths[2] <= 733  # letter paper of 8.5 in less two margins of 11 mm, at 96 to the inch


def test_a_loss_between_two_looks_is_one_piece_with_two_ends():
    assert pieces(CURVE) == [
        Piece(0, 6, 1.0, 1.0),
        Piece(6, 12, 1.0, 0.8),
        Piece(12, 23, 0.8, 0.8),
    ]


def test_a_line_goes_straight_across_what_is_not_known():
    assert slope(CURVE) == [(0, 1.0), (6, 1.0), (12, 0.8), (23, 0.8)]
    assert slope([]) == []
    assert slope([(3, 0.5, 0.7)]) == [(3, 0.6)]


@pytest.mark.parametrize("size", SIZES)
def test_what_nobody_knows_is_a_hatched_box_and_never_a_step(size):
    svg = survival.survival(curve=CURVE, **NAMED, size=size)
    scale = Scale(svg)
    [box] = paths(svg, "c-box")
    corners = [scale.read(point) for point in box]
    assert [age for age, _ in corners] == pytest.approx([6, 12, 12, 6], abs=0.02)
    assert [share for _, share in corners] == pytest.approx([1, 1, 0.8, 0.8], abs=0.002)
    assert "c-hatch" in svg
    for line in paths(svg, "c-find"):
        for (x0, y0), (x1, y1) in pairwise(line):
            assert x0 != x1 or y0 == y1


def test_the_hatching_stays_in_its_box():
    [box] = paths(survival.survival(curve=CURVE, **NAMED), "c-box")
    [hatch] = paths(survival.survival(curve=CURVE, **NAMED), "c-hatch")
    xs, ys = [x for x, _ in box], [y for _, y in box]
    for x, y in hatch:
        assert min(xs) - 0.1 <= x <= max(xs) + 0.1
        assert min(ys) - 0.1 <= y <= max(ys) + 0.1


def test_a_fall_too_small_for_a_box_is_a_slope():
    svg = survival.survival(curve=[(0, 1, 1), (6, 1, 1), (7, 0.999, 0.999)], **NAMED)
    assert "c-box" not in svg
    assert len(paths(svg, "c-find")[0]) == 3


@pytest.mark.parametrize("size", SIZES)
def test_every_given_number_can_be_read_back_from_the_drawing(size):
    svg = survival.survival(**FULL | {"words": {}}, **NAMED, size=size)
    scale = Scale(svg)
    line = [scale.read(p) for part in paths(svg, "c-find") for p in part]
    assert [round(age) for age, _ in line] == [0, 6, 12, 23]
    assert [share for _, share in line] == pytest.approx([1, 1, 0.8, 0.8], abs=0.002)
    forecast = [scale.read(p) for p in paths(svg, "c-forecast")[0]]
    assert forecast[-1] == pytest.approx((60, 0.6), abs=0.05)
    edges = [[scale.read(p)[1] for p in part][-1] for part in paths(svg, "c-forecast-edge")[:2]]
    assert edges == pytest.approx([0.45, 0.75], abs=0.002)
    dots = re.findall(r'<circle class="(c-point[a-z-]*)" cx="([\d.]+)" cy="([\d.]+)"', svg)
    filled = [scale.read((float(x), float(y))) for kind, x, y in dots if kind == "c-point"]
    assert filled[0] == pytest.approx((22, 0.8), abs=0.05)
    hollow = [scale.read((float(x), float(y))) for kind, x, y in dots if kind == "c-point-open"]
    assert pytest.approx((21, 0.85), abs=0.05) in hollow


@pytest.mark.parametrize("size", SIZES)
def test_the_weighed_line_and_its_limits_can_be_read_back_from_the_drawing(size):
    svg = survival.survival(**FULL | WEIGHED | {"words": {}}, **NAMED, size=size)
    scale = Scale(svg)
    [line] = [part for part in paths(svg, "c-weighed") if part]
    read = [scale.read(point) for point in line]
    assert [age for age, _ in read] == pytest.approx([0, 12, 23], abs=0.05)
    assert [share for _, share in read] == pytest.approx([1, 0.86, 0.62], abs=0.002)
    uprights = [[scale.read(p) for p in part] for part in paths(svg, "c-weighed-limit")]
    for upright, (age, _, low, high) in zip(uprights, WEIGHED["weighed_at"], strict=True):
        assert [at for at, _ in upright] == pytest.approx([age, age], abs=0.05)
        assert [share for _, share in upright] == pytest.approx([high, low], abs=0.002)
    assert len(paths(svg, "c-weighed-end")) == 2 * len(uprights)


def test_the_scale_reaches_down_to_the_limits_of_the_weighed_line():
    svg = survival.survival(**FULL | WEIGHED | {"forecast": (), "words": {}}, **NAMED)
    assert Scale(svg).floor == pytest.approx(0.4)  # the whole fifth below 0.52


@pytest.mark.parametrize("size", SIZES)
def test_the_weighed_line_is_named_and_without_it_nothing_is_said_of_it(size):
    assert WORDS["weighed"] in said(survival.survival(**FULL | WEIGHED, **NAMED, size=size))
    without = survival.survival(**FULL, **NAMED, size=size)
    assert WORDS["weighed"] not in said(without)
    assert "c-weighed" not in without


def test_on_paper_the_name_of_the_curve_stands_clear_of_the_second_summer():
    svg = survival.survival(**FULL | WEIGHED, **NAMED, size="paper")
    assert "still standing (every loss counts)" in said(svg)
    assert WORDS["mark"] in said(svg)


def test_lines_differ_by_dash_and_every_one_has_its_name():
    svg = survival.survival(**FULL | WEIGHED, **NAMED)
    for kind in ("c-find", "c-second", "c-compare", "c-weighed", "c-forecast"):
        assert f'class="{kind}"' in svg
    for name in ("curve", "curve_more", "death", "town", "weighed", "mark", "seen_to_more"):
        assert WORDS[name] in said(svg)
    assert {"Nov 2028", "27 of 33", "21 to 33"} <= set(said(svg))


def test_without_a_forecast_nothing_is_said_of_one():
    svg = survival.survival(**FULL | {"forecast": ()}, **NAMED)
    assert "c-forecast" not in svg
    assert WORDS["seen_to"] in said(svg)
    assert "27 of 33" not in said(svg)


def test_the_numbers_under_watch_and_lost_stand_under_the_axis():
    for size in SIZES:
        texts = said(survival.survival(**FULL, **NAMED, size=size))
        assert {"44", "40", "33", "0", "4", "10", "under watch", "known lost so far"} <= set(texts)


def test_a_scale_that_begins_above_none_says_so_and_another_does_not():
    assert WORDS["scale"] in said(survival.survival(**FULL, **NAMED))
    low = {"curve": [(0, 1, 1), (12, 0.1, 0.1)], "words": WORDS}
    assert WORDS["scale"] not in said(survival.survival(**low, **NAMED))


def test_a_curve_that_starts_late_says_from_when():
    late = survival.survival(curve=[(7, 1, 1), (30, 0.9, 0.9)], words=WORDS, **NAMED)
    assert "watched from here on" in said(late)
    assert "watched from here on" not in said(survival.survival(**FULL, **NAMED))


def test_a_season_beyond_the_chart_is_not_drawn():
    assert survival.survival(**FULL, **NAMED).count("c-season") == 1


def test_words_in_the_chart_are_escaped():
    evil = "<b>&</b>"
    svg = survival.survival(**FULL | {"words": dict.fromkeys(WORDS, evil)}, title=evil, desc=evil)
    ET.fromstring(svg)
    assert "<b>" not in svg


COUNTS = {"alive": 32, "stale": 3, "died": 9, "removed": 2, "unknown": 1, "never": 4}


@pytest.mark.parametrize("wide", [True, False])
def test_every_tree_is_accounted_for_once(wide):
    svg = accounted(counts=COUNTS, **NAMED, wide=wide)
    # one more of each in the words below
    assert svg.count("c-alive") == 33
    assert svg.count("c-stale") == 4
    assert svg.count("c-removed") == 3
    assert said(svg).count("?") == 2
    assert svg.count("c-event") == 2 * 10 + 5  # a cross has two strokes, a dash has one
    assert float(ET.fromstring(svg).attrib["width"]) <= (440 if wide else 358)


@pytest.mark.parametrize(
    ("trees", "each"),
    [(0, 1), (1, 1), (240, 1), (241, 10), (2400, 10), (2401, 100), (10**6, 10**4)],
)
def test_beyond_240_trees_one_mark_stands_for_ten_and_so_on(trees, each):
    assert per_mark(trees) == each


def test_a_kind_of_few_trees_keeps_its_mark_in_a_large_group():
    svg = accounted(counts=COUNTS | {"alive": 400}, **NAMED, words={"each": "One mark for ten."})
    assert svg.count("c-alive") == 41
    assert svg.count("c-removed") == 2
    assert "One mark for ten." in said(svg)
    assert "One mark for ten." not in said(accounted(counts=COUNTS, **NAMED, words={"each": "One"}))


def test_no_tree_at_all_can_be_drawn():
    ET.fromstring(accounted(counts={}, **NAMED))


@pytest.mark.parametrize("trees", [0, 1, 20, 21, 40])
def test_one_dot_is_one_tree(trees):
    assert row_of_trees(trees).count('class="c-dot"') == trees
    assert row_of_trees(trees, filled=False).count('class="c-dot-open"') == trees
