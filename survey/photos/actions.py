"""What is decided about pictures: whether everybody may see them."""

from datetime import datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.people.models import Person
from survey.people.policy import may_triage
from survey.photos.models import Photo


@transaction.atomic
def accept_photo(*, photo: Photo, by: Person, at: datetime) -> Photo:
    """Let everybody see a picture. Raises ValidationError while it is not prepared."""
    return _show(photo, Photo.Shown.ACCEPTED, by=by, at=at)


@transaction.atomic
def decline_photo(*, photo: Photo, by: Person, at: datetime, why: str = "") -> Photo:
    """Keep a picture from all but staff: it shows a person, a number plate, a private yard."""
    return _show(photo, Photo.Shown.DECLINED, by=by, at=at, why=why.strip())


def _show(photo: Photo, shown: str, *, by: Person, at: datetime, **detail) -> Photo:
    if not may_triage(by):
        raise PermissionDenied
    photo = Photo.objects.select_for_update().get(pk=photo.pk)
    if shown == Photo.Shown.ACCEPTED and photo.state != Photo.State.READY:
        raise ValidationError({"photo": _("This photo is not ready yet. Look again in a minute.")})
    if photo.shown != shown:
        photo.shown = shown
        photo.save(update_fields=["shown"])
        record(f"photo.{shown}", subject=f"photo:{photo.key}", by=by, at=at, **detail)
    return photo
