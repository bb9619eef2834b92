"""What is told of a kind's bark is what the handbook says of it."""

import pytest

from survey.causes.kinds import calendar_of
from survey.handbook.book import book


def clues_of(code):
    return dict(calendar_of(code, "north").clues)


@pytest.mark.parametrize("code", sorted(book().species))
def test_thin_bark_is_told_of_no_kind_that_the_handbook_calls_otherwise(code):
    bark, clues = book().species[code].bark, clues_of(code)
    told = {"thin_smooth": True, "rough": False}.get(bark)
    assert clues.get("thin_bark_species") is told


@pytest.mark.parametrize("code", sorted(book().species))
def test_a_kind_that_suffers_from_sun_has_one_reason_told_and_not_two(code):
    suffers = book().species[code].sunscald in ("moderate_to_high", "high")
    clues = clues_of(code)
    told = [clue for clue in ("thin_bark_species", "sun_tender_species") if clues.get(clue)]
    assert len(told) == (1 if suffers or book().species[code].bark == "thin_smooth" else 0)


def test_a_rough_kind_that_suffers_from_sun_is_not_called_thin():
    clues = clues_of("field_maple")
    assert clues["sun_tender_species"]
    assert clues["thin_bark_species"] is False
