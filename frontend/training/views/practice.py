"""Rounds of telling look-alikes apart, and what was said in them."""

from dataclasses import dataclass

from django.contrib import messages
from django.core.exceptions import PermissionDenied, ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from frontend.access import only
from frontend.places import home_area
from frontend.refusals import show_refusal
from frontend.training.forms import PracticeForm
from survey.handbook.book import book
from survey.handbook.records import PracticeItem
from survey.people.models import PracticeRound
from survey.people.policy import may_practice, may_see_training_of
from survey.people.training import (
    ENOUGH_RIGHT,
    AlreadyKept,
    finish_round,
    is_enough,
    pictures_of_round,
    rounds_of,
)

NO_ROUND = -1


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@only(may_practice)
def practice(request):
    """The next round of pictures. A round that was sent twice shows what was kept."""
    person, area = request.user, home_area()
    done = rounds_of(person)
    pictures = pictures_of_round(person, done)
    form = PracticeForm(request.POST or None, pictures=pictures)
    if request.method == "POST":
        earlier = _number(request.POST.get("earlier", ""))
        if (form.is_valid() and earlier == done) or 0 <= earlier < done:
            try:
                kept = finish_round(
                    person=person,
                    earlier=earlier,
                    said=form.cleaned_data if earlier == done else {},
                    by=person,
                    at=area.now(),
                )
            except AlreadyKept as again:
                messages.info(request, _("That round was kept already. This is what you said."))
                return redirect("frontend:practice-round", again.kept.pk)
            except ValidationError as refusal:
                show_refusal(form, refusal)
            else:
                return redirect("frontend:practice-round", kept.pk)
        elif earlier != done:
            form.add_error(None, _("That round has not begun. This is the next one."))
    context = {
        "form": form,
        "questions": form.questions(pictures),
        "earlier": done,
        "enough": ENOUGH_RIGHT,
        "nav": "walks",
    }
    status = 422 if form.errors else 200
    return render(request, "frontend/training/practice.html", context, status=status)


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 else NO_ROUND


@dataclass(frozen=True, slots=True)
class Answered:
    """One picture of a finished round. `item` is None when the handbook no longer has it."""

    item: PracticeItem | None
    said: str
    right: bool
    grounds: tuple[str, ...]


def _answered(answer: dict) -> Answered:
    item = book().practice.get(answer["item"])
    if item is None:
        return Answered(None, "", answer["right"], ())
    picked = next((c.says for c in item.choices if c.code == answer["said"]), "")
    return Answered(item, picked, answer["right"], book().grounds(item))


@never_cache
@require_safe
@only(may_practice)
def finished(request, pk: int) -> HttpResponse:
    """What was said in a round, what it was, and why. Nobody else but the desk sees it."""
    kept = get_object_or_404(PracticeRound.objects.select_related("person"), pk=pk)
    if not may_see_training_of(request.user, kept.person):
        raise PermissionDenied
    context = {
        "kept": kept,
        "answers": [_answered(answer) for answer in kept.answers],
        "own": kept.person_id == request.user.pk,
        "is_enough": is_enough(kept),
        "enough": ENOUGH_RIGHT,
        "nav": "walks",
    }
    return render(request, "frontend/training/finished.html", context)
