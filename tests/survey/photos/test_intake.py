"""What is taken in as a photo, what is not, and what the sender is told."""

import io

import pytest
from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage

from survey.chores.models import Chore
from survey.photos.intake import PhotoRefused, take_in
from survey.photos.models import Photo
from tests.factories import NOON
from tests.pictures import HTML, SVG, picture, picture_with_metadata, pixel_bomb

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _own_media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def take(data, part="base"):
    return take_in(file=io.BytesIO(data), part=part, at=NOON)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_three_kinds_of_picture_are_taken_in_hidden_and_wait_for_their_chore(kind):
    photo = take(picture(kind))
    assert (photo.state, photo.shown, photo.part) == ("waiting", "hidden", "base")
    assert Chore.objects.filter(kind="prepare_photo", key=str(photo.pk)).count() == 1


def test_the_name_on_disk_is_our_own_and_has_no_extension():
    photo = take(picture())
    assert photo.original.name == f"originals/{photo.key}"
    assert len(photo.key) == 32
    assert default_storage.exists(photo.original.name)


def test_an_unknown_part_is_something_else():
    assert take(picture(), part="<script>").part == "other"


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "empty"),
        (SVG, "type"),
        (HTML, "type"),
        (b"GIF89a" + bytes(40), "type"),
        (b"MZ" + bytes(40), "type"),
        (b"%PDF-1.7\n" + bytes(40), "type"),
        (b"\x00\x00\x00\x18ftypheic" + bytes(40), "type"),
        (picture()[:-900], "unreadable"),
        (picture("PNG")[:-30], "unreadable"),
        (picture("WEBP")[:-10], "unreadable"),
        (b"\xff\xd8\xff\xe0" + bytes(60), "unreadable"),
        (b"RIFF\x04\x00\x00\x00WEBP", "unreadable"),
        (b"\xff\xd8\xff", "unreadable"),
        (pixel_bomb(), "pixels"),
    ],
    ids=lambda v: v if isinstance(v, str) else "",
)
def test_what_is_no_photo_is_refused_with_its_own_reason(data, code):
    with pytest.raises(PhotoRefused) as refused:
        take(data)
    assert refused.value.code == code
    assert not Photo.objects.exists()
    assert not Chore.objects.exists()


def test_every_reason_has_its_own_sentence():
    told = set()
    for data in (b"", SVG, picture()[:-900], pixel_bomb(), b"\x00\x00\x00\x18ftypheic" + bytes(9)):
        with pytest.raises(ValidationError) as refused:
            take(data)
        told.add(refused.value.messages[0])
    assert len(told) == 5


def test_a_picture_over_the_cap_is_refused_by_size(settings):
    settings.PHOTO_CAP = 5000
    with pytest.raises(PhotoRefused) as refused:
        take(picture() + bytes(5000))
    assert refused.value.code == "size"


@pytest.mark.parametrize(
    "data",
    [
        picture(comment=b"<script>alert(1)</script>"),
        picture() + HTML,
        picture() + b"PK\x03\x04" + bytes(30) + b"PK\x05\x06" + bytes(18),
        picture("PNG") + SVG,
        picture() + b"\n%PDF-1.4\n",
        picture() + b"<?php system('id'); ?>",
    ],
)
def test_a_file_that_is_two_things_at_once_is_refused(data):
    with pytest.raises(PhotoRefused) as refused:
        take(data)
    assert refused.value.code == "type"


def test_the_short_film_that_phones_append_does_not_matter():
    film = b"\x00\x00\x00\x18ftypmp42" + bytes(5000)
    assert take(picture() + film).state == "waiting"


def test_photos_stop_before_the_disk_is_full(settings):
    settings.DISK_FLOOR = 2**60
    with pytest.raises(PhotoRefused) as refused:
        take(picture())
    assert refused.value.code == "full"


def test_a_picture_with_metadata_is_taken_as_it_is():
    assert take(picture_with_metadata()).state == "waiting"
