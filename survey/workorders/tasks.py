"""Chores about work orders."""

from collections.abc import Iterator

from survey.chores.registry import handles, heals
from survey.trees.models import Tree
from survey.workorders import followup


@handles("confirm_orders")
def confirm_orders(key: str) -> None:
    """A tree was looked at: say whether that settles an order."""
    tree = Tree.objects.select_related("area").filter(pk=int(key)).first()
    if tree is not None:
        followup.judge(tree.pk, tree.area.now())


@heals
def orders_that_were_seen() -> Iterator[tuple[str, str]]:
    """Orders that are done, whose look exists, and that nobody has confirmed."""
    for tree in followup.unjudged_trees():
        yield "confirm_orders", str(tree)
