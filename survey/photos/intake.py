"""Pictures come in: looked at from outside, kept under a name of our own, and prepared later.

What arrives is never served. Only the copies that `prepare_photo` draws anew are.
"""

import hashlib
import io
import secrets
import shutil
from datetime import date, datetime
from pathlib import Path

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction
from django.utils.translation import gettext as _
from PIL import Image, UnidentifiedImageError

from survey.chores.actions import write_chore
from survey.people.models import Person
from survey.photos.models import Photo
from survey.photos.picture_files import end_of, hides_something, is_apple_picture, kind_of

MOST_PIXELS = 50_000_000  # of one picture; phones of today make 12 to 50 million
FORMATS = ("JPEG", "PNG", "WEBP")
ACCEPTED_TYPES = "image/jpeg,image/png,image/webp"
A_MEGABYTE = 1024**2


class PhotoRefused(ValidationError):
    """A picture that is not taken in. `code` is type, size, empty, unreadable, pixels or full."""


def size_refusal() -> PhotoRefused:
    """Says that a photo is bigger than the server takes."""
    return PhotoRefused(
        _("That photo is too big. We can take up to %d MB. Choose a smaller one.")
        % (settings.PHOTO_CAP // A_MEGABYTE),
        code="size",
    )


def _unreadable() -> PhotoRefused:
    return PhotoRefused(
        _("We cannot open that photo: it is broken or cut off. Choose it again, or another."),
        code="unreadable",
    )


def check(data: bytes) -> None:
    """Refuse anything that is not one whole JPEG, PNG or WebP picture. Raises PhotoRefused."""
    if not data:
        raise PhotoRefused(_("That file is empty. Choose another photo."), code="empty")
    if len(data) > settings.PHOTO_CAP:
        raise size_refusal()
    kind = kind_of(data[:16])
    if kind is None:
        raise PhotoRefused(
            _(
                "That photo is in a form only newer phones can open (HEIC). Take it again with the "
                "camera set to “most compatible”, or send a screenshot of it."
            )
            if is_apple_picture(data[:16])
            else _("That is not a photo we can open. Choose a JPEG, PNG or WebP photo."),
            code="type",
        )
    end = end_of(data, kind)
    if end is None:
        raise _unreadable()
    if hides_something(data, end):
        raise PhotoRefused(
            _("That file holds something besides a photo. Take a new photo, or choose another."),
            code="type",
        )
    _check_header(data)


def _check_header(data: bytes) -> None:
    """Read the size from the header; nothing is decoded here."""
    try:
        with Image.open(io.BytesIO(data), formats=FORMATS) as picture:
            width, height = picture.size
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        width = height = MOST_PIXELS
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as trouble:
        raise _unreadable() from trouble
    if width * height > MOST_PIXELS:
        raise PhotoRefused(
            _("That photo has too many pixels for us: more than %d million. Choose a smaller one.")
            % (MOST_PIXELS // 1_000_000),
            code="pixels",
        )
    if width < 1 or height < 1:
        raise _unreadable()


def _check_room(size: int) -> None:
    """Words must still be taken when the disk is nearly full, so photos stop first."""
    folder = Path(settings.MEDIA_ROOT)
    while not folder.exists():
        folder = folder.parent
    if shutil.disk_usage(folder).free - size < settings.DISK_FLOOR:
        raise PhotoRefused(
            _("We have no room for photos just now. Your words still reach us: go on without."),
            code="full",
        )


@transaction.atomic
def take_in(
    *,
    file,
    part: str,
    at: datetime,
    by: Person | None = None,
    facing: str = "",
    taken_on: date | None = None,
) -> Photo:
    """Keep a picture that just arrived, hidden, and write the chore that prepares it.

    `file` is an open file or an upload; at most the cap and one byte are read. Raises
    PhotoRefused with a sentence for the sender. The name it came with is not kept.
    """
    file.seek(0)
    data = file.read(settings.PHOTO_CAP + 1)
    check(data)
    _check_room(len(data))
    key = secrets.token_hex(16)
    name = default_storage.save(f"originals/{key}", ContentFile(data))
    photo = Photo(
        key=key,
        part=part if part in Photo.Part.values else Photo.Part.OTHER,
        facing=facing,
        taken_on=taken_on,
        received_at=at,
        original=name,
        sha256=hashlib.sha256(data).hexdigest(),
        by=f"person:{by.key}" if by else "",
    )
    photo.full_clean()
    photo.save()
    write_chore(kind="prepare_photo", key=str(photo.pk))
    return photo
