"""Lists to find a tree, a planting or a site by."""

from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from frontend.places import area_of, asked
from survey.people.policy import may_register_trees
from survey.trees.models import Planting, Site, Tree
from survey.trees.species import kinds_in

A_PAGE = 50


def _words(request) -> str:
    return " ".join(asked(request, "q").split())


def _query(request) -> str:
    """The parameters of this list but for the page."""
    return urlencode([(k, v) for k, v in request.GET.items() if k in ("q", "area") and v])


def _page(request, rows):
    return Paginator(rows, A_PAGE).get_page(request.GET.get("page"))


@require_safe
def trees(request):
    """Trees by tag, street, reference or species; one hit by its whole tag opens the tree."""
    area = area_of(request)
    words = _words(request)
    found = Tree.objects.filter(area=area)
    kinds = kinds_in(area)
    if words:
        exact = found.filter(Q(tag__iexact=words) | Q(ref=words)).first()
        if exact is not None:
            return redirect("frontend:tree", exact.ref)
        named = [code for code, kind in kinds.items() if words.lower() in str(kind.name).lower()]
        found = found.filter(Q(pk__in=found.matching(words).values("pk")) | Q(species__in=named))
    found = found.with_last_trained_look().select_related("site", "planting").in_walking_order()
    page = _page(request, found)
    for tree in page.object_list:
        tree.kind_name = kinds[tree.species].name if tree.species in kinds else tree.species
    context = {"area": area, "person": request.user, "nav": "trees", "page": page}
    context |= {"words": words, "query": _query(request), "today": area.today()}
    return render(request, "frontend/field/trees.html", context)


@require_safe
def sites(request):
    area = area_of(request)
    found = Site.objects.filter(area=area).matching(_words(request))
    found = (
        found.select_related("land_manager")
        .annotate(
            standing=Count("trees", filter=Q(trees__left="")),
            gone=Count("trees", filter=~Q(trees__left="")),
        )
        .order_by("name", "pk")
    )
    context = {"area": area, "person": request.user, "nav": "sites"}
    context |= {"page": _page(request, found), "words": _words(request), "query": _query(request)}
    context["may_register"] = may_register_trees(request.user)
    return render(request, "frontend/field/sites.html", context)


@require_safe
def plantings(request):
    area = area_of(request)
    found = Planting.objects.filter(area=area).matching(_words(request))
    found = found.annotate(
        listed=Count("trees"), standing=Count("trees", filter=Q(trees__left=""))
    ).order_by("-planted_from", "name", "pk")
    context = {"area": area, "person": request.user, "nav": "plantings"}
    context |= {"page": _page(request, found), "words": _words(request), "query": _query(request)}
    context["may_register"] = may_register_trees(request.user)
    return render(request, "frontend/field/plantings.html", context)
