"""Chores about pictures."""

from survey.chores.actions import write_chore
from survey.chores.registry import handles, heals
from survey.photos import preparing
from survey.photos.models import Photo
from survey.photos.preparing import Prepared


@handles("prepare_photo", computes=preparing.prepare)
def prepare_photo(key: str, prepared: Prepared) -> None:
    if preparing.settle(key, prepared):
        write_chore(kind="discard_original", key=key)


@handles("discard_original", computes=preparing.discard_original)
def discard_original(key: str, gone: bool) -> None:
    if gone:
        Photo.objects.filter(pk=int(key)).update(original="")


@heals
def unprepared_photos():
    for number in Photo.objects.unprepared().values_list("pk", flat=True):
        yield "prepare_photo", str(number)


@heals
def left_over_originals():
    for number in Photo.objects.with_left_over_original().values_list("pk", flat=True):
        yield "discard_original", str(number)
