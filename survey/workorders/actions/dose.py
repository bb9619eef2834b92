"""Numbers of a dose are changed, and a dose is overruled with a reason."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.log import record
from survey.handbook.book import book
from survey.people.models import Person
from survey.people.policy import may_overrule, may_plan_work
from survey.trees.models import Tree
from survey.workorders.inputs import is_sound
from survey.workorders.models import OrderLine, WorkOrder
from survey.workorders.orders import locked, subject_of

OPEN = (WorkOrder.State.DRAFTED, WorkOrder.State.PLANNED)


def _lines(order: WorkOrder, care: str, trees: Sequence[Tree] | None) -> list[OrderLine]:
    lines = order.lines.filter(care=care).select_related("tree")
    if trees is not None:
        lines = lines.filter(tree__in=trees)
    found = list(lines)
    if not found:
        raise ValidationError({"care": _("The order has no such care for these trees.")})
    return found


@transaction.atomic
def set_dose(
    *,
    order: WorkOrder,
    version: int,
    care: str,
    inputs: Mapping[str, Any],
    by: Person,
    at: datetime,
    trees: Sequence[Tree] | None = None,
) -> WorkOrder:
    """Keep the numbers of a dose for one kind of care, for all its trees or some of them.

    `inputs` are in SI by the names of `inputs.INPUTS`; None takes a number back, so that the record
    or the usual figure counts again. What is not named stays. Raises ValidationError, Outdated,
    PermissionDenied.
    """
    if not may_plan_work(by):
        raise PermissionDenied
    order = locked(order, version, *OPEN)
    kept = {name: value for name, value in inputs.items() if value is not None}
    if not is_sound(care, kept):
        raise ValidationError({"care": _("These numbers do not belong to this care.")})
    for line in _lines(order, care, trees):
        changed = {k: v for k, v in line.inputs.items() if k not in inputs} | kept
        if changed != line.inputs:
            line.inputs = changed
            line.save(update_fields=["inputs"])
    order.version += 1
    order.save(update_fields=["version"])
    record(
        "order.dose_set",
        subject=subject_of(order),
        by=by,
        at=at,
        care=care,
        inputs=kept,
        trees=None if trees is None else [tree.ref for tree in trees],
    )
    return order


@transaction.atomic
def overrule_dose(
    *,
    order: WorkOrder,
    version: int,
    care: str,
    because: str,
    by: Person,
    at: datetime,
    trees: Sequence[Tree] | None = None,
) -> WorkOrder:
    """Set aside what the handbook or a worked dose says, with a reason that everybody reads.

    Only staff who count as trained may. The reason opens closed months and facts of the tree; it
    opens no danger, no ground without leave or ticket, no height and no label. An empty `because`
    takes it back. Raises ValidationError, Outdated, PermissionDenied.
    """
    if not may_overrule(by, order.area.today()):
        raise PermissionDenied
    order = locked(order, version, *OPEN)
    because = because.strip()
    if care not in book().care:
        raise ValidationError({"care": _("Choose a kind of care from the list.")})
    if len(because) > 300:
        raise ValidationError({"because": _("A reason has at most 300 letters.")})
    for line in _lines(order, care, trees):
        line.overruled_because = because
        line.overruled_by = f"person:{by.key}" if because else ""
        line.save(update_fields=["overruled_because", "overruled_by"])
    order.version += 1
    order.save(update_fields=["version"])
    record(
        "order.dose_overruled" if because else "order.dose_overruling_withdrawn",
        subject=subject_of(order),
        by=by,
        at=at,
        care=care,
        because=because,
        trees=None if trees is None else [tree.ref for tree in trees],
    )
    return order
