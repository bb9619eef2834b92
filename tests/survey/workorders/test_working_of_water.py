"""The line of a crown's water is printed with the factor that it was worked with."""

import pytest

from survey.science.care.records import Step
from survey.science.care.watering import weekly_need
from survey.science.units import convert
from survey.workorders.working import told

NEED = weekly_need(
    eto_m_per_week=convert(1.75, "in", "m"),
    plant_factor=0.5,
    canopy_diameter_m=convert(8, "ft", "m"),
    efficiency=0.81,
    rain_m_per_week=convert(0.5, "in", "m"),
)


@pytest.mark.parametrize(("system", "factor"), [("us", "× 0.62"), ("metric", "× 0.995")])
@pytest.mark.parametrize("line", ["asked_water", "rain_water"])
def test_the_factor_of_the_ordinance_stands_in_the_line(line, system, factor):
    working = told(NEED[line], system).working
    assert factor in working
    assert "0.623" not in working


def test_the_line_adds_up_as_printed():
    # fixtures/care/water.toml [weekly]: 33.7 gal
    assert told(NEED["asked_water"], "us").one.startswith("33.7 gal")
    by_hand = 1.75 * 0.5 * 50.3 * 0.62 / 0.81
    assert by_hand == pytest.approx(33.7, abs=0.05)


def test_the_difference_is_told_to_the_hundredth_so_that_it_adds_up():
    asked, rained = (
        round(convert(NEED[line].value, "m3", "gal"), 2) for line in ("asked_water", "rain_water")
    )
    line = told(NEED["weekly_need"], "us")
    assert line.working == f"{asked:.2f} gal − {rained:.2f} gal"
    assert line.one.startswith(f"{asked - rained:.1f} gal")


@pytest.mark.parametrize(
    ("gallons", "said"),
    [
        (6.55, "1 bucket and 1.55 gal"),
        (10, "2 buckets"),
        (12.5, "2 buckets and 2.5 gal"),
        (4.76, "4.76 gal of one bucket"),
    ],
)
def test_buckets_can_be_counted(gallons, said):
    each, bucket = convert(gallons, "gal", "m3"), convert(5, "gal", "m3")
    uses = (("each_dose", each, "m3"), ("bucket", bucket, "m3"))
    assert told(Step("buckets", each / bucket, "count", uses), "us").one == said
