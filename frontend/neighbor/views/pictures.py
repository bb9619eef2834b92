"""Serves prepared pictures, and nothing else: the files that arrived are never served."""

from django.core.files.storage import default_storage
from django.http import FileResponse, Http404
from django.views.decorators.http import require_safe

from survey.people.policy import may_triage
from survey.photos.models import Photo
from survey.reports.actions.drafts import open_draft
from survey.reports.keys import digest
from survey.reports.models import Report

SIZES = ("picture", "small")


def _served(photo: Photo | None, size: str, *, for_all: bool):
    """One prepared copy, as a picture and nothing else, whatever a browser would make of it."""
    if photo is None or photo.state != Photo.State.READY or size not in SIZES:
        raise Http404
    name = getattr(photo, size).name
    try:
        file = default_storage.open(name)
    except FileNotFoundError as gone:
        raise Http404 from gone
    response = FileResponse(file, content_type="image/jpeg")
    response.headers["Content-Disposition"] = "inline"
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response.headers["Referrer-Policy"] = "no-referrer"
    response.headers["Cache-Control"] = "public, max-age=3600" if for_all else "private, no-store"
    return response


@require_safe
def photo(request, photo_key, size):
    """An accepted picture for everybody; any other for staff alone."""
    found = Photo.objects.filter(key=photo_key).first()
    if found is None:
        raise Http404
    accepted = found.shown == Photo.Shown.ACCEPTED
    if not accepted and not may_triage(request.user):
        raise Http404
    return _served(found, size, for_all=accepted)


@require_safe
def note_photo(request, secret, photo_key, size):
    """A picture of a report, for whoever holds the secret of its private page."""
    report = Report.objects.filter(secret_digest=digest(secret)).first()
    found = report.photos.filter(key=photo_key).first() if report else None
    return _served(found, size, for_all=False)


@require_safe
def draft_photo(request, key, photo_key, size):
    """A picture of a report that is being written."""
    draft = open_draft(key)
    found = draft.photos.filter(key=photo_key).first() if draft else None
    return _served(found, size, for_all=False)
