"""The looks that say whether the work helped.

Own rules of this project: the next look is due 35 days after the work (four to six weeks), and
only a trained look counts: one made as the look after work at any later day, one of a walk or of
a crew from four weeks on, when the tree had time to answer.
"""

from collections.abc import Iterator
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Exists, OuterRef, Q

from survey.audit.log import record
from survey.trees.models import Look, Tree
from survey.workorders.models import OrderLine, WorkOrder
from survey.workorders.orders import subject_of

LOOK_DUE = timedelta(days=35)
TIME_TO_ANSWER = timedelta(days=28)


def look_after(line: OrderLine) -> Look | None:
    """The first look that judges a line of a done order: at its tree, or at the one planted."""
    tree_id = line.tree_id
    if line.care == "replace":
        tree_id = Tree.objects.filter(replaces_id=tree_id).values_list("pk", flat=True).first()
    done = line.order.done_on
    return (
        Look.objects.standing_record()
        .trained()
        .filter(tree_id=tree_id)
        .exclude(presence=Look.Presence.NOT_SEEN)
        .filter(
            Q(channel=Look.Channel.FOLLOWUP, day__gt=done)
            | Q(
                channel__in=[Look.Channel.WALK, Look.Channel.CREW],
                day__gte=done + TIME_TO_ANSWER,
            )
        )
        .in_order()
        .first()
    )


def lines_to_judge(tree_id: int):
    """Given lines of done or confirmed orders that a look at this tree may settle or unsettle."""
    return (
        OrderLine.objects.filter(
            Q(tree_id=tree_id) | Q(care="replace", tree__replaced_by=tree_id),
            order__state__in=[WorkOrder.State.DONE, WorkOrder.State.CONFIRMED],
            outcome=OrderLine.Outcome.GIVEN,
        )
        .filter(Q(look=None) | Q(look__superseded_by__isnull=False))
        .select_related("order__area")
    )


@transaction.atomic
def judge(tree_id: int, at: datetime) -> None:
    """Tie what was seen of a tree to the orders on it; confirm those that are seen through.

    A look that was corrected is replaced by its correction, or by none: then the order is done
    again, and no longer confirmed.
    """
    order_ids = sorted({line.order_id for line in lines_to_judge(tree_id)})
    list(WorkOrder.objects.select_for_update(no_key=True).filter(pk__in=order_ids).order_by("pk"))
    for line in lines_to_judge(tree_id):
        line.look = look_after(line)
        line.save(update_fields=["look"])
    for order in WorkOrder.objects.filter(pk__in=order_ids).select_related("area"):
        settle(order, at)


def settle(order: WorkOrder, at: datetime) -> None:
    """Set an order's state by its lines: confirmed when every given one has its look."""
    given = order.lines.filter(outcome=OrderLine.Outcome.GIVEN)
    seen = given.exists() and not given.filter(look=None).exists()
    if seen == (order.state == WorkOrder.State.CONFIRMED):
        return
    order.state = WorkOrder.State.CONFIRMED if seen else WorkOrder.State.DONE
    order.confirmed_at = at if seen else None
    order.version += 1
    order.save(update_fields=["state", "confirmed_at", "version"])
    record(
        "order.confirmed" if seen else "order.unconfirmed",
        subject=subject_of(order),
        at=at,
    )


def unjudged_trees() -> Iterator[int]:
    """Trees with a look that an order still waits for, or whose judging look was corrected."""
    later = (
        Look.objects.standing_record()
        .trained()
        .filter(
            Q(tree=OuterRef("tree")) | Q(tree__replaces=OuterRef("tree")),
            day__gt=OuterRef("order__done_on"),
        )
    )
    waiting = (
        OrderLine.objects.filter(
            order__state=WorkOrder.State.DONE, outcome=OrderLine.Outcome.GIVEN, look=None
        )
        .filter(Exists(later))
        .select_related("order")
    )
    for line in waiting.iterator(chunk_size=500):
        if look_after(line):
            yield line.tree_id
    corrected = OrderLine.objects.filter(look__superseded_by__isnull=False)
    yield from corrected.values_list("tree_id", flat=True)
