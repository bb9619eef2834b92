"""Bands as sourced, the own adjustments, the age of a rim, and wounds measured again."""

import math
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from survey.handbook.book import book
from survey.science.wounds.closing import (
    ONE_SEASON_M,
    age_from_rim,
    closing,
    is_repeated,
    measure_again,
    seasons_to_close,
)
from survey.science.wounds.face import BadWound, Wound
from survey.science.wounds.girdled import Girdled, girdled
from survey.science.wounds.outlook import (
    BANDS,
    DELAY_SOURCES,
    SOURCES,
    WORSE,
    band_of,
    outlook_of,
    reasons_for_worse,
)

# a machine that is busy is no failure
patient = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])

INCH = 0.0254


@pytest.mark.parametrize(
    ("share", "band"),
    [
        (0, "none"),
        (0.01, "under_quarter"),
        (0.2499, "under_quarter"),
        (0.25, "quarter_to_half"),
        (0.4999, "quarter_to_half"),
        (0.5, "half_or_more"),
        (0.99, "half_or_more"),
        (1, "all_round"),
    ],
)
def test_the_bands_step_where_the_sources_say(share, band):
    assert band_of(share) == band


@pytest.mark.parametrize("share", [-0.1, 1.1, math.nan])
def test_no_band_for_what_is_no_share(share):
    with pytest.raises(ValueError, match="between 0 and 1"):
        band_of(share)


def test_every_band_names_sources_of_the_handbook():
    assert set(SOURCES) == set(BANDS)
    for source in [*DELAY_SOURCES, *(s for named in SOURCES.values() for s in named)]:
        assert source in book().sources


@pytest.mark.parametrize("reason", WORSE)
def test_each_reason_costs_one_band_and_all_together_no_more(reason):
    share = girdled([Wound(from_hour=0, to_hour=2)])
    one = outlook_of(share, [reason])
    assert (one.low, one.adjusted_low) == ("under_quarter", "quarter_to_half")
    assert outlook_of(share, WORSE).adjusted_high == "quarter_to_half"


def test_no_reason_makes_all_round_of_a_bridge_of_bark():
    outlook = outlook_of(girdled([Wound(from_hour=0, to_hour=8)]), WORSE)
    assert outlook.adjusted_high == "half_or_more"
    assert outlook_of(girdled([])).adjusted_high == "none"


def test_an_unknown_reason_is_refused():
    with pytest.raises(ValueError, match="bad_luck"):
        outlook_of(girdled([]), ["bad_luck"])


def test_green_leaves_do_not_speak_against_a_girdled_trunk():
    assert outlook_of(girdled([Wound(from_hour=0, to_hour=12)])).delayed
    assert not outlook_of(girdled([Wound(from_hour=0, to_hour=3)])).delayed


def test_a_range_has_a_band_at_both_ends():
    outlook = outlook_of(Girdled(0.25, 0.5, "lay", 1))
    assert (outlook.low, outlook.high) == ("quarter_to_half", "half_or_more")
    assert not outlook.is_known


def test_reasons_are_held_only_by_what_is_known():
    nothing = reasons_for_worse(
        trunk_across_m=None, days_in_ground=None, repeated=False, low_edge_m=None,
        borers_or_ooze=False, drought=False, crown_dieback=None,
    )  # fmt: skip
    assert nothing == ()
    everything = reasons_for_worse(
        trunk_across_m=0.05, days_in_ground=364, repeated=True, low_edge_m=0.0,
        borers_or_ooze=True, drought=True, crown_dieback=0.26,
    )  # fmt: skip
    assert everything == WORSE
    just_not = reasons_for_worse(
        trunk_across_m=2 * INCH, days_in_ground=365, repeated=False, low_edge_m=0.01,
        borers_or_ooze=False, drought=False, crown_dieback=0.25,
    )  # fmt: skip
    assert just_not == ()


@patient
@given(st.floats(0, 1), st.floats(0, 1))
def test_more_bark_lost_is_never_a_better_band(one, other):
    less, more = sorted((one, other))
    assert BANDS.index(band_of(less)) <= BANDS.index(band_of(more))


def test_the_age_of_a_rim():
    assert [age_from_rim(rim) for rim in ("fresh", "dry", "rounded", "stacked", "unseen")] == [
        "days", "weeks", "a_season_or_more", "several_seasons", "not_known",
    ]  # fmt: skip
    assert is_repeated(["fresh", "stacked"])
    assert not is_repeated(["fresh", "dry"])
    assert not is_repeated(["rounded", "stacked"])


def test_three_inches_take_about_four_and_a_half_to_eight_seasons():
    # Neely 1979: 11/16, 1/2 and 3/8 in closed in one season; the straight line is crude
    fast, slow = seasons_to_close(3 * INCH)
    assert fast == pytest.approx(4.36, abs=0.01)
    assert slow == pytest.approx(8)
    assert [round(width / INCH, 4) for width in ONE_SEASON_M.values()] == [0.6875, 0.5, 0.375]


def test_a_wound_that_closes_tells_its_speed():
    seen = closing([(date(2026, 4, 1), 0.08), (date(2026, 7, 1), 0.07), (date(2026, 10, 1), 0.06)])
    assert seen.way == "closing"
    assert seen.per_year_m == pytest.approx(-0.04, abs=0.001)
    assert seen.days_left == pytest.approx(0.06 / 0.02 * 183, abs=3)


def test_a_wound_that_widens_is_said_to_widen():
    seen = closing([(date(2026, 4, 1), 0.05), (date(2026, 5, 20), 0.062)])
    assert seen.way == "widening"
    assert seen.days_left is None
    assert seen.change_m == pytest.approx(0.012)


def test_what_a_tape_cannot_tell_is_steady():
    assert closing([(date(2026, 4, 1), 0.05), (date(2026, 6, 1), 0.046)]).way == "steady"


def test_two_measures_within_four_weeks_say_nothing_of_speed():
    seen = closing([(date(2026, 4, 1), 0.05), (date(2026, 4, 20), 0.03)])
    assert seen.way == "too_soon"
    assert seen.per_year_m is None
    assert closing([(date(2026, 4, 1), 0.05)]).way == "one_measure"


@pytest.mark.parametrize("width", [math.nan, math.inf, -0.01])
def test_widths_that_are_none_are_refused(width):
    with pytest.raises(BadWound):
        closing([(date(2026, 4, 1), width)])
    with pytest.raises(BadWound):
        closing([])


@patient
@given(
    st.lists(
        st.tuples(st.dates(date(2020, 1, 1), date(2030, 1, 1)), st.floats(0, 1)),
        min_size=1, max_size=6,
    ),
    st.randoms(use_true_random=False),
)  # fmt: skip
def test_the_order_of_measures_does_not_matter(rows, dice):
    shuffled = list(rows)
    dice.shuffle(shuffled)
    assert closing(rows) == closing(shuffled)


def test_when_to_measure_again():
    assert measure_again(date(2026, 9, 1), "north") == (
        date(2026, 9, 29), date(2026, 10, 27), date(2027, 5, 13),
    )  # fmt: skip
    assert measure_again(date(2026, 3, 1), "south")[2] == date(2026, 11, 12)
    assert measure_again(date(2026, 5, 1), "north")[2] == date(2026, 5, 13)
