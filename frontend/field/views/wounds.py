"""Measuring the wounds of a tree: one form, as many wounds as there are, without JavaScript."""

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Max
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from frontend.access import only
from frontend.field.errors import put_errors
from frontend.field.photos import photos_of
from frontend.field.views.looks import FORM, _frame, _tree
from frontend.field.views.pages import is_metric
from frontend.field.wound_forms import WoundsForm
from survey.causes.actions.measure_wound import MOST_WOUNDS, measure_wounds
from survey.causes.actions.note_graft import note_graft
from survey.causes.wound_words import wound_said
from survey.causes.wounds import looks_for_wounds, wounds_of
from survey.people.actions import observer_of
from survey.people.policy import counts_as_trained, may_look
from survey.photos.models import Photo
from survey.trees.measured import WoundMeasure
from survey.trees.models import Look, Tree


@only(may_look)
@require_http_methods(FORM)
def wounds(request, ref):
    """Measure the wounds of a tree; the wounds measured last time come first."""
    tree = _tree(ref)
    known = wounds_of(tree, looks_for_wounds(tree), tree.area.today())
    before = [seen for stem in known.stems for seen in stem.wounds]
    more = request.method == "POST" and "more" in request.POST
    form = WoundsForm(
        request.POST or None,
        request.FILES or None,
        tree=tree,
        person=request.user,
        count=_count(request, more=more),
        before=before,
        numbers=_numbers(tree),
    )
    kept = []
    if more:
        form = _unjudged(form)
    elif request.method == "POST":
        valid = form.is_valid()
        day = form.cleaned_data.get("day")
        parts = {"base_photo": Photo.Part.BASE}
        kept = photos_of(request, form, parts, tree.area.now(), taken_on=day)
        if valid and not form.errors and _record(request, form, tree, kept):
            messages.success(request, _("The wounds of %s are written down.") % tree)
            return redirect("frontend:tree", tree.ref)
    metric = is_metric(request.user)
    rows = [
        {"row": row, "before": row.before and wound_said(row.before, metric=metric)}
        for row in form.wounds()
    ]
    context = _frame(
        request, tree, form=form, kept=kept, rows=rows, may_add=form.count < MOST_WOUNDS
    )
    context["last"] = known.look if known.is_measured else None
    return render(request, "frontend/field/wounds.html", context)


@only(may_look)
@require_POST
def graft(request, ref):
    """Whether the tree was grafted, as a trained person says."""
    tree = _tree(ref)
    said = request.POST.get("grafted", "")
    if said not in ("yes", "no"):
        messages.warning(request, _("Choose one of the two answers."))
        return redirect("frontend:tree", tree.ref)
    note_graft(
        tree=tree,
        grafted=said == "yes",
        day=tree.area.today(),
        by=request.user,
        at=tree.area.now(),
    )
    messages.success(request, _("That is written down."))
    return redirect("frontend:tree", tree.ref)


def _count(request, *, more: bool) -> int:
    """How many wounds the form has room for: what was sent, and one more if asked."""
    sent = request.POST.get("rows", "1")
    count = int(sent) if sent.isdecimal() and len(sent) < 4 else 1
    return count + 1 if more else count


def _unjudged(form: WoundsForm) -> WoundsForm:
    """The same form with one more wound, all that was typed and no error yet."""
    data = form.data.copy()
    data["rows"] = str(form.count)
    data[f"rim_{form.count}"], data[f"stem_{form.count}"] = "unseen", "1"
    form.data = data
    form._errors = {}
    form.cleaned_data = {}
    return form


def _numbers(tree: Tree) -> dict[int, int]:
    """The highest number that a wound of each stem has ever had: a new wound takes the next."""
    rows = WoundMeasure.objects.filter(look__tree=tree).values("stem").annotate(most=Max("number"))
    return {row["stem"]: row["most"] for row in rows}


def _record(request, form: WoundsForm, tree: Tree, photos: list[Photo]) -> bool:
    given, person = form.cleaned_data, request.user
    try:
        measure_wounds(
            tree=tree,
            observer=observer_of(person),
            trained=counts_as_trained(person, given["day"]),
            day=given["day"],
            channel=Look.Channel.CREW if person.role == "crew" else Look.Channel.WALK,
            condition=given["condition"],
            leaf=given["leaf"],
            scratch=given["scratch"],
            shoots=given["shoots"],
            wounds=given["measured"],
            photos=photos,
            note=given["note"],
            repeat_key=f"wounds:{given['repeat_key']}",
            by=person,
            at=tree.area.now(),
        )
    except ValidationError as refused:
        put_errors(form, refused, form.names_of_errors())
        return False
    return True
