"""A visit that asks whether a tree lives: the first or the second of the two that decide."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from frontend.access import only
from frontend.field.errors import put_errors
from frontend.field.life_form import LifeForm
from frontend.field.photos import photos_of
from frontend.field.views.looks import FORM, _frame, _tree
from survey.causes.actions.check_life import check_life
from survey.causes.saving import decision_of
from survey.causes.saving_words import said_of
from survey.people.actions import observer_of
from survey.people.policy import counts_as_trained, may_look
from survey.photos.models import Photo
from survey.trees.models import Look, Tree


@only(may_look)
@require_http_methods(FORM)
def life(request, ref):
    """Scratch in order, leaves, shoots, photos of twigs and base; what is still needed on top."""
    tree = _tree(ref)
    trained = counts_as_trained(request.user, tree.area.today())
    form = LifeForm(request.POST or None, request.FILES or None, tree=tree, trained=trained)
    kept = []
    if request.method == "POST":
        valid = form.is_valid()
        parts = {"twig_photo": Photo.Part.CLOSE, "base_photo": Photo.Part.BASE}
        day = form.cleaned_data.get("day")
        kept = photos_of(request, form, parts, tree.area.now(), taken_on=day)
        if valid and not form.errors and _record(request, form, tree, kept):
            said = said_of(decision_of(tree))
            messages.success(request, _("Written down. %s") % said.sentence)
            return redirect("frontend:tree", tree.ref)
    said = said_of(decision_of(tree))
    context = _frame(request, tree, form=form, kept=kept, said=said)
    return render(request, "frontend/field/life.html", context)


def _record(request, form: LifeForm, tree: Tree, photos: list[Photo]) -> bool:
    given, person = form.cleaned_data, request.user
    try:
        check_life(
            tree=tree,
            observer=observer_of(person),
            trained=counts_as_trained(person, given["day"]),
            day=given["day"],
            channel=Look.Channel.CREW if person.role == "crew" else Look.Channel.WALK,
            presence=given["presence"],
            leaf=given["leaf"],
            condition=given["condition"],
            scratched=given["scratched"],
            shoots=given["shoots"],
            photos=photos,
            note=given["note"],
            repeat_key=f"life:{given['repeat_key']}",
            by=person,
            at=tree.area.now(),
        )
    except ValidationError as refused:
        put_errors(form, refused)
        return False
    return True
