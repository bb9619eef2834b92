"""The look that a report makes at the tree it names, and takes back when it meant another one."""

from datetime import datetime

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from survey.people.actions import neighbor_observer, observer_of
from survey.people.models import Person
from survey.reports.matching import as_seen
from survey.reports.models import Report
from survey.trees.actions.look import record_look
from survey.trees.models import Look


def make_look(report: Report) -> Look | None:
    """Let what the neighbor said of a known tree stand in the record as an untrained look.

    Called with the report locked. Doing it again changes nothing.
    """
    seen = as_seen(report)
    if seen is None or report.looks.exists():
        return None
    try:
        look = record_look(
            tree=report.tree,
            observer=neighbor_observer(report.contact),
            trained=False,
            day=report.seen_on,
            channel=Look.Channel.COMPLAINT,
            presence=seen.presence,
            condition=seen.condition,
            signs=seen.signs,
            note=report.words,
            photos=tuple(report.photos.all()),
            repeat_key=_next_key(report),
            at=report.submitted_at,
            by=None,
        )
    except ValidationError:
        # Seen before this tree was planted: it means another tree that stood there. The report
        # keeps what it says; it just is no look at this one.
        return None
    report.looks.add(look)
    return look


def _next_key(report: Report) -> str:
    """One key for each tree that the report was taken to mean: the first has the report's own."""
    own = f"report:{report.client_ref}"
    made = Look.objects.filter(repeat_key__startswith=own).count()
    return f"{own}:{made}" if made else own


def withdraw_looks(report: Report, *, by: Person, at: datetime) -> None:
    """The report meant another tree: what it says no longer stands in the record of this one.

    The look is kept, superseded by one that saw nothing. Called with the report locked.
    """
    for look in report.looks.standing_record().select_related("tree"):
        record_look(
            tree=look.tree,
            observer=observer_of(by),
            trained=False,
            day=look.day,
            channel=Look.Channel.COMPLAINT,
            presence=Look.Presence.NOT_SEEN,
            note=_("The note meant another tree."),
            supersedes=look,
            by=by,
            at=at,
        )
    report.looks.clear()
