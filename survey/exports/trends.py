"""The table of trends: one row for each site, month and condition."""

from collections.abc import Iterator
from operator import attrgetter
from typing import Any, NamedTuple

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from survey.condition.models import SiteMonth
from survey.condition.trend import CONDITIONS, Share, shares_of
from survey.exports.columns import Column, Filled, Table


class Shared(NamedTuple):
    """One condition's share beside its month."""

    month: SiteMonth
    share: Share


FILLED = [
    Filled(
        Column("area", _("The town, by its short name."), "code"), attrgetter("month.site.area.ref")
    ),
    Filled(Column("site", _("Short name of the site."), "code"), attrgetter("month.site.ref")),
    Filled(Column("site_name", _("The site as people call it.")), attrgetter("month.site.name")),
    Filled(
        Column("month", _("The month, by its first day; the shares are those at its end."), "day"),
        attrgetter("month.month"),
    ),
    Filled(
        Column(
            "trees_counted",
            _("Trees with a trained look in the twelve months up to then."),
            "whole number",
            "trees",
        ),
        attrgetter("month.n"),
    ),
    Filled(
        Column(
            "standing", _("How many of them stood, dead ones included."), "whole number", "trees"
        ),
        attrgetter("month.standing"),
    ),
    Filled(
        Column("looks", _("Trained looks at the site in this month."), "whole number", "looks"),
        attrgetter("month.looks"),
    ),
    Filled(
        Column(
            "condition",
            _("The condition; dead counts trees found dead or gone."),
            "code",
            choices=tuple(CONDITIONS),
        ),
        attrgetter("share.condition"),
    ),
    Filled(
        Column("trees", _("Trees in this condition."), "whole number", "trees"),
        attrgetter("share.trees"),
    ),
    Filled(
        Column("share", _("Their share of the trees counted."), "number", "share, 0 to 1"),
        attrgetter("share.share"),
    ),
    Filled(
        Column(
            "limit_low", _("Lower 95 % limit of the share (Wilson)."), "number", "share, 0 to 1"
        ),
        attrgetter("share.limits.low"),
    ),
    Filled(
        Column(
            "limit_high", _("Upper 95 % limit of the share (Wilson)."), "number", "share, 0 to 1"
        ),
        attrgetter("share.limits.high"),
    ),
]

TRENDS = Table(
    "trends",
    _("Trends"),
    _("One row for each site, month and condition."),
    tuple(cell.column for cell in FILLED),
)


def trend_rows(months: QuerySet[SiteMonth]) -> Iterator[list[Any]]:
    """The rows of these months, by site and time."""
    ordered = months.select_related("site__area").order_by("site__area__ref", "site__ref", "month")
    for month in ordered.iterator(chunk_size=1000):
        for share in shares_of(month):
            yield [cell.value(Shared(month, share)) for cell in FILLED]
