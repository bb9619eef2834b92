"""Paired walks: written down, and what both saw of the same trees side by side."""

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from frontend.access import only
from frontend.places import home_area
from frontend.refusals import show_refusal
from frontend.training.forms import WalkForm
from frontend.training.telling import row_of, signs_to_see_again, walk_lacks, walk_said
from survey.condition.actions.training import drop_paired_walk, note_paired_walk
from survey.condition.training import walk_seen
from survey.people.models import PairedWalk
from survey.people.policy import may_lead_walks, may_practice, may_see_training_of, may_sign_off
from survey.trees.models import Site, Tree


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@only(may_practice)
def new(request):
    """Write down a walk: staff for any two, a trained volunteer for their own."""
    area = home_area()
    if not may_lead_walks(request.user, area.today()):
        raise PermissionDenied
    initial = {"person": request.GET.get("person", "").replace("\0", "")[:12]}
    form = WalkForm(request.POST or None, by=request.user, area=area, initial=initial)
    if request.method == "POST" and form.is_valid():
        given = dict(form.cleaned_data)
        partner = given.pop("partner", request.user)
        try:
            walk = note_paired_walk(**given, partner=partner, by=request.user, at=area.now())
        except ValidationError as refusal:
            show_refusal(form, refusal)
        except PermissionDenied:  # trained now, and not yet on that day
            form.add_error("day", _("You were not trained on that day yet."))
        else:
            messages.success(request, _("The walk is written down."))
            return redirect("frontend:paired-walk", walk.pk)
    status = 422 if form.errors else 200
    context = {"form": form, "nav": "walks"}
    return render(request, "frontend/training/walk_new.html", context, status=status)


@never_cache
@require_safe
@only(may_practice)
def walk(request, pk: int):
    """What the two saw of the same trees that day. For them and the desk."""
    kept = get_object_or_404(PairedWalk.objects.select_related("person", "partner"), pk=pk)
    sees = may_see_training_of(request.user, kept.person)
    if not (sees or request.user.pk == kept.partner_id):
        raise PermissionDenied
    seen = walk_seen(kept)
    trees = Tree.objects.in_bulk([pair.mine.tree for pair in seen.pairs])
    context = {
        "walk": kept,
        "site": Site.objects.filter(ref=kept.where).first(),
        "seen": seen,
        "said": walk_said(seen),
        "lacks": walk_lacks(seen),
        "rows": [row_of(pair, trees[pair.mine.tree]) for pair in seen.pairs],
        "signs": signs_to_see_again(seen.pairs, kept.person.name, kept.partner.name),
        "may_drop": may_sign_off(request.user),
        "sees_training": sees,
        "nav": "walks",
    }
    return render(request, "frontend/training/walk.html", context)


@require_POST
@only(may_sign_off)
def drop(request, pk: int):
    """Take out a walk that was written down by mistake."""
    kept = get_object_or_404(PairedWalk.objects.select_related("person"), pk=pk)
    drop_paired_walk(walk=kept, by=request.user, at=home_area().now())
    messages.success(request, _("The walk is taken out. The looks of that day stay."))
    return redirect("frontend:training-of", kept.person.key)
