"""The waterfall: bars, grid and table tell the same odds, and bad numbers are said to be that."""

import math
import re
import xml.etree.ElementTree as ET
from datetime import date, timedelta

import pytest
from django.utils import translation
from hypothesis import given
from hypothesis import strategies as st

from frontend.drawings.drawn import in_hundred, lines_of, signed, to_hundred, width_of
from frontend.drawings.waterfall import EDGE, MOST_ROWS, Step, waterfall

SIZES = ("wide", "narrow", "paper")
EVIL = '<b>Ana & "Luis"</b>'
LOOKS = [("holding", -1.5), ("slipping", 9.0), ("bark cut", 2.8), ("leaves brown", 3.0)]


def odds(share):
    """Points of a probability: ten times the common logarithm of its odds."""
    return 10 * math.log10(share / (1 - share))


def chain(start, pulls, *, first=date(2026, 6, 1)):
    """Steps whose probabilities follow from their points."""
    level, steps = odds(start), []
    for i, (words, points) in enumerate(pulls):
        level += points
        after = 1 / (1 + 10 ** (-level / 10))
        steps.append(Step(first + timedelta(days=i), words, points, after))
    return steps


def said(svg):
    return [t.replace("&lt;", "<") for t in re.findall(r"<text[^>]*>([^<]*)</text>", svg)]


def bars(svg):
    """(kind, from, to) in units of the sheet, in the order of the rows."""
    found = re.findall(r'<path class="(w-up|w-down)" d="([^"]*)"', svg)
    out = []
    for kind, d in found:
        xs = [float(p.split()[0]) for p in re.split("[MLZ]", d) if p.strip()]
        out.append((kind, xs[0], max(xs, key=lambda x: abs(x - xs[0]))))
    return out


def scale(svg):
    """From units of the sheet to points, read from two worded grid lines."""
    grid = [float(x) for x in re.findall(r'<path class="c-grid" d="M([\d.-]+) 18', svg)]
    names = re.findall(r'y="12" class="c-soft c-mid">([^<]*)<', svg)
    worth = {"even": 0.0, "1 in 10": odds(0.1), "9 in 10": odds(0.9)}
    worth |= {"1 in 100": odds(0.01), "99 in 100": odds(0.99)}
    (x0, p0), (x1, p1) = [(x, worth[n]) for x, n in zip(grid, names, strict=True)][:2]
    return lambda x: p0 + (p1 - p0) * (x - x0) / (x1 - x0)


HARD = {
    "none": [],
    "one": chain(0.04, [("a look", 3.0)]),
    "sixty": chain(0.5, [("a look", (-1) ** i * 4.0 + 0.1) for i in range(60)]),
    "huge": [Step(date(2026, 1, 1), "a", 1e9, 1 - 1e-12), Step(None, "b", -1e9, 1e-300)],
    "certain": [Step(None, "a", math.inf, 1.0), Step(None, "b", -math.inf, 0.0)],
    "not numbers": [Step(None, "a", math.nan, math.nan), Step(None, "b", 3.0, 0.4)],
    "out of range": [Step(None, "a", 3.0, 1.7), Step(None, "b", 3.0, -0.1)],
    "long": [Step(date(2026, 1, 1), "desafortunadamente" * 9 + " y arriba" * 40, 3.0, 0.4)],
    "evil": [Step(date(2026, 1, 1), EVIL, 3.0, 0.4)],
    "backwards": [
        Step(date(2026, 5, 1), "a", 1.0, 0.4),
        Step(date(2026, 1, 1), "b", 1.0, 0.45, stretch=True),
    ],
}


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("steps", HARD.values(), ids=HARD)
@pytest.mark.parametrize("start", [0.04, 0.0, 1.0, math.nan])
def test_a_waterfall_is_a_named_image_without_styles_or_colors(steps, start, size):
    svg = waterfall(steps, start=start, claim=EVIL).sizes[size]
    root = ET.fromstring(svg)
    assert root.attrib["role"] == "img"
    assert [child.tag.rpartition("}")[2] for child in root][:2] == ["title", "desc"]
    for element in root.iter():
        assert not {"style", "id", "fill", "stroke"} & set(element.attrib)
    numbers = " ".join(v for e in root.iter() for k, v in e.attrib.items() if k != "class")
    assert "nan" not in numbers
    assert "inf" not in numbers
    assert "<b>" not in svg


def test_each_size_is_a_drawing_of_its_own_and_fits_its_sheet():
    drawn = waterfall(HARD["sixty"], start=0.5, claim="dead")
    widths = {size: float(ET.fromstring(drawn.sizes[size]).attrib["width"]) for size in SIZES}
    assert widths["wide"] == 640
    assert widths["narrow"] <= 358
    assert widths["paper"] <= 733


@pytest.mark.parametrize("size", SIZES)
def test_the_drawing_read_back_gives_the_odds_of_the_table(size):
    steps = chain(0.1, LOOKS)
    drawn = waterfall(steps, start=0.1, claim="slipping or worse")
    svg = drawn.sizes[size]
    read = scale(svg)
    level = odds(0.1)
    assert len(bars(svg)) == len(steps) == len(drawn.rows) - 1
    for (kind, start, end), step, row in zip(bars(svg), steps, drawn.rows[1:], strict=True):
        assert kind == ("w-up" if step.points > 0 else "w-down")
        assert read(start) == pytest.approx(level, abs=0.05)
        level += step.points
        assert read(end) == pytest.approx(level, abs=0.05)
        assert row[2] == signed(step.points)
        assert row[3] == in_hundred(step.after)
        assert {row[2], row[3]} <= set(said(svg))


def test_the_first_line_is_where_the_belief_began():
    drawn = waterfall(
        chain(0.04, LOOKS), start=0.04, claim="dead", started="Walk", start_day=date(2025, 9, 8)
    )
    assert drawn.rows[0] == ("Sep 8, 2025", "Walk", "", "4 in 100")
    assert drawn.sizes["wide"].count("<circle") == 1


def test_a_stretch_tells_how_long_nobody_looked_and_is_a_thinner_bar():
    steps = [
        Step(date(2026, 6, 15), "Nobody looked", 4.6, 0.11, stretch=True),
        Step(date(2026, 6, 15), "Neighbor", 4.6, 0.26),
    ]
    drawn = waterfall(steps, start=0.04, claim="dead", start_day=date(2025, 9, 8))
    assert [row[0] for row in drawn.rows] == ["Sep 8, 2025", "280 days", "Jun 15"]
    heights = []
    for d in re.findall(r'<path class="w-up" d="([^"]*)"', drawn.sizes["wide"]):
        ys = [float(p.split()[1]) for p in re.split("[MLZ]", d) if p.strip()]
        heights.append(max(ys) - min(ys))
    assert heights[0] < heights[1]


def test_a_year_is_said_again_only_where_it_changes():
    steps = [Step(date(2025, 12, d), "a", 1, 0.5) for d in (1, 2)]
    steps.append(Step(date(2026, 1, 3), "a", 1, 0.5))
    days = [row[0] for row in waterfall(steps, start=0.5, claim="dead").rows]
    assert days == ["", "Dec 1, 2025", "Dec 2", "Jan 3, 2026"]


def test_older_looks_are_folded_into_one_line_and_none_is_lost_from_the_table():
    steps = chain(0.08, [(f"look {i}", 0.5) for i in range(MOST_ROWS + 11)])
    drawn = waterfall(steps, start=0.08, claim="dead")
    assert len(drawn.rows) == len(steps) + 1
    for size in SIZES:
        texts = said(drawn.sizes[size])
        assert "12 earlier looks" in texts
        assert "+6.0" in texts  # twelve times half a point
        assert "look 11" not in texts
        assert "look 12" in texts
        assert len(bars(drawn.sizes[size])) == MOST_ROWS
    read = scale(drawn.sizes["wide"])
    _, start, end = bars(drawn.sizes["wide"])[0]
    assert read(end) - read(start) == pytest.approx(6.0, abs=0.1)


def test_twelve_looks_are_all_shown():
    steps = chain(0.3, [("a look", 0.5)] * MOST_ROWS)
    drawn = waterfall(steps, start=0.3, claim="dead")
    assert "earlier" not in drawn.sizes["wide"]
    assert len(bars(drawn.sizes["wide"])) == MOST_ROWS


def test_folded_stretches_without_a_look_are_not_called_looks():
    steps = [Step(None, "Nobody looked", 0.1, 0.5, stretch=True)] * (MOST_ROWS + 2)
    texts = said(waterfall(steps, start=0.5, claim="dead").sizes["wide"])
    assert "Earlier months without a look" in texts


def test_odds_beyond_the_axis_end_in_a_point_and_stay_on_the_sheet():
    drawn = waterfall(HARD["huge"], start=0.5, claim="dead")
    for size in SIZES:
        for _kind, start, end in bars(drawn.sizes[size]):
            assert 0 <= start <= 640
            assert 0 <= end <= 640
        d = re.findall(r'<path class="w-up" d="([^"]*)"', drawn.sizes[size])[0]
        assert d.count("L") == 4  # four corners and the point
    assert odds(1 - 1e-12) > EDGE


def test_what_settles_it_and_what_is_not_known_are_words_not_figures():
    drawn = waterfall(HARD["certain"], start=0.5, claim="dead")
    assert [row[2] for row in drawn.rows[1:]] == ["settles it", "settles it"]
    assert [row[3] for row in drawn.rows[1:]] == ["over 99 in 100", "under 1 in 100"]
    drawn = waterfall(HARD["not numbers"], start=0.2, claim="dead")
    assert drawn.rows[1][2:] == ("not known", "not known")
    assert len(bars(drawn.sizes["wide"])) == 1


def test_the_sentence_says_from_where_to_where_and_what_pulled_most():
    drawn = waterfall(chain(0.1, LOOKS), start=0.1, claim="dead")
    assert drawn.said == (
        "“dead”: 10 in 100 before, 70 in 100 after 4 looks. The strongest pull: slipping (+9.0)."
    )
    assert "nobody has looked yet" in waterfall([], start=0.1, claim="dead").said


def test_words_too_long_for_the_drawing_are_whole_in_the_table():
    words = HARD["long"][0].words
    drawn = waterfall(HARD["long"], start=0.2, claim="dead")
    assert drawn.rows[1][1] == words
    assert any(text.endswith("…") for text in said(drawn.sizes["narrow"]))


def test_the_page_gets_three_drawings_and_a_table_of_the_same_name():
    drawn = waterfall([Step(None, EVIL, 1.0, 0.5)], start=0.4, claim=EVIL)
    page = ET.fromstring(f"<div>{drawn.chart()}{drawn.table('t')}</div>")
    shown = [div.attrib["class"] for div in page[0]]
    assert shown == ["chart-wide", "chart-narrow", "chart-paper"]
    cells = [[cell.text or "" for cell in row] for row in page.find("div/table/tbody")]
    assert cells == [list(row) for row in drawn.rows]
    assert page[1].attrib["id"] == "t"
    assert page[1].attrib["aria-label"] == drawn.title
    assert "style" not in drawn.chart()


def test_points_have_a_true_sign_and_the_decimal_mark_of_the_reader():
    with translation.override("de"):
        assert signed(-1.5) == "−1,5"
    with translation.override("es"):  # of the United States and Mexico
        assert signed(4.6) == "+4.6"
    assert signed(-1.5) == "−1.5"
    assert signed(1234.5) == "+1234"
    assert signed(-0.01) == "0.0"


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0, "under 1 in 100"),
        (0.0049, "under 1 in 100"),
        (0.005, "1 in 100"),
        (0.72, "72 in 100"),
        (0.9949, "99 in 100"),
        (0.995, "over 99 in 100"),
        (1, "over 99 in 100"),
        (math.nan, "not known"),
    ],
)
def test_nobody_is_ever_quite_sure(share, words):
    assert in_hundred(share) == words


@given(st.lists(st.floats(0, 1), min_size=1, max_size=6))
def test_shares_of_a_hundred_add_up_to_a_hundred(shares):
    whole = to_hundred(shares)
    assert sum(whole) == (100 if sum(shares) > 0 else 0)
    for share, number in zip(shares, whole, strict=True):
        if sum(shares) > 0:
            assert abs(number - share * 100 / sum(shares)) < 1 + 1e-6


@given(st.text(max_size=300), st.floats(30, 300))
def test_lines_are_never_wider_than_their_room(words, room):
    for line in lines_of(words, room):
        assert width_of(line) <= room
