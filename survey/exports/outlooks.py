"""The table of outlooks: one row for each place and month, from all evidence weighed."""

from collections.abc import Callable, Iterator
from operator import attrgetter
from typing import Any, NamedTuple

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from survey.condition.models import STATES, Outlook
from survey.condition.outlooks import Month, months_of
from survey.exports.columns import Column, Filled, Table

OF_100 = "trees of 100"


class Placed(NamedTuple):
    """One month beside its place."""

    row: Outlook
    month: Month


def _share(at: int) -> Callable[[Placed], float]:
    return lambda placed: placed.month.shares[at]


FILLED = [
    Filled(Column("area", _("The town, by its short name."), "code"), attrgetter("row.area.ref")),
    Filled(
        Column(
            "by",
            _("What kind of place it is."),
            "code",
            choices=tuple(Outlook.By.values),
        ),
        attrgetter("row.by"),
    ),
    Filled(
        Column("key", _("Short name of the site or planting, or the species' code.")),
        attrgetter("row.key"),
    ),
    Filled(Column("label", _("The place as people call it.")), attrgetter("row.label")),
    Filled(
        Column("month", _("The month, by its first day."), "day"), attrgetter("month.first_day")
    ),
    Filled(
        Column(
            "outlook",
            _("Of 100 trees like these, how many should still stand two summers (24 months) on."),
            "number",
            OF_100,
        ),
        attrgetter("month.outlook"),
    ),
    Filled(
        Column("outlook_low", _("Lower end of its 95 % band."), "number", OF_100),
        attrgetter("month.low"),
    ),
    Filled(
        Column("outlook_high", _("Upper end of its 95 % band."), "number", OF_100),
        attrgetter("month.high"),
    ),
    Filled(
        Column(
            "trees", _("Trees on the list by then, lost ones included."), "whole number", "trees"
        ),
        attrgetter("month.trees"),
    ),
    Filled(
        Column(
            "standing",
            _("How many of them stood alive, as all evidence weighed has it."),
            "whole number",
            "trees",
        ),
        attrgetter("month.standing"),
    ),
    Filled(
        Column("looks", _("Looks in this month, by anybody."), "whole number", "looks"),
        attrgetter("month.looks"),
    ),
    Filled(
        Column(
            "walked",
            _(
                "Whether, within the twelve months up to then, enough looks came from walks and not"
                " from worry (one for every two trees). Places where not cannot be compared."
            ),
            "yes or no",
        ),
        attrgetter("month.surveyed"),
    ),
    *(
        Filled(
            Column(
                f"share_{state}",
                _("Share of the trees believed to be so."),
                "number",
                "share, 0 to 1",
            ),
            _share(at),
        )
        for at, state in enumerate(STATES)
    ),
    Filled(
        Column(
            "learning",
            _("Number of the version of what was learnt that the row rests on."),
            "whole number",
        ),
        attrgetter("row.learning"),
    ),
]

OUTLOOKS = Table(
    "outlooks",
    _("Outlooks"),
    _("One row for each site, planting and species and each month, from all evidence weighed."),
    tuple(cell.column for cell in FILLED),
)


def outlook_rows(outlooks: QuerySet[Outlook]) -> Iterator[list[Any]]:
    """The rows of these places, by kind, name and time."""
    ordered = outlooks.select_related("area").order_by("area__ref", "by", "key")
    for row in ordered.iterator(chunk_size=200):
        for month in months_of(row):
            yield [cell.value(Placed(row, month)) for cell in FILLED]
