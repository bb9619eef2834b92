"""The page on the sun: what it says, draws and refuses."""

import re

import pytest
from django.utils.translation import override

from frontend.drawings.trunk_sun import sun_from_above, sun_hours, sun_year
from survey.science.sun.heat import coat_window, sunny_sides
from survey.science.sun.trunk import SIDES, month_load
from tests import factories as make

PAGE = "/sun-on-the-trunk/"


@pytest.fixture
def town(db):
    return make.AreaFactory(is_home=True, latitude=36.6)


def read(client, **asked):
    return client.get(PAGE, asked).content.decode()


def test_it_names_the_sides_and_the_months_for_a_coat_of_this_town(client, town):
    page = read(client)
    assert "Here the sun burns the south, southwest and west side of a trunk." in page
    assert "A coat goes on from April to July" in page


def test_a_southern_town_is_told_the_mirror(client, town):
    page = read(client, latitude="-36.6", month="1")
    assert "the north, west and northwest side" in page
    assert "A coat goes on from September to January" in page


def test_near_the_equator_any_dry_month_will_do(client, town):
    assert "any dry month" in read(client, latitude="3")


def test_an_opened_crown_is_told_in_parts_and_its_new_danger_named(client, town):
    page = read(client, month="7", before="full", after="none", reach="12", base_before="4")
    assert "Where 10 parts of sun fell on the west side," in page
    assert "Newly at risk: west" in page
    assert "Newly at risk" not in read(client, month="7")


def test_the_last_frost_of_the_town_holds_the_coat_back(client, town):
    type(town).objects.update(last_frost_month=5)
    assert "A coat goes on from May to July" in read(client)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"latitude": "999"}, "from -66 to 66"),
        ({"latitude": "nan"}, "Enter a number."),
        ({"reach": "1e9"}, "not as far away"),
        ({"base_after": "-3"}, "greater than or equal to 0"),
        ({"month": "13"}, "Select a valid choice"),
        ({"before": "<script>"}, "Select a valid choice"),
    ],
)
def test_what_cannot_be_read_is_said_and_kept_and_no_figure_is_shown(client, town, asked, said):
    answer = client.get(PAGE, asked)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert said in page
    assert "Nothing is worked out yet." in page
    assert "chart-wide" not in page
    assert "<script>" not in page


def test_without_a_town_there_is_no_page(client, db):
    assert client.get(PAGE).status_code == 404


@pytest.mark.parametrize("latitude", [-45.0, 0.0, 36.6, 60.0])
def test_the_table_says_what_the_squares_show(latitude):
    year = sun_year(latitude, coat_window(latitude))
    loads = [month_load(latitude, month).of_day() for month in range(1, 13)]
    for number, (name, *cells) in enumerate(year.rows):
        assert name
        assert [float(c) for c in cells] == [round(float(day[number]), 1) for day in loads]
    edges = re.findall(r'<rect class="s-(?:hot|open)"[^>]* width="([\d.]+)"', year.sizes["wide"])
    assert len(edges) == len(SIDES) * 12
    drawn = [float(edge) ** 2 for edge in edges]
    told = [day[row] for row in range(len(SIDES)) for day in loads]
    scale = max(drawn) / max(told)
    for square, load in zip(drawn, told, strict=True):
        assert square == pytest.approx(load * scale, abs=0.12 * max(drawn) ** 0.5)


def test_the_petals_and_hours_come_with_the_numbers_they_show():
    load = month_load(36.6, 7)
    rose = sun_from_above(load, month=7, hot=sunny_sides(36.6))
    assert [float(row[3]) for row in rose.rows] == [round(float(v), 1) for v in load.of_day()]
    assert rose.sizes["wide"].count("s-hot") == 3
    hours = sun_hours(load, month=7, sides=(270, 0))
    assert "The west side has most sun at about 4 p.m. by the sun." in hours.said
    assert hours.columns == ("Hour", "west, W/m²", "north, W/m²")
    assert [row[0] for row in hours.rows][7:10] == ["11 a.m.", "noon", "1 p.m."]
    assert "Ember and bold: the sides that the sun burns here" in rose.note
    with override("es"):
        assert "16:00" in [row[0] for row in sun_hours(load, month=7, sides=(270, 0)).rows]


def test_the_page_asks_the_database_the_same_whatever_is_typed(
    client, town, django_assert_max_num_queries
):
    with django_assert_max_num_queries(4):
        client.get(PAGE, {"month": "3"})
