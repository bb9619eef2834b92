"""What the page promises of an answer is what stands there once the answer is written down."""

from datetime import timedelta

import pytest
from django.db import transaction

from survey.causes.actions.note_clue import note_answer
from survey.causes.differential import tell_apart
from survey.causes.facts import Facts
from survey.causes.models import ClueNoted
from survey.causes.record import causes_of_tree, place_of, read_record, recorded_of
from survey.causes.telling import causes_said
from survey.handbook.book import book
from survey.reports.causes import causes_of_report
from survey.reports.models import Report, ReportSign
from survey.trees.models import LookSign, Weather
from tests.factories import (
    NOON,
    TODAY,
    LookFactory,
    PersonFactory,
    ReportFactory,
    TreeFactory,
)

pytestmark = pytest.mark.django_db


class Undone(Exception):
    """Takes back what a test wrote down."""


@pytest.fixture
def arborist():
    return PersonFactory(role="staff")


def look(tree, *signs, days_ago=5, **more):
    made = LookFactory(tree=tree, day=TODAY - timedelta(days=days_ago), **more)
    for sign in signs:
        LookSign.objects.create(look=made, sign=sign)


def noted(tree, clue, so, days_ago, by="person:x"):
    of_site = book().clues[clue].kept_for == "site"
    ClueNoted.objects.create(
        tree=None if of_site else tree,
        site=tree.site if of_site else None,
        clue=clue,
        so=so,
        day=TODAY - timedelta(days=days_ago),
        by=by,
        at=NOON,
    )


def bare(_tree):
    """Nothing is known of it."""


def dry_and_cut(tree):
    """Looked at by a neighbor and by somebody trained, in a dry spell, beside others alike."""
    look(tree, "wilting", "dry_soil", "bark_wound", trained=False)
    look(tree, "bark_wound", days_ago=40, trained=True)
    for day in range(30):
        Weather.objects.create(area=tree.area, day=TODAY - timedelta(days=day), rain_mm=0.0)
    for _number in range(4):
        look(TreeFactory(site=tree.site, planting=tree.planting), "dry_soil", trained=True)


def answered_before(tree):
    """Its checks were answered once, some by a neighbor, some today."""
    look(tree, "soggy_soil", "discoloured_leaves", "stake_rubs", trained=True)
    noted(tree, "dry_soil", True, 3)
    noted(tree, "dogs_here", True, 0, by="report:0")
    noted(tree, "level_cut", True, 0)
    noted(tree, "grass_to_trunk", False, 2)


TREES = [bare, dry_and_cut, answered_before]


def words(tree, recorded):
    facts = Facts(**place_of(tree, TODAY), further=recorded.clues)
    return {
        one.cause: (one.word, one.points) for one in tell_apart(facts, in_danger=True).answer.causes
    }


@pytest.mark.parametrize("make", TREES, ids=lambda make: make.__name__)
@pytest.mark.parametrize("yes", [True, False], ids=["yes", "no"])
def test_every_check_does_to_the_words_what_was_promised(make, yes, arborist):
    tree = TreeFactory()
    make(tree)
    record = read_record(tree, TODAY)
    moved = 0
    for check in book().checks:
        promised = words(tree, record.answered(check, yes=yes))
        try:
            with transaction.atomic():
                note_answer(tree=tree, check=check, yes=yes, day=TODAY, by=arborist, at=NOON)
                stands = words(tree, recorded_of(tree, TODAY))
                raise Undone
        except Undone:
            pass
        assert promised == stands, check
        moved += promised != words(tree, record.recorded())
    assert moved > len(book().checks) / 2


@pytest.mark.parametrize("make", TREES, ids=lambda make: make.__name__)
@pytest.mark.parametrize("yes", [True, False], ids=["yes", "no"])
@pytest.mark.parametrize("signs", [(), ("bark_wound", "wilting"), ("dry_soil", "crisp_edges")])
def test_the_sentence_beside_an_answer_is_the_one_that_stands_after_the_click(
    make, yes, signs, arborist
):
    tree = TreeFactory()
    make(tree)
    report = ReportFactory(tree=tree, words="The leaves hang down, no rain for weeks")
    for sign in signs:
        ReportSign.objects.create(report=report, sign=sign)
    for told_now in (lambda: causes_of_tree(tree)[0], lambda: causes_of_report(again(report))[0]):
        before = causes_said(told_now())
        question = before.question
        assert question is not None
        promised = question.after_yes if yes else question.after_no
        note_answer(tree=tree, check=question.code, yes=yes, day=TODAY, by=arborist, at=NOON)
        stands = causes_said(told_now()).summary
        if stands == before.summary:
            assert promised.startswith(("The words above stay.", "Changes little."))
        else:
            assert promised == stands


def again(report):
    return Report.objects.select_related("area", "tree__site", "tree__planting").get(pk=report.pk)


def test_who_answers_twice_in_a_day_is_heard_the_second_time_too(arborist):
    tree = TreeFactory()
    for yes in (True, False, True, True):
        note_answer(tree=tree, check="ball_dry", yes=yes, day=TODAY, by=arborist, at=NOON)
    known = {one.clue: one.so for one in recorded_of(tree, TODAY).clues}
    assert known["dry_soil"]
    assert ClueNoted.objects.filter(clue="dry_soil").count() == 3


@pytest.mark.parametrize("signs", [("wilting",), ("bark_wound", "wilting", "dry_soil")])
def test_supposing_an_answer_asks_the_database_no_more_for_many_looks(
    signs, django_assert_max_num_queries
):
    tree = TreeFactory()
    for days in range(1, 12):
        look(tree, *signs, days_ago=days)
    with django_assert_max_num_queries(16):
        causes_of_tree(tree)
