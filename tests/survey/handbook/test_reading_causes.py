"""Causes, clues, checks, kinds and disputes that cannot be trusted are refused by name."""

import pytest

from tests.survey.handbook.test_reading import folder, refusal, rewrite

__all__ = ["folder"]  # the fixture of the other files

GRASS_SOURCES = 'sources = ["morgenroth_2015"]\n\n[mulch_ring_whole]'

# file, what is there, what stands there instead, entry, field, words of the error
SPOILED = [
    # clues
    ("clues.toml", GRASS_SOURCES, "\n[mulch_ring_whole]", "grass_to_trunk", "sources", "no source"),
    (
        "clues.toml",
        GRASS_SOURCES,
        'sources = ["hearsay"]\n\n[mulch_ring_whole]',
        "grass_to_trunk",
        "sources",
        "sources.toml has no 'hearsay'",
    ),
    ("clues.toml", 'sign = "bark_wound"', 'sign = "bark_gone"', "bark_wound", "sign", "has no"),
    ("clues.toml", 'sign = "bark_wound"\n', "", "bark_wound", "sign", "is missing"),
    (
        "clues.toml",
        'about = "site"\nkept_for = "site"\naliases = ["turf to trunk"',
        'about = "site"\nsign = "bark_torn"\naliases = ["turf to trunk"',
        "grass_to_trunk",
        "sign",
        "signs or marks only",
    ),
    (
        "clues.toml",
        "months = [3, 4, 5, 6, 7, 8, 9, 10, 11]\n",
        "",
        "mowing_season",
        "months",
        "follows the calendar",
    ),
    ("clues.toml", "months = [3, 4,", "months = [0, 4,", "mowing_season", "months 1", "1 to 12"),
    (
        "clues.toml",
        "[heat_wave]\n",
        "[heat_wave]\nmonths = [7]\n",
        "heat_wave",
        "months",
        "only a clue about time",
    ),
    (
        "clues.toml",
        'aliases = ["turf to trunk", "lawn to trunk"',
        'aliases = ["turf to trunk", "Tooth-Marks"',
        "grass_to_trunk",
        "aliases",
        "'Tooth-Marks' means tooth_marks already",
    ),
    (
        "clues.toml",
        'aliases = ["turf to trunk", "lawn to trunk"',
        'aliases = ["turf to trunk", "?!"',
        "grass_to_trunk",
        "aliases",
        "is no name",
    ),
    (
        "clues.toml",
        'words_en = ["ants"]',
        'words_en = ["ants", "ants"]',
        "ants",
        "words_en",
        "the same thing twice",
    ),
    ("clues.toml", 'words_en = ["ants"]', 'words_en = ["an  ts"]', "ants", "words_en 1", "spare"),
    ("clues.toml", 'words_en = ["ants"]', 'words_en = "ants"', "ants", "words_en", "a list"),
    ("clues.toml", 'words_en = ["ants"]', "words_en = [[]]", "ants", "words_en 1", "must be text"),
    (
        "clues.toml",
        "# --- signs of",
        (
            '[idle]\nlabel = "It hums"\nabsent = "It is still"\nabout = "mark"\n'
            'mark = "own rule of this project"\n\n# --- signs of'
        ),
        "idle",
        None,
        "no cause weighs it",
    ),
    # checks
    (
        "checks.toml",
        'yes_means = ["grass_to_trunk"]',
        'yes_means = ["grass_to_knee"]',
        "grass_at_trunk",
        "yes_means",
        "clues.toml has no 'grass_to_knee'",
    ),
    (
        "checks.toml",
        'no_denies = ["grass_to_trunk"]\n',
        "",
        "grass_at_trunk",
        "yes_means",
        "is no check",
    ),
    (
        "checks.toml",
        'yes_denies = ["mulch_ring_whole"]',
        'yes_denies = ["grass_to_trunk"]',
        "grass_at_trunk",
        "yes_denies",
        "says and denies the same: grass_to_trunk",
    ),
    (
        "checks.toml",
        'who = "anyone"\nyes = "Grass',
        'who = "me"\nyes = "Grass',
        "grass_at_trunk",
        "who",
        "one of",
    ),
    (
        "checks.toml",
        "# --- bark and trunk",
        (
            '[idle]\nasks = "Does it hum?"\nhow = "Listen."\nwho = "anyone"\nyes = "It hums"\n'
            'no = "It is still"\nyes_means = ["ants"]\nno_denies = ["ants"]\n'
            'mark = "own rule of this project"\n\n# --- bark and trunk'
        ),
        "idle",
        None,
        "no cause asks for it",
    ),
    (
        "checks.toml",
        'not_with = ["fungus"]',
        'not_with = ["rain"]',
        "flare_by_hand",
        "not_with",
        "signs.toml has no 'rain'",
    ),
    # causes
    (
        "causes.toml",
        (
            'sources = ["morgenroth_2015", "nc_state_2019", "nmsu_2007"]\n'
            'mark = "common practice, no source"\n'
        ),
        "",
        "mower_or_trimmer",
        "sources",
        "no source",
    ),
    (
        "causes.toml",
        '{ clue = "bark_wound", weight = 2, absent = -2 }',
        '{ clue = "bark_gone", weight = 2, absent = -2 }',
        "mower_or_trimmer",
        "clues",
        "clues.toml has no 'bark_gone'",
    ),
    (
        "causes.toml",
        '{ clue = "bark_wound", weight = 2, absent = -2 }',
        '{ clue = "bark_wound", weight = 0 }',
        "mower_or_trimmer",
        "clues 1 weight",
        "not 0",
    ),
    (
        "causes.toml",
        '{ clue = "bark_wound", weight = 2, absent = -2 }',
        '{ clue = "bark_wound", weight = 99 }',
        "mower_or_trimmer",
        "clues 1 weight",
        "from -3 to 3",
    ),
    (
        "causes.toml",
        '{ clue = "bark_wound", weight = 2, absent = -2 }',
        '{ clue = "bark_wound", weight = 2, absent = nan }',
        "mower_or_trimmer",
        "clues 1 absent",
        "whole number",
    ),
    (
        "causes.toml",
        '{ clue = "bark_wound", weight = 2, absent = -2 }',
        '{ clue = "level_cut", weight = 1 }',
        "mower_or_trimmer",
        "clues",
        "weighs the same clue twice",
    ),
    (
        "causes.toml",
        'look_alikes = ["rodents", "dog_chewing", "sunburn"',
        'look_alikes = ["mower_or_trimmer", "rodents", "dog_chewing", "sunburn"',
        "mower_or_trimmer",
        "look_alikes",
        "names itself",
    ),
    (
        "causes.toml",
        'look_alikes = ["rodents", "dog_chewing", "sunburn"',
        'look_alikes = ["frost", "rodents", "dog_chewing", "sunburn"',
        "mower_or_trimmer",
        "look_alikes",
        "frost does not name mower_or_trimmer",
    ),
    (
        "causes.toml",
        'look_alikes = ["rodents", "dog_chewing", "sunburn"',
        'look_alikes = ["gremlins", "rodents", "dog_chewing", "sunburn"',
        "mower_or_trimmer",
        "look_alikes",
        "causes.toml has no 'gremlins'",
    ),
    (
        "causes.toml",
        'checks = ["shelf_on_wood", "mushrooms_seen", "hollow_or_soft"]',
        "checks = []",
        "wood_decay",
        "checks",
        "no check can settle it",
    ),
    (
        "causes.toml",
        'checks = ["shelf_on_wood", "mushrooms_seen", "hollow_or_soft"]',
        'checks = ["shelf_on_wood", "mushrooms_seen", "hollow_or_soft", "purple_heads"]',
        "wood_decay",
        "checks",
        "purple_heads says the same of it",
    ),
    (
        "causes.toml",
        'care = ["mulch_ring", "turf_back"',
        'care = ["magic", "turf_back"',
        "mower_or_trimmer",
        "care",
        "care.toml has no 'magic'",
    ),
    (
        "causes.toml",
        "shows_months = [3, 4, 5",
        "shows_months = [13, 4, 5",
        "mower_or_trimmer",
        "shows_months 1",
        "from 1 to 12",
    ),
    (
        "causes.toml",
        '"weed whacker", "lawnmower damage"',
        '"Rabbits or voles", "lawnmower damage"',
        "mower_or_trimmer",
        "aliases",
        "means rodents already",
    ),
    (
        "causes.toml",
        'says = "Grass machines hit',
        'says = "9 in 10%: Grass machines hit',
        "mower_or_trimmer",
        "says",
        "percent sign",
    ),
    # kinds of tree
    ("species.toml", 'bark = "thin_smooth"\n', "", "linden", "bark", "missing"),
    ("species.toml", 'bark = "thin_smooth"', 'bark = "barky"', "linden", "bark", "one of"),
    (
        "species.toml",
        'water_use_from = "from memory; regions differ"\n',
        "",
        "linden",
        "water_use_from",
        "together with water_use",
    ),
    (
        "species.toml",
        "shoulder_months_south = [7, 11]\n",
        "",
        "jacaranda",
        "shoulder_months_south",
        "together",
    ),
    (
        "species.toml",
        "shoulder_months_south = [7, 11]",
        "shoulder_months_south = [7, 8]",
        "jacaranda",
        "shoulder_months_south",
        "a bare month too",
    ),
    (
        "species.toml",
        '"lime tree", "tilo"',
        '"lime tree", "Hornbeam"',
        "linden",
        "aliases",
        "means hornbeam already",
    ),
    # disputes
    (
        "disputes.toml",
        'sources = ["nmsu_2007", "garden_press_bark"]\n',
        "",
        "girdle_quarters",
        "sources",
        "no source",
    ),
    (
        "disputes.toml",
        'causes = ["mower_or_trimmer", "rodents", "dog_chewing"]',
        'causes = ["gremlins"]',
        "girdle_quarters",
        "causes",
        "causes.toml has no 'gremlins'",
    ),
]


@pytest.mark.parametrize(("file", "old", "new", "entry", "field", "words"), SPOILED)
def test_a_spoiled_entry_about_causes_is_named(folder, file, old, new, entry, field, words):
    rewrite(folder, file, old, new)
    error = refusal(folder)
    assert (error.file, error.entry, error.field) == (file, entry, field)
    assert words in error.problem


def test_a_cause_without_anything_for_it_is_refused(folder):
    path = folder / "causes.toml"
    text = path.read_text(encoding="utf-8")
    head, rest = text.split("[sapsucker]")
    clues = rest[rest.index("clues = [") : rest.index("]\nsources")]
    against = 'clues = [\n    { clue = "d_hole", weight = -2 },\n'
    path.write_text(head + "[sapsucker]" + rest.replace(clues, against), encoding="utf-8")
    error = refusal(folder)
    assert (error.entry, error.field) == ("sapsucker", "clues")
    assert "nothing speaks for it" in error.problem


@pytest.mark.parametrize("file", ["clues.toml", "checks.toml", "causes.toml", "disputes.toml"])
@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"[[causes]]\n", "outside an entry"),
        (b"[a.b]\nlabel = 'x'\n", "unknown field"),
        (b'["\\u202e"]\nlabel = "x"\n', "small letters"),
        (b"[x]\nlabel = {a = 1}\n", "must be text"),
        (b"\x00", "not valid TOML"),
        (b"[x]\nlabel = 1979-05-27\n", "must be text"),
        (b"a" * 100_000, "not valid TOML"),
    ],
)
def test_hostile_files_are_refused_with_a_message(folder, file, content, words):
    (folder / file).write_bytes(content)
    error = refusal(folder)
    assert error.file == file
    assert words in error.problem or "unknown field" in error.problem
