"""Condition by month: the list of sites, and the page of one."""

from django.db.models import OuterRef, Subquery
from django.shortcuts import get_object_or_404, render
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.liaison.pictures import trend_chart
from frontend.liaison.said import hundred
from frontend.places import area_of
from survey.condition.models import SiteMonth
from survey.condition.trend import shares_of
from survey.people.policy import may_read_survival
from survey.trees.models import Area, Condition, Site

FEW = 5
A_YEAR_AND_ONE = 13
WELL = ("thriving", "holding")


@require_safe
@only(may_read_survival)
def trends(request):
    """Every site with its newest month, in order of its name."""
    area = area_of(request)
    newest = SiteMonth.objects.filter(site=OuterRef("site")).order_by("-month").values("pk")[:1]
    months = {
        month.site_id: month
        for month in SiteMonth.objects.filter(site__area=area, pk=Subquery(newest))
    }
    rows = [
        {"site": site, "month": month, "shares": shares_of(month) if month else ()}
        for site in Site.objects.filter(area=area).order_by("name", "pk")
        for month in [months.get(site.pk)]
    ]
    context = {
        "area": area,
        "nav": "trends",
        "rows": rows,
        "conditions": Condition,
        "areas": Area.objects.order_by("-is_home", "name"),
    }
    return render(request, "frontend/liaison/trends.html", context)


@require_safe
@only(may_read_survival)
def trend(request, ref: str):
    """One site, month by month."""
    site = get_object_or_404(Site.objects.select_related("area"), ref=ref)
    months = list(SiteMonth.objects.filter(site=site).order_by("month"))
    context = {
        "area": site.area,
        "nav": "trends",
        "site": site,
        "finding": _finding(site, months),
        "chart": trend_chart(months, site.name),
        "rows": [_row(month) for month in reversed(months[-A_YEAR_AND_ONE:])],
        "older": [_row(month) for month in reversed(months[:-A_YEAR_AND_ONE])],
        "conditions": Condition,
        "newest": months[-1] if months else None,
        "trees": site.trees.count(),
    }
    return render(request, "frontend/liaison/trend.html", context)


def _row(month: SiteMonth) -> dict:
    return {
        "month": month,
        "shares": [
            {
                "trees": share.trees,
                "of_100": round(100 * share.trees / month.n) if month.n else 0,
                "low": hundred(share.limits.low),
                "high": hundred(share.limits.high, up=True),
            }
            for share in shares_of(month)
        ],
    }


def _finding(site: Site, months: list[SiteMonth]) -> str:
    """Counts of the newest month and of a year before; no verdict on what they mean."""
    newest = months[-1] if months else None
    if newest is None or not newest.n:
        return _("No trained eye has looked at %s within a year") % site.name
    said = ngettext(
        "%(well)d of the %(n)d tree seen at %(site)s within a year was thriving or holding",
        "%(well)d of the %(n)d trees seen at %(site)s within a year were thriving or holding",
        newest.n,
    ) % {"well": _well(newest), "n": newest.n, "site": site.name}
    before = months[-13] if len(months) > 12 else None
    if before is None or before.n < FEW or newest.n < FEW:
        return said
    then = _("in %(month)s it was %(well)d of %(n)d") % {
        "month": date_format(before.month, "F Y"),
        "well": _well(before),
        "n": before.n,
    }
    return f"{said}; {then}"


def _well(month: SiteMonth) -> int:
    return sum(getattr(month, name) for name in WELL)
