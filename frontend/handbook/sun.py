"""The sun on a trunk: which side it burns here, when a coat is due, what an opened crown does."""

import math
from dataclasses import dataclass

from django import forms
from django.shortcuts import render
from django.urls import path
from django.utils.dates import MONTHS
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from frontend.drawings.drawn import Drawn
from frontend.drawings.trunk_sun import listed, side_name, sun_from_above, sun_hours, sun_year
from frontend.places import home_area
from survey.science.sun.heat import (
    CoatWindow,
    coat_window,
    hottest_side,
    opened,
    sunny_sides,
)
from survey.science.sun.trunk import Crown, month_load

FEET = 0.3048
LETS_BY = {  # shares of light without a source: they compare crowns, they measure none
    "none": None,
    "thin": 0.5,
    "full": 0.15,
}
MOST_METERS = 30.0


class SunForm(forms.Form):
    """A month, a latitude, and the crown above the trunk before and after it was opened."""

    month = forms.TypedChoiceField(
        label=gettext_lazy("Month"), choices=list(MONTHS.items()), coerce=int
    )
    latitude = forms.FloatField(
        label=gettext_lazy("Latitude, degrees; south is below 0"),
        min_value=-66,
        max_value=66,
        widget=forms.NumberInput(attrs={"step": "0.1", "class": "is-short"}),
        error_messages={
            "min_value": gettext_lazy("This page knows latitudes from -66 to 66."),
            "max_value": gettext_lazy("This page knows latitudes from -66 to 66."),
        },
    )
    before = forms.ChoiceField(
        label=gettext_lazy("The crown was"),
        choices=[
            ("full", gettext_lazy("full")),
            ("thin", gettext_lazy("thin")),
            ("none", gettext_lazy("not there")),
        ],
    )
    after = forms.ChoiceField(
        label=gettext_lazy("The crown is now"),
        choices=[
            ("full", gettext_lazy("full")),
            ("thin", gettext_lazy("thin")),
            ("none", gettext_lazy("not there")),
        ],
    )
    base_before = forms.FloatField(min_value=0)
    base_after = forms.FloatField(min_value=0)
    reach = forms.FloatField(min_value=0)

    def __init__(self, *args, metric: bool, **kwargs):
        super().__init__(*args, **kwargs)
        self.meters = 1.0 if metric else FEET
        unit = _("m") if metric else _("ft")
        labels = {
            "base_before": _("Underside above the ground, before (%s)"),
            "base_after": _("Underside above the ground, now (%s)"),
            "reach": _("From the trunk to the crown's edge (%s)"),
        }
        for name, label in labels.items():
            field = self.fields[name]
            field.label = label % unit
            field.widget.attrs |= {"step": "0.1", "class": "is-short"}

    def clean(self):
        answers = super().clean()
        for name in ("base_before", "base_after", "reach"):
            value = answers.get(name)
            if value is None:
                continue
            if not math.isfinite(value) or value * self.meters > MOST_METERS:
                self.add_error(name, _("A street tree's crown is not as far away as that."))
        return answers

    def crowns(self) -> tuple[Crown | None, Crown | None]:
        """The crown before and now, or None where there is none."""
        said = self.cleaned_data
        reach = said["reach"] * self.meters

        def crown(state: str, base: float) -> Crown | None:
            lets_by = LETS_BY[state]
            return None if lets_by is None else Crown(base * self.meters, reach, lets_by)

        return (
            crown(said["before"], said["base_before"]),
            crown(said["after"], said["base_after"]),
        )


@dataclass(frozen=True, slots=True)
class Told:
    """What the page says of one latitude and month."""

    finding: str
    window: str
    opening: str
    year: Drawn
    above: Drawn
    hours: Drawn


def told(latitude: float, month: int, form: SunForm, window: CoatWindow) -> Told:
    sides = sunny_sides(latitude)
    before, after = form.crowns()
    load = month_load(latitude, month, crown=after)
    shown = [hottest_side(latitude, month), 180 if latitude < 0 else 0, 90]
    return Told(
        finding=_("Here the sun burns the %(sides)s side of a trunk.") % {"sides": listed(sides)},
        window=_window_said(window),
        opening=_opening_said(latitude, month, before, after),
        year=sun_year(latitude, window),
        above=sun_from_above(load, month=month, hot=sides),
        hours=sun_hours(load, month=month, sides=tuple(dict.fromkeys(shown))),
    )


def _window_said(window: CoatWindow) -> str:
    if window.steady:
        return _("The sun hardly changes through the year: a coat goes on in any dry month.")
    return _("A coat goes on from %(first)s to %(last)s, on dry bark, before the heat.") % {
        "first": MONTHS[window.months[0]],
        "last": MONTHS[window.months[-1]],
    }


def _opening_said(latitude: float, month: int, before: Crown | None, after: Crown | None) -> str:
    """What became of the light on the hottest side, and which sides are newly at risk."""
    if before == after:
        return ""
    change = opened(latitude, month, before, after)
    side = hottest_side(latitude, month)
    tenths = round(float(change.times[change.before.sides.index(side)]) * 10)
    if tenths <= 10:
        return _("The %(side)s side gets no more sun than before.") % {"side": side_name(side)}
    more = _("Where 10 parts of sun fell on the %(side)s side, %(now)d fall now.") % {
        "side": side_name(side),
        "now": tenths,
    }
    if not change.newly_hot:
        return more
    newly = _("Newly at risk: %(sides)s. Coat it now, or give it shade.") % {
        "sides": listed(change.newly_hot)
    }
    return f"{more} {newly}"


@require_safe
def sun(request):
    """Open to anybody. Whatever cannot be read is said beside its field; nothing typed is lost."""
    area = home_area()
    metric = (request.user.units if request.user.is_authenticated else area.units) == "metric"
    usual = {
        "month": area.today().month,
        "latitude": round(area.latitude, 1),
        "before": "full",
        "after": "full",
        "base_before": 1.5 if metric else 5,
        "base_after": 1.5 if metric else 5,
        "reach": 1 if metric else 3,
    }
    asked = {name: request.GET.get(name, value) for name, value in usual.items()}
    form = SunForm(asked, metric=metric)
    context = {"area": area, "form": form}
    if form.is_valid():
        latitude, month = form.cleaned_data["latitude"], form.cleaned_data["month"]
        frost = area.last_frost_month if latitude == usual["latitude"] else None
        window = coat_window(latitude, last_frost_month=frost)
        context["told"] = told(latitude, month, form, window)
    return render(request, "frontend/handbook/sun.html", context)


routes = [path("sun-on-the-trunk/", sun, name="sun")]
