"""The pages of one tree, one planting, one site."""

from django.db.models import Count, Q
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_safe

from frontend.believed import believed_of, died_when, plainly_said, strip_of
from frontend.desk.causes import causes_on_tree
from frontend.desk.saving import saving_of
from frontend.field.history import (
    Event,
    age_said,
    dates_said,
    day_said,
    life_of_place,
    life_of_tree,
)
from frontend.field.public import public_of
from survey.condition.models import Belief
from survey.people.models import Person
from survey.people.policy import (
    may_do_work,
    may_look,
    may_overrule,
    may_plan_work,
    may_register_trees,
    may_see_orders,
    may_triage,
)
from survey.photos.models import Photo
from survey.trees.models import Permission, Planting, Site, Tree
from survey.trees.species import kind_of, kinds_in
from survey.workorders.holds import holds_in
from survey.workorders.models import OrderLine

MOST_PHOTOS = 8


def rights(person) -> dict[str, bool]:
    """What the templates may offer to this person."""
    return {
        "may_look": may_look(person),
        "may_register": may_register_trees(person),
        "may_work": may_do_work(person),
        "may_plan": may_plan_work(person),
        "may_triage": may_triage(person),
        "may_see_orders": may_see_orders(person),
    }


def is_metric(person) -> bool:
    return getattr(person, "units", "") == Person.Units.METRIC


def _photos(tree: Tree, *, desk: bool):
    """Accepted pictures; for the desk, which accepts them, those that still wait as well."""
    pictures = Photo.objects.filter(Q(looks__tree=tree) | Q(reports__tree=tree))
    if desk:
        pictures = pictures.filter(state="ready").exclude(shown="declined")
    else:
        pictures = pictures.open_to_all()
    return pictures.distinct().order_by("-received_at", "-pk")[:MOST_PHOTOS]


def _latest(events: list[Event]) -> Event | None:
    """The last trained look: of several on one day the one written down last."""
    looks = [event for event in events if event.kind == "look" and event.look]
    return max(looks, key=lambda event: (event.day, event.look.pk), default=None)


@require_safe
def tree(request, ref):
    """A tree's life. Anybody may read it; who is signed in sees notes, orders and more photos."""
    trees = Tree.objects.with_last_trained_look().annotate(told=Count("reports", distinct=True))
    found = get_object_or_404(
        trees.select_related("area", "site", "planting", "replaces", "replaced_by"), ref=ref
    )
    inside, desk = may_look(request.user), may_triage(request.user)
    today = found.area.today()
    belief = Belief.objects.filter(tree=found).first()
    events = life_of_tree(found, inside=inside, desk=desk, metric=is_metric(request.user))
    context = {
        "area": found.area,
        "person": request.user,
        "nav": "trees",
        "tree": found,
        "kind": kind_of(found.area, found.species),
        "events": events,
        "laid_down": next((e for e in events if e.kind == "laid_down" and not e.detail), None),
        "latest": _latest(events),
        "photos": _photos(found, desk=desk),
        "danger": holds_in(found.area).on_tree(found),
        "gauge_age": age_said(found.gauge_day, today),
        "gauge_when": day_said(found.gauge_day) if found.gauge_day else "",
        "planted": dates_said(found.planted_from, found.planted_to, found.planted_precision),
        "replaced_by": getattr(found, "replaced_by", None),
        "may_overrule": may_overrule(request.user, today),
        **rights(request.user),
    }
    saving = saving_of(found, request.user, kind=context["kind"], belief=belief)
    if not inside:
        context["alive_said"] = saving.said.sentence
        if belief is not None and not found.left:
            context |= {
                "belief": belief,
                "plainly": plainly_said(belief, state=saving.decision.state.name),
                "died_when": died_when(
                    belief, found.registered_on, state=saving.decision.state.name
                ),
            }
        context |= public_of(found, events, in_danger=bool(context["danger"]))
        return render(request, "frontend/field/tree_public.html", context)
    if belief is not None:
        believed = believed_of(found, belief, request.user)
        strip = strip_of(found, believed.why, context["kind"])
        context |= {"believed": believed, "strip": strip}
    context |= {"saving": saving, "wounds": saving.wounds}
    if not found.left:
        danger = bool(context["danger"])
        context["causes"] = causes_on_tree(found, request.user, in_danger=danger)
    lines = OrderLine.objects.filter(tree=found).select_related("order__area")
    context["lines"] = lines.order_by("-order__number", "pk")
    return render(request, "frontend/field/tree.html", context)


def _rows(place) -> list[Tree]:
    """The trees of a place in walking order, each with its species' name."""
    trees = place.trees.with_last_trained_look().select_related("site", "planting")
    kinds = kinds_in(place.area)
    rows = list(trees.in_walking_order())
    for row in rows:
        row.kind_name = kinds[row.species].name if row.species in kinds else row.species
    return rows


def _conditions(rows: list[Tree]) -> list[tuple[str, int]]:
    """How many standing trees were last seen in each condition, and how many not at all."""
    standing = [row for row in rows if not row.left]
    words = ["thriving", "holding", "slipping", "failing", "dead", ""]
    counted = [
        (word, sum((row.gauge_condition or "") == word for row in standing)) for word in words
    ]
    return [pair for pair in counted if pair[1]]


@require_safe
def planting(request, ref):
    found = get_object_or_404(Planting.objects.select_related("area"), ref=ref)
    rows = _rows(found)
    context = {
        "area": found.area,
        "person": request.user,
        "nav": "plantings",
        "planting": found,
        "planted": dates_said(found.planted_from, found.planted_to, found.planted_precision),
        "rows": rows,
        "standing": sum(not row.left for row in rows),
        "conditions": _conditions(rows),
        "sites": sorted({row.site for row in rows}, key=lambda site: site.name),
        "events": life_of_place(found, inside=may_look(request.user)),
        "today": found.area.today(),
        **rights(request.user),
    }
    return render(request, "frontend/field/planting.html", context)


@require_safe
def site(request, ref):
    found = get_object_or_404(Site.objects.select_related("area", "land_manager"), ref=ref)
    rows = _rows(found)
    inside = may_look(request.user)
    holds = holds_in(found.area)
    leaves = Permission.objects.none()
    if inside and found.land_manager:
        leaves = found.land_manager.permissions.order_by("care", "from_day")
    context = {
        "area": found.area,
        "person": request.user,
        "nav": "sites",
        "site": found,
        "rows": rows,
        "standing": sum(not row.left for row in rows),
        "conditions": _conditions(rows),
        "plantings": sorted({row.planting for row in rows}, key=lambda p: p.planted_from),
        "events": life_of_place(found, inside=inside),
        "danger": holds.on_site(found),
        "held": holds.on_any(rows),
        "leaves": leaves,
        "today": found.area.today(),
        **rights(request.user),
    }
    return render(request, "frontend/field/site.html", context)
