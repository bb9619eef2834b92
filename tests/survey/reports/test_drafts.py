"""A report being written loses nothing, and is sent once."""

import io
from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from survey.photos.intake import PhotoRefused
from survey.photos.models import Photo
from survey.reports.actions.drafts import (
    KEPT_LETTERS,
    add_photo,
    drop_photo,
    open_draft,
    save_answers,
    sent_report,
    start_draft,
    submit_draft,
)
from survey.reports.keys import digest
from survey.reports.models import Draft, Report
from survey.reports.tasks import clear_old_drafts
from tests.factories import NOON, TODAY, AreaFactory, TreeFactory
from tests.pictures import SVG, picture

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _own_media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def begin(**answers):
    answers = {"landmark": "by the bakery", "seen_on": TODAY.isoformat(), **answers}
    return start_draft(area=AreaFactory(), at=timezone.now(), answers=answers)


def test_the_key_opens_the_draft_and_is_stored_nowhere():
    draft, key = begin()
    assert open_draft(key) == draft
    assert draft.key_digest == digest(key) != key
    assert open_draft(draft.key_digest) is None
    assert open_draft("") is None


def test_answers_are_kept_beside_the_earlier_ones_and_none_takes_one_away():
    draft, key = begin()
    save_answers(draft=draft, answers={"words": "bark", "picture": "dead"}, at=timezone.now())
    save_answers(draft=draft, answers={"picture": None}, at=timezone.now())
    kept = open_draft(key).answers
    assert kept["words"] == "bark"
    assert kept["landmark"] == "by the bakery"
    assert "picture" not in kept


def test_an_answer_nobody_asked_for_is_a_fault():
    draft, _ = begin()
    with pytest.raises(ValueError, match="is_staff"):
        save_answers(draft=draft, answers={"is_staff": True}, at=timezone.now())


def test_a_megabyte_of_text_is_kept_as_typed_and_more_is_cut():
    draft, key = begin()
    save_answers(draft=draft, answers={"words": "a" * 1_000_000}, at=timezone.now())
    assert len(open_draft(key).answers["words"]) == 1_000_000
    save_answers(draft=draft, answers={"words": "a" * 3_000_000}, at=timezone.now())
    assert len(open_draft(key).answers["words"]) == KEPT_LETTERS


def test_sending_makes_the_report_and_forgets_the_draft():
    tree = TreeFactory()
    draft, key = begin(tree=tree.ref, signs=["wilting"], picture="slipping", contact="a@x.example")
    report, secret = submit_draft(key=key, at=NOON, language="en")
    assert (report.tree, report.picture, report.client_ref) == (tree, "slipping", draft.client_ref)
    assert not Draft.objects.exists()
    assert sent_report(key) == (report, secret)


def test_sending_again_shows_the_same_receipt():
    _, key = begin()
    first = submit_draft(key=key, at=NOON, language="en")
    assert submit_draft(key=key, at=NOON, language="en") == first
    assert Report.objects.count() == 1


def test_a_draft_with_something_wrong_stays_as_it_is():
    _draft, key = begin(landmark="", words="the bark is gone", contact="no way")
    with pytest.raises(ValidationError):
        submit_draft(key=key, at=NOON, language="en")
    assert open_draft(key).answers["words"] == "the bark is gone"
    assert not Report.objects.exists()


def test_an_unknown_key_is_said_to_be_unknown():
    with pytest.raises(Draft.DoesNotExist):
        submit_draft(key="nobody has this", at=NOON, language="en")


def test_a_refused_photo_costs_neither_words_nor_the_other_photos():
    draft, key = begin(words="the bark is gone")
    add_photo(draft=draft, file=io.BytesIO(picture()), part="base", at=timezone.now())
    with pytest.raises(PhotoRefused):
        add_photo(draft=draft, file=io.BytesIO(SVG), part="whole", at=timezone.now())
    assert draft.photos.count() == 1
    assert open_draft(key).answers["words"] == "the bark is gone"


def test_five_photos_are_enough():
    draft, _ = begin()
    for _n in range(5):
        add_photo(draft=draft, file=io.BytesIO(picture()), part="base", at=timezone.now())
    with pytest.raises(PhotoRefused) as refused:
        add_photo(draft=draft, file=io.BytesIO(picture()), part="base", at=timezone.now())
    assert refused.value.code == "too_many"


def test_a_photo_can_be_taken_out_but_not_somebody_elses():
    draft, _ = begin()
    other, _ = begin()
    photo = add_photo(draft=draft, file=io.BytesIO(picture()), part="base", at=timezone.now())
    assert not drop_photo(draft=other, photo_key=photo.key, at=timezone.now())
    assert drop_photo(draft=draft, photo_key=photo.key, at=timezone.now())
    assert not Photo.objects.exists()


def test_old_drafts_are_forgotten_with_their_photos_and_young_ones_are_not():
    old, _ = begin(contact="a@x.example")
    add_photo(draft=old, file=io.BytesIO(picture()), part="base", at=timezone.now())
    Draft.objects.update(touched_at=timezone.now() - timedelta(days=8))
    young, _ = begin()
    clear_old_drafts("2026-06-16")
    assert list(Draft.objects.all()) == [young]
    assert not Photo.objects.exists()


def test_photos_of_a_sent_report_outlive_its_draft():
    draft, key = begin()
    add_photo(draft=draft, file=io.BytesIO(picture()), part="base", at=timezone.now())
    report, _ = submit_draft(key=key, at=NOON, language="en")
    clear_old_drafts("2026-06-16")
    assert report.photos.count() == 1
