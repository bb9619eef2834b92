"""Where the tree is: a street or place, then the trees as one walks along; a tag; or a landmark."""

from datetime import timedelta

from django.core.exceptions import ValidationError
from django.db.models import Count, Max, Q
from django.http import Http404
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from frontend.neighbor import steps
from frontend.neighbor.drafts import go_on, of_draft, page, without_nul
from frontend.neighbor.forms import ElsewhereForm
from frontend.neighbor.strip import strip_of
from survey.reports.actions.drafts import save_answers
from survey.reports.models import Report
from survey.science.distance import metres_between
from survey.trees.actions.register import check_point
from survey.trees.models import Site, Tree

MOST_SITES = 60
MOST_TREES = 20
RECENT = timedelta(days=14)


def _keep_tree(draft, ref: str):
    """Put a tree of this town into the draft; None when there is none of that name."""
    tree = Tree.objects.select_related("site").filter(area=draft.area, ref=ref[:60]).first()
    if tree is None:
        return None
    return save_answers(
        draft=draft,
        answers={
            "tree": tree.ref,
            "site": tree.site.ref,
            "landmark": None,
            "latitude": None,
            "longitude": None,
        },
        at=timezone.now(),
    )


def _read_point(draft, posted) -> tuple[dict | None, str]:
    """A position that a phone gave: what to keep, or what is wrong with it."""
    try:
        latitude, longitude = float(posted["latitude"]), float(posted["longitude"])
        check_point(draft.area, latitude, longitude)
    except (KeyError, ValueError, OverflowError):
        return None, _("We could not read that position. Pick the street or place instead.")
    except ValidationError as trouble:
        return None, trouble.messages[0]
    return {"latitude": round(latitude, 5), "longitude": round(longitude, 5)}, ""


@of_draft("where")
def where(request, draft, key):
    """Pick the street or place, or find the tree by its tag."""
    trouble = ""
    if request.method == "POST":
        if "tree" in request.POST:
            kept = _keep_tree(draft, request.POST["tree"])
            if kept is not None:
                return go_on(key, kept)
            trouble = _("We do not know that tree. Pick it from the list, or name a place.")
        elif "latitude" in request.POST:
            point, trouble = _read_point(draft, request.POST)
            if point:
                draft = save_answers(draft=draft, answers=point, at=timezone.now())
        else:
            trouble = _("Pick a street or place, or look for it by name.")
    words = " ".join(request.GET.get("q", "").replace("\x00", "").split())[:80]
    sites = Site.objects.filter(area=draft.area)
    trees = []
    if words:
        sites = sites.matching(words)
        trees = list(
            Tree.objects.in_place()
            .filter(area=draft.area)
            .filter(Q(tag__iexact=words) | Q(tag__iexact=words.split()[-1]))
            .select_related("site", "area")
            .in_walking_order()[:MOST_TREES]
        )
    sites = list(
        sites.annotate(standing=Count("trees", filter=Q(trees__left=""))).order_by("name")[
            : MOST_SITES + 1
        ]
    )
    here = draft.answers.get("latitude"), draft.answers.get("longitude")
    if here[0] is not None:
        sites.sort(key=lambda site: _metres_away(site, here))
    return page(
        request,
        "where",
        draft,
        key,
        steps.WHERE,
        status=400 if trouble else 200,
        sites=sites[:MOST_SITES],
        more_sites=len(sites) > MOST_SITES,
        found=[(tree, steps.name_of_tree(tree)) for tree in trees],
        q=words,
        by_nearness=here[0] is not None,
        trouble=trouble,
    )


def _metres_away(site: Site, here) -> float:
    if site.latitude is None:
        return float("inf")
    return metres_between(*here, site.latitude, site.longitude)


@of_draft("where")
def trees(request, draft, key, site):
    """The trees of one site on a strip map, each a button."""
    place = Site.objects.filter(area=draft.area, ref=site).first()
    if place is None:
        raise Http404
    trouble = ""
    if request.method == "POST":
        kept = _keep_tree(draft, request.POST.get("tree", ""))
        if kept is not None:
            return go_on(key, kept)
        trouble = _("Pick a tree from the list, or say that it is not in it.")
    standing = list(
        Tree.objects.in_place().filter(site=place).select_related("site", "area").in_walking_order()
    )
    recent = dict(
        Report.objects.filter(tree__site=place, submitted_at__gte=draft.area.now() - RECENT)
        .exclude(state=Report.State.SET_ASIDE)
        .values_list("tree_id")
        .annotate(day=Max("day"))
    )
    names = steps.names_of_trees(standing)
    strip = strip_of(place, standing)
    told = {tree.pk: {"name": names[tree.pk], "reported": recent.get(tree.pk)} for tree in standing}
    rows = [
        [(tree, told[tree.pk]) if tree else None for tree in (row.left, row.right)]
        for row in strip.rows
    ]
    return page(
        request,
        "trees",
        draft,
        key,
        steps.WHERE,
        status=400 if trouble else 200,
        site=place,
        rows=rows,
        two_sides=strip.two_sides,
        trouble=trouble,
        back_url=reverse("frontend:report-where", args=[key]),
        place=place.name,
    )


@of_draft("where")
def elsewhere(request, draft, key):
    """The tree is not in the list: say where it is in words."""
    site = Site.objects.filter(area=draft.area, ref=request.GET.get("site", "")[:60]).first()
    posted = without_nul(request.POST) if request.method == "POST" else None
    form = ElsewhereForm(posted, initial={"landmark": draft.answers.get("landmark", "")})
    trouble = ""
    if posted is not None:
        answers = {"tree": None, "site": site.ref if site else None}
        answers["landmark"] = posted.get("landmark", "")
        if posted.get("forget_point"):
            answers |= {"latitude": None, "longitude": None}
        elif posted.get("latitude"):
            point, trouble = _read_point(draft, posted)
            answers |= point or {}
        valid = form.is_valid()
        if valid:
            answers["landmark"] = form.cleaned_data["landmark"]
        draft = save_answers(draft=draft, answers=answers, at=timezone.now())
        if valid and not trouble:
            return go_on(key, draft)
    back = (
        reverse("frontend:report-trees", args=[key, site.ref])
        if site
        else reverse("frontend:report-where", args=[key])
    )
    return page(
        request,
        "elsewhere",
        draft,
        key,
        steps.WHERE,
        status=400 if trouble or form.errors else 200,
        form=form,
        site=site,
        trouble=trouble,
        extra_errors=[trouble] if trouble else [],
        back_url=back,
        place=site.name if site else "",
    )
