"""Short lengths and clock hours as they are typed in the field."""

import math
import re
from fractions import Fraction

from django import forms
from django.utils.translation import gettext_lazy as _

from frontend.field.measures import METERS_A_CENTIMETER, METERS_AN_INCH
from survey.causes.wound_words import REFUSED
from survey.science.wounds.face import HOURS

LONGEST_TYPED = 40
UNITS = {  # how a unit is written behind a number, the longer first, and what it is in meters
    **dict.fromkeys(("inches", "inch", "in.", "in", '"', "″", "pulgadas"), METERS_AN_INCH),
    **dict.fromkeys(("feet", "foot", "ft.", "ft", "'", "′", "pies"), 12 * METERS_AN_INCH),
    **dict.fromkeys(("centimeters", "centímetros", "cm.", "cm"), METERS_A_CENTIMETER),
    **dict.fromkeys(("millimeters", "milímetros", "mm"), METERS_A_CENTIMETER / 10),
    **dict.fromkeys(("meters", "metros", "m"), 100 * METERS_A_CENTIMETER),
}
MIXED = re.compile(r"(?:(\d+)\s+)?(\d+)\s*/\s*(\d+)")
SMALL = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
AT_HALF = re.compile(r"(\d{1,2}):(\d{2})")


def number_of(text: str) -> float:
    """A number as a tape shows it: "3.1", "3,1", "3 1/8", "7/8", "3½". Raises ValueError."""
    for sign, written in SMALL.items():
        text = text.replace(sign, f" {written}")
    text = " ".join(text.split())
    if mixed := MIXED.fullmatch(text):
        whole, top, bottom = (int(part or 0) for part in mixed.groups())
        if not bottom:
            raise ValueError(f"no number: {text}")
        return float(whole + Fraction(top, bottom))
    number = float(text.replace(",", "."))
    if not math.isfinite(number):
        raise ValueError(f"no number: {text}")
    return number


def decimal_input() -> forms.TextInput:
    return forms.TextInput(
        attrs={"inputmode": "decimal", "class": "is-short", "autocomplete": "off"}
    )


class LengthField(forms.Field):
    """A length in inches or centimeters, also in fractions or with its unit behind it.

    Cleans to meters, None when empty. Whether a length can be is judged by whoever records it:
    here only that it is a number.
    """

    def __init__(self, *, metric: bool, **kwargs):
        kwargs.setdefault("widget", decimal_input())
        super().__init__(required=False, **kwargs)
        self.metric = metric

    def to_python(self, value):
        text = str(value or "").strip().lower()
        if not text:
            return None
        if len(text) > LONGEST_TYPED:
            raise forms.ValidationError(REFUSED["not_a_number"])
        in_meters = METERS_A_CENTIMETER if self.metric else METERS_AN_INCH
        for unit, meters in UNITS.items():
            if text.endswith(unit):
                text, in_meters = text.removesuffix(unit).strip(), meters
                break
        try:
            number = number_of(text)
        except (ValueError, OverflowError):
            raise forms.ValidationError(
                _("Write a number, like 3.1. A unit may follow: in, ft, mm, cm or m.")
            ) from None
        return number * in_meters


class HourField(forms.Field):
    """An hour of the clock face: "3", "3:30", "10.5"; cleans to 0 (twelve) up to 12."""

    def __init__(self, **kwargs):
        kwargs.setdefault("widget", decimal_input())
        super().__init__(required=False, **kwargs)

    def to_python(self, value):
        text = str(value or "").strip()
        if not text:
            return None
        refused = forms.ValidationError(REFUSED["off_the_clock"])
        if len(text) > LONGEST_TYPED:
            raise refused
        try:
            if clock := AT_HALF.fullmatch(text):
                hour, minutes = (int(part) for part in clock.groups())
                if minutes >= 60:
                    raise refused
                number = hour + minutes / 60
            else:
                number = number_of(text)
        except (ValueError, OverflowError):
            raise forms.ValidationError(_("Write an hour from 1 to 12, like 3 or 3:30.")) from None
        if not 0 <= number < HOURS + 1:
            raise refused
        return number if number <= HOURS else number - HOURS  # 12:30 is half past twelve
