"""Forms for accounts and for the town."""

from zoneinfo import available_timezones

from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _

from survey.people.models import Person


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self):
        super().__init__(format="%Y-%m-%d")


class SignInForm(forms.Form):
    sign_in = forms.CharField(
        label=_("Sign-in name"),
        max_length=200,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )
    password = forms.CharField(
        label=_("Password"),
        max_length=4096,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


def _new_password(label, *, required: bool) -> forms.CharField:
    return forms.CharField(
        label=label,
        required=required,
        max_length=4096,
        strip=False,
        help_text=_("At least 12 letters. Three words that do not belong together are good."),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )


class FirstAccountForm(forms.Form):
    sign_in = forms.CharField(
        label=_("Sign-in name"),
        max_length=60,
        help_text=_("Short, no capital letters needed."),
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )
    name = forms.CharField(label=_("Your name, as others see it"), max_length=80)
    password = _new_password(_("Password"), required=True)


class OwnSettingsForm(forms.Form):
    name = forms.CharField(label=_("Your name, as others see it"), max_length=80)
    units = forms.ChoiceField(label=_("Units"), choices=Person.Units.choices)
    language = forms.ChoiceField(label=_("Language"), choices=settings.LANGUAGES)


class OwnPasswordForm(forms.Form):
    old = forms.CharField(
        label=_("Password now"),
        max_length=4096,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    password = _new_password(_("New password"), required=True)


class _RightsForm(forms.Form):
    name = forms.CharField(label=_("Name, as others see it"), max_length=80)
    email = forms.EmailField(label=_("E-mail"), required=False)
    role = forms.ChoiceField(label=_("What they do here"), choices=Person.Role.choices)
    trained_on = forms.DateField(
        label=_("Trained on"),
        required=False,
        widget=DayInput,
        help_text=_(
            "From that day on, a volunteer's looks count as trained. The page on training signs "
            "volunteers off and keeps why; here a slip is put right."
        ),
    )
    qualified_until = forms.DateField(
        label=_("Qualified until"),
        required=False,
        widget=DayInput,
        help_text=_("Until that day they may say that a danger is over."),
    )

    def __init__(self, *args, today, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today

    def clean_trained_on(self):
        day = self.cleaned_data["trained_on"]
        if day is not None and day > self.today and day != self.initial.get("trained_on"):
            raise forms.ValidationError(_("That day has not come yet."))
        return day


class NewPersonForm(_RightsForm):
    sign_in = forms.CharField(
        label=_("Sign-in name"),
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    password = _new_password(_("First password"), required=True)
    field_order = ["sign_in", "name", "email", "role", "trained_on", "qualified_until", "password"]


class PersonForm(_RightsForm):
    is_active = forms.BooleanField(
        label=_("May sign in"),
        required=False,
        help_text=_("Taking this away ends every session at once, and takes the password away."),
    )
    password = _new_password(_("New password"), required=False)


class TownForm(forms.Form):
    name = forms.CharField(label=_("Name of the town or neighborhood"), max_length=80)
    latitude = forms.FloatField(label=_("Latitude of its middle"), min_value=-90, max_value=90)
    longitude = forms.FloatField(label=_("Longitude of its middle"), min_value=-180, max_value=180)
    radius_km = forms.FloatField(
        label=_("How far it reaches, in kilometers"),
        min_value=0.2,
        max_value=100,
        initial=8,
        help_text=_("A report from farther away is asked where it means."),
    )
    time_zone = forms.ChoiceField(label=_("Time zone"))
    association = forms.CharField(label=_("Association"), max_length=80, required=False)
    department = forms.CharField(label=_("City department"), max_length=80, required=False)
    emergency_number = forms.CharField(
        label=_("Emergency number"), max_length=30, initial=settings.EMERGENCY_NUMBER
    )
    utility_line = forms.CharField(label=_("Power company"), max_length=40, required=False)
    hazard_line = forms.CharField(
        label=_("Hazard line: hanging limbs, cracks, a new lean"), max_length=40, required=False
    )
    hazard_hours = forms.CharField(
        label=_("When the hazard line answers"), max_length=80, required=False
    )
    hazard_fallback = forms.CharField(
        label=_("Number to call when it does not"), max_length=40, required=False
    )
    call_line = forms.CharField(
        label=_("Number for neighbors who would rather talk"), max_length=40, required=False
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        zones = sorted(zone for zone in available_timezones() if "/" in zone or zone == "UTC")
        self.fields["time_zone"].choices = [(zone, zone.replace("_", " ")) for zone in zones]
