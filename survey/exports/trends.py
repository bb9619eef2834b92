"""The table of trends: one row for each site, month and condition."""

from collections.abc import Callable, Iterator
from datetime import date
from operator import attrgetter
from typing import Any, NamedTuple

from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from survey.condition.models import STATES, Outlook, SiteMonth
from survey.condition.outlooks import Month, months_of
from survey.condition.trend import CONDITIONS, Share, shares_of
from survey.exports.columns import Column, Filled, Table
from survey.trees.models import Site


class Shared(NamedTuple):
    """One condition's share beside its month, and that month as all evidence weighed has it."""

    month: SiteMonth
    share: Share
    weighed: Month | None

    @property
    def believed(self) -> float | None:
        """Share of trees believed to be in this condition; gone counts as dead, as in `share`."""
        if self.weighed is None:
            return None
        at = STATES.index(self.share.condition)
        return sum(self.weighed.shares[at : at + 2 if self.share.condition == "dead" else at + 1])


def _weighed(name: str) -> Callable[[Shared], Any]:
    return lambda shared: getattr(shared.weighed, name, None)


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
    Filled(
        Column(
            "believed_share",
            _(
                "Share of all trees of the site believed to be in this condition, from all evidence"
                " weighed; dead counts trees dead or gone."
            ),
            "number",
            "share, 0 to 1",
        ),
        attrgetter("believed"),
    ),
    Filled(
        Column(
            "outlook",
            _(
                "From all evidence weighed: of 100 trees like these, how many should still stand"
                " two summers (24 months) on. The same on all rows of a month."
            ),
            "number",
            "trees of 100",
        ),
        _weighed("outlook"),
    ),
    Filled(
        Column("outlook_low", _("Lower end of its 95 % band."), "number", "trees of 100"),
        _weighed("low"),
    ),
    Filled(
        Column("outlook_high", _("Upper end of its 95 % band."), "number", "trees of 100"),
        _weighed("high"),
    ),
    Filled(
        Column(
            "believed_standing",
            _("Trees of the site that stand alive, as all evidence weighed has it."),
            "whole number",
            "trees",
        ),
        _weighed("standing"),
    ),
    Filled(
        Column(
            "all_looks",
            _("Looks at the site in this month by anybody."),
            "whole number",
            "looks",
        ),
        _weighed("looks"),
    ),
    Filled(
        Column(
            "walked",
            _(
                "Whether enough looks of the twelve months up to then came from walks for the"
                " outlook to be compared with other sites."
            ),
            "yes or no",
        ),
        _weighed("surveyed"),
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
    weighed: dict[date, Month] = {}
    site = None
    for month in ordered.iterator(chunk_size=1000):
        if month.site_id != site:
            site, weighed = month.site_id, weighed_months(month.site)
        for share in shares_of(month):
            shared = Shared(month, share, weighed.get(month.month))
            yield [cell.value(shared) for cell in FILLED]


def weighed_months(site: Site) -> dict[date, Month]:
    """The months of one site's outlook, by their first day; none before it was worked out."""
    row = Outlook.objects.filter(area=site.area_id, by=Outlook.By.SITE, key=site.ref).first()
    return {month.first_day: month for month in months_of(row)} if row else {}
