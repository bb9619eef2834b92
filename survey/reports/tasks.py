"""Chores about reports."""

from datetime import timedelta

from django.db.models import F
from django.utils import timezone

from survey.chores.registry import every, handles, heals
from survey.people.actions import erase_contact
from survey.photos.removing import remove_photo
from survey.reports.looks import make_look
from survey.reports.matching import likely_same_as
from survey.reports.models import Draft, Report
from survey.reports.retention import contacts_to_erase
from survey.trees.models import Area

DRAFT_KEPT = timedelta(days=7)
"""How long a draft waits for its writer to come back. Own rule of this project."""


@handles("match_report")
def match_report(key: str) -> None:
    """Put a new report beside what is known; running it again changes nothing."""
    report = (
        Report.objects.select_for_update(of=("self",))
        .select_related("tree__area", "contact", "area")
        .filter(pk=int(key))
        .first()
    )
    if report is None:
        return
    if report.likely_same_as_id is None:
        same = likely_same_as(report)
        if same is not None:
            Report.objects.filter(pk=report.pk).update(likely_same_as=same)
    make_look(report)


@heals
def reports_never_matched():
    """Reports that name a tree and say how it stands, and never became a look."""
    without = (
        Report.objects.exclude(tree=None)
        .filter(looks=None, tree__planted_from__lte=F("seen_on"))
        .exclude(picture__in=["", "cannot_tell"], signs=None)
    )
    for number in without.values_list("pk", flat=True):
        yield "match_report", str(number)


@every("nightly")
@handles("clear_old_drafts")
def clear_old_drafts(key: str) -> None:
    """Forget drafts that nobody came back to, and what they held of their writer."""
    for draft in Draft.objects.untouched_since(timezone.now() - DRAFT_KEPT):
        photos = list(draft.photos.filter(reports=None, replies=None))
        draft.delete()
        for photo in photos:
            remove_photo(photo=photo)


@every("nightly")
@handles("erase_old_contacts")
def erase_old_contacts(key: str) -> None:
    """Forget how to reach neighbors whose reports were closed long enough ago."""
    for area in Area.objects.order_by("pk"):
        now = area.now()
        for contact in contacts_to_erase(area, now):
            erase_contact(contact=contact, at=now, by=None)
