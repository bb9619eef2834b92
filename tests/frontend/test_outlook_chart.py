"""The outlook of a site, all sites beside each other, and the trees behind the number."""

import math
import re
import xml.etree.ElementTree as ET
from datetime import date
from itertools import pairwise

import pytest
from django.utils import translation

from frontend.drawings.belief import Shape
from frontend.drawings.happenings import (
    Along,
    Happening,
    Spell,
    letter,
    mark,
)
from frontend.drawings.months import month_axis, month_of
from frontend.drawings.outlook import OutlookMonth, Turning, floor_of, outlook_chart, unseen
from frontend.drawings.sites import (
    MONTHS,
    PER_STEM,
    SiteLine,
    TreesOn,
    per_stem,
    sites_on_one_scale,
    trees_behind,
)

SIZES = ("wide", "narrow", "paper")
EVIL = '<b>Ana & "Luis"</b>'
# Made for these tests; the product's levels come from the condition model.
LEVELS = {"thriving": 94.0, "holding": 89.0, "slipping": 74.0, "failing": 48.0}
VALUES = [90, 90, 90, 89, 90, 90, 89, 88, 87, 85, 84, 84, 85, 85, 84, 84, 84, 81, 78, 75]
LOOKS = [8, 0, 0, 0, 6, 0, 1, 14, 2, 2, 14, 2, 0, 0, 0, 1, 1, 3, 6, 9]
START = date(2024, 11, 1)
SITE = [
    OutlookMonth(
        month_of(START, i), v, v - 6, v + 5, 8 if i < 4 else 14, 14, k, surveyed=k in (8, 14)
    )
    for i, (v, k) in enumerate(zip(VALUES, LOOKS, strict=True))
]
HAPPENED = [
    Happening(date(2024, 11, 12), "8 maples planted", planted=True),
    Happening(date(2025, 3, 4), "6 lindens planted", planted=True),
    Happening(date(2026, 3, 26), "mowing contract changed"),
    Happening(date(2026, 4, 2), "new cuts first seen"),
]
DRY = Spell(date(2025, 7, 1), date(2025, 8, 20), "no rain, 51 days")
FULL = {"happenings": HAPPENED, "spells": [DRY], "turning": Turning(date(2026, 4, 1))}


def flat(count, value=88.0, looks=1, start=START):
    return [
        OutlookMonth(month_of(start, i), value, value - 5, value + 5, 9, 9, looks)
        for i in range(count)
    ]


LONG = "desafortunadamente" * 6 + " en la banqueta" * 9
HARD = {
    "full": (SITE, FULL),
    "none": ([], FULL),
    "one": (SITE[:1], FULL),
    "long": (flat(200), FULL),
    "not numbers": (
        [
            OutlookMonth(month_of(START, i), math.nan, math.inf, -math.inf, 0, 0, 0)
            for i in range(5)
        ],
        {"turning": Turning(START)},
    ),
    "mixed": (
        [*SITE[:4], OutlookMonth(month_of(START, 4), math.nan, 1, 2, 3, 4, 5), *SITE[5:]],
        {},
    ),
    "out of range": (
        [
            OutlookMonth(month_of(START, i), 1e300, -1e300, 1e300, 10**12, 10**12, 10**12)
            for i in (0, 1)
        ],
        {},
    ),
    "band the wrong way round": ([OutlookMonth(START, 50, 90, 10, 1, 1, -4)], {}),
    "evil": (
        SITE,
        {
            "happenings": [Happening(date(2025, 1, d), EVIL) for d in range(1, 21)],
            "spells": [Spell(date(2025, 1, d), date(2025, 2, d), EVIL) for d in range(1, 21)],
        },
    ),
    "long words": (
        SITE,
        {
            "happenings": [Happening(date(2025, 6, 1), LONG)],
            "spells": [Spell(date(2026, 6, 28), date(2026, 6, 30), LONG)],
        },
    ),
    "outside": (
        SITE,
        {
            "happenings": [Happening(date(1999, 1, 1), "before"), Happening(date.max, "after")],
            "spells": [
                Spell(date(1, 1, 1), date(2, 1, 1), "before"),
                Spell(date(2026, 1, 1), date(2025, 1, 1), "backwards"),
                Spell(date.min, date.max, "always"),
            ],
            "turning": Turning(date(2031, 1, 1), down=False),
        },
    ),
}


def said(svg):
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def paths(svg, kind):
    found = re.findall(rf'<path class="{kind}" d="([^"]*)"', svg)
    return [
        [tuple(map(float, point.split())) for point in re.split("[MLZ]", d) if point.strip()]
        for d in found
    ]


def scale(svg, levels=LEVELS):
    """From heights of the sheet to outlooks, read from the grid lines and the axis."""
    heights = sorted(points[0][1] for points in paths(svg, "c-grid"))
    (y0, y1), (v0, v1) = heights[:2], sorted(levels.values(), reverse=True)[:2]
    return lambda y: v0 + (v1 - v0) * (y - y0) / (y1 - y0)


def is_clean(svg):
    root = ET.fromstring(svg)
    assert root.attrib["role"] == "img"
    assert root[0].tag.endswith("title")
    for element in root.iter():
        assert not {"style", "id", "fill", "stroke"} & set(element.attrib)
    numbers = " ".join(v for e in root.iter() for k, v in e.attrib.items() if k != "class")
    assert "nan" not in numbers
    assert "inf" not in numbers
    assert "<b>" not in svg
    return root


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize(("months", "more"), HARD.values(), ids=HARD)
def test_the_chart_is_a_named_image_without_styles_or_colors(months, more, size):
    drawn = outlook_chart(months, name=EVIL, levels=LEVELS, **more)
    root = is_clean(drawn.sizes[size])
    assert float(root.attrib["width"]) == {"wide": 870, "narrow": 350, "paper": 720}[size]
    assert len(drawn.rows) == len(months)
    ET.fromstring(f"<div>{drawn.chart()}{drawn.table()}</div>")


@pytest.mark.parametrize("size", SIZES)
def test_every_number_of_the_table_can_be_read_back_from_the_drawing(size):
    drawn = outlook_chart(SITE, name="Quarry Green", levels=LEVELS)
    svg = drawn.sizes[size]
    read = scale(svg)
    [line] = paths(svg, "c-find")
    assert [read(y) for _x, y in line] == pytest.approx(VALUES, abs=0.15)
    assert [str(round(read(y))) for _x, y in line] == [row[1] for row in drawn.rows]
    [band] = paths(svg, "c-band")
    assert [read(y) for _x, y in band[:20]] == pytest.approx([v + 5 for v in VALUES], abs=0.15)
    lower = [read(y) for _x, y in reversed(band[20:])]
    assert lower == pytest.approx([v - 6 for v in VALUES], abs=0.15)
    assert [row[2] for row in drawn.rows] == [f"{v - 6} to {v + 5}" for v in VALUES]
    assert [row[3] for row in drawn.rows] == [str(m.standing) for m in SITE]
    assert [row[5] for row in drawn.rows] == [str(k) for k in LOOKS]
    texts = said(svg)
    assert {"8", "14"} <= set(texts)
    assert {str(k) for k in LOOKS if k} <= set(texts)


@pytest.mark.parametrize("size", SIZES)
def test_months_lie_where_their_letters_stand(size):
    svg = outlook_chart(SITE, name="a", levels=LEVELS).sizes[size]
    [line] = paths(svg, "c-find")
    letters = re.findall(r'<text x="([\d.]+)" y="[\d.]+" class="c-mid c-soft">([A-Z])<', svg)
    assert [float(x) for x, _ in letters] == pytest.approx([x for x, _y in line], abs=0.11)
    assert "".join(word for _, word in letters) == "NDJFMAMJJASONDJFMAMJ"


def test_the_letters_of_months_follow_the_language():
    with translation.override("es"):
        out, _foot = month_axis(date(2025, 1, 1), 12, 0, 400, 0)
    assert "".join(said("".join(out)))[:12] == "EFMAMJJASOND"


def test_walk_surveys_are_dots():
    svg = outlook_chart(SITE, name="a", levels=LEVELS).sizes["wide"]
    dots = re.findall(r'<circle class="c-point o-round" cx="([\d.]+)" cy="([\d.]+)"', svg)
    read = scale(svg)
    rounds = [m.outlook for m in SITE if m.surveyed]
    assert [read(float(y)) for _x, y in dots] == pytest.approx(rounds, abs=0.15)


def test_the_looks_of_a_month_can_be_counted_one_by_one():
    svg = outlook_chart(SITE, name="a", levels=LEVELS).sizes["wide"]
    strokes = [d.count("M") for d in re.findall(r'<path class="o-tally" d="([^"]*)"', svg)]
    assert strokes == [k for k in LOOKS if k]
    assert svg.count('class="o-none"') == LOOKS.count(0)


def test_many_looks_are_bars_on_one_scale():
    months = [*flat(3, looks=10), *flat(2, looks=100, start=month_of(START, 3))]
    svg = outlook_chart(months, name="a", levels=LEVELS).sizes["wide"]
    tall = [float(h) for h in re.findall(r'class="c-bar o-looks"[^>]*height="([\d.]+)"', svg)]
    assert tall == [2, 2, 2, 20, 20]


def test_grid_lines_say_what_they_mean():
    drawn = outlook_chart(SITE, name="a", levels=LEVELS)
    words = {"if all were thriving", "if all were holding", "if all were slipping"}
    assert words <= set(said(drawn.sizes["wide"]))
    assert words <= set(said(drawn.sizes["paper"]))
    assert drawn.sizes["narrow"].count('class="gauge"') == 3
    for size in SIZES:
        assert {"94", "89", "74"} <= set(said(drawn.sizes[size]))


@pytest.mark.parametrize(
    ("lowest", "floor"), [(90, 50), (53, 50), (51, 40), (32, 30), (1, 0), (0, 0)]
)
def test_the_scale_begins_at_fifty_or_at_the_ten_below_and_says_so(lowest, floor):
    months = [OutlookMonth(START, 90, lowest, 95, 1, 1, 1)]
    assert floor_of(months, LEVELS) == floor
    drawn = outlook_chart(months, name="a", levels=LEVELS)
    assert (f"the scale begins at {floor}" in drawn.note) == (floor > 0)
    assert str(floor) in said(drawn.sizes["wide"])


def test_the_end_of_the_line_has_its_value_and_range():
    drawn = outlook_chart(SITE, name="a", levels=LEVELS)
    assert {"75 in June", "69 to 80"} <= set(said(drawn.sizes["wide"]))
    assert {"75", "69–80"} <= set(said(drawn.sizes["narrow"]))


@pytest.mark.parametrize("last", [95, 92, 90, 89, 88, 75, 74, 73, 51])
def test_words_at_the_end_never_cover_the_words_of_the_grid(last):
    months = [*SITE[:-1], OutlookMonth(SITE[-1].month, last, last - 6, last + 5, 14, 14, 1)]
    for size in ("wide", "paper"):
        svg = outlook_chart(months, name="a", levels=LEVELS, **FULL).sizes[size]
        beside = re.findall(r'<text x="([\d.]+)" y="([\d.]+)"[^>]*>([^<]+)<', svg)
        rows = [
            float(y)
            for _x, y, words in beside
            if words.startswith(("if all", f"{last} in", f"{last - 6} to", "turned"))
        ]
        assert len(rows) >= 6
        turned = [(float(x), float(y)) for x, y, words in beside if words.startswith("turned")]
        edge = max(x for points in paths(svg, "c-grid") for x, _y in points)
        if turned[0][0] + 150 < edge + 10:  # inside the plot, where the others are not
            rows.remove(turned[0][1])
        rows.sort()
        assert all(b - a >= 14 for a, b in pairwise(rows))


def test_a_month_without_a_number_breaks_line_and_band():
    months = [*SITE[:8], OutlookMonth(SITE[8].month, math.nan, 1, 2, 3, 4, 5), *SITE[9:]]
    drawn = outlook_chart(months, name="a", levels=LEVELS)
    assert [len(line) for line in paths(drawn.sizes["wide"], "c-find")] == [8, 11]
    assert drawn.rows[8][1:3] == ("not known", "")


def test_a_month_that_is_missing_breaks_the_line_and_keeps_its_place():
    months = [*SITE[:8], *SITE[10:]]
    whole = paths(outlook_chart(SITE, name="a", levels=LEVELS).sizes["wide"], "c-find")[0]
    first, second = paths(outlook_chart(months, name="a", levels=LEVELS).sizes["wide"], "c-find")
    assert first == whole[:8]
    assert second == whole[10:]


def test_a_year_without_a_look_is_drawn_lighter_and_said():
    months = [
        *flat(4),
        *flat(16, looks=0, start=month_of(START, 4)),
        *flat(3, start=month_of(START, 20)),
    ]
    assert unseen(months) == [False] * 15 + [True] * 5 + [False] * 3
    drawn = outlook_chart(months, name="a", levels=LEVELS)
    assert [len(line) for line in paths(drawn.sizes["wide"], "c-find o-old")] == [6]
    assert [len(line) for line in paths(drawn.sizes["wide"], "c-find")] == [15, 4]
    assert len(paths(drawn.sizes["wide"], "c-band o-old")) == 1
    assert "nobody had looked for a year" in drawn.note
    assert "nobody had looked" not in outlook_chart(SITE, name="a", levels=LEVELS).note


def test_months_before_the_chart_are_not_called_unseen():
    assert unseen(flat(14, looks=0)) == [False] * 11 + [True] * 3
    assert unseen([]) == []


def test_happenings_are_dated_lines_with_words_and_no_more():
    drawn = outlook_chart(SITE, name="a", levels=LEVELS, **FULL)
    for size in ("wide", "paper"):
        texts = said(drawn.sizes[size])
        for happening in HAPPENED:
            assert happening.words in texts
        assert {"Mar 26, 2026", "Apr 2, 2026"} <= set(texts)
        assert drawn.sizes[size].count('class="h-planted"') == 2
        assert drawn.sizes[size].count('class="c-event"') == 2
    assert "a" not in said(drawn.sizes["wide"])
    narrow = said(drawn.sizes["narrow"])
    assert narrow.count("a") == narrow.count("d") == 2  # above the chart and in its list
    assert "mowing contract changed" in narrow
    told = {row[0]: row[7] for row in drawn.rows}
    assert told["March 2026"] == "Mar 26: mowing contract changed"
    assert told["July 2025"] == told["August 2025"] == "no rain, 51 days"
    assert told["September 2025"] == ""


def test_a_dated_line_stands_on_its_day():
    svg = outlook_chart(SITE, name="a", levels=LEVELS, **FULL).sizes["wide"]
    [line] = paths(svg, "c-find")
    step = line[1][0] - line[0][0]
    planted = [points[0][0] for points in paths(svg, "h-planted")]
    # the twelfth of a month of thirty days is 11/30 into it; its middle is where the letter stands
    assert planted[0] == pytest.approx(line[0][0] + (11 / 30 - 0.5) * step, abs=0.2)
    events = [points[0][0] for points in paths(svg, "c-event")]
    assert events[0] == pytest.approx(line[16][0] + (25 / 31 - 0.5) * step, abs=0.2)


def test_words_above_the_chart_never_cover_each_other_nor_stand_on_a_line():
    along = Along(START, 20, 34, 32)
    for days in ([5, 15, 25], [1, 2, 3], range(1, 29, 4)):
        happened = [Happening(date(2025, 6, d), f"something on the {d}th") for d in days]
        marked = mark(happened, along, 870, words=True)
        for a in marked.labels:
            assert a.start >= 0
            assert a.end <= 870
            for b in marked.labels:
                if a is b:
                    continue
                assert a.lane != b.lane or a.end <= b.start or b.end <= a.start
                assert b.lane < a.lane or not a.start < b.x < a.end
        assert len(marked.labels) in (0, len(happened))
    assert mark(happened[:3], along, 870, words=True).labels


def test_many_happenings_are_letters_and_the_oldest_are_in_the_table_only():
    happened = [Happening(date(2025, 1, d), f"thing {d}") for d in range(1, 21)]
    drawn = outlook_chart(SITE, name="a", levels=LEVELS, happenings=happened)
    texts = said(drawn.sizes["wide"])
    assert "8 earlier ones are in the table" in texts
    assert texts.count("l") == 2
    assert "thing 8" not in texts
    assert "thing 9" in texts
    assert all(h.words in drawn.rows[2][7] for h in happened)


def test_letters_go_on_after_z():
    assert [letter(i) for i in (0, 25, 26, 27, 52)] == ["a", "z", "aa", "ab", "ba"]


def test_a_stretch_is_shaded_from_its_first_day_to_the_end_of_its_last():
    svg = outlook_chart(SITE, name="a", levels=LEVELS, **FULL).sizes["wide"]
    [line] = paths(svg, "c-find")
    step = line[1][0] - line[0][0]
    [(x, wide)] = re.findall(r'<rect class="h-spell" x="([\d.]+)"[^>]*width="([\d.]+)"', svg)
    assert float(x) == pytest.approx(line[8][0] - step / 2, abs=0.2)
    assert float(wide) == pytest.approx(step * (1 + 20 / 31), abs=0.2)
    assert "no rain," in said(svg)
    assert "no rain, 51 days" in said(
        outlook_chart(SITE, name="a", levels=LEVELS, **FULL).sizes["narrow"]
    )


def test_stretches_whose_words_would_meet_are_named_in_the_list():
    spells = [DRY, Spell(date(2025, 8, 25), date(2025, 9, 2), "hail and wind")]
    texts = said(outlook_chart(SITE, name="a", levels=LEVELS, spells=spells).sizes["wide"])
    assert {"no rain, 51 days", "hail and wind"} <= set(texts)


def test_a_turning_is_marked_at_its_month_and_said():
    drawn = outlook_chart(SITE, name="a", levels=LEVELS, **FULL)
    for size in SIZES:
        svg = drawn.sizes[size]
        assert "turned down since April" in said(svg)
        [line], [leader] = paths(svg, "c-find"), paths(svg, "o-turn")
        assert leader[0][0] == pytest.approx(line[17][0], abs=0.11)
    assert drawn.said.endswith("Turned down since April 2026.")
    up = outlook_chart(SITE, name="a", levels=LEVELS, turning=Turning(date(2025, 4, 1), down=False))
    assert "turned up since April 2025" in said(up.sizes["wide"])


def test_the_sentence_gives_number_range_and_the_year_before():
    drawn = outlook_chart(SITE, name="a", levels=LEVELS)
    assert drawn.said == (
        "June 2026: of 100 trees like these, 75 should still stand two summers on, "
        "somewhere between 69 and 80. In June 2025 it was 88."
    )
    assert "it was" not in outlook_chart(SITE[:1], name="a", levels=LEVELS).said
    assert outlook_chart([], name="a", levels=LEVELS).said.startswith("Nobody has looked yet")


@pytest.mark.parametrize("count", [1, 2, 13, 20, 40, 200, 1200])
def test_years_along_the_axis_never_cover_each_other(count):
    for width in (258, 510, 654):
        out, _foot = month_axis(START, count, 34, 34 + min(width, 40 * count), 0)
        xs = [
            float(x)
            for x in re.findall(r'x="([\d.]+)" y="[\d.]+" class="c-mid c-bold"', "".join(out))
        ]
        assert xs
        assert all(b - a >= 34 for a, b in pairwise(xs))
    assert month_of(date(2024, 11, 1), 14) == date(2026, 1, 1)


def lines_of_sites(**more):
    return [
        SiteLine("Quarry Green", 14, SITE, chosen=True),
        SiteLine("Ferry Road", 31, flat(30, 91, start=date(2024, 1, 1)), url="/sites/2/?a=1&b=2"),
        SiteLine("Kiln Bank", 15, SITE, comparable=False),
        SiteLine(EVIL, 1, flat(1, 60, start=date(2026, 6, 1)), **more),
    ]


def test_all_sites_share_one_scale_and_one_stretch_of_time():
    sites = sites_on_one_scale(lines_of_sites(), levels=LEVELS)
    drawn = {line.name: svg for line, svg in sites.drawn}
    grids = {tuple(points[0][1] for points in paths(svg, "c-grid")) for svg in drawn.values()}
    assert len(grids) == 1
    shown = {c: LEVELS[c] for c in ("thriving", "holding", "slipping")}
    read = scale(drawn["Quarry Green"], shown)
    [line] = paths(drawn["Quarry Green"], "c-find s-find")
    assert [read(y) for _x, y in line] == pytest.approx(VALUES, abs=0.3)
    [other] = paths(drawn["Ferry Road"], "s-line")
    assert len(other) == MONTHS  # of thirty
    assert other[-1][0] == line[-1][0]
    assert read(other[0][1]) == pytest.approx(91, abs=0.3)


def test_the_last_value_and_its_plus_or_minus_stand_in_drawing_and_table():
    sites = sites_on_one_scale(lines_of_sites(), levels=LEVELS)
    for (line, svg), row in zip(sites.drawn, sites.table.rows, strict=True):
        is_clean(svg)
        assert float(ET.fromstring(svg).attrib["width"]) <= 171  # two beside each other on a phone
        assert row[:2] == (line.name, str(line.trees))
        if line.comparable:
            assert {row[2], row[3]} <= set(said(svg))
    assert sites.table.rows[0][2:] == ("75", "±6", "June 2026")


def test_a_site_without_a_walk_survey_is_not_compared():
    sites = sites_on_one_scale(lines_of_sites(), levels=LEVELS)
    svg = sites.drawn[2][1]
    assert "s-line" not in svg
    assert "no walk survey, not" in said(svg)
    assert sites.table.rows[2][2:] == ("not comparable", "", "")
    assert sites.said.endswith("1 site had no walk survey and cannot be compared.")
    assert "Kiln Bank" not in sites.said


def test_the_list_of_sites_is_escaped_and_names_the_chosen_one():
    page = ET.fromstring(sites_on_one_scale(lines_of_sites(), levels=LEVELS).chart())
    assert [item.attrib.get("aria-current") for item in page] == ["true", None, None, None]
    assert page[1].find("div/a").attrib["href"] == "/sites/2/?a=1&b=2"
    assert page[3].find("div/b").text == EVIL
    assert page[3].find("div/span").text == "1 tree"


@pytest.mark.parametrize(
    "lines",
    [
        [],
        [SiteLine("a", 0, [])],
        [SiteLine("a", 0, [], comparable=False)],
        [SiteLine("a", 3, HARD["not numbers"][0]), SiteLine("b", 3, HARD["out of range"][0])],
        [SiteLine(LONG, 3, flat(200))],
    ],
)
def test_sites_bear_empty_and_wild_numbers(lines):
    sites = sites_on_one_scale(lines, levels={"thriving": math.nan, "holding": 89})
    for _line, svg in sites.drawn:
        is_clean(svg)
    ET.fromstring(sites.chart())
    assert sites.said
    assert sites_on_one_scale(lines, levels={}).note


def trees(**counts):
    return [Shape(condition, 0) for condition, n in counts.items() for _ in range(n)]


DAYS = [
    TreesOn(date(2024, 11, 15), trees(thriving=4, holding=4), 90),
    TreesOn(date(2025, 6, 3), trees(thriving=6, holding=7, slipping=1), 88),
    TreesOn(date(2025, 9, 8), trees(thriving=4, holding=6, slipping=3, dead=1), 84),
    TreesOn(date(2026, 6, 15), trees(thriving=2, holding=6, slipping=4, failing=1, gone=1), 75),
]


@pytest.mark.parametrize("size", SIZES)
def test_every_tree_behind_the_number_is_a_stem(size):
    drawn = trees_behind(DAYS)
    svg = drawn.sizes[size]
    is_clean(svg)
    assert svg.count('class="gauge"') == 8 + 14 * 3
    assert {"90", "88", "84", "75"} <= set(said(svg))
    assert drawn.rows[-1] == ("Jun 15, 2026", "2", "6", "4", "1", "0", "1", "75")
    width = float(ET.fromstring(svg).attrib["width"])
    xs = [int(x) for x in re.findall(r"translate\((\d+) \d+\)", svg)]
    assert max(xs) + 14 <= width


def test_only_the_newest_four_days_are_shown_in_order():
    drawn = trees_behind([*reversed(DAYS), TreesOn(date(2020, 1, 1), trees(thriving=9), 94)])
    assert [row[0] for row in drawn.rows] == [
        "Nov 15, 2024",
        "Jun 3, 2025",
        "Sep 8, 2025",
        "Jun 15, 2026",
    ]


@pytest.mark.parametrize(
    ("count", "each"), [(0, 1), (PER_STEM, 1), (PER_STEM + 1, 10), (601, 100), (10**6, 10**5)]
)
def test_of_many_trees_one_stem_stands_for_ten_and_so_on(count, each):
    assert per_stem(count) == each


def test_a_condition_of_few_trees_keeps_its_stem_on_a_large_site():
    drawn = trees_behind([TreesOn(date(2026, 6, 15), trees(thriving=101, dead=1), 90)])
    assert drawn.sizes["wide"].count('class="gauge"') == 11 + 1
    assert drawn.note == "one stem for up to 10 trees"
    assert drawn.rows[0][1] == "101"
    assert trees_behind(DAYS).note == ""


@pytest.mark.parametrize(
    "days",
    [[], [TreesOn(date(2026, 1, 1), [], math.nan)], [TreesOn(date(2026, 1, 1), [Shape("")], 50)]],
)
def test_no_trees_and_no_numbers_can_be_drawn(days):
    drawn = trees_behind(days)
    for size in SIZES:
        is_clean(drawn.sizes[size])
    assert drawn.said


def test_a_sentence_begins_with_a_capital_in_every_language():
    with translation.override("es"):  # where months are written small
        drawn = outlook_chart(SITE, name="a", levels=LEVELS, **FULL)
    assert drawn.said[0] == "J"
