"""How long a neighbor's address is kept: until 90 days after the report was closed."""

from datetime import datetime, timedelta

from django.db.models import Exists, Max, OuterRef, Q, QuerySet

from survey.people.models import Contact
from survey.reports.models import Report
from survey.trees.models import Area

CONTACT_KEPT = timedelta(days=90)
"""Own rule of this project."""

OPEN = [Report.State.NEW, Report.State.ASKED]


def contacts_to_erase(area: Area, at: datetime) -> QuerySet[Contact]:
    """Contacts of an area all of whose reports were closed at least 90 days before `at`.

    A joined report is as open as the one it was joined to, because whatever that one is told, its
    neighbor is told too. An open danger keeps a report open. `at` is the area's own now.
    """
    still_open = (
        Report.objects.filter(contact=OuterRef("pk"))
        .annotate(decided=_last("decisions"), decided_first=_last("joined_to__decisions"))
        .filter(
            Q(state__in=OPEN)
            | Q(joined_to__state__in=OPEN)
            | (~Q(danger="") & Q(danger_cleared_at=None))
            | Q(decided=None)
            | Q(decided__gt=at - CONTACT_KEPT)
            | Q(decided_first__gt=at - CONTACT_KEPT)
        )
    )
    ours = Report.objects.filter(contact=OuterRef("pk"), area=area)
    return Contact.objects.standing().filter(Exists(ours)).exclude(Exists(still_open))


def _last(decisions: str):
    return Max(f"{decisions}__at", filter=Q(**{f"{decisions}__undone_at": None}))
