"""Charts draw what they are given, in two widths, and bear empty and extreme numbers."""

import re
import xml.etree.ElementTree as ET

import pytest

from frontend.drawings import charts
from frontend.drawings.marks import spread

NAMED = {"title": "Still standing", "desc": "At least 77 of 100."}


def said(svg):
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def every_chart(wide):
    yield charts.shares(
        months=["N", "D", "J"],
        looked=[8, 0, 9],
        rows=[("thriving", "thriving", [(0.5, 0.2, 0.8), None, (0.4, 0.2, 0.6)])],
        **NAMED,
        wide=wide,
    )
    yield charts.shares(months=[], looked=[], rows=[], **NAMED, wide=wide)
    yield charts.dots(rows=[("Dry", 3, 52, "3 of 52"), ("None", 0, 0, "0")], **NAMED, wide=wide)
    yield charts.in_and_out(came=[3, 0, 5], left=[0, 2, 9], **NAMED, wide=wide)
    yield charts.in_and_out(came=[], left=[], **NAMED, wide=wide)
    yield charts.waited(counts=[6, 9, 0, 2], **NAMED, wide=wide)
    yield charts.waited(counts=[], **NAMED, wide=wide)


@pytest.mark.parametrize("wide", [True, False])
def test_charts_are_named_images_without_styles_or_colors(wide):
    for svg in every_chart(wide):
        root = ET.fromstring(svg)
        assert root.attrib["role"] == "img"
        children = [child.tag.rpartition("}")[2] for child in root]
        assert children[:2] == ["title", "desc"]
        for element in root.iter():
            assert not {"style", "id", "fill", "stroke"} & set(element.attrib)
        assert "nan" not in svg


def test_wide_and_narrow_are_drawings_of_their_own():
    wide, narrow = list(every_chart(True)), list(every_chart(False))
    for a, b in zip(wide, narrow, strict=True):
        assert a != b
        assert float(ET.fromstring(b).attrib["width"]) <= 358  # a phone of 390 less its margins


def test_a_month_nobody_looked_breaks_the_line_of_shares():
    runs = charts._runs([(0.5, 0.4, 0.6), None, (0.5, 0.4, 0.6), (0.4, 0.3, 0.5)])
    assert [[i for i, _ in run] for run in runs] == [[0], [2, 3]]


def test_labels_are_moved_apart_and_kept_in_order():
    moved = spread([100, 101, 40], 15, 0, 300)
    assert moved[2] == 40
    assert moved[1] - moved[0] >= 15


def test_labels_stay_on_the_sheet():
    assert max(spread([290, 295, 299], 15, 0, 300)) <= 300


def test_one_dot_is_one_tree():
    svg = charts.dots(rows=[("Dry", 3, 7, "3 of 7")], **NAMED)
    assert svg.count('class="c-dot"') == 3
    assert svg.count('class="c-dot-open"') == 4


def test_more_than_seven_waiting_reports_are_told_as_a_number():
    svg = charts.waited(counts=[0, 0, 41], **NAMED)
    assert svg.count('class="c-dot"') == 7
    assert "41" in said(svg)


def test_words_in_a_chart_are_escaped():
    evil = "<b>&</b>"
    svg = charts.dots(rows=[(evil, 1, 1, evil)], title=evil, desc=evil)
    ET.fromstring(svg)
    assert "<b>" not in svg
