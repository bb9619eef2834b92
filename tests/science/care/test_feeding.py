"""Fertilizer against worked figures (fixtures/care/feeding.toml)."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from survey.science.care.feeding import feed, in_the_bag, judge_feed, label, refusals
from survey.science.care.records import Dose, Impossible, NotGiven
from survey.science.units import convert, shopping
from tests.science.care.checks import checks, m

FEED = checks("feeding")
POUND = convert(1, "lb/1000ft2", "kg/m2")
THOUSAND = convert(1000, "ft2", "m2")
OLD = {"years_planted": 6, "seasons_grown": 6}


def test_what_the_three_numbers_of_a_bag_mean():
    # feeding.toml [grade]: a reprint on element against oxide
    row = FEED["grade"]
    bag = in_the_bag(label(*row["label"]), convert(row["bag_lb"], "lb", "kg"))
    for code in ("nitrogen", "phosphate", "phosphorus", "potash", "potassium"):
        pounds = convert(bag[code].value, "kg", "lb")
        assert pounds == pytest.approx(row[f"{code}_lb"], abs=0.025), code


@pytest.mark.parametrize("row", FEED["products"]["rows"], ids=str)
def test_product_for_a_thousand_square_feet(row):
    # feeding.toml [products]: worked examples and own arithmetic
    dose = feed(bag=label(*row["label"]), rate_kg_m2=row["rate"] * POUND, area_m2=THOUSAND, **OLD)
    pounds = convert(dose["product_for_rate"].value, "kg", "lb")
    assert pounds == pytest.approx(row["lb"], abs=0.51 * 10 ** -row["digits"])


def test_a_ring_of_three_feet_takes_four_and_a_half_ounces():
    # feeding.toml [ring]: own arithmetic
    row = FEED["ring"]
    dose = feed(
        bag=label(*row["label"]),
        rate_kg_m2=row["rate"] * POUND,
        root_zone_radius_m=m(row["radius_ft"], "ft"),
        **OLD,
    )
    assert convert(dose["root_zone"].value, "m2", "ft2") == pytest.approx(row["area_ft2"], abs=0.05)
    product = dose["product_for_rate"].value
    assert convert(product, "kg", "lb") == pytest.approx(row["lb"], abs=0.005)
    assert convert(product, "kg", "oz") == pytest.approx(row["oz"], abs=0.05)
    assert {line.unit: line.value for line in shopping(dose.buys, "us")} == {"oz": 5, "lb": 0.5}


def test_our_own_example_backwards():
    # feeding.toml [own_example]: 4-6-3, 40 percent of 10 kg
    row = FEED["own_example"]
    judged = judge_feed(
        bag=label(*row["label"]), mass_kg=row["bag_kg"], used_share=row["used"], area_m2=10, **OLD
    )
    for code in ("product", "nitrogen", "phosphate", "phosphorus", "potash", "potassium"):
        grams = judged.dose[code].value * 1000
        assert grams == pytest.approx(row[f"{code}_g"], rel=1e-9), code
    assert judged.dose["nitrogen_rate"].value == pytest.approx(0.016)  # 16 g on a square meter
    assert judged.word == "leave_alone"  # 3.3 lb on 1,000 square feet


@pytest.mark.parametrize(
    ("pounds", "word"),
    [
        (0.0, "under"),
        (1.99, "under"),
        (2.0, "leave_alone"),
        (4.0, "leave_alone"),
        (6.0, "leave_alone"),
        (6.01, "over"),
    ],
)
def test_one_word_against_the_limits(pounds, word):
    # feeding.toml [limits]: ANSI A300 Part 2 as summed up
    assert [FEED["limits"][key] for key in ("low", "high", "never_over")] == [2, 4, 6]
    mass = pounds * POUND * THOUSAND / 0.21
    judged = judge_feed(bag=label(21, 0, 0), mass_kg=mass, area_m2=THOUSAND, **OLD)
    assert judged.word == word


def test_under_is_no_reason_to_add_and_a_new_tree_is_left_alone():
    little = {"bag": label(10, 0, 0), "mass_kg": 0.01, "area_m2": 10}
    assert judge_feed(**little, **OLD).dose.notes == ("under_is_no_reason_to_add",)
    new = judge_feed(**little, years_planted=1, seasons_grown=1)
    assert new.word == "leave_alone"
    assert new.because == ("first_two_years", "before_third_season")
    thirsty = judge_feed(**little, found=["thirsty"], **OLD)
    assert thirsty.word == "leave_alone"


def test_too_much_on_a_new_tree_is_still_too_much():
    much = judge_feed(bag=label(46, 0, 0), mass_kg=5, area_m2=5, years_planted=0.5)
    assert much.word == "over"
    assert much.because == ("first_two_years",)


def test_what_was_given_before_in_the_year_counts():
    now = {"bag": label(10, 0, 0), "mass_kg": 0.2, "area_m2": 1}  # 4.1 lb on 1,000 square feet
    assert judge_feed(**now, **OLD).word == "leave_alone"
    assert judge_feed(**now, earlier_this_year_kg_m2=2 * POUND, **OLD).word == "over"


@pytest.mark.parametrize(
    ("more", "reason"),
    [
        ({"years_planted": 1.9}, "first_two_years"),
        ({"seasons_grown": 2}, "before_third_season"),  # feeding.toml [seasons]: Mississippi State
        ({"found": ["thirsty"]}, "thirsty"),
        ({"found": ["root_rot"]}, "root_rot"),
        ({"found": ["waterlogged_soil"]}, "waterlogged_soil"),
        ({"found": ["wet_ball"]}, "wet_ball"),
        ({"found": ["salt"]}, "salt"),
        ({"found": ["after_weed_killer"]}, "after_weed_killer"),
        ({"frost_in_days": 55}, "near_first_frost"),
        ({"found": ["not_growing"]}, "not_growing"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_plain_do_not(more, reason):
    refused = feed(bag=label(10, 10, 10), rate_kg_m2=POUND, area_m2=3, **{**OLD, **more})
    assert refused == NotGiven("fertilize", (reason,))


def test_the_third_season_and_the_second_birthday_open_the_door():
    assert FEED["seasons"]["after"] == 3
    assert refusals(years_planted=2, seasons_grown=3, frost_in_days=56) == ()


def test_every_reason_is_named_at_once():
    because = refusals(years_planted=0, found=["root_rot", "thirsty"])
    assert because == ("first_two_years", "thirsty", "root_rot")


def test_never_past_the_yearly_limit():
    common = {"bag": label(10, 0, 0), "area_m2": 3, "quick_release": False, **OLD}
    assert isinstance(feed(rate_kg_m2=6 * POUND, **common), Dose)
    assert feed(rate_kg_m2=6.01 * POUND, **common) == NotGiven(
        "fertilize", ("over_the_yearly_limit",)
    )
    more = feed(rate_kg_m2=3 * POUND, given_this_year_kg_m2=3.5 * POUND, **common)
    assert more == NotGiven("fertilize", ("over_the_yearly_limit",))


def test_quick_release_goes_on_in_portions():
    # feeding.toml [quick]: from memory, about 1 lb at a time
    common = {"bag": label(21, 0, 0), "rate_kg_m2": 3 * POUND, "area_m2": THOUSAND, **OLD}
    quick = feed(**common)
    assert quick["portion"]["portions"] == 3
    assert quick["portion"].value * 3 == pytest.approx(quick["product_for_rate"].value)
    assert "quick_release_in_portions" in quick.notes
    assert feed(**common, quick_release=False)["portion"]["portions"] == 1
    limit = FEED["quick"]["rate"] * POUND
    assert feed(**{**common, "rate_kg_m2": limit})["portion"]["portions"] == 1


def test_phosphate_and_a_missing_soil_test_are_told():
    common = {"rate_kg_m2": POUND, "area_m2": 3, **OLD}
    assert {"soil_test_first", "phosphate_only_if_short"} <= set(
        feed(bag=label(10, 10, 10), **common).notes
    )
    tested = feed(bag=label(10, 10, 10), **common, soil_test=True, phosphorus_short=True)
    assert not {"soil_test_first", "phosphate_only_if_short"} & set(tested.notes)


@pytest.mark.parametrize("numbers", [(50, 40, 20), (100.1, 0, 0), (34, 33, 33.1)])
def test_a_label_past_a_hundred_is_impossible(numbers):
    with pytest.raises(Impossible, match="100 percent"):
        label(*numbers)


def test_a_label_of_just_a_hundred_is_allowed():
    assert label(34, 33, 33).nitrogen == pytest.approx(0.34)


def test_a_bag_without_nitrogen_gives_none():
    with pytest.raises(Impossible) as told:
        feed(bag=label(0, 10, 10), rate_kg_m2=POUND, area_m2=3, **OLD)
    assert told.value.field == "nitrogen"


@pytest.mark.parametrize("both", [{}, {"area_m2": 3, "root_zone_radius_m": 1}])
def test_the_area_is_measured_or_worked_out_and_not_both(both):
    with pytest.raises(Impossible) as told:
        feed(bag=label(10, 0, 0), rate_kg_m2=POUND, **both, **OLD)
    assert told.value.code == "one_of_two"


SHARES = st.integers(1, 33)
RATES = st.floats(0, 0.02)
AREAS = st.floats(0.5, 500)


@settings(deadline=None)
@given(SHARES, SHARES, SHARES, RATES, AREAS)
def test_forward_and_backward_agree(nitrogen, phosphate, potash, rate, area):
    bag = label(nitrogen, phosphate, potash)
    product = feed(bag=bag, rate_kg_m2=rate, area_m2=area, **OLD)["product_for_rate"].value
    back = judge_feed(bag=bag, mass_kg=product, area_m2=area, **OLD)
    assert back.dose["nitrogen_rate"].value == pytest.approx(rate, rel=1e-12, abs=1e-15)


@settings(deadline=None)
@given(RATES, RATES, AREAS, AREAS)
def test_product_grows_with_rate_and_area_and_zero_gives_zero(low, high, small, large):
    def product(rate, area):
        dose = feed(bag=label(12, 4, 8), rate_kg_m2=rate, area_m2=area, **OLD)
        return dose["product_for_rate"].value

    assert product(min(low, high), min(small, large)) <= product(max(low, high), max(small, large))
    assert product(0, small) == 0
    assert product(low, 0) == 0
