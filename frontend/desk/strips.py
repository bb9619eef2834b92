"""The strip after a decision: what was done, when it is told, and the way back while it is open."""

import math
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from django.urls import reverse
from django.utils import timezone
from django.utils.formats import time_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from frontend.desk.sayings import outcome_words
from survey.people.models import Mail, Person
from survey.reports.models import Decision
from survey.trees.models import Area


@dataclass(frozen=True, slots=True)
class Strip:
    """Fits `frontend/_undo.html`."""

    done: str
    next_said: str
    undo_url: str
    left: str


def open_strips(person: Person, area: Area, most: int = 3) -> list[Strip]:
    """What this person decided in the last ten minutes and may still take back, newest first."""
    now = timezone.now()
    decisions = (
        Decision.objects.standing()
        .filter(by=f"person:{person.key}", undo_until__gt=now, report__area=area)
        .select_related("report", "mail__contact")
        .order_by("-pk")[:most]
    )
    return [_strip(decision, area, now) for decision in decisions]


def _strip(decision: Decision, area: Area, now: datetime) -> Strip:
    minutes = math.ceil((decision.undo_until - now).total_seconds() / 60)
    return Strip(
        done=outcome_words(decision),
        next_said=_next(decision, area),
        undo_url=reverse("frontend:undo", args=[decision.pk]),
        left=ngettext("%d minute", "%d minutes", minutes) % minutes,
    )


def _next(decision: Decision, area: Area) -> str:
    if not decision.message:
        return _("Nobody is told.") if decision.outcome not in ("danger", "clear") else ""
    when = time_format(decision.undo_until.astimezone(ZoneInfo(area.time_zone)), "g:i A")
    if decision.mail is None:
        return _("It is shown on their private page from %s on.") % when
    if decision.mail.state == Mail.State.WAITING and not decision.mail.contact.email:
        return _("Somebody has to call them; it is on the list of calls from %s on.") % when
    return _("The neighbor is told at %s.") % when
