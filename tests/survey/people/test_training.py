"""Practice rounds: the same pictures for the same round, each answer kept once."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.exceptions import PermissionDenied, ValidationError
from django.db import connections

from survey.audit.models import Entry
from survey.handbook.book import book
from survey.people import training
from survey.people.models import PracticeRound
from tests.factories import NOON, PersonFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def learner():
    return PersonFactory(sign_in="ines", role="volunteer", trained_on=None)


def right_answers(person, earlier=0):
    return {item.code: item.right for item in training.pictures_of_round(person, earlier)}


def one_wrong(item):
    return next(choice.code for choice in item.choices if choice.code != item.right)


def finish(person, said=None, **changed):
    given = {
        "person": person,
        "earlier": training.rounds_of(person),
        "said": said if said is not None else right_answers(person, training.rounds_of(person)),
        "by": person,
        "at": NOON,
    }
    return training.finish_round(**given | changed)


def test_the_same_round_shows_the_same_pictures_and_the_next_one_others(learner):
    codes = [[i.code for i in training.pictures_of_round(learner, n)] for n in (0, 0, 1, 2)]
    assert codes[0] == codes[1]
    assert codes[0] != codes[2] != codes[3]
    other = PersonFactory(sign_in="otto", role="volunteer")
    assert [i.code for i in training.pictures_of_round(other, 0)] != codes[0]


def test_no_two_pictures_of_a_round_are_taken_for_each_other(learner):
    for earlier in range(30):
        pictures = training.pictures_of_round(learner, earlier)
        assert len({item.alike for item in pictures}) == len(pictures) == training.ROUND_PICTURES


def test_in_time_every_picture_comes_up(learner):
    seen = {i.code for n in range(40) for i in training.pictures_of_round(learner, n)}
    assert seen == set(book().practice)


def test_a_finished_round_keeps_what_was_said_and_whether_it_was_right(learner):
    pictures = training.pictures_of_round(learner, 0)
    said = right_answers(learner) | {pictures[3].code: one_wrong(pictures[3])}
    kept = finish(learner, said)
    assert (kept.right, kept.of) == (7, 8)
    assert kept.answers[3] == {
        "item": pictures[3].code,
        "said": one_wrong(pictures[3]),
        "right": False,
    }
    line = Entry.objects.get()
    assert (line.act, line.detail) == ("training.practiced", {"right": 7, "of": 8})
    assert training.rounds_of(learner) == 1


@pytest.mark.parametrize(("right", "of", "enough"), [(6, 8, True), (5, 8, False), (3, 4, True)])
def test_six_of_eight_are_enough(learner, right, of, enough):
    practice = PracticeRound(person=learner, answers=[], right=right, of=of, at=NOON)
    assert training.is_enough(practice) is enough


def test_the_same_round_cannot_be_answered_twice(learner):
    said = right_answers(learner)
    first = finish(learner, said)
    with pytest.raises(training.AlreadyKept) as told:
        finish(learner, said, earlier=0)
    assert told.value.kept == first
    assert PracticeRound.objects.count() == 1


@pytest.mark.parametrize("earlier", [1, 99, -1])
def test_a_round_that_has_not_begun_is_refused(learner, earlier):
    with pytest.raises(ValidationError, match="not begun"):
        finish(learner, earlier=earlier)


def test_a_missing_or_made_up_answer_is_named_by_its_picture(learner):
    first, second, *_rest = training.pictures_of_round(learner, 0)
    said = right_answers(learner) | {first.code: "purple"}
    del said[second.code]
    with pytest.raises(ValidationError) as told:
        finish(learner, said)
    assert set(told.value.message_dict) == {first.code, second.code}
    assert not PracticeRound.objects.exists()


def test_an_answer_to_a_picture_that_was_not_shown_is_refused(learner):
    shown = right_answers(learner)
    hidden = next(item for item in book().practice.values() if item.code not in shown)
    with pytest.raises(ValidationError, match="does not show"):
        finish(learner, shown | {hidden.code: hidden.right})
    with pytest.raises(ValidationError, match="does not show"):
        finish(learner, shown | {"no such thing": "x"})


def test_nobody_answers_for_another_and_a_liaison_does_not_practice(learner):
    with pytest.raises(PermissionDenied):
        finish(learner, by=PersonFactory())
    liaison = PersonFactory(role="liaison")
    with pytest.raises(PermissionDenied):
        finish(liaison)
    closed = PersonFactory(role="volunteer", is_active=False)
    with pytest.raises(PermissionDenied):
        finish(closed)


@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("emptied_audit")
def test_of_two_answers_sent_at_once_one_is_kept(learner):
    said = right_answers(learner)
    start = threading.Barrier(2)

    def send(_):
        start.wait(20)
        try:
            return finish(learner, said, earlier=0).pk
        except training.AlreadyKept as kept:
            return kept.kept.pk
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as pool:
        kept = set(pool.map(send, range(2)))
    assert len(kept) == 1
    assert PracticeRound.objects.count() == 1
