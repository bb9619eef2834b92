"""Orders drafted from a finding: one kind of care at every tree that shows the sign."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from survey.audit.outdated import Outdated
from survey.causes.models import Finding
from survey.people.models import Person
from survey.people.policy import may_plan_work
from survey.trees.models import Tree
from survey.workorders.actions.draft import draft_order
from survey.workorders.models import OrderLine, WorkOrder

WINDOW = timedelta(days=28)
MOST = 200
CARE = ("mulch_ring", "look_again")
"""What is drafted from a finding: rings keep blades off, and a look tells what a count cannot."""

LASTS = timedelta(days=365)


def trees_without(finding: Finding, care: str) -> list[Tree]:
    """Trees of a finding, still in place, that have not had this care within a year and are on no
    open order for it."""
    today = finding.area.today()
    given = {"care__care": care, "care__given_to__gt": today - LASTS}
    ordered = OrderLine.objects.filter(
        care=care, order__state__in=[WorkOrder.State.DRAFTED, WorkOrder.State.PLANNED]
    )
    waiting = ordered.filter(tree__findings=finding).values("tree")
    trees = Tree.objects.filter(findings=finding).in_place().exclude(pk__in=waiting)
    if care != "look_again":
        trees = trees.exclude(pk__in=Tree.objects.filter(**given).values("pk"))
    return list(trees.select_related("site", "area").in_walking_order()[:MOST])


@transaction.atomic
def draft_finding_order(
    *, finding: Finding, version: int, care: str, why: str, by: Person, at: datetime
) -> WorkOrder:
    """Draft one order with this care for every tree of a finding that has not got it yet.

    It names the finding, and still has to be planned: leave, dangers and people are asked then.
    Raises Outdated when the finding changed since it was read, ValidationError (keys `care`,
    `lines` and those of any draft), PermissionDenied.
    """
    if not may_plan_work(by):
        raise PermissionDenied
    now = (
        Finding.objects.select_for_update(of=("self",), no_key=True)
        .select_related("area")
        .get(pk=finding.pk)
    )
    if now.version != version:
        raise Outdated(now)
    if care not in CARE:
        raise ValidationError({"care": _("No such work is drafted from a finding.")})
    trees: Sequence[Tree] = trees_without(now, care)
    if not trees:
        raise ValidationError(
            {"lines": _("Every tree of this finding has that on an order, or has had it.")}
        )
    today = now.area.today()
    order = draft_order(
        area=now.area,
        why=why,
        who=WorkOrder.Who.VOLUNTEER,
        window_from=today,
        window_to=today + WINDOW,
        lines=[(tree, care, "") for tree in trees],
        by=by,
        at=at,
    )
    order.finding = now
    order.save(update_fields=["finding"])
    return order
