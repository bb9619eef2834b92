"""The copies that may be shown: upright, small enough, and telling nothing but the picture."""

import io

import pytest
from django.core.files.storage import default_storage
from PIL import Image

from survey.chores.models import Chore
from survey.chores.registry import handlers
from survey.chores.runner import perform
from survey.photos import preparing
from survey.photos.intake import take_in
from survey.photos.models import Photo
from survey.photos.tasks import left_over_originals, unprepared_photos
from tests.factories import NOON
from tests.pictures import broken_inside, picture, picture_with_metadata

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def _own_media(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


def take(data):
    return take_in(file=io.BytesIO(data), part="whole", at=NOON)


def do_all():
    while chore := Chore.objects.waiting().first():
        assert perform(chore.pk, handlers[chore.kind])


def opened(name):
    with default_storage.open(name) as file:
        drawn = Image.open(io.BytesIO(file.read()))
        drawn.load()
        return drawn


def test_a_photo_lying_on_its_side_comes_out_upright_and_tells_nothing():
    photo = take(picture_with_metadata())
    do_all()
    photo.refresh_from_db()
    drawn = opened(photo.picture.name)
    assert (photo.state, photo.width, photo.height) == ("ready", 480, 640)
    assert drawn.size == (480, 640)
    # turned a quarter clockwise, the lighter left half lies on top
    assert drawn.getpixel((240, 40))[0] > 200 > drawn.getpixel((240, 600))[0]
    assert not drawn.getexif()
    assert set(drawn.info) <= {
        "jfif",
        "jfif_version",
        "jfif_unit",
        "jfif_density",
        "progressive",
        "progression",
    }
    with default_storage.open(photo.picture.name) as file:
        data = file.read()
    assert b"telling camera" not in data
    assert b"by somebody" not in data


def test_a_large_photo_is_drawn_twice_no_larger_than_it_needs_to_be():
    photo = take(picture(size=(4000, 3000)))
    do_all()
    photo.refresh_from_db()
    assert opened(photo.picture.name).size == (1600, 1200)
    assert opened(photo.small.name).size == (480, 360)


def test_see_through_parts_lie_on_white():
    out = io.BytesIO()
    Image.new("RGBA", (50, 50), (0, 0, 0, 0)).save(out, "PNG")
    photo = take(out.getvalue())
    do_all()
    photo.refresh_from_db()
    assert opened(photo.picture.name).getpixel((20, 20)) == (255, 255, 255)


def test_the_file_that_arrived_is_gone_afterward():
    photo = take(picture())
    arrived = photo.original.name
    do_all()
    photo.refresh_from_db()
    assert photo.original.name == ""
    assert not default_storage.exists(arrived)


def test_a_picture_that_cannot_be_decoded_says_so_and_is_no_failed_chore():
    photo = take(broken_inside())
    do_all()
    photo.refresh_from_db()
    assert photo.state == "refused"
    assert "broken" in photo.refused_because
    assert photo.original.name == ""


def test_a_decoder_that_never_ends_is_stopped(monkeypatch, tmp_path):
    endless = tmp_path / "endless.py"
    endless.write_text("while True: pass")
    monkeypatch.setattr(preparing, "REDRAW", endless)
    monkeypatch.setattr(preparing, "SECONDS", 0.3)
    photo = take(picture())
    do_all()
    photo.refresh_from_db()
    assert photo.state == "refused"
    assert "memory or time" in photo.refused_because


def test_a_decoder_that_is_killed_is_a_refused_photo(monkeypatch, tmp_path):
    greedy = tmp_path / "greedy.py"
    greedy.write_text(
        "import resource; resource.setrlimit(resource.RLIMIT_CPU, (1, 1))\nwhile True: pass"
    )
    monkeypatch.setattr(preparing, "REDRAW", greedy)
    assert preparing.prepare(str(take(picture()).pk)).state == "refused"


def test_the_limits_bind_the_program_that_opens_pictures(tmp_path):
    # Decoding 45 million pixels of PNG takes more than 60 MB; with that limit it must give up.
    source = preparing.REDRAW.read_text().replace("1024 * A_MEGABYTE\n", "60 * A_MEGABYTE\n", 1)
    small = tmp_path / "redraw.py"
    small.write_text(source)
    original = tmp_path / "original"
    original.write_bytes(picture("PNG", size=(9000, 5000)))
    preparing_redraw, preparing.REDRAW = preparing.REDRAW, small
    try:
        said = preparing._redraw(original, tmp_path / "a", tmp_path / "b")
    finally:
        preparing.REDRAW = preparing_redraw
    assert said.get("refused")


def test_preparing_twice_leaves_one_pair_of_copies(tmp_path):
    photo = take(picture())
    first = preparing.prepare(str(photo.pk))
    assert preparing.prepare(str(photo.pk)) == first
    assert len(list((tmp_path / "pictures").iterdir())) == 2


def test_a_missing_original_is_an_error_that_the_chore_keeps():
    photo = take(picture())
    default_storage.delete(photo.original.name)
    with pytest.raises(FileNotFoundError):
        preparing.prepare(str(photo.pk))


def test_the_nightly_questions_find_what_a_fault_left_undone():
    photo = take(picture())
    Chore.objects.all().delete()
    assert list(unprepared_photos()) == [("prepare_photo", str(photo.pk))]
    Photo.objects.filter(pk=photo.pk).update(state="refused", refused_because="broken")
    assert list(unprepared_photos()) == []
    assert list(left_over_originals()) == [("discard_original", str(photo.pk))]
