"""What may stand in a report, and what is said about what may not."""

from datetime import date, timedelta

import pytest
from django.core.exceptions import ValidationError

from survey.reports.answers import Answers, check, cleaned_text, how_to_answer, spoken_language
from tests.factories import TODAY, AreaFactory, SiteFactory, TreeFactory

pytestmark = pytest.mark.django_db


def refused(area=None, **answers):
    answers = {"landmark": "by the bakery", "seen_on": TODAY, **answers}
    with pytest.raises(ValidationError) as error:
        check(area or AreaFactory(), Answers(**answers))
    return error.value.message_dict


def test_a_report_needs_a_place():
    assert set(refused(landmark="")) == {"where"}


@pytest.mark.parametrize(
    "place",
    [
        {"landmark": "by the bakery"},
        {"latitude": 36.62, "longitude": -34.91},
    ],
)
def test_any_one_way_of_saying_where_is_enough(place):
    check(AreaFactory(), Answers(seen_on=TODAY, **place))


def test_a_tree_or_a_site_of_another_town_is_refused():
    elsewhere = AreaFactory(ref="elsewhere", is_home=False)
    assert "where" in refused(site=SiteFactory(area=elsewhere))
    assert "where" in refused(tree=TreeFactory(planting__area=elsewhere, site__area=elsewhere))


def test_a_day_to_come_is_refused_kindly_and_today_is_not():
    assert "not come yet" in refused(seen_on=TODAY + timedelta(days=1))["seen_on"][0]
    check(AreaFactory(), Answers(landmark="x", seen_on=TODAY))


def test_a_year_typed_wrong_is_noticed():
    assert "seen_on" in refused(seen_on=date(26, 6, 1))


def test_a_text_too_long_is_told_how_long_it_is():
    said = refused(words="a" * 4001)["words"][0]
    assert "4,001" in said
    assert "4,000" in said


@pytest.mark.parametrize("name", ["danger", "picture", "extent", "side"])
def test_codes_come_from_the_handbook(name):
    assert name in refused(**{name: "<script>"})


def test_signs_come_from_the_handbook():
    assert "signs" in refused(signs=("bark_wound", "' OR 1=1 --"))


def test_everything_wrong_is_said_at_once():
    assert set(refused(landmark="", picture="?", words="a" * 5000)) == {
        "where",
        "picture",
        "words",
    }


@pytest.mark.parametrize(
    ("typed", "answer"),
    [
        ("", ("", "")),
        ("  ann@pellworth.example ", ("ann@pellworth.example", "")),
        ("555 0142 33", ("", "555 0142 33")),
        ("+1 (555) 014-2233", ("", "+1 (555) 014-2233")),
    ],
)
def test_an_address_and_a_number_are_told_apart(typed, answer):
    assert how_to_answer(typed) == answer


@pytest.mark.parametrize("typed", ["call me", "ann@", "12345", "1" * 60, "<b>@x", "555 0142; DROP"])
def test_what_is_neither_is_refused(typed):
    with pytest.raises(ValidationError):
        how_to_answer(typed)


def test_text_is_stored_without_what_a_database_cannot_hold():
    assert cleaned_text(" a\x00b\r\nc\ud800 ") == "ab\nc?"


@pytest.mark.parametrize(
    ("asked", "spoken"), [("es", "es"), ("es-mx", "es"), ("fr", "en"), ("", "en"), (None, "en")]
)
def test_a_language_we_do_not_speak_is_english(asked, spoken):
    assert spoken_language(asked) == spoken
