"""What is believed of a tree, drawn: gauges, the hundred, and the strip of months."""

import math
import re
import xml.etree.ElementTree as ET
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from frontend.drawings.belief import (
    STATES,
    BeliefMonth,
    Shape,
    belief_said,
    belief_strip,
    gauge_of_belief,
    hundred,
    normal,
    read_belief,
)
from frontend.drawings.drawn import to_hundred
from frontend.drawings.gauge import CONDITIONS, gauge
from frontend.drawings.months import month_of

SIZES = ("wide", "narrow", "paper")
EVIL = '<b>Ana & "Luis"</b>'
BAD = [(), (1,), (math.nan,) * 6, (0,) * 6, (-1, 1, 1, 1, 1, 1), (math.inf, 0, 0, 0, 0, 0)]
VECTORS = st.lists(st.floats(0, 1e300), min_size=6, max_size=6).filter(lambda v: max(v) > 0)


def said(svg):
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def boxes(svg, kinds):
    """(class, x, y, width, height) of every box of these classes, in order."""
    pattern = (
        r'<rect class="([a-z -]+)" x="([\d.-]+)" y="([\d.-]+)" width="([\d.]+)" height="([\d.]+)"'
    )
    return [
        (kind, *map(float, numbers))
        for kind, *numbers in re.findall(pattern, svg)
        if kind.split()[0] in kinds
    ]


def is_clean(svg):
    root = ET.fromstring(svg)
    assert root.attrib["role"] == "img"
    assert [child.tag.rpartition("}")[2] for child in root][:2] == ["title", "desc"]
    for element in root.iter():
        assert not {"style", "id", "fill", "stroke"} & set(element.attrib)
    numbers = " ".join(v for e in root.iter() for k, v in e.attrib.items() if k != "class")
    assert "nan" not in numbers
    assert "inf" not in numbers
    assert "<b>" not in svg


@pytest.mark.parametrize(
    ("vector", "shape"),
    [
        ((1, 0, 0, 0, 0, 0), Shape("thriving", 0)),
        ((0.8, 0.2, 0, 0, 0, 0), Shape("thriving", 0)),
        ((0.79, 0.21, 0, 0, 0, 0), Shape("thriving", 1)),
        ((0.06, 0.22, 0.49, 0.17, 0.06, 0), Shape("slipping", 2)),
        ((0.1, 0.2, 0.65, 0.03, 0.02, 0), Shape("slipping", 1)),
        ((0, 0, 0, 0.7, 0.3, 0), Shape("failing", 1)),
        ((0.1, 0.05, 0.03, 0.02, 0.8, 0), Shape("dead", 0)),
        ((0.3, 0.1, 0, 0, 0.6, 0), Shape("dead", 1)),
        ((0.2, 0.2, 0, 0, 0.6, 0), Shape("dead", 1)),
        ((0.2, 0.2, 0.1, 0, 0.5, 0), Shape("dead", 2)),
        # whether a lost tree still stands is no doubt about its life
        ((0.02, 0.03, 0, 0, 0.5, 0.45), Shape("dead", 0)),
        ((0.02, 0.03, 0, 0, 0.45, 0.5), Shape("dead", 0)),
        ((0.02, 0.03, 0, 0, 0.1, 0.85), Shape("gone", 0)),
        ((0.3, 0.1, 0, 0, 0.1, 0.5), Shape("dead", 1)),
        ((1 / 6,) * 6, Shape("thriving", 2)),
        ((5, 0, 0, 0, 0, 0), Shape("thriving", 0)),
        ((1e300,) * 6, Shape("thriving", 2)),
        ((5e-324, 0, 0, 0, 0, 0), Shape("thriving", 0)),
    ],
)
def test_a_belief_is_read_as_its_likeliest_condition_and_what_else_is_plausible(vector, shape):
    assert read_belief(vector) == shape


@pytest.mark.parametrize("vector", BAD)
def test_what_cannot_be_a_belief_is_a_tree_nobody_has_looked_at(vector):
    assert read_belief(vector) == Shape("")
    assert belief_said(vector) == "not looked at yet"
    assert gauge_of_belief(vector, title="") == gauge("", 0, 17)
    is_clean(hundred(vector).sizes["wide"])
    assert "not looked at yet" in said(hundred(vector).sizes["narrow"])


@given(VECTORS)
def test_a_belief_always_has_a_shape_and_its_shares_add_up_to_one(vector):
    assert sum(normal(vector)) == pytest.approx(1)
    shape = read_belief(vector)
    assert shape.condition in (*CONDITIONS, "gone")
    assert shape.doubt in (0, 1, 2)
    if shape.condition not in ("dead", "gone"):
        assert vector[STATES.index(shape.condition)] == max(vector)


def test_the_gauge_is_the_drawn_one_with_its_doubt_and_says_its_range():
    vector = (0.06, 0.22, 0.49, 0.17, 0.06, 0)
    for size in (14, 17, 50):
        assert gauge_of_belief(vector, size=size, title="") == gauge("slipping", 2, size)
    named = gauge_of_belief(vector)
    assert "<title>slipping, could be holding or failing</title>" in named
    assert 'role="img"' in named


def test_dead_in_doubt_is_dashed():
    sure, doubted = (0, 0, 0, 0.1, 0.9, 0), (0.3, 0.05, 0, 0, 0.65, 0)
    assert "stroke-dasharray" not in gauge_of_belief(sure, size=50)
    assert "stroke-dasharray" in gauge_of_belief(doubted, size=50)
    assert belief_said(doubted) == "dead, could be thriving"


@pytest.mark.parametrize(
    ("vector", "words"),
    [
        ((1, 0, 0, 0, 0, 0), "thriving"),
        ((0.3, 0.7, 0, 0, 0, 0), "holding, could be thriving"),
        ((0.02, 0.03, 0, 0, 0.45, 0.5), "dead"),
        ((0.02, 0.03, 0, 0, 0.1, 0.85), "gone"),
        ((0.3, 0.1, 0, 0, 0.1, 0.5), "dead, could be thriving"),
    ],
)
def test_a_belief_is_said_with_what_else_it_could_be(vector, words):
    assert belief_said(vector) == words


HUNDREDS = {
    "usual": (0.06, 0.22, 0.49, 0.17, 0.06, 0),
    "tiny": (0.9, 0.05, 0.03, 0.01, 0.007, 0.003),
    "dead": (0.004, 0.006, 0.02, 0.06, 0.81, 0.1),
    "sure": (1, 0, 0, 0, 0, 0),
    "even": (1 / 6,) * 6,
}


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("vector", HUNDREDS.values(), ids=HUNDREDS)
def test_the_hundred_read_back_is_the_belief_and_the_table(vector, size):
    drawn = hundred(vector)
    svg = drawn.sizes[size]
    is_clean(svg)
    found = boxes(svg, ("b-part", "b-most"))
    shown = [share for share in vector if share >= 0.001]
    assert len(found) == len(shown)
    widths = [width + 1 for *_, width, _height in found]
    room = sum(widths)
    for width, share in zip(widths, shown, strict=True):
        assert width / room == pytest.approx(share, abs=0.03)
    texts = " ".join(said(svg))
    for state, figure in drawn.rows:
        if figure != "0":
            assert figure in texts
            assert state in texts
    assert sum(int(figure) for _state, figure in drawn.rows if figure != "under 1") == 100


def test_the_hundred_of_the_likeliest_has_the_heavier_edge():
    found = boxes(hundred(HUNDREDS["usual"]).sizes["wide"], ("b-part", "b-most"))
    assert [kind for kind, *_ in found] == ["b-part", "b-part", "b-most", "b-part", "b-part"]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("vector", HUNDREDS.values(), ids=HUNDREDS)
def test_words_below_the_hundred_never_cover_each_other_nor_cross_a_leader(vector, size):
    svg = hundred(vector).sizes[size]
    width = float(ET.fromstring(svg).attrib["width"])
    texts = [
        (float(x), float(y), words)
        for x, y, words in re.findall(r'<text x="([\d.]+)" y="([\d.]+)">([^<]*)<', svg)
        if float(y) > 40
    ]
    spans = [(x - 17, x + 5.4 * len(words), y) for x, y, words in texts]
    for i, (start, end, y) in enumerate(spans):
        assert start >= -2
        assert end <= width + 2
        for other_start, other_end, other_y in spans[:i]:
            assert y != other_y or end <= other_start or start >= other_end
        for x, foot in re.findall(r'class="b-leader" d="M([\d.]+) [\d.]+L[\d.]+ ([\d.]+)"', svg):
            assert float(foot) < y or not start < float(x) < end


def test_a_share_too_small_for_one_tree_is_not_called_none():
    rows = dict(hundred(HUNDREDS["tiny"]).rows)
    assert rows["gone"] == "under 1"
    assert "gone" not in hundred(HUNDREDS["tiny"]).said
    assert dict(hundred(HUNDREDS["sure"]).rows)["gone"] == "0"


def months(count, vector=HUNDREDS["usual"], looks=1):
    return [
        BeliefMonth(month_of(date(2024, 11, 1), i), vector, looks, looks // 2, i % 12 < 4)
        for i in range(count)
    ]


STRIPS = {
    "none": [],
    "one": months(1),
    "twenty": months(20),
    "long": months(200),
    "bad": [BeliefMonth(date(2025, 1, 1), v, -3, 9) for v in BAD],
    "holes": [months(1)[0], BeliefMonth(date(2025, 12, 1), HUNDREDS["sure"], 10**6, 10**5)],
    "long bad": [*months(99), BeliefMonth(date(2045, 1, 1), BAD[2]), *months(200)[150:]],
}


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("given_months", STRIPS.values(), ids=STRIPS)
def test_a_strip_is_a_named_image_that_fits_its_sheet(given_months, size):
    svg = belief_strip(given_months, name=EVIL).sizes[size]
    is_clean(svg)
    width = float(ET.fromstring(svg).attrib["width"])
    assert width == {"wide": 640, "narrow": 358, "paper": 720}[size]
    for _kind, x, _y, wide, _high in boxes(svg, ("b-thriving", "b-dead", "c-season")):
        assert x >= 0
        assert x + wide <= width


@pytest.mark.parametrize("size", SIZES)
def test_the_strip_read_back_is_the_beliefs_of_the_table(size):
    given_months = [
        BeliefMonth(month_of(date(2024, 11, 1), i), (1 - i / 20, i / 20, 0, 0, 0, 0), i % 3)
        for i in range(20)
    ]
    drawn = belief_strip(given_months, name="Linden 214")
    found = boxes(drawn.sizes[size], ("b-thriving", "b-holding"))
    total = {"wide": 112, "narrow": 104, "paper": 96}[size]
    heights = {"b-thriving": [], "b-holding": []}
    for kind, _x, _y, _wide, high in found:
        heights[kind].append((high + 1) / total)  # a hair of paper belongs to each
    assert heights["b-thriving"] == pytest.approx([1 - i / 20 for i in range(20)], abs=0.02)
    assert heights["b-holding"] == pytest.approx([i / 20 for i in range(1, 20)], abs=0.02)
    for month, row in zip(given_months, drawn.rows, strict=True):
        assert row[1:7] == tuple(map(str, to_hundred(month.shares)))
        assert row[7] == str(month.looks)
    assert [row[0] for row in drawn.rows][:2] == ["November 2024", "December 2024"]
    dots = drawn.sizes[size].count("<circle")
    assert dots == sum(m.looks for m in given_months)


def test_months_that_run_together_are_six_areas_of_the_same_shares():
    svg = belief_strip(months(200), name="a").sizes["wide"]
    areas = re.findall(r'<path class="(b-[a-z]+) b-dense" d="([^"]*)"', svg)
    assert [kind for kind, _d in areas] == [f"b-{s}" for s in STATES[:5]]  # none is gone
    for (_kind, d), share in zip(areas, HUNDREDS["usual"], strict=False):
        ys = [float(p.split()[1]) for p in re.split("[MLZ]", d) if p.strip()]
        assert (max(ys) - min(ys)) / 112 == pytest.approx(share, abs=0.002)


def test_a_missing_month_is_a_gap_not_a_guess():
    svg = belief_strip(STRIPS["holes"], name="a").sizes["wide"]
    found = boxes(svg, ("b-thriving",))
    assert len(found) == 2
    assert found[1][1] - found[0][1] > 300


def test_filled_dots_are_trained_looks_and_many_looks_are_a_number():
    drawn = belief_strip([BeliefMonth(date(2025, 1, 1), HUNDREDS["sure"], 3, 1)], name="a")
    assert drawn.sizes["wide"].count('class="c-dot"') == 1
    assert drawn.sizes["wide"].count('class="b-look"') == 2
    drawn = belief_strip([BeliefMonth(date(2025, 1, 1), HUNDREDS["sure"], 41, 0)], name="a")
    assert drawn.sizes["wide"].count('class="b-look"') == 1
    assert "41" in said(drawn.sizes["wide"])


def test_the_last_month_is_told_in_words_beside_its_bar():
    texts = said(belief_strip(months(20), name="a").sizes["narrow"])
    assert {"6 thriving", "22 holding", "49 slipping", "17 failing", "6 dead"} <= set(texts)


def test_the_strip_says_what_was_and_what_is_and_how_many_looked():
    drawn = belief_strip(
        [*months(2, HUNDREDS["sure"]), BeliefMonth(date(2025, 6, 1), HUNDREDS["usual"])], name="a"
    )
    assert drawn.said == (
        "November 2024: thriving. June 2025: slipping, could be holding or failing. "
        "2 looks are behind it."
    )
    assert belief_strip([], name="a").said == "Nobody has looked yet, so nothing can be said."
    assert "No look is behind it." in belief_strip(months(1, looks=0), name="a").said


def test_bare_months_are_shaded_and_explained():
    assert "bare months" in belief_strip(months(12), name="a").note
    never = [BeliefMonth(date(2025, 1, 1), HUNDREDS["sure"])]
    assert "bare months" not in belief_strip(never, name="a").note
    assert boxes(belief_strip(never, name="a").sizes["wide"], ("c-season",)) == []
