"""Kinds of street tree: bark, water and what they bear badly, each with where it is from."""

import pytest

from survey.handbook.book import book
from survey.handbook.coherence import folded, names_of

# The street trees of the published lists the handbook follows, by Latin name.
LISTED = [
    "Jacaranda mimosifolia",
    "Lagerstroemia indica",
    "Acer rubrum",
    "Acer saccharum",
    "Acer macrophyllum",
    "Tilia cordata",
    "Gleditsia triacanthos",
    "Quercus rubra",
    "Quercus palustris",
    "Quercus agrifolia",
    "Quercus virginiana",
    "Platanus x hispanica",
    "Pistacia chinensis",
    "Ginkgo biloba",
    "Celtis occidentalis",
    "Celtis sinensis",
    "Cercis canadensis",
    "Cercis occidentalis",
    "Cinnamomum camphora",
    "Albizia julibrissin",
    "Arbutus Marina",
    "Aesculus californica",
    "Parkinsonia",
    "Chitalpa tashkentensis",
    "Magnolia grandiflora",
    "Malus",
    "Prunus",
    "Acer campestre",
    "Carpinus betulus",
]


@pytest.mark.parametrize("latin", LISTED)
def test_every_listed_tree_is_found_by_its_latin_name(latin):
    assert folded(latin) in names_of("species.toml", book().species)


@pytest.mark.parametrize(
    ("code", "water_use", "where"),
    [
        # Read in the Pleasanton list (after WUCOLS III) or the Los Angeles school district list.
        ("red_maple", "moderate", "Pleasanton"),
        ("common_hackberry", "low", "Pleasanton"),
        ("western_redbud", "very_low", "Pleasanton"),
        ("california_buckeye", "very_low", "Pleasanton"),
        ("bigleaf_maple", "moderate_to_high", "Los Angeles"),
        ("silk_tree", "low", "Los Angeles"),
        # From memory, and said so.
        ("linden", "moderate", "from memory"),
    ],
)
def test_a_water_class_says_where_it_holds(code, water_use, where):
    species = book().species[code]
    assert species.water_use == water_use
    assert where in species.water_use_from


def test_no_water_class_is_made_up_where_none_was_found():
    assert book().species["sugar_maple"].water_use is None
    assert book().species["red_and_pin_oak"].water_use is None


def test_what_is_from_memory_is_marked_as_such():
    for species in book().species.values():
        assert species.mark == "memory, to be verified"  # bark at least


def test_green_bark_that_feeds_the_tree_is_told_from_bark_that_burns():
    assert book().species["palo_verde"].bark == "green_photosynthetic"
    assert book().species["marina_madrone"].bark == "peeling"
    for species in book().species.values():
        if species.sunscald == "high":
            assert species.bark == "thin_smooth"


def test_late_wakers_are_known():
    # From memory: crape myrtle, chitalpa, honeylocust, silk tree, ginkgo, pecan, desert willow.
    late = {code for code, species in book().species.items() if species.wakes_late}
    assert {
        "crape_myrtle",
        "chitalpa",
        "honeylocust",
        "silk_tree",
        "ginkgo",
        "palo_verde",
        "pecan",
        "desert_willow",
    } <= late


def test_conifers_that_drop_their_needles_say_so():
    for code in ("bald_cypress", "dawn_redwood"):
        assert book().species[code].leaf_habit == "deciduous"
        assert "not a dead pine" in book().species[code].leaf_note


def test_kinds_that_turn_yellow_on_lime_are_those_of_the_source():
    # Pin oak, sweetgum, red maple, birch: Illinois newsletter, July 2021.
    hungry = {code for code, species in book().species.items() if species.iron_hungry}
    assert hungry == {"red_and_pin_oak", "sweetgum", "red_maple", "birch"}
    for code in hungry:
        assert "illinois_chlorosis_2021" in book().species[code].sources


def test_a_note_on_the_leaves_does_not_say_again_that_it_wakes_late():
    for code, one in book().species.items():
        assert not (one.wakes_late and "wake" in (one.leaf_note or "")), code
