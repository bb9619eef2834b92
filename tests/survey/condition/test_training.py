"""A volunteer becomes trained: practice, two walks with a trained partner, a sign-off."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.condition.actions import training
from survey.condition.training import standing_of
from survey.people.models import PairedWalk
from survey.people.policy import counts_as_trained
from survey.trees.models import Look
from tests.factories import NOON, TODAY, AreaFactory, PersonFactory, SiteFactory, TreeFactory
from tests.survey.condition.walked import (
    AGREED,
    DAY,
    learner,
    look,
    partner,
    practiced,
    ready,
    walk,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines():
    AreaFactory()
    return learner(sign_in="ines")


@pytest.fixture
def tom():
    return partner(sign_in="tom")


@pytest.fixture
def staff():
    return PersonFactory(sign_in="desk")


def note(person, other, **changed):
    given = {
        "person": person,
        "partner": other,
        "site": changed.pop("site", None) or SiteFactory(),
        "day": DAY,
        "by": other,
        "at": NOON,
    }
    return training.note_paired_walk(**given | changed)


def sign_off(person, staff, **changed):
    given = {"person": person, "on": TODAY, "by": staff, "at": NOON}
    return training.sign_off_training(**given | changed)


# --- walks -------------------------------------------------------------------------------------


def test_a_trained_partner_writes_down_a_walk(ines, tom):
    site = SiteFactory(ref="ferry-road")
    kept = note(ines, tom, site=site, note="  Windy.  ")
    assert (kept.where, kept.note, kept.partner) == ("ferry-road", "Windy.", tom)
    line = Entry.objects.get()
    assert (line.act, line.subject) == ("training.walk_noted", f"person:{ines.key}")
    assert line.detail["partner"] == f"person:{tom.key}"


def test_staff_write_down_a_walk_of_two_others(ines, tom, staff):
    assert note(ines, tom, by=staff).partner == tom


def test_a_partner_who_was_not_trained_on_that_day_is_none(ines, tom, staff):
    early = tom.trained_on - timedelta(days=1)
    with pytest.raises(ValidationError) as told:
        note(ines, tom, by=staff, day=early)
    assert "partner" in told.value.message_dict
    with pytest.raises(PermissionDenied):
        note(ines, tom, day=early)
    with pytest.raises(ValidationError):
        note(ines, learner(sign_in="new"), by=staff)


def test_nobody_writes_down_their_own_walk_or_that_of_two_others(ines, tom):
    for by in (ines, partner(sign_in="una"), PersonFactory(role="liaison")):
        with pytest.raises(PermissionDenied):
            note(ines, tom, by=by)
    with pytest.raises(PermissionDenied):
        note(tom, tom)


@pytest.mark.parametrize(
    ("field", "changed"),
    [
        ("day", {"day": TODAY + timedelta(days=1)}),
        ("note", {"note": "x" * 301}),
        ("note", {"note": "a\0b"}),
    ],
)
def test_a_walk_that_cannot_have_been_is_refused_at_its_field(ines, tom, field, changed):
    with pytest.raises(ValidationError) as told:
        note(ines, tom, **changed)
    assert field in told.value.message_dict
    assert not PairedWalk.objects.exists()


def test_the_same_walk_is_written_down_once(ines, tom):
    site = SiteFactory()
    note(ines, tom, site=site)
    with pytest.raises(ValidationError) as told:
        note(ines, tom, site=site)
    assert "day" in told.value.message_dict
    assert note(ines, tom, site=SiteFactory()).pk


def test_only_volunteers_who_are_not_trained_yet_learn(ines, tom, staff):
    with pytest.raises(ValidationError) as told:
        note(PersonFactory(role="crew"), tom, by=staff)
    assert "person" in told.value.message_dict
    with pytest.raises(ValidationError):
        note(partner(sign_in="una"), tom, by=staff)
    with pytest.raises(ValidationError):
        note(learner(sign_in="gone", is_active=False), tom, by=staff)


def test_a_walk_written_down_by_mistake_is_dropped_and_its_looks_stay(ines, tom, staff):
    kept = walk(ines, tom, AGREED)
    with pytest.raises(PermissionDenied):
        training.drop_paired_walk(walk=kept, by=tom, at=NOON)
    training.drop_paired_walk(walk=kept, by=staff, at=NOON)
    training.drop_paired_walk(walk=kept, by=staff, at=NOON)  # a double click
    assert not PairedWalk.objects.exists()
    assert Look.objects.count() == 2 * len(AGREED)
    assert [e.act for e in Entry.objects.all()] == ["training.walk_dropped"]


# --- standing ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pairs", "enough"),
    [
        (AGREED, True),
        ([("holding", "holding")] * 4, False),  # four trees are too few
        ([("holding", "holding")] * 4 + [("dead", "failing")], True),
        ([("holding", "holding")] * 3 + [("dead", "failing")] * 2, False),
        ([("thriving", "slipping")] * 5, False),
        ([], False),
    ],
)
def test_a_walk_counts_with_five_trees_and_four_in_five_alike(ines, tom, pairs, enough):
    walk(ines, tom, pairs)
    assert standing_of(ines).walks[0].is_enough is enough


def test_what_is_missing_is_counted(ines, tom):
    start = standing_of(ines)
    assert (start.practiced, start.walks_missing, start.ready_on) == (False, 2, None)
    practiced(ines, right=5)
    walk(ines, tom, AGREED)
    half = standing_of(ines)
    assert (half.practiced, half.walks_missing, half.ready_on) == (False, 1, None)
    assert half.best.right == 5


def test_the_day_on_which_all_was_there_is_the_later_one(ines, tom):
    ready(ines, tom)
    assert standing_of(ines).ready_on == TODAY
    other = learner(sign_in="ana")
    practiced(other, at=NOON - timedelta(days=60))
    walk(other, tom, AGREED, DAY)
    walk(other, tom, AGREED, date(2026, 6, 3))
    assert standing_of(other).ready_on == date(2026, 6, 3)


def test_a_round_late_in_the_evening_is_of_that_day_in_town(ines, tom):
    AreaFactory().__class__.objects.update(time_zone="America/Los_Angeles")
    evening = datetime(2026, 6, 17, 3, tzinfo=UTC)  # still June 16 in Los Angeles
    practiced(ines, at=evening)
    walk(ines, tom, AGREED, DAY)
    walk(ines, tom, AGREED, date(2026, 6, 3))
    assert standing_of(ines).ready_on == date(2026, 6, 16)


# --- sign-off ----------------------------------------------------------------------------------


def test_with_practice_and_two_walks_a_volunteer_is_signed_off(ines, tom, staff):
    ready(ines, tom)
    before = Look.objects.filter(observer__person=ines).first()
    done = sign_off(ines, staff)
    assert done.trained_on == TODAY
    assert counts_as_trained(done, TODAY)
    assert not counts_as_trained(done, TODAY - timedelta(days=1))
    before.refresh_from_db()
    assert before.trained is False
    line = Entry.objects.get()
    assert (line.act, line.who) == ("training.signed_off", f"person:{staff.key}")
    assert line.detail["was_complete"] is True


def test_without_them_a_reason_is_asked_for(ines, tom, staff):
    practiced(ines)
    walk(ines, tom, AGREED)
    with pytest.raises(ValidationError) as told:
        sign_off(ines, staff)
    assert "reason" in told.value.message_dict
    with pytest.raises(ValidationError):
        sign_off(ines, staff, reason="   ")
    done = sign_off(ines, staff, reason="Trained in Southmere in March.", on=date(2026, 3, 7))
    assert done.trained_on == date(2026, 3, 7)
    line = Entry.objects.get()
    assert line.detail["reason"] == "Trained in Southmere in March."
    assert line.detail["was_complete"] is False


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_only_staff_sign_off(ines, tom, role):
    ready(ines, tom)
    with pytest.raises(PermissionDenied):
        sign_off(ines, PersonFactory(role=role))


def test_nobody_signs_off_themselves(ines, tom, staff):
    ready(ines, tom)
    with pytest.raises(PermissionDenied):
        sign_off(ines, ines)
    with pytest.raises(PermissionDenied):
        sign_off(staff, staff, reason="I know my trees.")


@pytest.mark.parametrize(
    ("field", "changed"),
    [
        ("on", {"on": TODAY + timedelta(days=1)}),
        ("on", {"on": TODAY + timedelta(days=1), "reason": "from elsewhere"}),
        ("on", {"on": TODAY - timedelta(days=1)}),
        ("reason", {"reason": "x" * 301}),
        ("reason", {"reason": "a\0b"}),
    ],
)
def test_a_sign_off_that_cannot_be_is_refused_at_its_field(ines, tom, staff, field, changed):
    ready(ines, tom)
    with pytest.raises(ValidationError) as told:
        sign_off(ines, staff, **changed)
    assert field in told.value.message_dict
    ines.refresh_from_db()
    assert ines.trained_on is None


def test_a_volunteer_is_signed_off_once_and_others_never(ines, tom, staff):
    ready(ines, tom)
    sign_off(ines, staff)
    with pytest.raises(ValidationError, match="already"):
        sign_off(ines, staff)
    for other in (PersonFactory(role="crew"), learner(sign_in="gone", is_active=False)):
        with pytest.raises(ValidationError):
            sign_off(other, staff, reason="why not")


def test_training_is_taken_back_with_a_reason_and_looks_stay_trained(ines, tom, staff):
    ready(ines, tom)
    done = sign_off(ines, staff)
    kept = look(done, TreeFactory(), "holding", TODAY)
    for bad in ("", "  "):
        with pytest.raises(ValidationError):
            training.take_back_training(person=ines, reason=bad, by=staff, at=NOON)
    with pytest.raises(PermissionDenied):
        training.take_back_training(person=ines, reason="no", by=tom, at=NOON)
    after = training.take_back_training(person=ines, reason="Moved away.", by=staff, at=NOON)
    assert after.trained_on is None
    kept.refresh_from_db()
    assert kept.trained is True
    line = Entry.objects.newest_first().first()
    assert line.detail == {"was": TODAY.isoformat(), "reason": "Moved away."}
    with pytest.raises(ValidationError, match="not signed off"):
        training.take_back_training(person=ines, reason="again", by=staff, at=NOON)
