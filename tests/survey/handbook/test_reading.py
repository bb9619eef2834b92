"""Data that cannot be trusted is refused with file, entry and field."""

import shutil

import pytest

from survey.handbook.book import DATA, load
from survey.handbook.reading import HandbookError


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(DATA, tmp_path / "data")
    return tmp_path / "data"


def rewrite(folder, file, old, new):
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def refusal(folder) -> HandbookError:
    with pytest.raises(HandbookError) as caught:
        load(folder)
    return caught.value


def test_the_copied_handbook_loads_before_it_is_spoiled(folder):
    assert next(iter(load(folder).signs)) == "bark_wound"


# file, what is there, what stands there instead, entry, field, words of the error
SPOILED = [
    ("signs.toml", 'label = "Bark is gone"\n', "", "bark_wound", "label", "missing"),
    ("signs.toml", "weight = 4", "weight = 9", "bark_wound", "weight", "from 1 to 5, not 9"),
    ("signs.toml", "weight = 4", 'weight = "4"', "bark_wound", "weight", "whole number"),
    ("signs.toml", "weight = 4", "weight = true", "bark_wound", "weight", "whole number"),
    ("signs.toml", "weight = 4", "weight = 4.0", "bark_wound", "weight", "whole number"),
    ("signs.toml", "weight = 4", "weigth = 4", "bark_wound", "weigth", "unknown field; known are"),
    (
        "signs.toml",
        "asks_side = false",
        "asks_side = 0",
        "bark_wound",
        "asks_side",
        "true or false",
    ),
    ("signs.toml", 'where = "base"', 'where = "roof"', "bark_wound", "where", "one of 'base'"),
    ("signs.toml", 'where = "base"', "where = 3", "bark_wound", "where", "one of 'base'"),
    (
        "signs.toml",
        '"wet_flap", "keep_tools_away"',
        '"wet_flap", "sing_to_it"',
        "bark_wound",
        "advice",
        "advice.toml has no 'sing_to_it'",
    ),
    (
        "signs.toml",
        '"wet_flap", "keep_tools_away"',
        '"wet_flap", "wet_flap"',
        "bark_wound",
        "advice",
        "twice",
    ),
    (
        "signs.toml",
        '"wet_flap", "keep_tools_away"',
        '"wet_flap", 7',
        "bark_wound",
        "advice 7",
        "must be text",
    ),
    (
        "signs.toml",
        'label = "Bark is gone"',
        'label = "The bark is gone here and there"',
        "bark_wound",
        "label",
        "more than 5 words",
    ),
    ("signs.toml", 'label = "Bark is gone"', 'label = ""', "bark_wound", "label", "one line"),
    (
        "signs.toml",
        'label = "Bark is gone"',
        'label = "Bark  gone"',
        "bark_wound",
        "label",
        "spare",
    ),
    (
        "signs.toml",
        'label = "Bark is gone"',
        'label = "Bark\\ngone"',
        "bark_wound",
        "label",
        "spare",
    ),
    (
        "signs.toml",
        'label = "Bark is gone"',
        'label = "60% gone"',
        "bark_wound",
        "label",
        "percent sign",
    ),
    (
        "signs.toml",
        'label = "Torn strips or claw marks"',
        'label = "Bark is gone"',
        "bark_torn",
        "label",
        "is the label of bark_wound too",
    ),
    (
        "signs.toml",
        'shown_to = ["neighbor", "trained"]',
        "shown_to = []",
        "bark_wound",
        "shown_to",
        "nobody",
    ),
    (
        "signs.toml",
        'shown_to = ["neighbor", "trained"]',
        'shown_to = "neighbor"',
        "bark_wound",
        "shown_to",
        "must be a list",
    ),
    (
        "signs.toml",
        'sources = ["nmsu_2007", "morgenroth_2015", "nc_state_2019"]',
        "",
        "bark_wound",
        "sources",
        "no source",
    ),
    (
        "signs.toml",
        '"nmsu_2007", "morgenroth_2015"',
        '"nmsu_2007", "hearsay"',
        "bark_wound",
        "sources",
        "sources.toml has no 'hearsay'",
    ),
    (
        "signs.toml",
        'mark = "own rule of this project"',
        'mark = "everybody knows"',
        "bark_torn",
        "mark",
        "one of 'common practice, no source'",
    ),
    (
        "signs.toml",
        'advice = ["keep_off_road", "let_us_look", "photo_next_week"]',
        "advice = []",
        "something_else",
        "advice",
        "must be told something",
    ),
    ("signs.toml", "[bark_torn]", "[Bark-Torn]", "Bark-Torn", None, "small letters"),
    (
        "advice.toml",
        'not_with = ["soggy_soil", "fungus", "oozing_bark"]',
        'not_with = ["rain"]',
        "water_if_dry",
        "not_with",
        "signs.toml has no 'rain'",
    ),
    (
        "advice.toml",
        "only_under_years = 3",
        "only_under_years = 0",
        "water_if_dry",
        "only_under_years",
        "at least 1",
    ),
    (
        "advice.toml",
        'why = "Drivers may not see you."',
        'why = "Drivers may well not see you at all."',
        "keep_off_road",
        "why",
        "more than 6 words",
    ),
    (
        "dangers.toml",
        'why = "The ground itself can be live."',
        'why = "The ground itself can be live as well."',
        "wire",
        "why",
        "more than 6 words",
    ),
    ("dangers.toml", "keep_back_feet = 35\n", "", "wire", "keep_back_feet", "no distance"),
    ("dangers.toml", 'door = "emergency"', 'door = "front"', "wire", "door", "one of 'emergency'"),
    (
        "species.toml",
        "bare_months = [11, 12, 1, 2, 3, 4]",
        "bare_months = [11, 12, 13]",
        "linden",
        "bare_months 3",
        "from 1 to 12",
    ),
    (
        "species.toml",
        "shoulder_months = [10, 5]",
        "shoulder_months = [10, 4]",
        "linden",
        "shoulder_months",
        "a bare month too",
    ),
    (
        "species.toml",
        "height_low_m = 15.2",
        "height_low_m = 25.2",
        "linden",
        "height_high_m",
        "not a height",
    ),
    (
        "species.toml",
        "height_low_m = 15.2",
        "height_low_m = inf",
        "linden",
        "height_low_m",
        "finite",
    ),
    (
        "species.toml",
        "height_low_m = 15.2",
        "height_low_m = nan",
        "linden",
        "height_low_m",
        "finite",
    ),
    (
        "species.toml",
        "height_low_m = 15.2",
        'height_low_m = "tall"',
        "linden",
        "height_low_m",
        "a number",
    ),
    ("extents.toml", "multiplier = 0.5", "multiplier = 0", "less_than_quarter", "multiplier", "0"),
    (
        "extents.toml",
        "to_fraction = 0.25",
        "to_fraction = 25",
        "less_than_quarter",
        "to_fraction",
        "between",
    ),
    (
        "extents.toml",
        "to_fraction = 0.25\n",
        "",
        "less_than_quarter",
        "to_fraction",
        "together with",
    ),
    ("conditions.toml", "joints = 4", "joints = 5", "thriving", "joints", "from 0 to 4"),
    (
        "picture_scale.toml",
        'condition = "thriving"',
        'condition = "blooming"',
        "thriving",
        "condition",
        "conditions.toml has no 'blooming'",
    ),
    (
        "care.toml",
        'cautions = ["road", "heat", "sign_in"]',
        'cautions = ["road", "bees"]',
        "water",
        "cautions",
        "cautions.toml has no 'bees'",
    ),
    (
        "care.toml",
        'what = "Water on a wet root ball"\n',
        "",
        "water",
        "refusals 1 what",
        "missing",
    ),
    (
        "care.toml",
        'what = "Water on a wet root ball"\n',
        'what = "Water on a wet root ball"\nwho = "me"\n',
        "water",
        "refusals 1 who",
        "unknown field",
    ),
    ("care.toml", "refusals = []", 'refusals = ["no"]', "arborist_visit", "refusals 1", "a table"),
    (
        "care.toml",
        'who = ["volunteer", "crew"]',
        "who = []",
        "water",
        "who",
        "is empty",
    ),
    (
        "sources.toml",
        'org"\nread = "itself"',
        'org"\nread = "no"',
        "field_guide_194",
        "read",
        "one of",
    ),
]


@pytest.mark.parametrize(("file", "old", "new", "entry", "field", "words"), SPOILED)
def test_a_spoiled_entry_is_named(folder, file, old, new, entry, field, words):
    rewrite(folder, file, old, new)
    error = refusal(folder)
    assert (error.file, error.entry) == (file, entry)
    assert error.field == field
    assert words in error.problem
    assert str(error).startswith(", ".join(part for part in (file, entry, field) if part))


def test_a_code_that_stands_twice_is_refused_with_its_name(folder):
    path = folder / "sides.toml"
    path.write_text(path.read_text() + '\n[street]\nlabel = "Road"\n')
    error = refusal(folder)
    assert error.file == "sides.toml"
    assert "street" in error.problem


def test_a_value_outside_an_entry_is_refused(folder):
    path = folder / "sides.toml"
    path.write_text("version = 2\n" + path.read_text())
    error = refusal(folder)
    assert (error.file, error.field) == ("sides.toml", "version")


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"[street\n", "not valid TOML"),
        (b"\xff\xfe[street]", "not UTF-8"),
        (b"", "holds no entry"),
        (b"# nothing\n", "holds no entry"),
    ],
)
def test_a_file_that_is_no_data_is_refused(folder, content, words):
    (folder / "sides.toml").write_bytes(content)
    error = refusal(folder)
    assert error.file == "sides.toml"
    assert words in error.problem


def test_a_missing_file_is_named(folder):
    (folder / "care.toml").unlink()
    assert str(refusal(folder)) == "care.toml: the file is missing"


def test_a_file_nobody_reads_is_not_passed_over(folder):
    (folder / "sings.toml").write_text("")
    assert str(refusal(folder)) == "sings.toml: is not a file of the handbook"


def test_the_fields_the_loader_fills_cannot_be_set_by_a_file(folder):
    rewrite(folder, "signs.toml", "weight = 4", 'weight = 4\ncode = "other"')
    error = refusal(folder)
    assert (error.entry, error.field) == ("bark_wound", "code")
