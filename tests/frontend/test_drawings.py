"""Drawings are sound and the same each time, and the handbook finds one for all it names."""

import gzip
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

import frontend
from frontend.drawings import (
    care,
    dangers,
    extent,
    gauge,
    ground,
    label,
    lookalikes,
    scale,
    sides,
    signs,
    trunk,
    twig,
)
from survey.handbook.book import book

STYLES = Path(frontend.__file__).parent / "static" / "frontend"


def all_drawings():
    """(name, how to draw it) of everything that can be drawn."""
    for code in signs.SIGNS:
        yield f"sign {code}", lambda code=code: signs.sign(code)
    for code in lookalikes.ALIKE:
        yield f"alike {code}", lambda code=code: lookalikes.look_alike(code)
    for code in dangers.DANGERS:
        yield f"danger {code}", lambda code=code: dangers.danger(code)
    for code in extent.SHARES:
        yield f"extent {code}", lambda code=code: extent.extent(code)
    for code in scale.STEPS:
        yield f"scale {code}", lambda code=code: scale.scale(code)
    for code in sides.SIDES:
        yield f"side {code}", lambda code=code: sides.side(code)
    for code in (*care.CARE, "tree"):
        yield f"care {code}", lambda code=code: care.care(code)
    for code in ("whole_tree", "base", "close_up"):
        yield f"photo {code}", lambda code=code: care.photo_guide(code)
    for kind in ("wire", "fire", "limb"):
        yield f"back {kind}", lambda kind=kind: dangers.keep_back(kind, "35 ft & more")
    for condition in (*gauge.CONDITIONS, "gone", ""):
        for doubt in (0, 1, 2):
            for size in (14, 17, 50):
                yield (
                    f"gauge {condition} {doubt} {size}",
                    lambda c=condition, d=doubt, s=size: gauge.gauge(c, d, s, title="a word"),
                )
    for step in range(1, 8):
        yield f"progress {step}", lambda step=step: twig.progress_twig(step, 6)
    for state in ("now", "done", "sign", "danger", "coming"):
        yield f"node {state}", lambda state=state: twig.twig_node(state, "left")
    for share in (0, 12.5, 25, 55, 100):
        yield f"trunk {share}", lambda share=share: trunk.trunk(share, min(100, share + 20), 200)
    for kind in ("on", "back", "turn", "down"):
        yield f"arrow {kind}", lambda kind=kind: label.arrow(kind)
    yield "loop", label.loop
    yield "label", lambda: label.label("3 July, note 12", "Your report is called", "Say it")
    yield "label shape", label.label_shape
    yield "label string", label.label_string
    yield "tally", lambda: label.tally(12)
    yield "wordmark", ground.wordmark
    yield "hero", ground.hero
    yield "hero row", ground.hero_row
    yield "ground", ground.ground_line
    yield "saplings", lambda: ground.sapling_row(7)
    yield "empty", ground.empty_ground


DRAWN = dict(all_drawings())
STAMPING = ["hero", "hero row"]  # each stands on a page only once, so it may name its stamps


@pytest.mark.parametrize("name", DRAWN)
def test_a_drawing_is_well_formed_and_carries_neither_styles_nor_colors_nor_ids(name):
    text = DRAWN[name]()
    root = ET.fromstring(text)
    assert root.tag.endswith("svg")
    for element in root.iter():
        assert not {"style", "onload"} & set(element.attrib)
        if name not in STAMPING:
            assert not {"id", "href"} & set(element.attrib)
        for attribute in ("fill", "stroke"):
            assert attribute not in element.attrib
    assert "<script" not in text
    assert "nan" not in text
    assert "inf" not in text


@pytest.mark.parametrize("name", STAMPING)
def test_a_stamping_drawing_prints_only_what_it_keeps_and_names_it_after_itself(name):
    root = ET.fromstring(DRAWN[name]())
    kept = {e.attrib["id"] for e in root.iter() if "id" in e.attrib}
    printed = {e.attrib["href"].removeprefix("#") for e in root.iter() if "href" in e.attrib}
    assert kept == printed
    assert all(each.startswith(name.replace(" ", "-")) for each in kept)


@pytest.mark.parametrize("name", STAMPING)
def test_the_start_page_tree_stays_light(name):
    # common practice, no source: a page on a slow phone should weigh less than 60 kB compressed
    assert len(gzip.compress(DRAWN[name]().encode())) < 25_000


@pytest.mark.parametrize("name", DRAWN)
def test_the_same_drawing_has_the_same_bytes_each_time(name):
    assert DRAWN[name]() == DRAWN[name]()


def test_every_class_of_every_drawing_is_known_to_a_stylesheet():
    styles = "".join(path.read_text() for path in STYLES.glob("*.css"))
    known = set(re.findall(r"\.([a-z][a-z-]*)", styles))
    used = set()
    for draw in DRAWN.values():
        for names in re.findall(r'class="([^"]*)"', draw()):
            used |= set(names.split())
    assert used - known == {"far-drawing", "mark"}  # names of whole drawings that need no rule


def test_no_two_drawings_are_the_same():
    seen = {}
    for name, draw in DRAWN.items():
        if name.startswith(
            ("gauge", "sign", "danger", "extent", "scale", "side", "care", "photo", "alike")
        ):
            same = seen.setdefault(draw(), name)
            # nobody knows what an unlooked-at or a vanished tree's doubt would be
            alike = same.startswith(("gauge  ", "gauge gone"))
            assert same == name or alike, f"{name} looks like {same}"


@pytest.mark.parametrize("size", [14, 17, 50, 100])
def test_the_gauge_is_distinct_for_each_condition_and_doubt(size):
    shapes = {
        gauge.gauge(condition, doubt, size) for condition in gauge.CONDITIONS for doubt in (0, 1, 2)
    }
    assert len(shapes) == 15


@pytest.mark.parametrize("condition", gauge.CONDITIONS)
def test_the_small_gauge_sits_on_whole_pixels(condition):
    for doubt in (0, 1, 2):
        d = re.search(r' d="([^"]*)"', gauge.gauge(condition, doubt, 17)).group(1)
        assert re.fullmatch(r"(M\d+ \d+h\d+v\d+h-\d+z)+", d)


def test_one_drawing_carries_one_mark():
    marks = ("d-danger", "d-do", "d-chosen")
    for name, draw in DRAWN.items():
        assert sum(mark in re.split(r'[ "]', draw()) for mark in marks) <= 1, name


def test_the_handbook_finds_a_drawing_of_its_own_for_each_sign():
    codes = {sign.drawing for sign in book().signs.values()}
    assert codes <= set(signs.SIGNS)
    assert len(codes) == len(book().signs)


def test_the_handbook_finds_a_drawing_of_its_own_for_each_picture_to_practice_on():
    drawn = [item.drawing for item in book().practice.values()]
    assert sorted(drawn) == sorted(lookalikes.ALIKE)


def test_the_handbook_finds_a_drawing_of_its_own_for_each_danger():
    found = {danger.drawing for danger in book().dangers.values()}
    assert found <= set(dangers.DANGERS)
    assert len(found) == len(book().dangers)
    for code in book().dangers:
        assert dangers.ALSO.get(code, code) in dangers.DANGERS


def test_the_handbook_finds_a_drawing_for_each_extent_side_and_step_of_the_picture_scale():
    assert {step.drawing for step in book().extents.values()} <= set(extent.SHARES)
    assert set(book().extents) <= set(extent.SHARES)
    assert set(book().sides) <= set(sides.SIDES)
    assert set(book().picture_scale) <= set(scale.STEPS)
    drawn = {step.drawing.removeprefix("whole_") for step in book().picture_scale.values()}
    assert drawn <= {*scale.STEPS, "not_sure"}


def test_the_handbook_finds_a_drawing_for_each_advice_that_asks_for_one():
    asked = {advice.drawing for advice in book().advice.values() if advice.drawing}
    assert asked <= set(care.CARE)


def test_the_gauge_knows_every_condition_of_the_handbook():
    assert set(book().conditions) == {*gauge.CONDITIONS, gauge.GONE}


@pytest.mark.parametrize("code", ["", "<script>", "no such thing", "🌳", "x" * 10_000])
def test_an_unknown_code_draws_something_calm(code):
    assert signs.sign(code) == signs.sign("something_else")
    assert lookalikes.look_alike(code) == signs.sign("something_else")
    assert dangers.danger(code) == dangers.danger("not_sure")
    assert extent.extent(code) == extent.extent("cannot_see")
    assert scale.scale(code) == scale.scale("cannot_tell")
    assert sides.side(code) == sides.side("not_sure")
    assert care.care(code) == care.care("tree")
    assert gauge.gauge(code) == gauge.gauge("")


def test_words_in_a_drawing_are_escaped():
    evil = '</title><script>alert("1")</script>'
    for text in (
        signs.sign("fungus", title=evil),
        gauge.gauge("dead", 0, 50, title=evil),
        label.label(evil, evil, evil),
        dangers.keep_back("wire", evil),
    ):
        ET.fromstring(text)
        assert "<script" not in text


def test_a_drawing_with_a_title_is_an_image_and_one_without_is_hidden():
    assert 'role="img"' in signs.sign("fungus", title="Mushroom")
    assert "<title>Mushroom</title>" in signs.sign("fungus", title="Mushroom")
    assert 'aria-hidden="true"' in signs.sign("fungus")
    assert "role=" not in signs.sign("fungus")


def test_the_trunk_keeps_numbers_in_the_round():
    assert trunk.trunk(-5, 400, 1000) == trunk.trunk(0, 100, 1000)
    assert "t-maybe" not in trunk.trunk(30, 30)
    assert "t-maybe" in trunk.trunk(30, 50)
    assert "t-lost" not in trunk.trunk(0)
    assert "t-bark" not in trunk.trunk(100)


def test_the_twig_has_a_leaf_for_each_answer_and_one_bud():
    for step in range(1, 7):
        drawn = twig.progress_twig(step, 6)
        assert drawn.count('class="d-leaf"') == step - 1
        assert drawn.count("twig-bud") == 1
    assert "twig-bud" not in twig.progress_twig(7, 6)
    assert twig.progress_twig(-3, 0) == twig.progress_twig(1, 1)


def test_the_drawings_know_no_framework():
    rooms = "care, charts, dangers, extent, gauge, ground, label, scale, sides, signs, trunk, twig"
    asked = f"import sys; from frontend.drawings import {rooms}; print('django' in sys.modules)"
    said = subprocess.run(
        [sys.executable, "-c", asked],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(frontend.__file__).parent.parent,
    )
    assert said.stdout.strip() == "False"
