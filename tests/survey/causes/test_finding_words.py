"""A finding in a sentence: counts, elsewhere, what it follows; and nobody is accused."""

import re
from datetime import date

import pytest

from survey.causes import finding_words as words
from survey.causes.models import Finding
from survey.handbook.book import book
from survey.trees.models import Happening
from tests.factories import NOON
from tests.survey.cause_rows import finding
from tests.survey.finding_rows import quarry_green

pytestmark = pytest.mark.django_db

BLAME = re.compile(
    r"\b(fault|blame|guilt|culprit|caused by|because of|damaged by|careless)\w*", re.IGNORECASE
)


def said(row) -> str:
    return words.heading(row, words.names_of(row.area, [row]))


def test_a_site_is_told_as_counts_here_and_elsewhere_and_what_it_follows():
    [found] = quarry_green().search()
    assert said(found) == (
        "13 of 14 trees at Quarry Green have bark gone at the base; elsewhere it is 1 in 13. "
        "This follows the site, not the nursery."
    )


@pytest.mark.parametrize(
    ("follows", "standing", "sentence"),
    [
        ("site", "cannot_tell", "Nobody can tell the site from what was planted there"),
        ("planting", "alone", "This follows the planting, not the sites it stands at."),
        ("supplier", "both", "These loads show, and so do the sites they stand at."),
        ("species", "open", "whether its places bring it too is not known yet"),
    ],
)
def test_a_conclusion_goes_no_further_than_the_counts(follows, standing, sentence):
    there = {"with": 0, "of": 40, "low": 0, "high": 0.09}
    row = finding(
        follows=follows,
        facts={"standing": standing, "there": there, "held": [{"axis": "site"}]},
    )
    assert sentence in said(row)
    assert "none of 40" in said(row)


def test_every_pair_of_what_it_follows_and_what_is_left_has_a_sentence():
    for follows in ("site", "planting", "supplier", "species"):
        for standing in ("alone", "both", "open", "cannot_tell"):
            assert str(words.CONCLUSIONS[(follows, standing)])


def test_soil_follows_its_site_and_nothing_is_said_of_nurseries():
    there = {"with": 4, "of": 40, "low": 0, "high": 0.09}
    row = finding(sign="dry_soil", facts={"standing": "alone", "there": there, "held": []})
    assert said(row).endswith("stand in dry soil; elsewhere it is 1 in 10. This follows the site.")


def test_sides_and_days_are_told_by_their_counts():
    side = finding(
        follows="side",
        subject="street",
        facts={"question": {"street": 27, "of": 30}, "standing": "alone"},
    )
    assert (
        said(side) == "Of 30 trees that have bark gone at the base, 27 have it on the street side."
    )
    sun = finding(
        number=2,
        follows="side",
        subject="sunny",
        facts={"question": {"sunny_streets": [9, 10], "other_streets": [1, 11]}},
    )
    assert "9 of 10" in said(sun)
    assert "1 of 11" in said(sun)
    change = {"kind": "new_contractor", "day": "2025-04-01", "before": 1, "straddling": 2}
    question = {"question": change | {"after": 11, "once": 2}}
    time = finding(number=3, follows="time", with_sign=14, of_trees=20, facts=question)
    assert "11 of 14" in said(time)
    assert "(another mowing contractor)" in said(time)


def test_first_seen_is_never_told_as_when_it_happened():
    row = finding(facts={"first_seen": {"on": "2026-05-20", "clean_until": "2026-03-01"}})
    told = words.first_seen(row)
    assert "May 20, 2026" in told
    assert "March 1, 2026" in told
    assert "When it happened is not known" in told
    assert words.first_seen(finding(number=2, sign="dieback")) == ""


def test_trees_between_two_looks_are_said_to_tell_nothing():
    change = {"kind": "new_contractor", "day": "2025-04-01", "before": 3, "straddling": 19}
    told = words.change_said(change | {"after": 11})
    assert "before: 3, surely after: 11" in told
    assert "between two looks so that nobody can tell: 19" in told
    alone = words.change_said(change | {"after": 11, "straddling": 0})
    assert alone.endswith("surely after: 11.")


def test_counts_of_days_add_up_to_the_trees_of_the_finding_or_say_who_else():
    change = {"kind": "stake_off", "day": "2024-11-23", "before": 1, "straddling": 2, "after": 28}
    assert "more tree" not in words.change_said(change | {"once": 0}, 31)
    told = words.change_said(change | {"once": 2}, 34)
    assert "Left out: 3 trees that had it when they were first looked at." in told
    assert "2 more trees had it once and do not show it now: they are not among these." in told


def test_what_settles_says_what_is_on_record_and_what_is_missing():
    [found] = quarry_green().search()
    site = found.site
    for day in (date(2026, 4, 2), date(2026, 4, 16)):
        Happening.objects.create(
            site=site, kind="mowing", from_day=day, to_day=day, entered_at=NOON
        )
    planting, who = words.what_settles(found, Happening.objects.filter(site=site))
    assert planting.on_record == ()
    assert planting.missing == ("no look at planting is on record for 13 trees",)
    assert who.on_record == ("2 mowing days since April 2, 2026",)
    assert "no change of contractor" in who.missing


@pytest.mark.parametrize(
    ("chance", "rare"),
    [(1e-9, "once in a million"), (0.0011, "once in 910 times"), (0.034, "once in 29 times")],
)
def test_the_chance_is_said_with_how_much_was_asked(chance, rare):
    told = words.how_sure(finding(after_many=chance, facts={"asked": 325}))
    assert rare in told
    assert "325 questions" in told


def test_every_sign_has_its_words_and_none_blames():
    for code in book().signs:
        if code != "something_else":
            assert code in words.HAVE, code
    spoken = [str(w) for w in (*words.HAVE.values(), *words.CONCLUSIONS.values())]
    assert not [w for w in spoken if BLAME.search(w)]


def test_shares_are_said_the_way_people_do():
    assert words.so_many(0, 12) == "none of 12"
    assert words.so_many(9, 12) == "9 of 12"
    assert words.so_many(14, 154) == "1 in 11"


def test_names_are_read_in_few_questions(django_assert_max_num_queries):
    town = quarry_green()
    rows = town.search()
    with django_assert_max_num_queries(3):
        names = words.names_of(town.area, rows)
        for row in rows:
            words.heading(row, names)
    assert Finding.objects.count() == len(rows)
