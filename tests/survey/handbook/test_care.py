"""Kinds of care: when each climate leaves them open, and what closes them."""

import shutil
from typing import get_args

import pytest

from survey.handbook.book import DATA, book, load
from survey.handbook.reading import HandbookError
from survey.handbook.records import Climate, Closure, northern_month

CARE = list(book().care.values())


@pytest.mark.parametrize("care", CARE, ids=lambda care: care.code)
def test_every_care_says_how_much_when_who_and_what_comes_after(care):
    assert all((care.dose, care.working, care.follow_up, care.who))
    for climate in get_args(Climate):
        assert care.open_months(climate)


@pytest.mark.parametrize("care", CARE, ids=lambda care: care.code)
@pytest.mark.parametrize("climate", get_args(Climate))
def test_the_halves_of_the_earth_mirror_each_other(care, climate):
    north = {m for m in range(1, 13) if care.in_season(m, "north", climate)}
    south = {m for m in range(1, 13) if care.in_season(m, "south", climate)}
    assert {northern_month(m, "south") for m in south} == north


def test_a_climate_without_months_of_its_own_has_the_usual_ones():
    coat = book().care["whitewash"]
    assert coat.open_months("warm") == coat.months
    assert 9 in coat.open_months("cold")
    assert 9 not in coat.months


def test_a_wrap_goes_on_before_winter_and_comes_off_after_it():
    # About Thanksgiving to about Easter: Colorado State University Extension, wrapping new trees.
    on, off = book().care["winter_wrap"], book().care["winter_unwrap"]
    assert [m for m in (4, 7, 11) if on.in_season(m, "north", "cold")] == [11]
    assert [m for m in (4, 7, 12) if off.in_season(m, "north", "cold")] == [4]


def test_whatever_needs_a_ticket_is_closed_until_the_utilities_have_answered():
    for care in CARE:
        named = "utilities_not_answered" in care.closed_by
        assert named == care.needs_utility_ticket, care.code


def test_every_fact_that_can_close_work_closes_some():
    named = {code for care in CARE for code in care.closed_by}
    assert named <= set(get_args(Closure))
    assert set(get_args(Closure)) - named == set()


def test_work_for_trained_hands_names_its_hazard():
    assert {care.code for care in CARE if care.trained} == {"trim_loose_bark", "fertilize"}
    assert "blades" in book().care["trim_loose_bark"].cautions
    assert "label" in book().care["fertilize"].cautions


def test_an_empty_window_is_refused_by_name(tmp_path):
    shutil.copytree(DATA, tmp_path / "data")
    path = tmp_path / "data" / "care.toml"
    text = path.read_text()
    assert "windows = { cold = [4, 5, 6, 7, 9, 10] }" in text
    path.write_text(text.replace("{ cold = [4, 5, 6, 7, 9, 10] }", "{ cold = [] }"))
    with pytest.raises(HandbookError, match="whitewash, windows cold: is empty"):
        load(tmp_path / "data")
