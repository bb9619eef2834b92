"""Answers to checks and verdicts are written down by those who may, with a line in the audit."""

from datetime import timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.causes.actions.give_verdict import give_verdict, withdraw_verdict
from survey.causes.actions.note_clue import note_answer
from survey.causes.models import ClueNoted, Verdict
from survey.causes.record import causes_of_tree
from survey.causes.verdicts import calibration_of, rulings_on, speaks_until, verdicts_on
from survey.science.causes.calibration import VERDICTS_NEEDED
from tests.factories import NOON, TODAY, PersonFactory, TreeFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def tree():
    return TreeFactory()


@pytest.fixture
def arborist():
    return PersonFactory(role="staff")


def answer(tree, by, check="ball_dry", yes=True, **more):
    given = {"tree": tree, "check": check, "yes": yes, "day": TODAY, "by": by, "at": NOON}
    return note_answer(**given | more)


def judge(tree, by, **more):
    given = {"cause": "mower_or_trimmer", "was": "confirmed", "said": "possible"}
    told = {"reason": "Fresh cuts.", "by": by, "at": NOON}
    return give_verdict(tree=tree, **given | told | more)


def test_an_answer_says_all_that_it_makes_known(tree, arborist):
    answer(tree, arborist, yes=True)
    rows = {(row.clue, row.so) for row in ClueNoted.objects.filter(tree=tree)}
    assert rows == {("dry_soil", True), ("soggy_soil", False)}
    assert ClueNoted.objects.first().trained
    line = Entry.objects.get(act="clue.noted")
    assert line.detail["clues"] == {"dry_soil": True, "soggy_soil": False}


def test_an_answer_about_the_site_is_kept_for_the_site(tree, arborist):
    answer(tree, arborist, check="dogs_come_by", yes=True)
    row = ClueNoted.objects.get()
    assert (row.site, row.tree) == (tree.site, None)
    beside = TreeFactory(site=tree.site, planting=tree.planting)
    told, _recorded = causes_of_tree(beside)
    assert "dogs_here" in {one.clue for one in told.read.known}


def test_an_answered_check_makes_a_cause_likely(tree, arborist):
    answer(tree, arborist, check="level_marks")
    answer(tree, arborist, check="fresh_cuts")
    told, _recorded = causes_of_tree(tree)
    assert told.answer.by_code["mower_or_trimmer"].word == "likely"


def test_the_same_answer_sent_twice_is_written_once(tree, arborist):
    answer(tree, arborist)
    answer(tree, arborist)
    assert ClueNoted.objects.count() == 2


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"check": "crystal_ball"}, "check"),
        ({"day": TODAY + timedelta(days=1)}, "day"),
        ({"day": TODAY - timedelta(days=4000)}, "day"),
        ({"note": "x" * 301}, "note"),
    ],
)
def test_what_cannot_be_written_down_is_refused_by_field(tree, arborist, more, field):
    with pytest.raises(ValidationError) as refused:
        answer(tree, arborist, **more)
    assert field in refused.value.message_dict
    assert not ClueNoted.objects.exists()


def test_a_check_for_trained_people_takes_one(tree):
    learner = PersonFactory(role="volunteer", trained_on=None)
    with pytest.raises(ValidationError, match="trained"):
        answer(tree, learner, check="rocks_gently")
    assert answer(tree, learner, check="ball_dry")[0].trained is False


def test_who_may_not_look_may_not_answer(tree):
    with pytest.raises(PermissionDenied):
        answer(tree, PersonFactory(role="liaison"))


def test_a_verdict_is_given_once_and_audited(tree, arborist):
    first = judge(tree, arborist)
    assert judge(tree, arborist).pk == first.pk
    assert verdicts_on(tree, TODAY)["mower_or_trimmer"] == first
    assert Entry.objects.filter(act="cause.judged").count() == 1


def test_the_opposite_is_refused_until_the_first_is_taken_back(tree, arborist):
    first = judge(tree, arborist)
    with pytest.raises(ValidationError, match="Take that back first"):
        judge(tree, arborist, was="ruled_out")
    withdraw_verdict(verdict=first, reason="Wrong tree.", by=arborist, at=NOON)
    withdraw_verdict(verdict=first, reason="Wrong tree.", by=arborist, at=NOON)
    assert Entry.objects.filter(act="cause.unjudged").count() == 1
    assert judge(tree, arborist, was="ruled_out").was == Verdict.Was.RULED_OUT


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"cause": "curse"}, "cause"),
        ({"was": "maybe"}, "was"),
        ({"reason": " \n "}, "reason"),
        ({"reason": "x" * 501}, "reason"),
    ],
)
def test_a_verdict_needs_a_cause_a_word_and_a_reason(tree, arborist, more, field):
    with pytest.raises(ValidationError) as refused:
        judge(tree, arborist, **more)
    assert field in refused.value.message_dict


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_only_trained_staff_judge(tree, arborist, role):
    verdict = judge(tree, arborist, cause="drought")
    somebody = PersonFactory(role=role)
    with pytest.raises(PermissionDenied):
        judge(tree, somebody)
    with pytest.raises(PermissionDenied):
        withdraw_verdict(verdict=verdict, reason="No.", by=somebody, at=NOON)


def test_words_get_numbers_only_after_enough_verdicts(arborist):
    for number in range(VERDICTS_NEEDED - 1):
        judge(
            TreeFactory(), arborist, was="confirmed" if number % 4 else "ruled_out", said="likely"
        )
    area = TreeFactory().area
    assert calibration_of(area)["likely"].limits is None
    judge(TreeFactory(), arborist, said="likely")
    told = calibration_of(area)["likely"]
    assert (told.confirmed, told.of) == (22, 30)
    assert told.limits.low < 22 / 30 < told.limits.high


def test_a_verdict_speaks_for_a_year_and_then_makes_room(tree, arborist):
    old = judge(tree, arborist)
    last = speaks_until(old)
    assert (last - old.day).days == 365
    assert rulings_on(tree, last)["mower_or_trimmer"].confirmed
    assert not rulings_on(tree, last + timedelta(days=1))
    Verdict.objects.update(day=TODAY - timedelta(days=366))
    told, _recorded = causes_of_tree(tree)
    assert told.confirmed == ()
    new = judge(tree, arborist, was="ruled_out", reason="Healed over.")
    old.refresh_from_db()
    assert old.withdrawn_at == NOON
    assert verdicts_on(tree, TODAY) == {"mower_or_trimmer": new}


def test_the_record_of_a_tree_names_what_was_judged_apart(tree, arborist):
    answer(tree, arborist, check="level_marks")
    answer(tree, arborist, check="fresh_cuts")
    given = judge(tree, arborist)
    told, _recorded = causes_of_tree(tree)
    assert told.confirmed == ("mower_or_trimmer",)
    assert "mower_or_trimmer" not in {one.cause for one in told.named}
    withdraw_verdict(verdict=given, reason="Wrong tree.", by=arborist, at=NOON)
    told, _recorded = causes_of_tree(tree)
    assert told.confirmed == ()
    assert "mower_or_trimmer" in {one.cause for one in told.named}
