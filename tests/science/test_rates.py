"""Annual mortality against published studies of urban trees, and the constant hazard."""

import math

import pytest

from survey.science.rates import BadCounts, annual_rate, constant_hazard, two_count_mortality
from survey.science.records import Spell, Spells
from tests.science.published import cosmesis, rows

INF = math.inf


def test_west_oakland_street_trees():
    # Roman, Battles & McBride 2013: 995 trees, 822 after five years, annual mortality 3.7 %
    found = two_count_mortality(995, 822, 5)
    assert found.rate.survival == pytest.approx(0.826130653, abs=5e-10)
    assert found.rate.annual_survival == pytest.approx(0.962520, abs=5e-7)
    assert found.rate.annual_mortality == pytest.approx(0.037480, abs=5e-7)
    assert found.rate.half_life_years == pytest.approx(18.144992, abs=5e-7)
    assert found.rate.mean_life_years == pytest.approx(26.177689, abs=5e-7)
    assert found.low < found.rate.annual_mortality < found.high


@pytest.mark.parametrize(
    ("survival", "years", "annual_survival"),
    [
        (0.424, 22, 0.961750),  # Ko et al. 2015, Sacramento yard trees: 96.2 % a year
        (0.709, 5, 0.933532),  # Roman et al. 2014, Sacramento: 70.9 % at five years
        (0.913, 2, 0.955510),  # Lu et al. 2010, New York street trees: 91.3 % at two years
    ],
)
def test_published_survival_as_a_yearly_figure(survival, years, annual_survival):
    rate = annual_rate(survival, years)
    assert rate.annual_survival == pytest.approx(annual_survival, abs=5e-7)
    assert rate.annual_mortality == pytest.approx(1 - annual_survival, abs=5e-7)


@pytest.mark.parametrize(
    ("annual_survival", "half_life", "mean_life", "printed"),
    [
        (0.949, 13.2415, 19.1035, (13, 19)),
        (0.965, 19.4556, 28.0685, (None, 28)),  # printed 20: from an unrounded survival
    ],
)
def test_half_life_and_mean_life_of_street_trees(annual_survival, half_life, mean_life, printed):
    # Roman & Scatena 2011, Urban For. Urban Green. 10:269, abstract
    rate = annual_rate(annual_survival, 1)
    assert rate.half_life_years == pytest.approx(half_life, abs=5e-5)
    assert rate.mean_life_years == pytest.approx(mean_life, abs=5e-5)
    if printed[0]:
        assert round(rate.half_life_years) == printed[0]
    assert round(rate.mean_life_years) == printed[1]


@pytest.mark.parametrize("row", rows("annual_mortality_2019.csv"), ids=lambda r: r["survival"])
def test_every_row_of_the_published_review(row):
    # Hilbert et al. 2019, Appendix Table 1
    printed = row["annual_mortality_percent"]
    digits = len(printed.partition(".")[2])
    rate = annual_rate(float(row["survival"]), float(row["years"]))
    assert round(100 * rate.annual_mortality, digits) == float(printed)


def test_nobody_dead_and_nobody_left_have_rates_and_limits():
    none_dead = two_count_mortality(20, 20, 2)
    assert (none_dead.rate.annual_mortality, none_dead.low) == (0, 0)
    assert none_dead.rate.half_life_years == none_dead.rate.mean_life_years == INF
    # 0.831567 is the lower Clopper-Pearson limit of 20/20 (1 - 0.168433 of 0/20, statsmodels)
    assert none_dead.high == pytest.approx(1 - math.sqrt(1 - 0.168433), abs=5e-7)
    none_left = two_count_mortality(20, 0, 2)
    assert (none_left.rate.annual_mortality, none_left.high) == (1, 1)
    assert 0 < none_left.low < 1
    assert none_left.rate.half_life_years == 0


@pytest.mark.parametrize(
    ("started", "alive", "years"),
    [(0, 0, 1), (-1, 0, 1), (10, 11, 1), (10, -1, 1), (10, 5, 0), (10, 5, -2), (10, 5, math.nan)],
)
def test_counts_without_a_rate_are_refused(started, alive, years):
    with pytest.raises(BadCounts):
        two_count_mortality(started, alive, years)


@pytest.mark.parametrize("survival", [-0.1, 1.1, math.nan, INF])
def test_a_survival_outside_0_to_1_is_refused(survival):
    with pytest.raises(BadCounts):
        annual_rate(survival, 1)


@pytest.mark.parametrize(
    ("arm", "rate", "loglik"),
    [("Rad", 0.0162679272, -64.8694481728), ("RadChem", 0.0341504814, -84.9969074963)],
)
def test_constant_hazard_of_the_cosmesis_arms(arm, rate, loglik):
    # Finkelstein & Wolfe 1985 data; rates and log-likelihoods by R package bcos, whose search stops
    # a few billionths short; the log-likelihoods add up to that of R survreg, -149.8663557
    found = constant_hazard(cosmesis(arm))
    assert found.per_month == pytest.approx(rate, abs=5e-9)
    assert found.loglik == pytest.approx(loglik, abs=1e-9)
    assert 0 < found.low < found.per_month < found.high


TOY = Spells.from_columns(
    entry=[0, 0, 0, 0, 6, 6, 12, 12, 12, 18, 18, 24, 24, 30],
    left=[3, 6, 9, 24, 6, 18, 12, 24, 36, 18, 30, 24, 36, 30],
    right=[6, 12, 12, INF, 12, 24, 24, INF, INF, 30, 36, 30, INF, INF],
)


def test_late_entry_doubles_the_rate_of_the_toy_trees():
    # no published example has late entry and intervals together; found twice by direct search
    found = constant_hazard(TOY)
    assert found.per_month == pytest.approx(0.0636312500, abs=5e-9)
    assert found.loglik == pytest.approx(-17.7472006509, abs=5e-11)
    assert 1 - found.annual_mortality == pytest.approx(0.4659975, abs=5e-8)
    assert found.deaths == 9
    ignoring = constant_hazard(
        Spells.from_columns(
            entry=[-INF] * len(TOY.count), left=TOY.left, right=TOY.right, count=TOY.count
        )
    )
    assert ignoring.per_month == pytest.approx(0.0295269910, abs=5e-9)
    assert 1 - ignoring.annual_mortality == pytest.approx(0.7016476, abs=1e-7)


def test_limits_are_where_the_likelihood_has_fallen_by_the_chi_square_quantile():
    found = constant_hazard(TOY)

    def loglik(h):
        return sum(
            n * (-h * (a - e) + (math.log(1 - math.exp(-h * (b - a))) if b < INF else 0))
            for e, a, b, n in zip(TOY.entry, TOY.left, TOY.right, TOY.count, strict=True)
        )

    # 3.841459: the 95 % point of chi-square with one degree of freedom (any table)
    for limit in (found.low, found.high):
        assert 2 * (found.loglik - loglik(limit)) == pytest.approx(3.841459, abs=1e-5)
    assert found.annual_mortality_low < found.annual_mortality < found.annual_mortality_high


def test_exact_ages_give_deaths_over_time_watched():
    # by hand: 2 deaths in 10 + 20 + (30 - 10) months
    found = constant_hazard([Spell(None, 10, 10), Spell(0, 20, 20), Spell(10, 30, INF)])
    assert found.per_month == pytest.approx(2 / 50)
    assert found.watched_months == 50


def test_without_a_death_the_upper_limit_is_exact():
    # 5 trees for 12 months: exp(-60 h) = 0.025
    found = constant_hazard([Spell(None, 12, INF)] * 5)
    assert (found.per_month, found.low, found.loglik) == (0, 0, 0)
    assert found.high == pytest.approx(3.688879 / 60, abs=1e-7)
    assert found.annual_mortality == 0


def test_when_all_were_dead_by_the_first_look_the_lower_limit_is_exact():
    # one tree dead within 6 months: 1 - exp(-6 h) = 0.025
    found = constant_hazard([Spell(None, 0, 6)])
    assert (found.per_month, found.high, found.annual_mortality) == (INF, INF, 1)
    assert found.low == pytest.approx(-math.log(0.975) / 6)


def test_nobody_left_but_alive_at_first_has_an_ordinary_rate():
    found = constant_hazard([Spell(None, 6, 12)] * 4)
    # by hand: -6 h + log(1 - exp(-6 h)) is largest at exp(-6 h) = 1/2
    assert found.per_month == pytest.approx(math.log(2) / 6)
    assert 0 < found.low < found.per_month < found.high < INF


@pytest.mark.parametrize("spells", [[], [Spell(6, 6, INF)]])
def test_nothing_watched_is_no_rate(spells):
    found = constant_hazard(spells)
    assert math.isnan(found.per_month)
    assert (found.low, found.high) == (0, INF)


def test_the_unit_of_age_scales_the_rate():
    found = constant_hazard(TOY)
    days = constant_hazard(
        Spells.from_columns(
            entry=TOY.entry * 30, left=TOY.left * 30, right=TOY.right * 30, count=TOY.count
        )
    )
    assert days.per_month * 30 == pytest.approx(found.per_month)
    assert days.low * 30 == pytest.approx(found.low)
    assert days.high * 30 == pytest.approx(found.high)


def test_a_level_outside_0_to_1_is_refused():
    with pytest.raises(BadCounts):
        constant_hazard(TOY, level=1.0)
