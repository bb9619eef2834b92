"""Every sentence of the survival pages with none, one, two, five and many trees, in both languages.

What is tested of each: the number stands in it, its nouns and verbs follow the number, and nothing
is left unfilled.
"""

import re
from datetime import date

import pytest
from django.utils import translation

from frontend.liaison import said
from frontend.liaison.reading import Forecast, Outcome, read
from tests.frontend.liaison.made import FORECAST, bare, counts, group

NUMBERS = (0, 1, 2, 5, 21)
# A noun or a verb in the plural right after a one, or in the singular after any other number.
WRONG = {
    "en": re.compile(
        r"\b1 (trees|months|years|days|were|are|have|stand|tenths)\b"
        r"|\b(0|2|5|21) (tree|month|year|day|was|is|has|stands|tenth)\b"
    ),
    "es": re.compile(
        r"\b1 (árboles|meses|años|días|vivos|pasaron|siguieron|estaban|murieron|pasan|siguen)\b"
        r"|\b(0|2|5|21) (árbol|mes|año|día|vivo|pasó|siguió|estaba|murió|pasa|sigue)\b"
    ),
}
LANGUAGES = sorted(WRONG)


def check(words, language, *numbers):
    assert not WRONG[language].search(words), words
    assert "%" not in words
    assert "None" not in words.replace("None of", "")
    for number in numbers:
        assert re.search(rf"(?<!\d){number}(?!\d)", words), words


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("n", NUMBERS)
def test_months_years_and_trees_follow_their_number(language, n):
    forecast = Forecast(n or 1, "second_summer", 22, date(2026, 9, 30), n, 0, n, (), (0, n))
    with translation.override(language):
        check(said.months_said(n), language, n)
        check(said.years_said(n), language, n)
        for milestone in ("second_summer", "60"):
            told = Forecast(n or 1, milestone, 60, date(2028, 9, 30), n, n, n, (), (n, n))
            words = said.forecast_said(told)
            check(f"{words.said} {words.sure}", language, n)
            check(said.forecast_end(told), language, n)
            check(said.replacements_said(told), language, *([n] if n else []))
        check(said.replacements_said(forecast), language, *([n] if n else []))
        for kinds in said.accounted_said(
            dict.fromkeys(["alive", "stale", "died", "removed", "unknown", "never"], n)
        ).values():
            check(kinds, language, n)
        check(said.own_share_said(n / 10 if n <= 10 else 1.0), language)
        for name in ("died", "removed_health", "removed_other"):
            assert said.outcome_said(name)
            outcome = Outcome(name, n, 12.0, n / 100, (n + 1) / 100)
            check(said.outcome_rate_said(outcome), language, n, n + 1, 12)
            same = Outcome(name, n, 1.0, n / 100, n / 100)
            check(said.outcome_rate_said(same), language, n)
        count = {"alive": n, "trees": n, "years": 2.0, "annual": 0.1, "low": 0.05, "high": 0.2}
        [words] = said.mortality_said({"two_count": count})
        check(words, language, n)


@pytest.mark.django_db
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("status", ["alive", "stale", "unseen", "gone", "removed_other", "lost"])
@pytest.mark.parametrize("n", [1, 2, 5, 21])
def test_the_count_follows_its_number_whatever_became_of_the_trees(language, status, n):
    made = bare(**{status: n})
    with translation.override(language):
        check(said.counted_said(made), language, n)
        finding = said.finding_of(read(made))
        check(finding.said, language, n, n if status in ("alive", "stale") else 0)


@pytest.mark.django_db
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("milestone", ["second_summer", "24"])
@pytest.mark.parametrize("alive", [0, 1, 2, 5])
def test_the_count_of_few_trees_follows_its_number(language, milestone, alive):
    made = group(
        counts=counts(alive=alive, gone=4) | {"from_age": 1.0},
        told={milestone: (0.2, 0.3, 0.1, 0.6)},
    )
    with translation.override(language):
        finding = said.finding_of(read(made))
        check(finding.said, language, alive, alive + 4)
        check(finding.sure, language, 1, 6, 10)


@pytest.mark.django_db
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("milestone", ["second_summer", "12"])
@pytest.mark.parametrize("least", [0.0, 0.1, 0.2, 0.5, 1.0])
@pytest.mark.parametrize("trees", [21, 100])
def test_the_rate_follows_its_number(language, milestone, least, trees):
    most = 1.0 if least == 1 else least + 0.05
    made = group(counts=counts(alive=trees), told={milestone: (least, most, least / 2, most)})
    with translation.override(language):
        finding = said.finding_of(read(made))
        check(finding.said, language)
        check(finding.sure, language, trees)
        assert not re.search(r"\b(At least|Al menos) 0\b", finding.said)


@pytest.mark.django_db
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("by", ["planting", "species", "site", "year", "supplier", "town"])
@pytest.mark.parametrize("n", [1, 2, 5, 21])
def test_a_figure_that_leans_on_the_town_follows_its_number(language, by, n):
    for name in ("second_summer", "12"):
        figures = {name: {"share": n / 100, "low": 0.0, "high": 0.4}}
        made = group(by=by, key=f"{name}-{n}", label="Lane", pooled={"figures": figures})
        with translation.override(language):
            check(said.leaning_said(read(made)), language, n)


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("share", [None, 0.0, 0.04, 0.1, 0.42, 0.99, 1.0])
def test_how_much_is_their_own_is_said_in_tenths(language, share):
    with translation.override(language):
        check(said.own_share_said(share), language)
        assert bool(said.own_share_said(share)) == (share is not None)


@pytest.mark.django_db
def test_a_forecast_is_read_as_it_is_stored():
    told = read(group(forecast=FORECAST)).forecast
    assert (told.trees, told.stand, told.low, told.high) == (33, 27, 21, 33)
    assert told.by == date(2028, 11, 30)
    assert told.replacements == (0, 12)
    assert read(group(key="none")).forecast is None
    assert read(group(key="empty", forecast={"trees": 0})).forecast is None
