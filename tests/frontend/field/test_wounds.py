"""Measuring wounds on foot: what is typed, what is refused, what is kept, what is drawn."""

import math
import re
import uuid
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from frontend.drawings.closing import closing_bars
from frontend.drawings.wound import Arc, clock_face
from frontend.field.lengths import HourField, LengthField, number_of
from survey.causes.actions.measure_wound import MeasuredWound, measure_wounds
from survey.causes.models import ClueNoted
from survey.causes.wounds import looks_for_wounds, wounds_of
from survey.people.actions import observer_of
from survey.people.models import Person
from survey.trees.measured import WoundMeasure
from survey.trees.models import Look
from tests.factories import NOON, LookFactory, PersonFactory, TreeFactory
from tests.pictures import picture


@pytest.fixture(autouse=True)
def _own_media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def typed(**more):
    fields = {"repeat_key": str(uuid.uuid4()), "rows": "1", "condition": "holding"}
    return fields | {"day": "2026-06-16", "rim_1": "unseen"} | more


def send(client, tree, **more):
    return client.post(f"/trees/{tree.ref}/wounds/", typed(**more))


def measured(tree, *wounds, day=date(2026, 4, 1)):
    by = PersonFactory(role="volunteer")
    return measure_wounds(
        tree=tree, by=by, at=NOON, observer=observer_of(by), trained=True, day=day,
        condition="holding", wounds=[MeasuredWound(**wound) for wound in wounds],
    )  # fmt: skip


def test_a_wound_is_measured_in_inches_on_the_clock_with_a_photo(sign_in):
    client, tree = sign_in("volunteer"), TreeFactory()
    answer = send(
        client, tree, width_1="3.1", girth_1="9 3/8", from_hour_1="10", to_hour_1="2:30",
        low_edge_m_1="4", length_m_1="6 in", rim_1="dry", wood_shows_1="on", shoots="on",
        scratch="green", note="cut low",
        base_photo=SimpleUploadedFile("b.jpg", picture(), "image/jpeg"),
    )  # fmt: skip
    assert answer.url == f"/trees/{tree.ref}/"
    look = Look.objects.get()
    assert (look.trained, look.condition, look.scratch, look.note) == (
        True, "holding", "green", "cut low",
    )  # fmt: skip
    row = look.wounds.get()
    assert row.width_m == pytest.approx(0.07874)
    assert row.girth_m == pytest.approx(9.375 * 0.0254)
    assert (row.from_hour, row.to_hour) == (10, 2.5)
    assert (row.low_edge_m, row.length_m) == (pytest.approx(0.1016), pytest.approx(0.1524))
    assert (row.rim, row.wood_shows) == ("dry", True)
    assert set(look.signs.values_list("sign", flat=True)) == {"bark_wound", "base_shoots"}
    assert look.photos.count() == 1


def test_metric_readers_type_centimeters(sign_in):
    client, tree = sign_in("volunteer", units=Person.Units.METRIC), TreeFactory()
    assert "How wide, cm" in client.get(f"/trees/{tree.ref}/wounds/").content.decode()
    send(client, tree, width_1="7,9", girth_1="24 cm")
    row = WoundMeasure.objects.get()
    assert (row.width_m, row.girth_m) == (pytest.approx(0.079), pytest.approx(0.24))


def test_several_wounds_share_the_girth_above_and_twelve_is_the_street(sign_in):
    client, tree = sign_in("crew"), TreeFactory()
    send(
        client, tree, rows="3", width_1="1", girth_1="9", width_2="2", from_hour_3="12",
        to_hour_3="3",
    )  # fmt: skip
    one, two, three = WoundMeasure.objects.order_by("number")
    assert one.girth_m == two.girth_m
    assert three.girth_m is None
    assert (three.from_hour, three.to_hour) == (0, 3)
    assert Look.objects.get().channel == "crew"


def test_all_round_is_a_box_to_tick(sign_in):
    tree = TreeFactory()
    send(sign_in("volunteer"), tree, all_round_1="on")
    row = WoundMeasure.objects.get()
    assert (row.from_hour, row.to_hour) == (0, 12)
    assert Look.objects.get().signs.get().extent == "all_round"


def test_stems_are_chosen_and_numbered_each_by_itself(sign_in):
    tree = TreeFactory(stems=2)
    send(
        sign_in("volunteer"), tree, rows="2", stem_1="1", stem_2="2", from_hour_1="1",
        to_hour_1="2", from_hour_2="1", to_hour_2="2",
    )  # fmt: skip
    assert set(WoundMeasure.objects.values_list("stem", "number")) == {(1, 1), (2, 1)}


def test_one_more_wound_keeps_what_was_typed_and_judges_nothing(sign_in):
    client, tree = sign_in("volunteer"), TreeFactory()
    page = send(client, tree, more="1", width_1="<b>3", girth_1="").content.decode()
    assert "&lt;b&gt;3" in page
    assert "Wound 2" in page
    assert 'class="errors"' not in page
    assert not Look.objects.exists()


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ({"width_1": "9.5", "girth_1": "9"}, "wider than the trunk is round"),
        ({"width_1": "-3", "girth_1": "9"}, "It has to be more than 0."),
        ({"width_1": "0", "girth_1": "9"}, "It has to be more than 0."),
        ({"width_1": "nan", "girth_1": "9"}, "Write a number, like 3.1."),
        ({"width_1": "1e999", "girth_1": "9"}, "Write a number, like 3.1."),
        ({"width_1": "1/0", "girth_1": "9"}, "Write a number, like 3.1."),
        ({"width_1": "9" * 400, "girth_1": "9"}, "Write a number, like 3.1."),
        ({"width_1": "three", "girth_1": "9"}, "Write a number, like 3.1."),
        ({"width_1": "3"}, "Measure the girth too"),
        ({"girth_1": "9"}, "Measure how wide the wound is, or give its hours."),
        ({"girth_1": "9000", "width_1": "2"}, "At most 20 meters"),
        ({"from_hour_1": "25", "to_hour_1": "3"}, "Hours go from 1 to 12"),
        ({"from_hour_1": "3", "to_hour_1": "-1"}, "Hours go from 1 to 12"),
        ({"from_hour_1": "3", "to_hour_1": "nan"}, "Write an hour from 1 to 12"),
        ({"from_hour_1": "3", "to_hour_1": "4:75"}, "Hours go from 1 to 12"),
        ({"from_hour_1": "3", "to_hour_1": "3"}, "begins and ends at the same hour"),
        ({"from_hour_1": "12", "to_hour_1": "12"}, "begins and ends at the same hour"),
        ({"from_hour_1": "3"}, "Give both hours"),
        ({"from_hour_1": "3", "to_hour_1": "4", "low_edge_m_1": "-1"}, "A height lies between"),
        ({"from_hour_1": "3", "to_hour_1": "4", "rim_1": "gold"}, "gold"),
        ({}, "Give its width, or the hours it lies between."),
        ({"from_hour_1": "3", "to_hour_1": "4", "condition": ""}, "Say how it is doing"),
        ({"from_hour_1": "3", "to_hour_1": "4", "day": "2026-06-17"}, "has not come yet"),
        ({"from_hour_1": "3", "to_hour_1": "4", "day": "2026-02-30"}, "Enter a valid date."),
    ],
)
def test_what_no_trunk_can_have_is_said_and_everything_typed_is_kept(sign_in, bad, said):
    tree = TreeFactory()
    answer = send(sign_in("volunteer"), tree, note="<b>low</b>", **bad)
    page = answer.content.decode()
    assert answer.status_code == 200
    assert said in page
    assert "&lt;b&gt;low&lt;/b&gt;" in page
    for value in bad.values():
        assert value in page
    assert not WoundMeasure.objects.exists()
    assert not re.search(r"\d+ %", page)  # no share is printed


@pytest.mark.parametrize("rows", ["", "0", "-4", "99999", "x", "1000000000000"])
def test_a_tampered_number_of_rows_breaks_nothing(sign_in, rows):
    tree = TreeFactory()
    answer = send(sign_in("volunteer"), tree, rows=rows, from_hour_1="3", to_hour_1="4")
    assert answer.status_code == 200
    assert not Look.objects.exists()


def test_wounds_of_last_time_come_first_and_keep_their_number(sign_in):
    client, tree = sign_in("volunteer"), TreeFactory()
    measured(tree, {"number": 1, "width_m": 0.08, "girth_m": 0.24})
    page = client.get(f"/trees/{tree.ref}/wounds/").content.decode()
    assert "Last time: 3.1 in of 9.4 in round (33" in page
    assert "It has closed" in page
    left = send(client, tree, rows="2", from_hour_2="3", to_hour_2="4").content.decode()
    assert "Measure it again, or tick that it has closed." in left
    send(client, tree, rows="2", width_1="2.9", girth_1="9.5", from_hour_2="3", to_hour_2="4")
    newest = Look.objects.order_by("day").last()
    assert list(newest.wounds.values_list("number", flat=True)) == [1, 2]


def test_a_closed_wound_leaves_and_its_number_is_not_given_again(sign_in):
    client, tree = sign_in("volunteer"), TreeFactory()
    measured(tree, {"number": 1, "width_m": 0.01, "girth_m": 0.24})
    send(client, tree, rows="2", closed_1="on", from_hour_2="3", to_hour_2="4", note="fine")
    newest = Look.objects.order_by("day").last()
    assert newest.wounds.get().number == 2
    assert newest.note == "Closed: wound 1. fine"
    only = send(client, tree, rows="1", closed_1="on").content.decode()
    assert "write down a plain look instead" in only


def test_a_form_sent_twice_is_one_look(sign_in):
    client, tree = sign_in("volunteer"), TreeFactory()
    form = typed(from_hour_1="3", to_hour_1="4")
    for _ in range(2):
        client.post(f"/trees/{tree.ref}/wounds/", form)
    assert Look.objects.count() == WoundMeasure.objects.count() == 1


def test_numbers_as_a_tape_shows_them():
    assert [number_of(text) for text in ("3 1/8", "7/8", "3½", "3,25", " 3.25 ", "3 ⅛")] == [
        3.125, 0.875, 3.5, 3.25, 3.25, 3.125,
    ]  # fmt: skip
    for text in ("", "1/0", "inf", "nan", "3 1", "--", "1/2/3", "٣/٠"):
        with pytest.raises(ValueError, match=r"number|float"):
            number_of(text)
    assert LengthField(metric=True).to_python("3 in") == pytest.approx(0.0762)
    assert LengthField(metric=False).to_python("3″") == pytest.approx(0.0762)
    assert HourField().to_python("12:30") == 0.5
    assert HourField().to_python("") is None


def arcs_in(drawing, kind):
    """Start and end of each arc of a kind, in hours, read back from the path."""
    found = []
    for path in re.findall(
        rf'class="{kind}"[^>]* d="M([-\d. ]+)A[\d. ]+ 0 \d 1 ([-\d. ]+)"', drawing
    ):
        hours = []
        for point in path:
            x, y = (float(part) for part in point.split())
            hours.append(math.degrees(math.atan2(x - 80, 80 - y)) % 360 / 30)
        found.append(tuple(round(hour, 1) for hour in hours))
    return found


def test_the_face_shows_each_wound_where_it_lies_to_scale():
    drawing = clock_face([Arc(10, 4, "1"), Arc(3, 1.5, "2")], maybe=0.25, street="street")
    assert arcs_in(drawing, "t-lost") == [(10.0, 2.0), (3.0, 4.5)]
    assert arcs_in(drawing, "t-maybe") == [(2.0, 5.0)]
    assert ">street<" in drawing
    assert "t-lost" not in clock_face(title="a <b>")
    assert "a &lt;b&gt;" in clock_face(title="a <b>")


def test_a_sprouting_tree_asks_for_the_graft_and_takes_the_answer(sign_in):
    client, tree = sign_in("staff"), TreeFactory()
    LookFactory(tree=tree, day=date(2026, 6, 14), presence="sprouting", condition="")
    page = client.get(f"/trees/{tree.ref}/").content.decode()
    assert "It was not grafted" in page
    client.post(f"/trees/{tree.ref}/graft/", {"grafted": "perhaps"})
    assert not ClueNoted.objects.exists()
    client.post(f"/trees/{tree.ref}/graft/", {"grafted": "no"})
    page = client.get(f"/trees/{tree.ref}/").content.decode()
    assert "Keep one to three low shoots" in page
    assert "It was not grafted</button>" not in page


def test_the_pages_tell_trained_people_and_neighbors_whether_it_is_alive(client, sign_in):
    tree = TreeFactory()
    LookFactory(tree=tree, day=date(2026, 6, 16), condition="slipping", leaf="full")
    told = "Alive today. We look again by August 11, 2026."
    assert told in client.get(f"/trees/{tree.ref}/").content.decode()
    measured(tree, {"number": 1, "width_m": 0.08, "girth_m": 0.24}, day=date(2026, 6, 16))
    page = sign_in("staff").get(f"/trees/{tree.ref}/").content.decode()
    assert told in page
    assert "33 % of the way round" in page
    assert "a rule of thumb, no trial behind it" in page


def test_bars_of_a_wound_over_time_are_to_one_scale():
    rows = [(date(2025, 8, 1), 0.08, "3.1 in"), (date(2026, 2, 1), 0.06, "2.4 in")]
    drawing = closing_bars(rows, title="How wide")
    bars = re.findall(r'd="M[\d.]+ [\d.]+h([\d.]+)" data-m="([\d.]+)"', drawing)
    lengths = [float(length) / float(meters) for length, meters in bars]
    assert lengths[0] == pytest.approx(lengths[1], rel=0.01)
    assert "Aug 1, 2025" in drawing
    assert closing_bars([])


def test_tape_and_hours_that_do_not_agree_are_asked_about_once_and_kept(sign_in):
    client, tree = sign_in("volunteer"), TreeFactory()
    round_it = {"width_1": "2", "girth_1": "8", "all_round_1": "on", "note": "see the guard"}
    page = send(client, tree, **round_it).content.decode()
    assert not Look.objects.exists()
    assert "wound 1 goes all the way round, and its tape says 25" in page
    assert "see the guard" in page
    assert 'name="as_it_is"' in page
    assert send(client, tree, **round_it, as_it_is="on").url == f"/trees/{tree.ref}/"
    assert WoundMeasure.objects.get().to_hour == 12
    hours = {"width_1": "3", "girth_1": "8", "from_hour_1": "5", "to_hour_1": "8"}
    page = send(client, TreeFactory(), **hours).content.decode()
    assert "the hours of wound 1 say 25" in page
    plain = client.get(f"/trees/{tree.ref}/wounds/").content.decode()
    assert 'name="as_it_is"' not in plain


def test_all_wounds_of_a_look_make_one_figure_everywhere(sign_in):
    client, tree = sign_in("volunteer"), TreeFactory()
    send(
        client, tree, rows="2", rim_2="unseen",
        width_1="3", girth_1="8", from_hour_1="5", to_hour_1="9",
        width_2="1.5", girth_2="8", from_hour_2="11", to_hour_2="1",
    )  # fmt: skip
    assert Look.objects.get().signs.get().extent == "half_or_more"
    page = " ".join(client.get(f"/trees/{tree.ref}/").content.decode().split())
    assert page.count("Bark lost: 56 % of the way round, half or more") == 2  # now, and its life
    assert "quarter to half" not in page.lower()


def test_of_two_measures_on_one_day_the_later_one_counts():
    tree = TreeFactory()
    for width in (0.05, 0.06):
        measured(tree, {"girth_m": 0.2, "width_m": width, "from_hour": 1, "to_hour": 4})
    known = wounds_of(tree, looks_for_wounds(tree), date(2026, 6, 1))
    (seen,) = known.stems[0].wounds
    assert seen.widths == ((date(2026, 4, 1), 0.06),)
    assert seen.over_time.way == "one_measure"


@pytest.mark.parametrize(
    ("written", "meters"),
    [
        ("8 cm", 0.08),
        ("8 centimeters", 0.08),
        ("80mm", 0.08),
        ("0,08 m", 0.08),
        ("1 1/2 ft", 0.4572),
        ("8", 0.2032),
    ],
)
def test_a_unit_behind_a_length_is_understood_where_inches_are_usual(written, meters):
    assert LengthField(metric=False).clean(written) == pytest.approx(meters)


def test_all_that_is_wrong_with_the_wounds_is_told_at_once(sign_in):
    tree = TreeFactory()
    page = send(
        sign_in("volunteer"), tree, rows="2", condition="", width_1="-3", girth_1="0",
        from_hour_1="5", low_edge_m_1="-2", length_m_1="0", width_2="8 stone", girth_2="9",
        from_hour_2="3", to_hour_2="3", low_edge_m_2="200 ft",
    ).content.decode()  # fmt: skip
    told = page.partition('id="errors"')[2].partition("</div>")[0]
    at_fault = set(re.findall(r'href="#id_(\w+)"', told))
    assert {
        "width_1", "girth_1", "to_hour_1", "low_edge_m_1", "length_m_1",
        "width_2", "to_hour_2", "low_edge_m_2",
    } <= at_fault  # fmt: skip
    assert "girth_2" not in at_fault
    assert "A unit may follow: in, ft, mm, cm or m." in told
    assert "Say how it is doing" in told
    assert told.count("<li>") == 9
    assert not Look.objects.exists()


def test_a_figure_that_cannot_be_read_is_not_called_missing_too(sign_in):
    page = send(
        sign_in("volunteer"), TreeFactory(), width_1="", girth_1="9", from_hour_1="x", to_hour_1="y"
    ).content.decode()
    assert page.partition('id="errors"')[2].partition("</div>")[0].count("<li>") == 2
