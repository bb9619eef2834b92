"""Says that something is newly known of a tree, so that what rests on it is worked out again."""

from survey.chores.actions import write_chores
from survey.trees.models import Look, Tree

JUDGES_WORK = {Look.Channel.FOLLOWUP, Look.Channel.WALK, Look.Channel.CREW}
"""Channels whose trained looks can say whether work on a tree helped."""


def evidence_changed(tree: Tree, look: Look | None = None) -> None:
    """Write the chores that follow new evidence about one tree, in the caller's transaction.

    A trained look may also settle whether an order on its tree worked.
    """
    wishes = [("refresh_survival", str(tree.pk)), ("roll_up_trend", str(tree.site_id))]
    if look is not None and look.trained and look.channel in JUDGES_WORK:
        wishes.append(("confirm_orders", str(tree.pk)))
    write_chores(wishes)


def species_changed(tree: Tree, *, was: str) -> None:
    """Write the chores that follow when a tree turns out to be of another species: those that it
    was counted among lose it, those that it belongs to gain it."""
    write_chores([("refresh_species", f"{tree.area_id}|{was}")])
    evidence_changed(tree)
