"""Chores about pictures."""

from datetime import timedelta

from django.utils import timezone

from survey.chores.actions import write_chore
from survey.chores.registry import every, handles, heals
from survey.photos import preparing
from survey.photos.models import Photo
from survey.photos.preparing import Prepared
from survey.photos.removing import remove_photo

LOOSE_KEPT = timedelta(days=7)
"""How long a picture waits for the form it was sent with. Own rule of this project."""


@handles("prepare_photo", computes=preparing.prepare)
def prepare_photo(key: str, prepared: Prepared) -> None:
    if preparing.settle(key, prepared):
        write_chore(kind="discard_original", key=key)


@handles("discard_original", computes=preparing.discard_original)
def discard_original(key: str, gone: bool) -> None:
    if gone:
        Photo.objects.filter(pk=int(key)).update(original="")


@every("nightly")
@handles("clear_loose_photos")
def clear_loose_photos(key: str) -> None:
    """Throw away pictures whose form was never finished: they may show somebody."""
    loose = Photo.objects.held_by_nothing()
    for photo in loose.filter(received_at__lt=timezone.now() - LOOSE_KEPT):
        remove_photo(photo=photo)


@heals
def unprepared_photos():
    for number in Photo.objects.unprepared().values_list("pk", flat=True):
        yield "prepare_photo", str(number)


@heals
def left_over_originals():
    for number in Photo.objects.with_left_over_original().values_list("pk", flat=True):
        yield "discard_original", str(number)
