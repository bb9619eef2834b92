"""Who may see which picture, and that nothing but a picture is ever served."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from survey.photos.intake import take_in
from survey.photos.models import Photo
from survey.photos.preparing import prepare
from survey.photos.tasks import prepare_photo
from survey.reports.keys import digest
from tests.factories import NOON, PersonFactory, ReportFactory
from tests.pictures import picture

pytestmark = pytest.mark.django_db
SECRET = "s" * 43


@pytest.fixture
def photo(area):
    taken = take_in(file=io.BytesIO(picture()), part="base", at=NOON)
    prepare_photo(str(taken.pk), prepare(str(taken.pk)))
    report = ReportFactory(secret_digest=digest(SECRET))
    report.photos.add(taken)
    return Photo.objects.get(pk=taken.pk)


def status(url, person=None):
    client = Client()
    if person:
        client.force_login(person)
    page = client.get(url)
    if page.streaming:
        b"".join(page.streaming_content)  # reading it to its end closes the file
    return page.status_code


def test_a_hidden_picture_is_for_staff_and_for_whoever_holds_the_secret(photo):
    url = f"/photos/{photo.key}/small/"
    assert status(url) == 404
    assert status(url, PersonFactory(role="volunteer")) == 404
    assert status(url, PersonFactory()) == 200
    assert status(f"/note/{SECRET}{url}") == 200
    assert status(f"/note/{'t' * 43}{url}") == 404


def test_a_secret_opens_only_its_own_pictures(photo):
    ReportFactory(secret_digest=digest("u" * 43))
    assert status(f"/note/{'u' * 43}/photos/{photo.key}/small/") == 404


def test_an_accepted_picture_is_for_everybody_and_a_declined_one_is_not(photo):
    url = f"/photos/{photo.key}/picture/"
    Photo.objects.update(shown="accepted")
    assert status(url) == 200
    Photo.objects.update(shown="declined")
    assert status(url) == 404
    assert status(url, PersonFactory()) == 200


@pytest.mark.parametrize("size", ["original", "sha256", "__class__", "delete", "small.html"])
def test_nothing_but_the_two_copies_is_served(photo, size):
    assert status(f"/photos/{photo.key}/{size}/", PersonFactory()) == 404


def test_a_picture_being_prepared_is_not_served(photo):
    Photo.objects.update(state="waiting", shown="hidden")
    assert status(f"/photos/{photo.key}/small/", PersonFactory()) == 404


def test_an_unknown_picture_is_not_found(area):
    assert status(f"/photos/{'0' * 32}/small/", PersonFactory()) == 404


def test_a_picture_is_served_as_a_picture_whatever_a_browser_would_make_of_it(photo):
    page = Client().get(f"/note/{SECRET}/photos/{photo.key}/small/")
    assert page.headers["Content-Type"] == "image/jpeg"
    assert page.headers["X-Content-Type-Options"] == "nosniff"
    assert page.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert page.headers["Cache-Control"] == "private, no-store"
    assert b"".join(page.streaming_content).startswith(b"\xff\xd8\xff")


def test_a_file_that_is_gone_is_not_found(photo):
    photo.small.storage.delete(photo.small.name)
    assert status(f"/note/{SECRET}/photos/{photo.key}/small/") == 404


def test_a_writer_sees_the_photos_of_the_draft_and_nobody_else_does(neighbor, tree):
    neighbor.answers_up_to_photos(tree)
    neighbor.send(photo_whole=SimpleUploadedFile("a.jpg", picture(), "image/jpeg"))
    photo = Photo.objects.get()
    prepare_photo(str(photo.pk), prepare(str(photo.pk)))
    html = neighbor.open(f"/report/{neighbor.key}/photos/").html
    url = f"/report/{neighbor.key}/photos/{photo.key}/small/"
    assert url in html
    assert status(url) == 200
    assert status(f"/report/{'x' * 43}/photos/{photo.key}/small/") == 404
    assert status(f"/photos/{photo.key}/small/") == 404


def test_the_private_page_shows_what_was_refused_and_why(area):
    report = ReportFactory(secret_digest=digest(SECRET))
    broken = Photo.objects.create(
        key="k" * 32,
        received_at=NOON,
        state="refused",
        refused_because="We could not open this photo: it is broken.",
    )
    report.photos.add(broken)
    html = Client().get(f"/note/{SECRET}/").content.decode()
    assert "it is broken" in html
