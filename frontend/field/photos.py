"""Photos of a form. One that arrived is kept while the rest of the form is put right."""

from collections.abc import Mapping
from datetime import date, datetime

from django import forms
from django.http import HttpRequest

from survey.photos.intake import ACCEPTED_TYPES, PhotoRefused, size_refusal, take_in
from survey.photos.models import Photo

KEPT = "kept"
MOST_KEPT = 10


class PhotoField(forms.FileField):
    """One photo, never required, straight from the camera where there is one."""

    def __init__(self, **kwargs):
        widget = forms.FileInput(attrs={"accept": ACCEPTED_TYPES, "capture": "environment"})
        super().__init__(required=False, widget=widget, allow_empty_file=True, **kwargs)


def photos_of(
    request: HttpRequest,
    form: forms.Form,
    parts: Mapping[str, str],
    at: datetime,
    taken_on: date | None = None,
) -> list[Photo]:
    """Take in the photos of a sent form, with those it had kept before.

    `parts` says which part of the tree each file field shows. A photo that is refused becomes an
    error of its field. `taken_on` is the day of an old photo. Call it once for a request, after
    `form.is_valid()`.
    """
    keys = [key for key in request.POST.getlist(KEPT)[:MOST_KEPT] if key.isalnum()]
    mine = f"person:{request.user.key}"
    photos = (
        list(Photo.objects.filter(key__in=keys, by=mine, looks=None, orders=None)) if keys else []
    )
    for refusal in getattr(request, "refused_files", ()):
        form.add_error(refusal.field if refusal.field in form.fields else None, size_refusal())
    for field, part in parts.items():
        upload = request.FILES.get(field)
        if upload is None:
            continue
        try:
            photos.append(
                take_in(file=upload, part=part, at=at, by=request.user, taken_on=taken_on)
            )
        except PhotoRefused as refused:
            form.add_error(field, refused)
    return photos
