"""When two readings of one group differ by more than their limits."""

import pytest

from survey.survival.both import begin_alike, differ, other_reading
from survey.survival.models import Figure, Group
from tests.factories import PlantingFactory
from tests.survey_rows import survival_group


def told(least, most, low, high):
    return Figure(at_least=least, at_most=most, low=low, high=high, withheld="")


def rate(share, low, high):
    return told(share, share, low, high)


@pytest.mark.parametrize(
    ("verified", "weighed", "apart"),
    [
        (told(0.8, 0.8, 0.66, 0.9), rate(0.8, 0.7, 0.88), False),
        (told(0.8, 0.8, 0.66, 0.9), rate(0.62, 0.52, 0.81), True),  # the weighed lies below
        (told(0.8, 0.8, 0.66, 0.9), rate(0.95, 0.79, 0.99), True),  # or above
        (told(0.8, 0.8, 0.66, 0.9), rate(0.7, 0.62, 0.78), True),  # the verified lies outside
        (told(0.8, 0.8, 0.66, 0.9), rate(0.66, 0.6, 0.8), False),  # on the edge is inside
        (told(0.8, 0.8, 0.66, 0.9), rate(0.7, 0.62, 0.791), False),  # printed as 62 to 80
        (told(0.8, 0.8, 0.669, 0.9), rate(0.661, 0.6, 0.8), False),  # printed as 66 to 90
        (told(0.7, 0.9, 0.6, 0.95), rate(0.8, 0.75, 0.85), False),  # its two ends reach in
        (told(0.7, 0.74, 0.6, 0.95), rate(0.8, 0.75, 0.85), True),  # both its ends lie outside
        (told(1.0, 1.0, 0.85, 1.0), rate(0.93, 0.86, 0.98), False),  # no loss was seen: an end
        (told(1.0, 1.0, 0.85, 1.0), rate(0.8, 0.7, 0.9), True),
        (told(0.0, 0.0, 0.0, 0.16), rate(0.05, 0.01, 0.12), False),  # no survivor was seen
        (told(0.0, 0.0, 0.0, 0.16), rate(0.2, 0.1, 0.3), True),
    ],
)
def test_readings_differ_where_an_estimate_lies_outside_the_others_limits(verified, weighed, apart):
    assert differ(verified, weighed) is apart


def test_a_figure_that_is_withheld_differs_from_none():
    blank = Figure(withheld="too_few")
    assert not differ(blank, rate(0.1, 0.05, 0.2))
    assert not differ(told(0.8, 0.8, 0.66, 0.9), blank)


@pytest.mark.parametrize(
    ("one", "other", "alike"), [(0.0, 0.0, True), (0.0, 7.0, False), (None, None, False)]
)
def test_only_curves_from_one_age_can_differ(one, other, alike):
    verified, weighed = Group(counts={"from_age": one}), Group(counts={"from_age": other})
    assert begin_alike(verified, weighed) is alike


@pytest.mark.django_db
def test_the_other_reading_is_that_of_the_same_group():
    verified = survival_group(PlantingFactory())
    assert other_reading(verified) is None
    survival_group(PlantingFactory(), reading="weighed")
    assert other_reading(verified) is None
    weighed = survival_group(verified.area.plantings.first(), reading="weighed")
    assert other_reading(verified) == weighed
    with pytest.raises(ValueError, match="verified"):
        other_reading(weighed)
