"""The table of trees: one row for each, saying how it counts and why."""

import math
from collections.abc import Iterator
from operator import attrgetter
from typing import Any, NamedTuple

from django.utils.translation import gettext_lazy as _

from survey.exports.columns import Column, Filled, Table
from survey.survival.fates import OUTCOMES
from survey.survival.keys import trees_in
from survey.survival.spells import EXCLUSIONS, STATUSES, Life, trees_and_lives
from survey.trees.models import Area, Tree
from survey.trees.species import kinds_in


class Counted(NamedTuple):
    """A tree beside its life."""

    tree: Tree
    life: Life


FILLED = [
    Filled(Column("area", _("The town, by its short name."), "code"), attrgetter("tree.area.ref")),
    Filled(
        Column("tree", _("The tree's short name; never used twice."), "code"),
        attrgetter("tree.ref"),
    ),
    Filled(Column("tag", _("What stands on its tag.")), attrgetter("tree.tag")),
    Filled(Column("site", _("Short name of the site."), "code"), attrgetter("tree.site.ref")),
    Filled(Column("site_name", _("The site as people call it.")), attrgetter("tree.site.name")),
    Filled(
        Column("planting", _("Short name of the planting."), "code"),
        attrgetter("tree.planting.ref"),
    ),
    Filled(
        Column("planting_name", _("The planting as people call it.")),
        attrgetter("tree.planting.name"),
    ),
    Filled(Column("supplier", _("Who supplied the trees.")), attrgetter("tree.planting.supplier")),
    Filled(Column("species", _("The kind of tree."), "code"), attrgetter("tree.species")),
    Filled(
        Column("planted_from", _("First day on which it may have been planted."), "day"),
        attrgetter("tree.planted_from"),
    ),
    Filled(
        Column("planted_to", _("Last day on which it may have been planted."), "day"),
        attrgetter("tree.planted_to"),
    ),
    Filled(
        Column(
            "planted_precision",
            _("How well the planting day is known."),
            "code",
            choices=("day", "month", "season", "year"),
        ),
        attrgetter("tree.planted_precision"),
    ),
    Filled(
        Column("registered_on", _("The day it came on the list."), "day"),
        attrgetter("tree.registered_on"),
    ),
    Filled(
        Column(
            "registered_because",
            _("Why it came on the list."),
            "code",
            choices=("planting_record", "inventory", "report"),
        ),
        attrgetter("tree.registered_because"),
    ),
    Filled(
        Column(
            "left",
            _("How it left, if somebody wrote that down."),
            "code",
            choices=("died", "removed_health", "removed_other", "lost"),
        ),
        attrgetter("tree.left"),
    ),
    Filled(
        Column("left_from", _("First day on which it may have left."), "day"),
        attrgetter("tree.left_from"),
    ),
    Filled(
        Column("left_to", _("Last day on which it may have left."), "day"),
        attrgetter("tree.left_to"),
    ),
    Filled(
        Column("in_rates", _("Whether it counts in the rates."), "yes or no"),
        attrgetter("life.counts"),
    ),
    Filled(
        Column(
            "excluded",
            _(
                "Why it does not. because_of_report: it came on the list because of a report, so a"
                " sick tree had a better chance to. not_found_alive: registered after planting, and"
                " no trained look found it alive then or later. never_planted: a trained look says"
                " so. gone_on_entry: lost in the month it came on the list."
            ),
            "code",
            choices=tuple(EXCLUSIONS),
        ),
        attrgetter("life.excluded"),
    ),
    Filled(
        Column(
            "entry_months",
            _("Its age when it came under watch; 0 when that was at planting."),
            "number",
            "whole calendar months since planting",
        ),
        lambda row: row.life.entry or 0.0,
    ),
    Filled(
        Column(
            "alive_until_months",
            _("Its age at the last trained look that found it alive."),
            "number",
            "whole calendar months since planting",
        ),
        attrgetter("life.left"),
    ),
    Filled(
        Column(
            "lost_by_months",
            _(
                "Its age at the first of the final run of trained looks that found it dead or gone,"
                " or when it was removed; empty when it is not known to be lost."
            ),
            "number",
            "whole calendar months since planting",
        ),
        lambda row: None if math.isinf(row.life.right) else row.life.right,
    ),
    Filled(
        Column(
            "outcome",
            _(
                "How it came to its end. died: found dead, or gone with no removal written down."
                " removed_health: removed alive, for health or safety. removed_other: removed alive"
                " for another reason, which competes with dying."
            ),
            "code",
            choices=tuple(OUTCOMES),
        ),
        attrgetter("life.outcome"),
    ),
    Filled(
        Column(
            "status",
            _(
                "Where it is now by trained eyes. alive: seen so within a year. stale: alive when"
                " last seen, over a year ago. unseen: not looked at since planting."
            ),
            "code",
            choices=tuple(STATUSES),
        ),
        attrgetter("life.status"),
    ),
    Filled(
        Column("last_trained_look", _("The day a trained eye last saw it."), "day"),
        attrgetter("life.last_seen"),
    ),
    Filled(
        Column(
            "second_summer_months",
            _("Its age at the end of its second summer; the greatest where the day is not sure."),
            "number",
            "whole calendar months since planting",
        ),
        lambda row: row.life.second[1],
    ),
    Filled(
        Column("as_of", _("The day up to which the record was read."), "day"),
        lambda row: row.tree.area.today(),
    ),
]

TREES = Table(
    "trees",
    _("Trees"),
    _("One row for each tree on the list: what is known of it, and how it counts in the rates."),
    tuple(cell.column for cell in FILLED),
)


def tree_rows(area: Area, by: str = "town", key: str = "all") -> Iterator[list[Any]]:
    """A row for each tree of a group, in order of their short names."""
    for pair in trees_and_lives(trees_in(area, by, key), area, kinds_in(area)):
        yield [cell.value(Counted(*pair)) for cell in FILLED]
