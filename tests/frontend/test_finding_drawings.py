"""Drawings of a finding, read back: what stands in the table stands in the drawing."""

import math
import re
from datetime import date
from xml.etree import ElementTree

import pytest

from frontend.drawings.finding_charts import Pair, Share, Ticked, first_seen, pairs, shares
from frontend.drawings.finding_plan import Stand, plan

SVG = "{http://www.w3.org/2000/svg}"
SIZES = ("wide", "narrow", "paper")


def read(drawn, size):
    return ElementTree.fromstring(drawn.sizes[size])


def circles(svg, kind):
    return [c for c in svg.iter(f"{SVG}circle") if c.get("class") == kind]


def words(svg):
    return [text.text for text in svg.iter(f"{SVG}text")]


SITES = [
    Share("Quarry Green", 13, 14, 0.66, 0.99, own=True),
    Share("Ferry Road", 4, 31, 0.04, 0.3),
    Share("<Mill> & Steps", 0, 19, 0.0, 0.18),
]


@pytest.mark.parametrize("size", SIZES)
def test_each_share_is_a_dot_within_its_range_and_all_lie_on_one_scale(size):
    drawn = shares(SITES, title="Shares", note="dots", elsewhere=(4, 50))
    svg = read(drawn, size)
    [own] = circles(svg, "c-dot-ember")
    others = circles(svg, "c-dot")
    xs = [float(c.get("cx")) for c in (own, *others)]
    left, right = xs[2], xs[2] + (xs[0] - xs[2]) / (13 / 14)
    assert (xs[1] - left) / (right - left) == pytest.approx(4 / 31, abs=0.01)
    ranges = [p.get("d") for p in svg.iter(f"{SVG}path") if "f-range" in (p.get("class") or "")]
    assert len(ranges) == 3
    start, end = (float(n) for n in re.findall(r"[ML]([\d.]+) ", ranges[0]))
    assert start < xs[0] < end
    assert "13 of 14" in words(svg)
    assert "all others together: 4 of 50" in words(svg)


def test_names_with_signs_of_code_are_words():
    drawn = shares(SITES, title="Shares", note="dots", elsewhere=(4, 50))
    assert "<Mill> & Steps" in words(read(drawn, "wide"))
    assert "&lt;Mill&gt;" in drawn.table()


def test_the_table_of_shares_says_the_counts_and_the_range():
    drawn = shares(SITES, title="Shares", note="dots", elsewhere=(4, 50))
    assert drawn.rows[0] == ("Quarry Green", "13", "14", "66 and 99 in 100")


@pytest.mark.parametrize("size", SIZES)
def test_one_dot_is_one_tree(size):
    rows = [Pair("Maples", (8, 8), (2, 23)), Pair("Lindens", (5, 6), (0, 0))]
    drawn = pairs(rows, title="Loads", note="dots", here="here", there="elsewhere")
    svg = read(drawn, size)
    assert len(circles(svg, "c-dot-ember")) == 8 + 2 + 5
    assert len(circles(svg, "c-dot-open")) == 21 + 1
    assert {"8 of 8", "2 of 23", "5 of 6", "none there"} <= set(words(svg))
    wide = float(svg.get("viewBox").split()[2])
    assert all(0 < float(c.get("cx")) < wide - 40 for c in svg.iter(f"{SVG}circle"))


def test_very_many_trees_are_a_bar_of_the_same_share():
    rows = [Pair("Maples", (30, 120), (0, 500))]
    svg = read(pairs(rows, title="a", note="b", here="here", there="elsewhere"), "wide")
    whole, *_rest = [r for r in svg.iter(f"{SVG}rect") if r.get("class") == "f-bar"]
    [filled] = [r for r in svg.iter(f"{SVG}rect") if r.get("class") == "f-bar-own"]
    assert float(filled.get("width")) / float(whole.get("width")) == pytest.approx(0.25, abs=0.01)
    assert not circles(svg, "c-dot-ember")


@pytest.mark.parametrize("size", SIZES)
def test_months_stack_a_dot_a_tree_and_happenings_are_ticks(size):
    ticks = [
        Ticked(date(2026, 3, 26), "another mowing contractor"),
        *[Ticked(date(2026, 4, day), "mowing", often=True) for day in (2, 16, 30)],
    ]
    drawn = first_seen({"2026-04": 5, "2026-05": 8}, ticks, title="When", note="13 trees")
    svg = read(drawn, size)
    assert len(circles(svg, "c-dot-ember")) == 13
    events = [p for p in svg.iter(f"{SVG}path") if p.get("class") == "c-event"]
    assert len(events) == 4
    assert any("another mowing contractor" in (said or "") for said in words(svg))
    assert ("April 2026", "5 trees") in drawn.rows
    assert ("Mar 26, 2026", "another mowing contractor") in drawn.rows
    assert ("short ticks", "3 days") in drawn.rows


def test_a_month_with_very_many_trees_stays_in_its_frame():
    svg = read(first_seen({"2026-04": 400}, [], title="When", note=""), "wide")
    assert all(float(c.get("cy")) > 0 for c in svg.iter(f"{SVG}circle"))


def stand(tag, north, east, **more):
    latitude = 36.62 + north / 111_320
    longitude = -34.91 + east / (111_320 * math.cos(math.radians(36.62)))
    return Stand(
        **{"tag": tag, "latitude": latitude, "longitude": longitude, "marked": False} | more
    )


ROW = [
    stand(f"04{n:02d}", 0, 12 * n, marked=n > 1, lost_from=25, lost_to=50, bearing=180)
    for n in range(1, 9)
]


@pytest.mark.parametrize("size", SIZES)
def test_north_is_up_and_east_is_right(size):
    stands = [stand("a", 0, 0), stand("b", 40, 0), stand("c", 0, 40)]
    svg = read(plan(stands, title="Plan", note=""), size)
    places = [(float(e.get("x")), float(e.get("y"))) for e in svg.iter(f"{SVG}svg") if e.get("x")]
    north, first, second = sorted(places, key=lambda p: (p[1], p[0]))
    assert north[1] < first[1] == second[1]
    assert first[0] < second[0]
    assert north[0] == first[0]


def test_every_tree_stands_inside_the_frame_with_its_gap_at_its_bearing():
    drawn = plan(ROW, title="Plan of Quarry Green", note="each trunk from above")
    svg = read(drawn, "wide")
    wide, high = (float(n) for n in svg.get("viewBox").split()[2:])
    trunks = [e for e in svg.iter(f"{SVG}svg") if e.get("x")]
    assert len(trunks) == len(ROW)
    assert all(0 < float(e.get("x")) < wide and 0 < float(e.get("y")) < high for e in trunks)
    gaps = [p for p in svg.iter(f"{SVG}path") if p.get("class") == "t-lost"]
    assert len(gaps) == 7
    numbers = [float(n) for n in re.findall(r"[\d.]+", gaps[0].get("d"))]
    assert min(numbers[1], numbers[-1]) >= 50  # both ends to the south, which is below
    assert drawn.rows[1] == ("0402", "yes", "25 to 50 in 100", "180 degrees from north")
    assert drawn.rows[0] == ("0401", "no", "", "180 degrees from north")


def test_a_gap_of_unknown_side_is_drawn_on_no_side():
    one = stand("0401", 0, 0, marked=True, lost_from=25, lost_to=25)
    svg = read(plan([one, stand("0402", 0, 30)], title="Plan", note=""), "wide")
    assert not [p for p in svg.iter(f"{SVG}path") if p.get("class") == "t-lost"]
    assert len(circles(svg, "c-dot-ember")) == 1


def test_one_tree_alone_and_trees_on_one_point_are_drawn():
    for stands in ([ROW[0]], [ROW[0], ROW[0]]):
        svg = read(plan(stands, title="Plan", note=""), "narrow")
        assert all(math.isfinite(float(n)) for n in svg.get("viewBox").split())


def test_labels_never_lie_on_each_other():
    close = [stand(f"04{n:02d}", 0, 3 * n, marked=True) for n in range(58)]
    svg = read(plan(close, title="Plan", note=""), "wide")
    tags = [t for t in svg.iter(f"{SVG}text") if "f-tag" in (t.get("class") or "")]
    boxes = [(float(t.get("x")), float(t.get("y"))) for t in tags]
    assert 0 < len(boxes) < 58
    for i, (x, y) in enumerate(boxes):
        assert all(abs(x - a) > 28 or abs(y - b) > 11 for a, b in boxes[:i])


def test_the_bar_is_as_long_as_it_says():
    drawn = plan(ROW, title="Plan", note="")
    svg = read(drawn, "wide")
    [said] = [w for w in words(svg) if w and w.endswith("m)")]
    feet = int(said.split()[0])
    bar = next(p for p in svg.iter(f"{SVG}path") if p.get("class") == "f-thin").get("d")
    xs = [float(x) for x, _y in re.findall(r"([\d.]+) ([\d.]+)", bar)]
    trunks = sorted(
        float(e.get("x")) + float(e.get("width")) / 2 for e in svg.iter(f"{SVG}svg") if e.get("x")
    )
    meters = (trunks[-1] - trunks[0]) / 84  # px a meter: seven gaps of 12 m
    assert (max(xs) - min(xs)) / meters == pytest.approx(feet * 0.3048, rel=0.02)


def test_on_a_notice_marked_trees_have_rings_and_no_gaps():
    svg = read(plan(ROW, title="Plan", note="", rings=True), "paper")
    assert len(circles(svg, "f-ring")) == 7
    assert len(circles(svg, "c-dot")) == 8
    assert not [p for p in svg.iter(f"{SVG}path") if p.get("class") == "t-lost"]


def test_a_small_extent_never_looks_like_a_whole_trunk():
    less = stand("0402", 0, 0, marked=True, lost_from=0, lost_to=25, bearing=180)
    svg = read(plan([less, stand("0403", 0, 30)], title="Plan", note=""), "wide")
    assert len([p for p in svg.iter(f"{SVG}path") if p.get("class") == "t-lost"]) == 1


@pytest.mark.parametrize("size", SIZES)
def test_a_tree_that_was_looked_at_is_never_drawn_as_one_that_was_not(size):
    near = [stand(f"{n}", 0.2 * n, 3 * n) for n in range(30)]
    svg = read(plan([*near, stand("30", 200, 200)], title="Plan", note=""), size)
    assert not circles(svg, "f-unseen")
    assert not circles(svg, "c-dot-open")
    assert len([e for e in svg.iter(f"{SVG}svg") if e.get("x")]) == 31
    unseen = stand("31", 100, 0, looked_at=False)
    assert len(circles(read(plan([*near, unseen], title="Plan", note=""), size), "f-unseen")) == 1


def test_a_sign_that_is_none_of_the_bark_is_drawn_in_dots_as_its_legend_says():
    drawn = plan(
        [stand("a", 0, 0, marked=True), stand("b", 0, 40)], title="P", note="", trunks=False
    )
    svg = read(drawn, "wide")
    assert len(circles(svg, "c-dot-ember")) == len(circles(svg, "c-dot-open")) == 1


@pytest.mark.parametrize("size", ["wide", "paper"])
def test_a_notice_labels_every_tree_with_a_ring_and_no_two_labels_meet(size):
    rows = [stand(f"04{n:02d}", 0.2 * n, 8 * n, marked=True) for n in range(1, 21)]
    rows += [stand(f"04{n:02d}", 182 - 4 * n, 8 * n - 130, marked=True) for n in range(21, 34)]
    svg = read(plan([*rows, stand("0499", 100, -20)], title="Plan", note="", rings=True), size)
    tags = [t for t in svg.iter(f"{SVG}text") if "f-tag" in (t.get("class") or "")]
    assert {t.text for t in tags} >= {row.tag for row in rows}
    places = sorted((float(t.get("x")), float(t.get("y"))) for t in tags)
    for i, (x, y) in enumerate(places):
        assert all(abs(x - a) >= 28 or abs(y - b) >= 11 for a, b in places[i + 1 :])
