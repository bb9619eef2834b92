"""The product limit against published tables."""

import math

import pytest
from lifelines import KaplanMeierFitter

from survey.science.records import Spell
from survey.science.survival.product_limit import AgeUnsettled, product_limit
from tests.science.published import channing_house, leukaemia, thirty, without_entry

# Freireich et al. 1963, 6-MP arm. At risk, deaths, survival and standard error to four places are
# Klein & Moeschberger's Table 4.1 (remembered); all places computed with R survival 3.5-3.
REMISSION = [
    # week, at risk, deaths, S, SE, plain limits, log limits, log-log limits, Nelson-Aalen
    (6, 21, 3, 0.8571428571, 0.0763603548, (0.7074793, 1), (0.7198171, 1), (0.6197180, 0.9515517),
     0.1428571),
    (7, 17, 1, 0.8067226891, 0.0869352852, (0.6363327, 0.9771127), (0.6531242, 0.9964437),
     (0.5631466, 0.9228090), 0.2016807),
    (10, 15, 1, 0.7529411765, 0.0963496530, (0.5640993, 0.9417830), (0.5859190, 0.9675748),
     (0.5031995, 0.8893618), 0.2683473),
    (13, 12, 1, 0.6901960784, 0.1068147078, (0.4808431, 0.8995490), (0.5096131, 0.9347692),
     (0.4316102, 0.8490660), 0.3516807),
    (16, 11, 1, 0.6274509804, 0.1140538653, (0.4039095, 0.8509924), (0.4393939, 0.8959949),
     (0.3675109, 0.8049122), 0.4425898),
    (22, 7, 1, 0.5378151261, 0.1282337517, (0.2864816, 0.7891487), (0.3370366, 0.8582008),
     (0.2677789, 0.7467907), 0.5854469),
    (23, 6, 1, 0.4481792717, 0.1345914568, (0.1843849, 0.7119737), (0.2487882, 0.8073720),
     (0.1880520, 0.6801426), 0.7521136),
]  # fmt: skip


@pytest.mark.parametrize(("place", "row"), list(enumerate(REMISSION)))
def test_agrees_with_the_published_remission_table(place, row):
    week, at_risk, deaths, survival, error, plain, log, log_log, hazard = row
    for kind, (low, high) in (("plain", plain), ("log", log), ("log-log", log_log)):
        curve = product_limit(leukaemia("6-MP"), limits=kind)
        step = curve.steps[place]
        assert (step.age, step.at_risk, step.deaths) == (week, at_risk, deaths)
        assert step.survival == pytest.approx(survival, abs=1e-10)
        assert step.std_error == pytest.approx(error, abs=1e-10)
        assert step.low == pytest.approx(low, abs=1e-7)
        assert step.high == pytest.approx(high, abs=1e-7)
        assert step.cumulative_hazard == pytest.approx(hazard, abs=5e-8)
    assert len(curve.steps) == len(REMISSION)


def test_medians_of_both_arms_are_the_published_ones():
    # Freireich et al. 1963: 23 weeks on 6-MP, 8 on placebo (R survival 3.5-3)
    assert product_limit(leukaemia("6-MP")).median() == 23
    placebo = product_limit(leukaemia("placebo"))
    assert placebo.median() == 8
    assert placebo.at(8) == pytest.approx(0.3809524, abs=5e-8)


def test_a_median_that_is_never_reached_is_not_invented():
    assert product_limit([Spell(None, 3, 3), Spell(None, 5, math.inf)] * 1).median() == 3
    assert product_limit([Spell(None, 5, math.inf)]).median() is None


# Klein & Moeschberger exercise 4.7. Rows 60 and 62 are in print on a course page; all were computed
# with R survival 3.5-3 and, independently, with lifelines 0.30.3.
THIRTY = [
    # age, at risk, deaths, S with entry, SE, S if entry is ignored
    (60, 3, 1, 0.666666667, 0.272165527, 0.966666667),
    (62, 6, 1, 0.555555556, 0.248451997, 0.933333333),
    (63, 8, 1, 0.486111111, 0.226893184, 0.900000000),
    (65, 10, 2, 0.388888889, 0.191646537, 0.833333333),
    (66, 8, 1, 0.340277778, 0.173746475, 0.800000000),
    (68, 12, 2, 0.283564815, 0.149344990, 0.733333333),
    (69, 11, 2, 0.232007576, 0.126562838, 0.666666667),
    (70, 10, 2, 0.185606061, 0.105417539, 0.592592593),
    (71, 11, 2, 0.151859504, 0.088910464, 0.518518519),
    (72, 10, 2, 0.121487603, 0.073676497, 0.444444444),
    (73, 9, 1, 0.107988981, 0.066715334, 0.404040404),
    (74, 9, 1, 0.095990205, 0.060371869, 0.359147029),
    (76, 7, 1, 0.082277319, 0.053281936, 0.307840311),
    (77, 5, 1, 0.065821855, 0.045095047, 0.246272249),
]


def test_late_entry_counts_only_trees_already_under_watch():
    curve = product_limit(thirty())
    careless = product_limit(without_entry(thirty()))
    assert [(s.age, s.at_risk, s.deaths) for s in curve.steps] == [row[:3] for row in THIRTY]
    for age, _, _, survival, error, ignoring in THIRTY:
        step = next(s for s in curve.steps if s.age == age)
        assert step.survival == pytest.approx(survival, abs=5e-10)
        assert step.std_error == pytest.approx(error, abs=5e-10)
        assert careless.at(age) == pytest.approx(ignoring, abs=5e-9)


def test_survival_can_be_conditioned_on_an_age():
    # the same exercise, given alive at 65 (R survival 3.5-3)
    curve = product_limit(thirty(), given=65)
    for age, survival in (
        (66, 0.875), (68, 0.729166667), (70, 0.477272727), (72, 0.312396694), (77, 0.169256198),
    ):  # fmt: skip
        assert curve.at(age) == pytest.approx(survival, abs=5e-10)


def test_the_retirement_home_needs_a_condition_on_age():
    # Hyde 1977, men of Channing House; figures by R survival 3.5-3 on the data of KMsurv 0.1-5
    raw = product_limit(channing_house())
    assert [(s.age, s.at_risk, s.survival) for s in raw.steps[:2]] == [(777, 2, 0.5), (781, 1, 0)]
    assert raw.steps[-1].survival == 0
    given = product_limit(channing_house(), given=816)
    for years, survival, error in (
        (75, 0.804531129, 0.072170216),
        (80, 0.637761403, 0.077597968),
        (85, 0.454373346, 0.071066402),
        (90, 0.222707313, 0.057604386),
    ):
        step = [s for s in given.steps if s.age <= 12 * years][-1]
        assert step.survival == pytest.approx(survival, abs=5e-10)
        assert step.std_error == pytest.approx(error, abs=5e-10)
    older = product_limit(channing_house(), given=960)
    assert older.at(85 * 12) == pytest.approx(0.712450367, abs=5e-10)
    assert older.at(90 * 12) == pytest.approx(0.349201617, abs=5e-10)
    careless = product_limit(without_entry(channing_house()))
    before = careless.at(68 * 12)
    for years, ratio in ((75, 0.93466), (80, 0.84166), (85, 0.66537), (90, 0.36360)):
        assert careless.at(years * 12) / before == pytest.approx(ratio, abs=5e-6)


def test_agrees_with_an_independent_program_on_late_entry():
    spells = [spell for spell in channing_house() if spell.entry >= 816]
    theirs = KaplanMeierFitter().fit(
        [s.left for s in spells],
        [not s.is_censored for s in spells],
        entry=[s.entry for s in spells],
    )
    ours = product_limit(spells)
    for step in ours.steps:
        assert step.survival == pytest.approx(float(theirs.predict(step.age)), abs=1e-9)


def test_an_event_at_age_zero_counts_for_trees_watched_from_before():
    curve = product_limit([Spell(None, 0, 0), Spell(None, 4, math.inf), Spell(0, 2, 2)])
    assert [(s.age, s.at_risk, s.survival) for s in curve.steps] == [(0, 2, 0.5), (2, 2, 0.25)]


def test_when_nobody_is_left_the_upper_limit_does_not_vanish():
    curve = product_limit([Spell(None, 2, 2), Spell(None, 3, 3)])
    assert curve.steps[-1].survival == 0
    assert curve.steps[-1].low == 0
    assert curve.steps[-1].high == curve.steps[0].high > 0.5


def test_nobody_dead_is_a_curve_without_steps():
    curve = product_limit([Spell(None, 12, math.inf)] * 5)
    assert curve.steps == ()
    assert curve.at(100) == 1


def test_an_unsettled_age_is_refused_rather_than_dated():
    with pytest.raises(AgeUnsettled):
        product_limit([Spell(None, 6, 12)])
