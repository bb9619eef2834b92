"""Says that something is newly known of a tree, so that what rests on it is worked out again."""

from survey.chores.actions import write_chores
from survey.trees.models import Look, Tree

JUDGES_WORK = {Look.Channel.FOLLOWUP, Look.Channel.WALK, Look.Channel.CREW}
"""Channels whose trained looks can say whether work on a tree helped."""


def evidence_changed(tree: Tree, look: Look | None = None) -> None:
    """Write the chores that follow new evidence about one tree, in the caller's transaction.

    A trained look may also settle whether an order on its tree worked.
    """
    wishes = [
        ("believe_tree", str(tree.pk)),
        ("roll_up_outlook", f"{tree.area_id}|site|{tree.site_id}"),
        ("roll_up_outlook", f"{tree.area_id}|planting|{tree.planting_id}"),
        ("count_planting", str(tree.planting_id)),
        ("roll_up_trend", str(tree.site_id)),
    ]
    if look is not None and look.trained and look.channel in JUDGES_WORK:
        wishes.append(("confirm_orders", str(tree.pk)))
    write_chores(wishes)
