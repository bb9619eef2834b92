"""Writing down what was seen of a tree, and what was done to it."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from frontend.access import only
from frontend.field.doubts import came_from
from frontend.field.errors import put_errors
from frontend.field.forms import (
    AcceptanceForm,
    CareForm,
    DepartureForm,
    HappeningForm,
    LookForm,
    ReturnForm,
)
from frontend.field.measures import METERS_A_CENTIMETER, METERS_AN_INCH
from frontend.field.photos import photos_of
from frontend.field.views.pages import is_metric
from frontend.field.views.walks import next_on_walk
from survey.people.actions import observer_of
from survey.people.models import Person
from survey.people.policy import (
    counts_as_trained,
    may_do_work,
    may_enter_for_others,
    may_look,
    may_plan_work,
)
from survey.photos.models import Photo
from survey.trees.actions.look import (
    record_acceptance,
    record_care,
    record_happening,
    record_look,
)
from survey.trees.actions.register import record_departure, withdraw_departure
from survey.trees.dates import bounds_of
from survey.trees.models import Look, Planting, Site, Tree
from survey.trees.species import kind_of
from survey.workorders.holds import held_by

FORM = ["GET", "HEAD", "POST"]


def _tree(ref: str) -> Tree:
    trees = Tree.objects.with_last_trained_look().select_related("area", "site", "planting")
    return get_object_or_404(trees, ref=ref)


def _frame(request, tree: Tree, **more) -> dict:
    return {
        "area": tree.area,
        "person": request.user,
        "nav": "walks",
        "tree": tree,
        "kind": kind_of(tree.area, tree.species),
        "danger": held_by(tree),
        **more,
    }


def _observers(person: Person) -> list[tuple[str, str]]:
    """Whose looks this person may write down: their own; staff also those of others."""
    if not may_enter_for_others(person):
        return []
    others = Person.objects.filter(is_active=True).exclude(pk=person.pk).order_by("name")
    return [
        (person.key, _("me")),
        *((other.key, other.name) for other in others if may_look(other)),
    ]


def _corrected(request, tree: Tree) -> Look | None:
    """The look that this form corrects, if it names one that the person may correct."""
    key = request.GET.get("correct", "")
    if not key:
        return None
    if not key.isdecimal() or len(key) > 18:
        raise Http404
    look = get_object_or_404(
        Look.objects.standing_record().select_related("observer__person"), pk=key, tree=tree
    )
    if not (may_enter_for_others(request.user) or look.observer.person_id == request.user.pk):
        raise PermissionDenied
    return look


def _as_typed(look: Look, *, metric: bool) -> dict:
    """A look as the form shows it, to be put right."""
    unit = METERS_A_CENTIMETER if metric else METERS_AN_INCH
    typed = {
        "presence": look.presence,
        "condition": look.condition,
        "leaf": look.leaf,
        "scratch": look.scratch,
        "note": look.note,
        "day": look.day,
        "channel": look.channel,
        "signs": [],
    }
    for seen in look.signs.all():
        typed["signs"].append(seen.sign)
        typed[f"extent_{seen.sign}"], typed[f"side_{seen.sign}"] = seen.extent, seen.side
    for measure in look.measures.all():
        typed[f"girth{measure.stem}"] = round(measure.girth_m / unit, 2)
    return typed


@only(may_look)
@require_http_methods(FORM)
def look(request, ref):
    """What was seen of a tree. `?walk=1` goes on to the next tree, `?correct=` mends a look."""
    tree = _tree(ref)
    person = request.user
    old = _corrected(request, tree)
    observers = _observers(person) if old is None else []
    initial = _as_typed(old, metric=is_metric(person)) if old else {}
    if channel := request.GET.get("channel", ""):
        initial["channel"] = channel
    form = LookForm(
        request.POST or None,
        request.FILES or None,
        tree=tree,
        person=person,
        observers=observers,
        initial=initial,
    )
    if old is not None and old.channel not in dict(form.fields["channel"].choices):
        form.fields["channel"].choices = [(old.channel, old.get_channel_display())]
    kept = []
    if request.method == "POST":
        valid = form.is_valid()
        parts = {"whole_photo": Photo.Part.WHOLE, "base_photo": Photo.Part.BASE}
        day = form.cleaned_data.get("day")
        kept = photos_of(request, form, parts, tree.area.now(), taken_on=day)
        if valid and not form.errors and _record(request, form, tree, old, kept):
            return _after_look(request, tree)
    context = _frame(request, tree, form=form, kept=kept, old=old, walking="walk" in request.GET)
    context["back_to_list"] = came_from(request)
    return render(request, "frontend/field/look.html", context)


def _record(request, form, tree: Tree, old: Look | None, photos: list[Photo]) -> bool:
    given, person = form.cleaned_data, request.user
    if old is not None:
        observer, trained = old.observer, old.trained
        photos = [*old.photos.all(), *photos]
    else:
        seer = person
        if given.get("observer"):
            seer = Person.objects.get(key=given["observer"])
        observer, trained = observer_of(seer), counts_as_trained(seer, given["day"])
    try:
        record_look(
            tree=tree,
            observer=observer,
            trained=trained,
            day=given["day"],
            channel=given["channel"],
            presence=given["presence"],
            condition=given["condition"],
            leaf=given["leaf"],
            scratch=given["scratch"],
            signs=given["seen"],
            girths_m=given["girths_m"],
            photos=photos,
            note=given["note"],
            supersedes=old,
            repeat_key=f"look:{given['repeat_key']}",
            by=person,
            at=tree.area.now(),
        )
    except ValidationError as refused:
        put_errors(form, refused, {"girths": "girth1"})
        return False
    return True


def _after_look(request, tree: Tree):
    messages.success(request, _("%s is written down.") % tree)
    if address := came_from(request):
        return redirect(address)
    if "walk" not in request.GET:
        return redirect("frontend:tree", tree.ref)
    following = next_on_walk(tree)
    if following is None:
        messages.success(request, _("That was the last tree of this walk. Thank you."))
        return redirect("frontend:walk", tree.site.ref)
    response = redirect("frontend:look", following.ref)
    response["Location"] += "?walk=1"
    return response


@only(may_look)
@require_http_methods(FORM)
def acceptance(request, ref):
    """The look at delivery or planting: four sides of the base, root flare, ties, yes or no."""
    tree = _tree(ref)
    form = AcceptanceForm(request.POST or None, request.FILES or None, area=tree.area)
    kept = []
    if request.method == "POST":
        valid = form.is_valid()
        parts = {"base_photo": Photo.Part.BASE}
        day = form.cleaned_data.get("day")
        kept = photos_of(request, form, parts, tree.area.now(), taken_on=day)
        if valid and not form.errors:
            given = form.cleaned_data
            try:
                record_acceptance(
                    tree=tree,
                    observer=observer_of(request.user),
                    trained=counts_as_trained(request.user, given["day"]),
                    day=given["day"],
                    bases=form.bases(),
                    flare=given["flare"],
                    ties=given["ties"],
                    accepted=given["accepted"] == "yes",
                    reason=given["reason"],
                    condition=given["condition"],
                    photos=kept,
                    note=given["note"],
                    by=request.user,
                    at=tree.area.now(),
                )
            except ValidationError as refused:
                put_errors(form, refused)
            else:
                messages.success(request, _("%s is written down.") % tree)
                return redirect("frontend:tree", tree.ref)
    return render(
        request, "frontend/field/acceptance.html", _frame(request, tree, form=form, kept=kept)
    )


@only(may_do_work)
@require_http_methods(FORM)
def care(request, ref):
    """Care that a tree has had, also long ago."""
    tree = _tree(ref)
    form = CareForm(request.POST or None, area=tree.area)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        start, end = bounds_of(given["given"], given["precision"])
        try:
            record_care(
                tree=tree,
                care=given["care"],
                given_from=start,
                given_to=end,
                given_precision=given["precision"],
                dose=given["dose"],
                by_whom=given["by_whom"],
                note=given["note"],
                by=request.user,
                at=tree.area.now(),
            )
        except ValidationError as refused:
            put_errors(form, refused, {"given_from": "given", "given_to": "given"})
        else:
            messages.success(request, _("The care of %s is written down.") % tree)
            return redirect("frontend:tree", tree.ref)
    title = _("What was done to %s?") % tree
    context = _frame(request, tree, form=form, title=title)
    return render(request, "frontend/field/simple_form.html", context)


@only(may_do_work)
@require_http_methods(FORM)
def departure(request, ref):
    """The tree is no longer there: how it left, and between which days."""
    tree = _tree(ref)
    if tree.left:
        return _return(request, tree)
    initial = {"left_from": tree.gauge_day or tree.planted_from}
    form = DepartureForm(request.POST or None, area=tree.area, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            record_departure(tree=tree, by=request.user, at=tree.area.now(), **form.cleaned_data)
        except ValidationError as refused:
            put_errors(form, refused)
        else:
            messages.success(request, _("It is written down how %s left.") % tree)
            return redirect("frontend:tree", tree.ref)
    title = _("How did %s leave?") % tree
    context = _frame(request, tree, form=form, title=title)
    return render(request, "frontend/field/simple_form.html", context)


def _return(request, tree: Tree):
    if not may_plan_work(request.user):
        raise PermissionDenied
    form = ReturnForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            withdraw_departure(
                tree=tree, why=form.cleaned_data["why"], by=request.user, at=tree.area.now()
            )
        except ValidationError as refused:
            put_errors(form, refused)
        else:
            messages.success(request, _("%s is on the list again.") % tree)
            return redirect("frontend:tree", tree.ref)
    title = _("Is %s still there after all?") % tree
    context = _frame(request, tree, form=form, title=title)
    return render(request, "frontend/field/simple_form.html", context)


PLACES = {"tree": Tree, "site": Site, "planting": Planting}


@only(may_look)
@require_http_methods(FORM)
def happening(request, kind, ref):
    """Something that happened at a tree, a site or a planting."""
    place = get_object_or_404(PLACES[kind].objects.select_related("area"), ref=ref)
    form = HappeningForm(request.POST or None, area=place.area)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            record_happening(
                place=place,
                kind=given["kind"],
                from_day=given["from_day"],
                to_day=given["to_day"] or given["from_day"],
                note=given["note"],
                by=request.user,
                at=place.area.now(),
            )
        except ValidationError as refused:
            put_errors(form, refused)
        else:
            messages.success(request, _("That is written down."))
            return redirect(f"frontend:{kind}", place.ref)
    context = {
        "area": place.area,
        "person": request.user,
        "nav": f"{kind}s",
        "form": form,
        "title": _("What happened at %s?") % place,
        "place": place,
        "back": kind,
    }
    return render(request, "frontend/field/simple_form.html", context)
