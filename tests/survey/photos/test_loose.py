"""Pictures that nothing holds are thrown away after a week; the others never."""

from datetime import timedelta

import pytest
from django.utils import timezone

from survey.photos.models import Photo
from survey.photos.tasks import clear_loose_photos
from tests.factories import AreaFactory, LookFactory, PhotoFactory, ReportFactory, WorkOrderFactory

pytestmark = pytest.mark.django_db
LONG_AGO = timezone.now() - timedelta(days=8)


def old_photo() -> Photo:
    return PhotoFactory(received_at=LONG_AGO)


def test_a_picture_of_an_abandoned_form_goes_after_a_week():
    old_photo()
    young = PhotoFactory(received_at=timezone.now() - timedelta(days=6))
    clear_loose_photos("2026-06-16")
    assert list(Photo.objects.all()) == [young]


@pytest.mark.parametrize("holder", ["draft", "report", "reply", "look", "order"])
def test_a_picture_that_something_holds_stays(holder):
    photo = old_photo()
    if holder == "draft":
        area = AreaFactory()
        made = area.drafts.create(
            client_ref="01900000-0000-7000-8000-000000000001",
            started_at=LONG_AGO,
            touched_at=LONG_AGO,
        )
    elif holder == "reply":
        made = ReportFactory().replies.create(words="Yes", at=LONG_AGO)
    else:
        made = {"report": ReportFactory, "look": LookFactory, "order": WorkOrderFactory}[holder]()
    made.photos.add(photo)
    clear_loose_photos("2026-06-16")
    assert Photo.objects.get() == photo


def test_every_kind_of_holder_is_tried_above():
    held = {relation.related_model.__name__ for relation in Photo._meta.related_objects}
    assert held == {"Draft", "Report", "Reply", "Look", "WorkOrder"}
