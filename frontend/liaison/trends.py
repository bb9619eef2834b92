"""Outlook and condition by month: places beside each other, and the page of one."""

from urllib.parse import urlencode

from django.db.models import OuterRef, Subquery
from django.http import Http404
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_safe

from frontend.access import only
from frontend.liaison.outlooks import Place, side_by_side, told_of
from frontend.liaison.pictures import trend_chart
from frontend.liaison.said import hundred
from frontend.places import area_of, asked
from frontend.turned import Turned, turned_at, turned_in
from survey.condition.models import Outlook, SiteMonth
from survey.condition.trend import shares_of
from survey.people.policy import may_look, may_read_survival, may_triage
from survey.trees.models import Area, Condition, Planting, Site, Tree
from survey.trees.species import kind_of

FEW = 5
A_YEAR_AND_ONE = 13
WELL = ("thriving", "holding")


@require_safe
@only(may_read_survival)
def trends(request):
    """Every place on one scale, in order of its name; for sites also what trained eyes found."""
    area = area_of(request)
    by = asked(request, "by") or Outlook.By.SITE
    if by not in Outlook.By.values:
        raise Http404
    is_site = by == Outlook.By.SITE
    outlooks = list(Outlook.objects.filter(area=area, by=by).order_by("label", "key"))
    addresses = [address_of(area, by, row.key) for row in outlooks]
    context = {
        "area": area,
        "nav": "trends",
        "by": by,
        "groupings": [(code, name) for code, name in groupings().items()],
        "side_by_side": side_by_side(by, outlooks, addresses) if outlooks else None,
        "turns": turned_in(area) if is_site else [],
        "may_triage": may_triage(request.user) and area.is_home,
        "rows": _newest_months(area) if is_site else [],
        "conditions": Condition,
        "areas": Area.objects.order_by("-is_home", "name"),
    }
    return render(request, "frontend/liaison/trends.html", context)


def groupings() -> dict[str, str]:
    return {"site": _("by site"), "planting": _("by planting"), "species": _("by species")}


def address_of(area: Area, by: str, key: str) -> str:
    """The page of one place."""
    if by == Outlook.By.SITE:
        return reverse("frontend:trend", args=[key])
    address = reverse("frontend:trend-of", args=[by, key])
    if by == Outlook.By.SPECIES and not area.is_home:
        address += "?" + urlencode({"area": area.ref})
    return address


def _newest_months(area: Area) -> list[dict]:
    newest = SiteMonth.objects.filter(site=OuterRef("site")).order_by("-month").values("pk")[:1]
    months = {
        month.site_id: month
        for month in SiteMonth.objects.filter(site__area=area, pk=Subquery(newest))
    }
    return [
        {"site": site, "month": month, "shares": shares_of(month) if month else ()}
        for site in Site.objects.filter(area=area).order_by("name", "pk")
        for month in [months.get(site.pk)]
    ]


@require_safe
@only(may_read_survival)
def trend(request, ref: str):
    """One site, month by month: its outlook, and below it what trained eyes found."""
    site = get_object_or_404(Site.objects.select_related("area"), ref=ref)
    place = Place("site", ref, site.area, site.name, site.trees.all(), site=site)
    months = list(SiteMonth.objects.filter(site=site).order_by("month"))
    context = _about(request, place, turned_at(site)) | {
        "site": site,
        "seen": _finding(site, months),
        "shares_chart": trend_chart(months, site.name),
        "rows": [_row(month) for month in reversed(months[-A_YEAR_AND_ONE:])],
        "older": [_row(month) for month in reversed(months[:-A_YEAR_AND_ONE])],
        "newest": months[-1] if months else None,
    }
    return render(request, "frontend/liaison/trend.html", context)


@require_safe
@only(may_read_survival)
def trend_of(request, by: str, key: str):
    """The same page of a planting, or of a species in a town."""
    if by == Outlook.By.PLANTING:
        planting = get_object_or_404(Planting.objects.select_related("area"), ref=key)
        trees = planting.trees.all()
        place = Place(by, key, planting.area, planting.name, trees, planting=planting)
    elif by == Outlook.By.SPECIES:
        area = area_of(request)
        trees = Tree.objects.filter(area=area, species=key)
        if not trees.exists():
            raise Http404
        place = Place(by, key, area, kind_of(area, key).name, trees)
    else:
        raise Http404
    return render(request, "frontend/liaison/trend.html", _about(request, place, None))


def _about(request, place: Place, turned: Turned | None) -> dict:
    """What the page of any place shows."""
    row = Outlook.objects.filter(area=place.area, by=place.by, key=place.key).first()
    turn = turned.turn if turned else None
    return {
        "area": place.area,
        "nav": "trends",
        "place": place,
        "told": told_of(place, row, turn, inside=may_look(request.user)) if row else None,
        "turned": turned,
        "may_triage": may_triage(request.user) and place.area.is_home,
        "conditions": Condition,
        "trees": place.trees.count(),
    }


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
