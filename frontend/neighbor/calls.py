"""Whom to call about a danger, in which order, in this town."""

from dataclasses import dataclass

from django.conf import settings
from django.utils.translation import gettext as _

from survey.handbook.records import Danger
from survey.trees.models import Area


@dataclass(frozen=True, slots=True)
class Call:
    """One telephone number and when to use it."""

    said: str
    number: str

    @property
    def href(self) -> str:
        return "tel:" + "".join(
            letter for letter in self.number if letter.isdigit() or letter == "+"
        )


def calls_for(area: Area, danger: Danger) -> list[Call]:
    """The numbers in the order to call them; the first is always there."""
    emergency = area.emergency_number or settings.EMERGENCY_NUMBER
    if danger.door == "emergency":
        calls = [Call(_("Call first"), emergency)]
        if area.utility_line:
            words = (
                _("Then the power company")
                if danger.code == "wire"
                else _("Is a wire near? Then the power company")
            )
            calls.append(Call(words, area.utility_line))
        return calls
    hazard = area.hazard_line or settings.HAZARD_LINE
    calls = []
    if hazard:
        department = area.department or area.name
        calls.append(
            Call(
                _("%(department)s hazard line, %(hours)s")
                % {"department": department, "hours": area.hazard_hours}
                if area.hazard_hours
                else _("%(department)s hazard line") % {"department": department},
                hazard,
            )
        )
    if area.hazard_fallback:
        calls.append(
            Call(_("Closed, or no answer?") if hazard else _("Call"), area.hazard_fallback)
        )
    calls.append(
        Call(
            _("Could it hurt somebody right now?") if calls else _("Call now"),
            emergency,
        )
    )
    return calls


def keep_back_words(danger: Danger) -> str:
    """How far to stand away, in the few words that fit a drawing: the distance that is larger."""
    if danger.keep_back_tree_heights:
        if danger.keep_back_tree_heights == 2:
            return _("two tree heights")
        return _("%d tree heights") % danger.keep_back_tree_heights
    return _("%d ft or more") % (danger.keep_back_feet or 0)
