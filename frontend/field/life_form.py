"""The form that asks one thing: is there life in this tree?"""

import uuid

from django import forms
from django.utils.translation import gettext_lazy as _

from frontend.field.forms import choice, day_field, words
from frontend.field.photos import PhotoField
from survey.science.saving.facts import PARTS
from survey.trees.models import Condition, Look, Tree

PRESENCES = [
    (Look.Presence.STANDING, Look.Presence.STANDING.label),
    (Look.Presence.SPROUTING, Look.Presence.SPROUTING.label),
]


class LifeForm(forms.Form):
    """What was found from the twigs toward the trunk. `trained` people may scratch the trunk."""

    repeat_key = forms.UUIDField(widget=forms.HiddenInput)
    twig_photo = PhotoField(label=_("Photo of the twigs"))
    base_photo = PhotoField(label=_("Photo of the base"))
    asks = False  # whether something does not agree, and nobody has said yet that it is so

    def __init__(self, *args, tree: Tree, trained: bool, **kwargs):
        super().__init__(*args, **kwargs)
        today = tree.area.today()
        self.fields["repeat_key"].initial = uuid.uuid4
        self.fields["presence"] = choice(
            _("What stands there?"), PRESENCES, radio=True, initial="standing"
        )
        self.fields["leaf"] = choice(_("Leaves"), Look.Leaf.choices, radio=True)
        labels = {
            "twig": _("1. Thin twigs, from the tip inward, on several sides"),
            "branch": _("2. A branch, only if all twigs were brown"),
            "trunk": _("3. The trunk, one window of 1/4 in (6 mm), only if all else was brown"),
        }
        for part in PARTS if trained else PARTS[:2]:
            self.fields[part] = choice(
                labels[part], Look.Scratch.choices, required=False, radio=True
            )
        self.fields["shoots"] = forms.BooleanField(
            label=_("Shoots come from the base"), required=False
        )
        self.fields["condition"] = choice(
            _("How is it doing?"), Condition.choices, required=False, radio=True
        )
        self.fields["condition"].choices = Condition.choices
        self.fields["note"] = words(_("Note"))
        self.fields["as_it_is"] = forms.BooleanField(
            label=_("Yes, save it as it is"), required=False
        )
        self.fields["day"] = day_field(_("Day of the look"), today=today, initial=today)

    def clean(self):
        given = super().clean()
        given["scratched"] = {part: given[part] for part in PARTS if given.get(part)}
        green = "green" in given["scratched"].values()
        if given.get("condition") == Condition.DEAD and green:
            self.add_error("condition", _("Something was green, so it lives today."))
        if given.get("condition") == Condition.DEAD and given.get("leaf") in ("full", "partial"):
            self.add_error("condition", _("It has leaves, so it lives today."))
        told = given.get("condition") or given.get("leaf") == Look.Leaf.BARE
        if not told and "condition" not in self.errors:
            self.add_error("condition", _("Say how it is doing, or that it is bare."))
        if not self.errors and _is_odd(given) and not given.get("as_it_is"):
            self.asks = True
            self.add_error(
                "as_it_is",
                _(
                    "These do not agree: everything that was scratched is brown, and the tree has "
                    "leaves or is doing well. Save it as it is?"
                ),
            )
        return given

    @property
    def shows_confirm(self) -> bool:
        """Whether the box that confirms what does not agree stands on the page."""
        return self.asks or bool(self.data.get("as_it_is"))

    def scratches(self):
        """The scratches in the order in which they are made."""
        return [self[part] for part in PARTS if part in self.fields]


def _is_odd(given) -> bool:
    """Brown wherever it was scratched, and yet in leaf or well. One brown twig is no contradiction;
    a tree brown all over cannot live at all."""
    colors = list(given["scratched"].values())
    if len(colors) < 2 or set(colors) != {Look.Scratch.BROWN}:
        return False
    if len(colors) == len(PARTS) and given.get("condition") not in ("", Condition.DEAD):
        return True
    well = (Condition.THRIVING, Condition.HOLDING)
    return given.get("leaf") in (Look.Leaf.FULL, Look.Leaf.PARTIAL) or (
        given.get("condition") in well
    )
