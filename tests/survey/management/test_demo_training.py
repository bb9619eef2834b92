"""In the demo somebody was signed off after practice and two walks, and somebody still learns."""

from datetime import date

import pytest

from survey.audit.models import Entry
from survey.condition.training import standing_of
from survey.people.models import PairedWalk, Person, PracticeRound
from survey.people.policy import counts_as_trained
from survey.people.training import pictures_of_round
from survey.trees.models import Look, Site

pytestmark = pytest.mark.django_db


def person(sign_in):
    return Person.objects.get(sign_in=sign_in)


def test_tamsin_was_signed_off_when_everything_was_there(demo):
    tamsin = person("tamsin")
    standing = standing_of(tamsin)
    assert [each.right for each in standing.rounds] == [5, 7]
    assert [walk.is_enough for walk in standing.walks] == [True, True]
    assert standing.ready_on is not None
    assert standing.ready_on <= tamsin.trained_on == date(2025, 3, 22)
    line = Entry.objects.get(act="training.signed_off")
    assert line.subject == f"person:{tamsin.key}"
    assert line.who == f"person:{person('desk').key}"
    assert line.detail["was_complete"] is True


def test_cosmo_still_learns_and_has_a_walk_to_go(demo):
    standing = standing_of(person("cosmo"))
    assert standing.practiced
    assert standing.walks_missing == 1
    assert standing.person.trained_on is None


def test_every_walk_was_made_with_somebody_trained_at_a_site_that_exists(demo):
    assert PairedWalk.objects.count() == 3
    for walk in PairedWalk.objects.select_related("person", "partner"):
        assert counts_as_trained(walk.partner, walk.day)
        assert not counts_as_trained(walk.person, walk.day)
        assert Site.objects.filter(ref=walk.where).exists()
        assert walk.day.month != 1


def test_nobodys_looks_count_as_trained_before_the_sign_off(demo):
    for sign_in in ("tamsin", "cosmo"):
        learner = person(sign_in)
        early = Look.objects.filter(observer__person=learner)
        if learner.trained_on:
            early = early.filter(day__lt=learner.trained_on)
        assert early.exists()
        assert not early.filter(trained=True).exists()


def test_the_rounds_hold_the_pictures_that_would_have_been_shown(demo):
    for sign_in in ("tamsin", "cosmo"):
        rounds = PracticeRound.objects.filter(person__sign_in=sign_in).order_by("at")
        for earlier, practice in enumerate(rounds):
            shown = [item.code for item in pictures_of_round(practice.person, earlier)]
            assert [answer["item"] for answer in practice.answers] == shown
            assert sum(answer["right"] for answer in practice.answers) == practice.right
