"""Girdled share: the trade's worked examples, the laws it obeys, and what no trunk can have."""

import math

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from survey.science.wounds.face import REASONS, BadWound, Wound
from survey.science.wounds.girdled import girdled, girdled_by_eye, girdled_by_stem, whole_tree
from survey.science.wounds.outlook import band_of

# a machine that is busy is no failure
patient = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])

INCH = 0.0254


def test_three_inches_of_a_three_inch_trunk_are_a_third():
    # measuring procedure of the trade: 3.0 in across, C 9.42 in, W 3.1 in: 33 %
    girth = math.pi * 3.0 * INCH
    assert girth == pytest.approx(9.42 * INCH, abs=0.01 * INCH)
    share = girdled([Wound(width=3.1 * INCH, girth=girth)])
    assert round(100 * share.low) == 33
    assert share.is_known
    assert share.how == "tape"


def test_two_wounds_from_twelve_to_three_and_three_to_six_are_half():
    share = girdled([Wound(from_hour=0, to_hour=3), Wound(from_hour=3, to_hour=6)])
    assert share.low == share.high == 0.5
    assert share.how == "clock"


def test_a_wound_over_twelve_is_one_wound():
    assert girdled([Wound(from_hour=10, to_hour=2)]).low == pytest.approx(4 / 12)
    assert girdled([Wound(from_hour=10, to_hour=14)]).low == pytest.approx(4 / 12)


def test_wounds_behind_each_other_count_once():
    share = girdled([Wound(from_hour=11, to_hour=3), Wound(from_hour=1, to_hour=2)])
    assert share.low == pytest.approx(4 / 12)
    assert share.wounds == 2


def test_twelve_to_twelve_the_long_way_is_all_round():
    assert girdled([Wound(from_hour=0, to_hour=12)]).low == 1


def test_a_taped_wound_without_a_place_makes_a_range():
    share = girdled([Wound(from_hour=0, to_hour=3), Wound(width=0.1, girth=0.25)])
    assert share.low == pytest.approx(0.4)
    assert share.high == pytest.approx(0.65)
    assert share.how == "mixed"
    two = girdled([Wound(width=0.2, girth=0.25), Wound(width=0.15, girth=0.25)])
    assert (two.low, two.high) == (pytest.approx(0.8), 1.0)


def test_a_placed_wound_is_as_wide_as_its_tape_says():
    # by the hours alone both would cover 8 hours; by tape they are an hour each, hours apart
    share = girdled(
        [
            Wound(width=1, girth=12, from_hour=0, to_hour=4),
            Wound(width=1, girth=12, from_hour=6, to_hour=10),
        ]
    )
    assert share.low == share.high == pytest.approx(2 / 12)
    assert Wound(width=1, girth=12, from_hour=0, to_hour=4).arc() == (1.5, 1.0)


def test_the_lay_scale_is_a_range():
    assert girdled_by_eye([]).high == 0
    one = girdled_by_eye([(0.25, 0.5)])
    assert (one.low, one.high, one.how) == (0.25, pytest.approx(0.5, abs=1e-5), "lay")
    two = girdled_by_eye([(0.25, 0.5), (0.5, 1.0)])
    assert (two.low, two.high) == (0.5, 1.0)
    unseen = girdled_by_eye([(0.25, 0.5)], unseen=1)
    assert (unseen.low, unseen.high, unseen.wounds) == (0.25, 1.0, 2)
    with pytest.raises(ValueError, match="no range"):
        girdled_by_eye([(0.5, 0.25)])


@pytest.mark.parametrize(
    ("step", "band"),
    [
        ((0.0, 0.25), "under_quarter"),
        ((0.25, 0.5), "quarter_to_half"),
        ((0.5, 1.0), "half_or_more"),
        ((1.0, 1.0), "all_round"),
    ],
)
def test_a_step_of_the_lay_scale_lies_in_one_band(step, band):
    share = girdled_by_eye([step])
    assert (band_of(share.low), band_of(share.high)) == (band, band)


def test_stems_are_told_apart_and_weighed_by_girth():
    by_stem = girdled_by_stem(
        [
            Wound(width=0.1, girth=0.2, stem=2),
            Wound(from_hour=0, to_hour=12, stem=1),
        ]
    )
    assert list(by_stem) == [1, 2]
    assert by_stem[1].low == 1
    assert whole_tree(by_stem, stems=3).low == pytest.approx(0.5)
    weighed = whole_tree(by_stem, stems=3, girths={1: 0.1, 2: 0.2, 3: 0.1})
    assert weighed.low == pytest.approx((0.1 * 1 + 0.2 * 0.5) / 0.4)
    assert whole_tree({}, stems=3).high == 0
    with pytest.raises(BadWound, match="no_such_stem"):
        whole_tree(by_stem, stems=1)


def test_wounds_of_different_stems_are_not_laid_on_one_face():
    with pytest.raises(ValueError, match="different stems"):
        girdled([Wound(from_hour=0, to_hour=3), Wound(from_hour=3, to_hour=6, stem=2)])


@pytest.mark.parametrize(
    ("given", "field", "reason"),
    [
        ({"width": 0.3, "girth": 0.2}, "width", "wider_than_girth"),
        ({"width": -0.1, "girth": 0.2}, "width", "not_above_zero"),
        ({"width": 0, "girth": 0.2}, "width", "not_above_zero"),
        ({"width": 0.1, "girth": -0.2}, "girth", "not_above_zero"),
        ({"width": 0.1, "girth": 200.0}, "girth", "too_big"),
        ({"width": 0.1}, "girth", "girth_missing"),
        ({"girth": 0.1}, "width", "width_missing"),
        ({}, "width", "nothing_measured"),
        ({"width": math.nan, "girth": 0.2}, "width", "not_a_number"),
        ({"width": 0.1, "girth": math.inf}, "girth", "not_a_number"),
        ({"from_hour": math.nan, "to_hour": 3}, "from_hour", "not_a_number"),
        ({"from_hour": 25, "to_hour": 3}, "from_hour", "off_the_clock"),
        ({"from_hour": 3, "to_hour": 25}, "to_hour", "off_the_clock"),
        ({"from_hour": -1, "to_hour": 3}, "from_hour", "off_the_clock"),
        ({"from_hour": 3, "to_hour": 3}, "to_hour", "same_hour"),
        ({"from_hour": 1, "to_hour": 14}, "to_hour", "more_than_round"),
        ({"from_hour": 3}, "to_hour", "hour_missing"),
        ({"to_hour": 3}, "from_hour", "hour_missing"),
        ({"from_hour": 0, "to_hour": 3, "stem": 0}, "stem", "counts_from_one"),
    ],
)
def test_what_no_trunk_can_have_is_refused_with_its_field(given, field, reason):
    with pytest.raises(BadWound) as refused:
        Wound(**given)
    assert (refused.value.field, refused.value.reason) == (field, reason)
    assert reason in REASONS


hours = st.floats(0, 11.99, allow_nan=False)
spans = st.floats(0.05, 12, allow_nan=False)


@st.composite
def placed(draw):
    start, span = draw(hours), draw(spans)
    return Wound(from_hour=start, to_hour=start + span)


@st.composite
def taped(draw):
    girth = draw(st.floats(0.03, 3))
    width = draw(st.floats(0.001, 1)) * girth
    return Wound(width=width, girth=girth)


@st.composite
def both(draw):
    start, span = draw(hours), draw(spans)
    girth = draw(st.floats(0.03, 3))
    width = draw(st.floats(0.001, 1)) * girth
    return Wound(width=width, girth=girth, from_hour=start, to_hour=start + span)


many = st.lists(st.one_of(placed(), taped(), both()), min_size=1, max_size=7)


@patient
@given(many)
def test_a_union_lies_between_the_widest_and_the_sum(wounds):
    share = girdled(wounds)
    shares = [wound.share for wound in wounds]
    assert 0 <= share.low <= share.high <= 1
    assert share.low >= max(shares) - 1e-9
    assert share.high <= min(1, math.fsum(shares)) + 1e-9


@patient
@given(many, st.randoms(use_true_random=False))
def test_the_order_of_wounds_does_not_matter(wounds, dice):
    shuffled = list(wounds)
    dice.shuffle(shuffled)
    one, other = girdled(wounds), girdled(shuffled)
    assert (one.low, one.high) == (pytest.approx(other.low), pytest.approx(other.high))


@patient
@given(many, st.floats(0, 12))
def test_where_twelve_lies_does_not_matter(wounds, turn):
    turned = []
    for wound in wounds:
        if not wound.is_placed:
            turned.append(wound)
            continue
        start = (wound.from_hour + turn) % 12
        assume(0 <= start < 12)
        turned.append(
            Wound(
                width=wound.width,
                girth=wound.girth,
                from_hour=start,
                to_hour=start + wound.span_hours,
            )
        )
    one, other = girdled(wounds), girdled(turned)
    assert one.low == pytest.approx(other.low, abs=1e-6)
    assert one.high == pytest.approx(other.high, abs=1e-6)


@patient
@given(st.lists(taped(), min_size=1, max_size=5))
def test_feet_and_meters_give_the_same_share(wounds):
    foot = 0.3048
    feet = [Wound(width=wound.width / foot, girth=wound.girth / foot) for wound in wounds]
    assert girdled(feet).high == pytest.approx(girdled(wounds).high)
    assert girdled(feet).low == pytest.approx(girdled(wounds).low)


@patient
@given(many, placed())
def test_one_more_wound_never_makes_the_share_smaller(wounds, more):
    before, after = girdled(wounds), girdled([*wounds, more])
    assert after.low >= before.low - 1e-9
    assert after.high >= before.high - 1e-9


@pytest.mark.parametrize(
    ("wound", "disagrees"),
    [
        ({"width": 2, "girth": 8, "from_hour": 0, "to_hour": 12}, True),
        ({"width": 8, "girth": 8, "from_hour": 0, "to_hour": 12}, False),
        ({"width": 3, "girth": 8, "from_hour": 5, "to_hour": 8}, True),
        ({"width": 3, "girth": 9, "from_hour": 5, "to_hour": 8}, False),  # within an hour
        ({"width": 3, "girth": 8}, False),
        ({"from_hour": 5, "to_hour": 8}, False),
    ],
)
def test_tape_and_hours_disagree_where_they_are_more_than_an_hour_apart(wound, disagrees):
    assert Wound(**wound).disagrees is disagrees
