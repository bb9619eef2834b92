"""A bag of fertilizer as typed: its three numbers, how much of it, and on what ground."""

from django import forms
from django.utils.translation import gettext_lazy as _

from frontend.work.dose_form import AmountField
from survey.science import units
from survey.science.care.records import Impossible
from survey.workorders.wordings import impossible_said
from survey.workorders.working import UNIT_SAID

FIELDS = {
    "bag_mass": "mass",
    "used_share": "used",
    "area": "area",
    "earlier_this_year": "earlier",
    "label": "nitrogen",
    "years_planted": "years",
}
"""What the science calls a number, and the field it was typed in."""


class LabelForm(forms.Form):
    """All numbers in the reader's units; `given` is the same in SI."""

    def __init__(self, *args, system: units.System, **kwargs):
        super().__init__(*args, **kwargs)
        self.system = system
        mass, area, rate = ("lb", "ft2", "lb/1000ft2") if system == "us" else ("kg", "m2", "g/m2")
        self.units = {"mass": mass, "area": area, "earlier": rate}
        self.fields["nitrogen"] = AmountField(label=_("First number: nitrogen"))
        self.fields["phosphate"] = AmountField(label=_("Second number: phosphate"))
        self.fields["potash"] = AmountField(label=_("Third number: potash"))
        self.fields["mass"] = AmountField(label=_("What the full bag weighs, %s") % UNIT_SAID[mass])
        self.fields["used"] = AmountField(
            label=_("How much of it was used, in percent"), help_text=_("The whole bag is 100.")
        )
        self.fields["area"] = AmountField(label=_("Ground it fell on, %s") % UNIT_SAID[area])
        self.fields["years"] = AmountField(
            label=_("Years since the tree was planted"),
            required=False,
            help_text=_("Empty, if it was a lawn or nobody knows."),
        )
        self.fields["earlier"] = AmountField(
            label=_("Nitrogen given earlier this year, %s") % UNIT_SAID[rate], required=False
        )
        self.fields["slow_release"] = forms.BooleanField(
            label=_("The label says slow release"), required=False
        )

    def given(self) -> dict:
        """What `tell_feed` asks for, in SI."""
        typed = self.cleaned_data
        return {
            "numbers": (typed["nitrogen"], typed["phosphate"], typed["potash"]),
            "mass_kg": units.convert(typed["mass"], self.units["mass"], "kg"),
            "used_share": typed["used"] / 100,
            "area_m2": units.convert(typed["area"], self.units["area"], "m2"),
            "earlier_kg_m2": units.convert(typed["earlier"] or 0.0, self.units["earlier"], "kg/m2"),
            "slow_release": typed["slow_release"],
            "years_planted": typed["years"],
            "system": self.system,
        }

    def refuse(self, error: Impossible) -> None:
        """A number that cannot be, at the field it was typed in."""
        name = FIELDS.get(error.field, error.field)
        self.add_error(name if name in self.fields else None, impossible_said(error.code))
