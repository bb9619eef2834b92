"""Charts draw what they are given, in two widths, and bear empty and extreme numbers."""

import re
import xml.etree.ElementTree as ET

import pytest

from frontend.drawings import charts

NAMED = {"title": "Still standing", "desc": "At least 77 of 100."}
FULL = {
    "at_least": [(0, 1.0), (10, 0.9), (23, 0.77)],
    "at_most": [(0, 1.0), (12, 0.95), (23, 0.84)],
    "band": [(0, 1.0, 1.0), (10, 0.8, 0.97), (23, 0.62, 0.9)],
    "compare": [(0, 1.0), (23, 0.88)],
    "at_risk": [(0, 44), (12, 40), (24, 33)],
    "lost": [(0, 0), (12, 4), (24, 10)],
    "seasons": [(6, 11, "first summer"), (30, 99, "never reached")],
    "points": [(23, 0.77, "second summer: 77")],
    "seen_to": 23,
    "words": {"at_least": "at least", "at_most": "at most", "at_risk": "under observation"},
}


def said(svg):
    return re.findall(r"<text[^>]*>([^<]*)</text>", svg)


def every_chart(wide):
    yield charts.survival(**FULL, **NAMED, wide=wide)
    yield charts.survival(at_least=[(0, 1.0)], **NAMED, wide=wide)
    yield charts.survival(at_least=[(0, 1.0), (3, 0.0)], **NAMED, wide=wide)
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
    yield charts.accounted(alive=300, died=9, removed=2, unknown=1, **NAMED, wide=wide)
    yield charts.accounted(alive=0, died=0, removed=0, unknown=0, **NAMED, wide=wide)


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


def test_a_step_line_holds_its_value_until_the_next():
    assert charts._stairs([(0, 1), (5, 3), (9, 2)]) == [(0, 1), (5, 1), (5, 3), (9, 3), (9, 2)]


def test_the_survival_chart_prints_the_numbers_under_observation():
    texts = said(charts.survival(**FULL, **NAMED))
    assert {"44", "40", "33", "10", "under observation", "second summer: 77"} <= set(texts)


def test_the_survival_chart_tells_its_lines_apart_by_dash_and_label():
    svg = charts.survival(**FULL, **NAMED)
    for kind in ("c-find", "c-second", "c-compare"):
        assert f'class="{kind}"' in svg
    assert {"at least", "at most"} <= set(said(svg))


def test_a_season_beyond_the_chart_is_not_drawn():
    assert charts.survival(**FULL, **NAMED).count("c-season") == 1


def test_a_month_nobody_looked_breaks_the_line_of_shares():
    runs = charts._runs([(0.5, 0.4, 0.6), None, (0.5, 0.4, 0.6), (0.4, 0.3, 0.5)])
    assert [[i for i, _ in run] for run in runs] == [[0], [2, 3]]


def test_labels_are_moved_apart_and_kept_in_order():
    moved = charts._spread([100, 101, 40], 15, 0, 300)
    assert moved[2] == 40
    assert moved[1] - moved[0] >= 15


def test_labels_stay_on_the_sheet():
    assert max(charts._spread([290, 295, 299], 15, 0, 300)) <= 300


def test_one_dot_is_one_tree():
    svg = charts.dots(rows=[("Dry", 3, 7, "3 of 7")], **NAMED)
    assert svg.count('class="c-dot"') == 3
    assert svg.count('class="c-dot-open"') == 4


def test_every_tree_is_accounted_for_once():
    svg = charts.accounted(alive=32, died=9, removed=2, unknown=1, **NAMED)
    assert svg.count("c-alive") == 32
    assert svg.count("c-event") == 18  # a cross has two strokes
    assert svg.count("c-removed") == 2
    assert said(svg).count("?") == 1


def test_more_than_seven_waiting_reports_are_told_as_a_number():
    svg = charts.waited(counts=[0, 0, 41], **NAMED)
    assert svg.count('class="c-dot"') == 7
    assert "41" in said(svg)


def test_words_in_a_chart_are_escaped():
    evil = "<b>&</b>"
    svg = charts.dots(rows=[(evil, 1, 1, evil)], title=evil, desc=evil)
    ET.fromstring(svg)
    assert "<b>" not in svg
