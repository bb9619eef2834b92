"""Lengths in the reader's units, in and out."""

import math

from django import forms
from django.utils.formats import number_format
from django.utils.translation import gettext_lazy as _

METERS_AN_INCH = 0.0254
METERS_A_CENTIMETER = 0.01
MOST = 20  # meters round


class GirthField(forms.Field):
    """A girth typed in inches or centimeters; cleans to meters, or None when left empty."""

    def __init__(self, *, metric: bool, **kwargs):
        kwargs.setdefault(
            "widget", forms.TextInput(attrs={"inputmode": "decimal", "class": "is-short"})
        )
        super().__init__(required=False, **kwargs)
        self.metric = metric

    def to_python(self, value):
        text = str(value or "").strip().lower().replace(",", ".")
        for unit in ("inches", "inch", "in", "cm", '"', "″"):
            text = text.removesuffix(unit).strip()
        if not text:
            return None
        try:
            number = float(text)
        except ValueError:
            raise forms.ValidationError(_("Write the girth as a number, like 7.5.")) from None
        meters = number * (METERS_A_CENTIMETER if self.metric else METERS_AN_INCH)
        if not math.isfinite(meters) or meters <= 0 or meters > MOST:
            raise forms.ValidationError(
                _("A girth is more than 0 and at most 20 meters (65 feet). Check the figure.")
            )
        return meters


def unit_of(metric: bool) -> str:
    return _("cm") if metric else _("inches")


def girth_said(meters: float, metric: bool = False) -> str:
    """A girth in words, the reader's unit first: "7.5 in (19 cm)"."""
    inches = number_format(round(meters / METERS_AN_INCH, 1), use_l10n=True)
    centimeters = number_format(round(meters / METERS_A_CENTIMETER), use_l10n=True)
    words = (
        _("%(centimeters)s cm (%(inches)s in)")
        if metric
        else _("%(inches)s in (%(centimeters)s cm)")
    )
    return words % {"inches": inches, "centimeters": centimeters}
