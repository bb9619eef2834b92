"""Pictures that belong to nothing are thrown away."""

from django.core.files.storage import default_storage
from django.db import transaction

from survey.photos.models import Photo


def remove_photo(*, photo: Photo) -> None:
    """Delete a picture that belongs to nothing: its row, and its files once that is certain.

    A stop between the two leaves files with names that nobody can guess and nothing links to.
    """
    names = [file.name for file in (photo.original, photo.picture, photo.small) if file]
    photo.delete()
    transaction.on_commit(lambda: [default_storage.delete(name) for name in names])
