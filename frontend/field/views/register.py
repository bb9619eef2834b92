"""Registering on foot: site, planting, then tree after tree."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Count, Exists, OuterRef
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from frontend.access import only
from frontend.field.errors import put_errors
from frontend.field.forms import CorrectTreeForm, PlantingForm, SiteForm, TreeForm
from frontend.field.photos import photos_of
from frontend.places import asked, home_area
from survey.people.policy import may_register_trees
from survey.photos.models import Photo
from survey.trees.actions.on_foot import free_tag_after, register_on_foot
from survey.trees.actions.register import correct_tree, register_planting, register_site
from survey.trees.models import Planting, Site, Tree
from survey.workorders.holds import holds_in

LATELY = 12  # plantings that are offered to be tapped

FORM = ["GET", "HEAD", "POST"]


def _carried(request) -> str:
    """`?replaces=` goes along from page to page."""
    replaces = asked(request, "replaces")
    return f"?replaces={replaces}" if Tree.objects.filter(ref=replaces).exists() else ""


@only(may_register_trees)
@require_http_methods(FORM)
def start(request):
    """Which site? One that is there, or a new one."""
    area = home_area()
    form = SiteForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            site = register_site(area=area, by=request.user, at=area.now(), **form.cleaned_data)
        except ValidationError as refused:
            put_errors(form, refused)
        else:
            return redirect("frontend:register-site", site.ref)
    sites = Site.objects.filter(area=area).annotate(count=Count("trees"))
    sites = sites.order_by("name", "pk")
    context = {"area": area, "person": request.user, "nav": "trees", "form": form, "sites": sites}
    return render(request, "frontend/field/register_start.html", context)


@only(may_register_trees)
@require_http_methods(FORM)
def at_site(request, site):
    """Which planting? One that is there, or a new one."""
    site = get_object_or_404(Site.objects.select_related("area"), ref=site)
    area = site.area
    form = PlantingForm(request.POST or None, area=area)
    carried = _carried(request)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        fields = ("name", "planted_count", "supplier", "contractor", "stock_form", "warranty_until")
        try:
            planting = register_planting(
                area=area,
                by=request.user,
                at=area.now(),
                **form.dates(),
                **{name: given[name] for name in fields},
            )
        except ValidationError as refused:
            put_errors(form, refused, {"planted_from": "planted", "planted_to": "planted"})
        else:
            response = redirect("frontend:register-tree", site.ref, planting.ref)
            response["Location"] += carried
            return response
    plantings = Planting.objects.filter(area=area).annotate(
        count=Count("trees"),
        is_here=Exists(Tree.objects.filter(site=site, planting=OuterRef("pk"))),
    )
    context = {
        "area": area,
        "person": request.user,
        "nav": "trees",
        "form": form,
        "site": site,
        "carried": carried,
        "plantings": plantings.order_by("-is_here", "-planted_from", "-pk")[:LATELY],
    }
    return render(request, "frontend/field/register_site.html", context)


def _remembered(last: Tree | None, replaces: Tree | None) -> dict:
    """What the next tree most likely shares with the one before, or with the one it replaces."""
    if replaces is not None:
        return {
            "street_bearing": replaces.street_bearing,
            "landmark": replaces.landmark,
            "latitude": replaces.latitude,
            "longitude": replaces.longitude,
        }
    if last is None:
        return {}
    return {
        "species": last.species,
        "tag": free_tag_after(last.area, last.tag),
        "street_bearing": last.street_bearing,
    }


@only(may_register_trees)
@require_http_methods(FORM)
def tree(request, site, planting):
    """Tree after tree: the form remembers what the next one shares with the last."""
    site = get_object_or_404(Site.objects.select_related("area"), ref=site)
    area = site.area
    planting = get_object_or_404(Planting, ref=planting, area=area)
    replaces = None
    if ref := asked(request, "replaces"):
        replaces = get_object_or_404(Tree, ref=ref, site=site)
    here = Tree.objects.filter(site=site, planting=planting)
    last = here.order_by("-pk").first()
    form = TreeForm(
        request.POST or None,
        request.FILES or None,
        area=area,
        planting=planting,
        person=request.user,
        initial=_remembered(last, replaces),
    )
    kept = []
    if request.method == "POST":
        valid = form.is_valid()
        parts = {"base_photo": Photo.Part.BASE}
        day = form.cleaned_data.get("registered_on")
        kept = photos_of(request, form, parts, area.now(), taken_on=day)
        if valid and not form.errors:
            registered = _register(request, form, site, planting, replaces, kept)
            if registered is not None:
                return _onward(request, registered, planting)
    context = {
        "area": area,
        "person": request.user,
        "nav": "trees",
        "form": form,
        "site": site,
        "planting": planting,
        "replaces": replaces,
        "count": here.count(),
        "last": last,
        "kept": kept,
        "danger": holds_in(area).on_site(site),
    }
    return render(request, "frontend/field/register_tree.html", context)


def _register(request, form, site, planting, replaces, photos) -> Tree | None:
    given = form.cleaned_data
    names = (
        "species",
        "tag",
        "condition",
        "girths_m",
        "stems",
        "latitude",
        "longitude",
        "street_bearing",
        "landmark",
        "registered_on",
        "registered_because",
        "note",
    )
    try:
        return register_on_foot(
            site=site,
            planting=planting,
            replaces=replaces,
            repeat_key=f"foot:{given['repeat_key']}",
            photos=photos,
            by=request.user,
            at=site.area.now(),
            **{name: given[name] for name in names},
        )
    except ValidationError as refused:
        put_errors(form, refused, {"girths": "girth1", "day": "registered_on"})
        return None


def _onward(request, registered: Tree, planting: Planting):
    messages.success(request, _("%s is on the list. Next tree.") % registered)
    if "stop" in request.POST or registered.replaces_id:
        return redirect("frontend:tree", registered.ref)
    return redirect("frontend:register-tree", registered.site.ref, planting.ref)


@only(may_register_trees)
@require_http_methods(FORM)
def correct(request, ref):
    """Mend a slip in what is written about a tree."""
    found = get_object_or_404(Tree.objects.select_related("area", "site"), ref=ref)
    initial = {
        name: getattr(found, name)
        for name in (
            "species",
            "tag",
            "landmark",
            "latitude",
            "longitude",
            "stems",
            "street_bearing",
            "walk_order",
        )
    }
    form = CorrectTreeForm(request.POST or None, tree=found, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            correct_tree(tree=found, by=request.user, at=found.area.now(), **form.cleaned_data)
        except ValidationError as refused:
            put_errors(form, refused)
        else:
            messages.success(request, _("Corrected. What stood there before is kept."))
            return redirect("frontend:tree", found.ref)
    context = {"area": found.area, "person": request.user, "nav": "trees"}
    context |= {"form": form, "tree": found}
    return render(request, "frontend/field/correct.html", context)
