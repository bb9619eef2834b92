"""Who decides whether everybody may see a picture."""

import pytest
from django.core.exceptions import PermissionDenied, ValidationError

from survey.audit.models import Entry
from survey.photos.actions import accept_photo, decline_photo
from survey.photos.models import Photo
from tests.factories import NOON, PersonFactory, PhotoFactory

pytestmark = pytest.mark.django_db
READY = {"state": "ready", "picture": "a.jpg", "small": "b.jpg", "width": 4, "height": 3}


def test_staff_open_a_picture_to_all_and_it_is_written_down():
    photo = PhotoFactory(**READY)
    accept_photo(photo=photo, by=PersonFactory(), at=NOON)
    assert list(Photo.objects.open_to_all()) == [photo]
    assert Entry.objects.get().act == "photo.accepted"


def test_a_declined_picture_is_not_open_and_keeps_its_reason():
    photo = PhotoFactory(**READY)
    decline_photo(photo=photo, by=PersonFactory(), at=NOON, why="a face")
    assert not Photo.objects.open_to_all().exists()
    assert Entry.objects.get().detail == {"why": "a face"}


def test_accepting_twice_is_one_act():
    photo, person = PhotoFactory(**READY), PersonFactory()
    accept_photo(photo=photo, by=person, at=NOON)
    accept_photo(photo=photo, by=person, at=NOON)
    assert Entry.objects.count() == 1


def test_a_picture_that_is_not_prepared_cannot_be_opened():
    with pytest.raises(ValidationError):
        accept_photo(photo=PhotoFactory(), by=PersonFactory(), at=NOON)


@pytest.mark.parametrize("role", ["volunteer", "crew", "liaison"])
def test_nobody_else_may_decide(role):
    with pytest.raises(PermissionDenied):
        accept_photo(photo=PhotoFactory(**READY), by=PersonFactory(role=role), at=NOON)
