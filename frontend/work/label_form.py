"""A bag of fertilizer as typed: its three numbers, how much of it, and on what ground."""

import re
from collections.abc import Mapping

from django import forms
from django.utils.translation import gettext as _t
from django.utils.translation import gettext_lazy as _

from frontend.field.lengths import LONGEST_TYPED
from frontend.work.dose_form import AmountField
from survey.science import units
from survey.science.care.feeding import wrong_in_label
from survey.workorders.wordings import impossible_said
from survey.workorders.working import UNIT_SAID

FIELDS = {
    "bag_mass": "mass",
    "used_share": "used",
    "area": "area",
    "earlier_this_year": "earlier",
    "years_planted": "years",
}
"""What the science calls a number, and the field it was typed in."""
LABEL = ("nitrogen", "phosphate", "potash")
MASSES = {
    **dict.fromkeys(("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms", "kilogramos"), "kg"),
    **dict.fromkeys(("g", "gram", "grams", "gramos"), "g"),
    **dict.fromkeys(("lb", "lbs", "lb.", "lbs.", "pound", "pounds", "libra", "libras"), "lb"),
    **dict.fromkeys(("oz", "oz.", "ounce", "ounces", "onza", "onzas"), "oz"),
}
AREAS = {
    **dict.fromkeys(("m2", "m²", "sq m", "square meters", "metros cuadrados"), "m2"),
    **dict.fromkeys(("ft2", "ft²", "sq ft", "sq. ft.", "sqft", "square feet"), "ft2"),
    **dict.fromkeys(("pies cuadrados",), "ft2"),
}
WITH_UNIT = re.compile(r"(.*?[\d½¼¾⅛⅜⅝⅞])\s*([^\d\s./,-].*)")


class UnitField(AmountField):
    """A number with or without its unit; "10 kg" on a page in pounds cleans to pounds."""

    def __init__(self, *, unit: str, known: Mapping[str, str], **kwargs):
        super().__init__(**kwargs)
        self.unit, self.known = unit, known

    def to_python(self, value):
        text = " ".join(str(value if value is not None else "").lower().split())
        parted = WITH_UNIT.fullmatch(text) if len(text) <= LONGEST_TYPED else None
        if parted is None:
            return super().to_python(text)
        typed = self.known.get(parted[2])
        if typed is None:
            units_said = ", ".join(dict.fromkeys(str(UNIT_SAID[u]) for u in self.known.values()))
            raise forms.ValidationError(
                _t("Write this as a number, alone or with one of these units: %s.") % units_said
            )
        number = super().to_python(parted[1])
        return units.convert(number, typed, self.unit)


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
        self.fields["mass"] = UnitField(
            label=_("What the full bag weighs, %s") % UNIT_SAID[mass],
            unit=mass,
            known=MASSES,
            help_text=_("Another unit is fine when you write it: 10 kg, 22 lb, 12 oz."),
        )
        self.fields["used"] = UnitField(
            label=_("How much of it was used, in percent"),
            unit="percent",
            known={"%": "percent"},
            help_text=_("The whole bag is 100."),
        )
        self.fields["area"] = UnitField(
            label=_("Ground it fell on, %s") % UNIT_SAID[area], unit=area, known=AREAS
        )
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

    def clean(self):
        """All that cannot be is told at once, each at the field it was typed in."""
        typed = super().clean()
        for wrong in wrong_in_label(
            nitrogen=typed.get("nitrogen"),
            phosphate=typed.get("phosphate"),
            potash=typed.get("potash"),
            mass_kg=self._si("mass", "kg"),
            used_share=None if typed.get("used") is None else typed["used"] / 100,
            area_m2=self._si("area", "m2"),
            earlier_kg_m2=self._si("earlier", "kg/m2"),
            years_planted=typed.get("years"),
        ):
            for name in (
                LABEL if wrong.field == "label" else (FIELDS.get(wrong.field, wrong.field),)
            ):
                self.add_error(name, impossible_said(wrong.code))
        return typed

    def _si(self, name: str, unit: str) -> float | None:
        value = self.cleaned_data.get(name)
        return None if value is None else units.convert(value, self.units[name], unit)
