"""Says that something is newly known of a tree, so that whatever rests on it is worked out again."""

from survey.chores.actions import write_chore
from survey.trees.models import Tree


def evidence_changed(tree: Tree) -> None:
    """Write the chores that follow new evidence about one tree, in the caller's transaction."""
    write_chore(kind="refresh_survival", key=str(tree.pk))
    write_chore(kind="roll_up_trend", key=str(tree.site_id))
