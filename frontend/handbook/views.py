"""The pages on which anybody reads the handbook."""

from collections.abc import Iterable

from django.shortcuts import redirect, render
from django.utils.translation import get_language
from django.views.decorators.http import require_safe

from frontend.context import home_area
from frontend.handbook import telling
from frontend.handbook.chapters import BY_KEY, CHAPTERS, SHELVES, address_of, index
from frontend.handbook.hazards import groups_of, ways_of
from survey.causes.local import SHELVES as RULED
from survey.causes.local import rules_in_force
from survey.handbook.book import book
from survey.handbook.causes import Cause
from survey.people.policy import may_rule_locally
from survey.trees.models import Area


def show(request, page: str, context: dict, *, status: int = 200):
    """One page of the handbook; `area` is the home area, or None before it is set up."""
    area = context["area"]
    context |= {
        "chapters": CHAPTERS,
        "hemisphere": area.hemisphere if area else "north",
        "climate": area.climate if area else "temperate",
        "units": area.units if area else "us",
        "now": area.today().month if area else None,
        "may_rule": area is not None and may_rule_locally(request.user, area.today()),
        "spanish": (get_language() or "en").startswith("es"),
    }
    return render(request, f"frontend/handbook/{page}.html", context, status=status)


def not_in_it(request):
    """The handbook has no entry of this name: say so, and where to look."""
    return show(request, "no_such_entry", {"area": home_area()}, status=404)


@require_safe
def contents(request):
    return show(request, "contents", {"area": home_area(), "causes": _by_kind()})


def _by_kind() -> list[tuple[str, list[Cause]]]:
    return [
        (str(name), [cause for cause in book().causes.values() if cause.kind == kind])
        for kind, name in telling.KINDS.items()
        if any(cause.kind == kind for cause in book().causes.values())
    ]


@require_safe
def chapter(request, name: str):
    """A chapter with all its entries, or for causes and care the list of them."""
    found = BY_KEY.get(name)
    if found is None:
        return not_in_it(request)
    area = home_area()
    context = {"area": area, "chapter": found, "book": book()}
    about = next((kind for kind, shelf in RULED.items() if shelf in found.shelves), None)
    if about and name in ("signs", "species"):
        context |= {"about": about.value, "rules": rules_in_force(area, about)}
    if name == "causes":
        context["causes"] = _by_kind()
    elif name == "signs":
        context["entries"] = [(sign, _causes_with(sign.code)) for sign in book().signs.values()]
    elif name == "clues":
        context["clues"] = [(clue, _causes_weighing({clue.code})) for clue in book().clues.values()]
    elif name == "hazards":
        context |= {"ways": ways_of(book()), "groups": groups_of(book())}
    elif name == "advice":
        context["kinds"] = [
            (kind, [advice for advice in book().advice.values() if advice.kind == kind])
            for kind in ("do_not", "tell_us", "today")
        ]
    return show(request, f"chapter_{name}", context)


def _causes_weighing(clues: Iterable[str]) -> list[tuple[Cause, bool]]:
    """Causes that these clues say something of, and whether they speak for it."""
    wanted = set(clues)
    return [
        (cause, weighed.weight > 0)
        for cause in book().causes.values()
        for weighed in cause.clues
        if weighed.clue in wanted
    ]


def _causes_with(sign: str) -> list[Cause]:
    """Causes that a sign speaks for."""
    clues = {clue.code for clue in book().clues.values() if clue.sign == sign}
    found = dict.fromkeys(cause.code for cause, speaks_for in _causes_weighing(clues) if speaks_for)
    return [book().causes[code] for code in found]


@require_safe
def cause(request, code: str):
    """One cause: how it shows, what parts it from others, how to check, what to do and not."""
    found = book().causes.get(code)
    if found is None:
        return not_in_it(request)
    area = home_area()
    speaks_for, against = telling.for_and_against(found)
    cares = [book().care[care] for care in found.care]
    context = {
        "area": area,
        "cause": found,
        "kind": telling.KINDS[found.kind],
        "often": telling.OFTEN[found.often],
        "speaks_for": speaks_for,
        "speaks_against": against,
        "checks": [book().checks[check] for check in found.checks],
        "alikes": telling.look_alikes_of(found),
        "cares": cares,
        "cautions": telling.cautions_of(*cares),
        "disputes": [d for d in book().disputes.values() if code in d.causes],
        **_rules(area, "cause", code),
    }
    return show(request, "cause", context)


@require_safe
def care(request, code: str):
    """One kind of care: dose, window, who may, cautions, refusals, and what follows."""
    found = book().care.get(code)
    if found is None:
        return not_in_it(request)
    area = home_area()
    context = {
        "area": area,
        "care": found,
        "cautions": telling.cautions_of(found),
        "causes": [cause for cause in book().causes.values() if code in cause.care],
        "disputes": [d for d in book().disputes.values() if code in d.care],
        "open_months": found.open_months(area.climate if area else "temperate"),
        **_rules(area, "care", code),
    }
    return show(request, "care", context)


def _rules(area: Area | None, about: str, code: str) -> dict:
    return {"about": about, "code": code, "rules": rules_in_force(area, about, [code]).get(code)}


@require_safe
def entry(request, shelf: str, code: str):
    """The one address of every entry: leads to wherever it can be read."""
    if shelf not in SHELVES or code not in getattr(book(), shelf):
        return not_in_it(request)
    return redirect(address_of(shelf, code))


@require_safe
def a_to_z(request):
    return show(request, "a_to_z", {"area": home_area(), "letters": index()})
