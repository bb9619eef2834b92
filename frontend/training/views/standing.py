"""How far somebody has come: one's own page, and for the desk everybody's."""

from dataclasses import dataclass

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from frontend.access import only
from frontend.places import home_area
from frontend.refusals import show_refusal
from frontend.training.forms import SignOffForm, TakeBackForm
from frontend.training.telling import (
    agreement_said,
    definition_said,
    sign_said,
    sign_twice_said,
    twice_said,
    walk_lacks,
    walk_said,
)
from survey.audit.models import Entry
from survey.condition.actions.training import sign_off_training, take_back_training
from survey.condition.agreement import FEWEST_PAIRS, Agreement, agreement_of
from survey.condition.training import (
    WALKS_NEEDED,
    Standing,
    WalkSeen,
    standing_of,
)
from survey.people.models import Observer, Person
from survey.people.policy import counts_as_trained, may_lead_walks, may_practice, may_sign_off
from survey.people.training import ENOUGH_RIGHT, ROUND_PICTURES, is_enough
from survey.trees.models import Site

LINES_SHOWN = 6


@dataclass(frozen=True, slots=True)
class WalkLine:
    """A paired walk as the page tells it."""

    seen: WalkSeen
    site: str
    said: str
    lacks: str


def _walk_lines(standing: Standing) -> list[WalkLine]:
    names = dict(
        Site.objects.filter(ref__in=[s.walk.where for s in standing.walks]).values_list(
            "ref", "name"
        )
    )
    return [
        WalkLine(
            seen, names.get(seen.walk.where, seen.walk.where), walk_said(seen), walk_lacks(seen)
        )
        for seen in standing.walks
    ]


def _context(request, person: Person) -> dict:
    area = home_area()
    own = person.pk == request.user.pk
    name = "" if own else person.name
    standing = standing_of(person)
    observer = Observer.objects.filter(person=person).first()
    agreement = agreement_of(observer) if observer else Agreement(0, 0, 0, None, (), ())
    return {
        "whom": person,
        "own": own,
        "standing": standing,
        "walk_lines": _walk_lines(standing),
        "rounds": [
            (number, each, is_enough(each)) for number, each in enumerate(standing.rounds, 1)
        ],
        "enough": ENOUGH_RIGHT,
        "of": ROUND_PICTURES,
        "walks_needed": WALKS_NEEDED,
        "learns": person.role == Person.Role.VOLUNTEER,
        "trained": counts_as_trained(person, area.today()),
        "agreement": agreement,
        "fewest": FEWEST_PAIRS,
        "agreement_said": agreement_said(agreement, name),
        "words_twice": [twice_said(each, name) for each in agreement.words[:LINES_SHOWN]],
        "signs_twice": _signs_twice(agreement, name),
        "may_lead": may_lead_walks(request.user, area.today()),
        "may_sign_off": may_sign_off(request.user),
        "nav": "walks",
    }


def _signs_twice(agreement: Agreement, name: str) -> list[tuple[str, str, str]]:
    """The signs that differed: label, how often and for whom, and what it looks like."""
    told: dict[str, list[str]] = {}
    for each in agreement.signs[:LINES_SHOWN]:
        told.setdefault(each.mine or each.other, []).append(sign_twice_said(each, name))
    return [
        (sign_said(code), " ".join(lines), definition_said(code)) for code, lines in told.items()
    ]


@never_cache
@require_safe
@only(may_practice)
def own(request):
    """One's own practice, walks and agreement; for the desk also who learns."""
    context = _context(request, request.user)
    if may_sign_off(request.user):
        volunteers = Person.objects.filter(role=Person.Role.VOLUNTEER, is_active=True)
        learning = volunteers.filter(trained_on=None).order_by("name", "pk")
        context["learning"] = [standing_of(person) for person in learning]
        context["signed_off"] = volunteers.exclude(trained_on=None).order_by("name", "pk")
    return render(request, "frontend/training/standing.html", context)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@only(may_sign_off)
def of(request, key: str):
    """How far one volunteer has come, with the sign-off and its taking back."""
    person = get_object_or_404(Person, key=key)
    context = _context(request, person)
    area = home_area()
    complete = context["standing"].ready_on is not None
    asked = request.POST.get("form", "")
    sign_off = SignOffForm(
        request.POST if asked == "sign_off" else None, today=area.today(), complete=complete
    )
    take_back = TakeBackForm(request.POST if asked == "take_back" else None)
    form = take_back if asked == "take_back" else sign_off
    if request.method == "POST" and form.is_bound and form.is_valid():
        given = {"person": person, "by": request.user, "at": area.now(), **form.cleaned_data}
        try:
            if asked == "sign_off":
                sign_off_training(**given)
                told = _("%s is signed off. Looks from that day on count as trained.")
            else:
                take_back_training(**given)
                told = _("Taken back. Looks of %s from now on do not count as trained.")
        except ValidationError as refusal:
            show_refusal(form, refusal)
        else:
            messages.success(request, told % person.name)
            return redirect("frontend:training-of", key)
    context |= {
        "form": form,
        "sign_off": sign_off,
        "take_back": take_back,
        "signed": _signed(person),
        "may_decide": context["learns"] and person.is_active and not context["own"],
    }
    status = 422 if form.errors else 200
    return render(request, "frontend/training/standing.html", context, status=status)


def _signed(person: Person) -> list[dict]:
    """Who signed off or took back, when and why, newest first."""
    acts = ["training.signed_off", "training.taken_back"]
    lines = Entry.objects.about(f"person:{person.key}").filter(act__in=acts).newest_first()
    keys = {line.who.removeprefix("person:") for line in lines}
    names = dict(Person.objects.filter(key__in=keys).values_list("key", "name"))
    return [
        {
            "on": line.act == "training.signed_off",
            "at": line.at,
            "who": names.get(line.who.removeprefix("person:"), line.who),
            "reason": line.detail.get("reason", ""),
        }
        for line in lines
    ]
