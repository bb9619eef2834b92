"""One order under lock, as it is now."""

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from survey.audit.outdated import Outdated
from survey.workorders.models import WorkOrder


def locked(order: WorkOrder, version: int, *states: str) -> WorkOrder:
    """The order, read again under lock. Raises Outdated when it is not the version the caller
    saw, ValidationError when it is not in one of the states. Call it inside a transaction."""
    now = (
        WorkOrder.objects.select_for_update(of=("self",), no_key=True)
        .select_related("area")
        .get(pk=order.pk)
    )
    if now.version != version:
        raise Outdated(now)
    if now.state not in states:
        raise ValidationError(
            _("Order %(number)d is %(state)s: that cannot be done any more.")
            % {"number": now.number, "state": now.get_state_display()}
        )
    return now


def subject_of(order: WorkOrder) -> str:
    """The name of an order in the audit."""
    return f"order:{order.area.ref}:{order.number}"
