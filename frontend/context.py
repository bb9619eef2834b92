"""What every page knows: the home area, who is signed in, and which doors are open to them."""

from django.db import DatabaseError
from django.urls import reverse
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext as _

from survey.people.policy import (
    may_look,
    may_read_survival,
    may_see_operations,
    may_see_orders,
    may_triage,
)
from survey.trees.models import Area


def home_area() -> Area | None:
    """The town or neighborhood this house works for; None before it is set up."""
    return Area.objects.filter(is_home=True).first()


def _area_or_nothing() -> Area | None:
    """For pages that must appear whatever is broken, such as an error page."""
    try:
        return home_area()
    except DatabaseError:
        return None


def doors_of(person) -> list[dict[str, str]]:
    """The sections of the staff pages that this person may open: key, name and address."""
    doors = [
        ("queue", _("Queue"), may_triage),
        ("findings", _("Findings"), may_triage),
        ("orders", _("Orders"), may_see_orders),
        ("walks", _("Walks"), may_look),
        ("trees", _("Trees"), may_read_survival),
        ("plantings", _("Plantings"), may_read_survival),
        ("sites", _("Sites"), may_read_survival),
        ("survival", _("Survival"), may_read_survival),
        ("trends", _("Trends"), may_read_survival),
        ("handbook", _("Handbook"), may_read_survival),
        ("operations", _("Operations"), may_see_operations),
    ]
    return [
        {"key": key, "name": name, "url": reverse(f"frontend:{key}")}
        for key, name, may in doors
        if may(person)
    ]


def house(request):
    """`area`, `person` and `doors` for every template, worked out only where they are used."""
    person = getattr(request, "user", None)
    return {
        "area": SimpleLazyObject(_area_or_nothing),
        "person": person,
        "doors": SimpleLazyObject(lambda: doors_of(person)),
    }
