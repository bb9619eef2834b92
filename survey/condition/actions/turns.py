"""What staff do with the news that a site has turned down."""

from datetime import datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.condition.models import Turn
from survey.people.models import Person
from survey.people.policy import may_triage

LONGEST = 400


@transaction.atomic
def put_turn_aside(*, turn: Turn, reason: str, by: Person, at: datetime) -> Turn:
    """Take a turn off the desk, with the reason; it comes back only when the site turns anew.

    One that was put aside already is returned as it is. Raises ValidationError, PermissionDenied.
    """
    if not may_triage(by):
        raise PermissionDenied
    reason = reason.strip()
    if not reason:
        raise ValidationError({"reason": _("Say why it can wait, or what was done.")})
    if len(reason) > LONGEST:
        raise ValidationError({"reason": _("Keep the reason under %d letters.") % LONGEST})
    turn = Turn.objects.select_for_update(of=("self",), no_key=True).get(pk=turn.pk)
    if turn.put_aside_at is not None:
        return turn
    turn.put_aside_at, turn.put_aside_by, turn.put_aside_reason = at, f"person:{by.key}", reason
    turn.full_clean()
    turn.save()
    record(
        "turn.put_aside", subject=f"site:{turn.site.ref}", by=by, at=at, turn=turn.pk, reason=reason
    )
    return turn
