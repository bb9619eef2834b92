"""The forms of the report pages read what was typed; the rules themselves are the domain's."""

import calendar
from datetime import date

from django import forms
from django.core.exceptions import ValidationError
from django.utils.dates import MONTHS, MONTHS_3
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, override

from survey.handbook.book import book
from survey.handbook.wording import said
from survey.reports.answers import (
    EARLIEST,
    MOST_LANDMARK,
    MOST_WORDS,
    cleaned_text,
    how_to_answer,
    too_long,
)


def spoken_choices(records) -> list[tuple[str, str]]:
    return [(code, said(record.label)) for code, record in records.items()]


def month_of(typed: str) -> int | None:
    """A month as people type it: 6, 06, June, jun, junio; None when it is none."""
    typed = typed.strip().strip(".").casefold()
    if typed.isdecimal():
        return int(typed) if 1 <= int(typed[:4]) <= 12 else None
    if len(typed) < 3:
        return None
    for language in ("en", "es"):
        with override(language):
            for number in range(1, 13):
                names = {str(MONTHS[number]).casefold(), str(MONTHS_3[number]).casefold()}
                names.add(calendar.month_name[number].casefold())
                if any(name == typed or name[:3] == typed.rstrip(".") for name in names):
                    return number
    return None


class DayField(forms.Form):
    """A day in three typed parts, as calendars that need a script are not for everybody."""

    month = forms.CharField(
        label=gettext_lazy("Month"),
        required=False,
        widget=forms.TextInput(attrs={"class": "is-short", "autocomplete": "off"}),
    )
    day = forms.CharField(
        label=gettext_lazy("Day"),
        required=False,
        widget=forms.TextInput(
            attrs={"class": "is-short", "inputmode": "numeric", "autocomplete": "off"}
        ),
    )
    year = forms.CharField(
        label=gettext_lazy("Year"),
        required=False,
        widget=forms.TextInput(
            attrs={"class": "is-short", "inputmode": "numeric", "autocomplete": "off"}
        ),
    )


def read_day(month: str, day: str, year: str, today: date) -> date:
    """The day that three typed parts mean; all empty means today. Raises ValidationError."""
    parts = [cleaned_text(part) for part in (month, day, year)]
    if not any(parts):
        return today
    number = month_of(parts[0])
    try:
        if number is None:
            raise ValueError
        meant = date(int(parts[2] or today.year), number, int(parts[1]))
    except (ValueError, OverflowError) as trouble:
        raise ValidationError(
            _("That is not a day in the calendar. Write it like %(example)s.")
            % {"example": today.strftime("%m / %d / %Y")}
        ) from trouble
    if meant > today:
        raise ValidationError(_("That day has not come yet. When did you see it?"))
    if meant < EARLIEST:
        raise ValidationError(_("Check the year: that is too long ago."))
    return meant


class SignsForm(forms.Form):
    signs = forms.MultipleChoiceField(required=False, label=gettext_lazy("What you see"))

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        shown = book().signs_for("neighbor")
        self.fields["signs"].choices = [(sign.code, said(sign.label)) for sign in shown]
        self.fields["signs"].error_messages["invalid_choice"] = _("Choose from the pictures.")


class OverallForm(forms.Form):
    picture = forms.ChoiceField(
        label=gettext_lazy("How it looks"),
        error_messages={
            "required": gettext_lazy("Pick the picture that comes closest, or “I cannot tell”."),
            "invalid_choice": gettext_lazy("Choose from the pictures."),
        },
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["picture"].choices = spoken_choices(book().picture_scale)


class ExtentForm(forms.Form):
    """How far round and which side; each only when a ticked sign asks for it."""

    extent = forms.ChoiceField(
        label=gettext_lazy("How far round"),
        error_messages={
            "required": gettext_lazy("Pick how far round it goes, or “I cannot see all of it”."),
            "invalid_choice": gettext_lazy("Choose from the pictures."),
        },
    )
    side = forms.ChoiceField(
        label=gettext_lazy("Which side"),
        error_messages={
            "required": gettext_lazy("Pick a side, or “Not sure”."),
            "invalid_choice": gettext_lazy("Choose from the list."),
        },
    )

    def __init__(self, *args, extent: bool, side: bool, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["extent"].choices = spoken_choices(book().extents)
        self.fields["side"].choices = spoken_choices(book().sides)
        for name, asked in (("extent", extent), ("side", side)):
            if not asked:
                del self.fields[name]


class ElsewhereForm(forms.Form):
    landmark = forms.CharField(
        label=gettext_lazy("Where is it?"),
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={
            "required": gettext_lazy(
                "Say where it is: a house number, or something close that stays put."
            )
        },
    )

    def clean_landmark(self):
        landmark = " ".join(cleaned_text(self.cleaned_data["landmark"]).split())
        if len(landmark) > MOST_LANDMARK:
            raise ValidationError(_("Please use up to %d letters for the place.") % MOST_LANDMARK)
        if not landmark:
            raise ValidationError(self.fields["landmark"].error_messages["required"])
        return landmark


class WordsForm(DayField):
    """Free words, the day it was seen, and how to answer."""

    words = forms.CharField(
        label=gettext_lazy("In your own words"),
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 6}),
    )
    contact = forms.CharField(
        label=gettext_lazy("Where should the answer go?"),
        required=False,
        help_text=gettext_lazy(
            "An e-mail address, or a phone number that somebody will call. "
            "Used for this report only, and erased when you ask."
        ),
        widget=forms.TextInput(attrs={"autocomplete": "email"}),
    )
    field_order = ["words", "month", "day", "year", "contact"]

    def __init__(self, *args, today: date, needs_words: bool, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today
        self.needs_words = needs_words
        # What is wrong with the day is told of the whole day, not of its first box.
        self.fields["month"].told_of = gettext_lazy("The day")

    def clean_words(self):
        words = cleaned_text(self.cleaned_data["words"])
        if len(words) > MOST_WORDS:
            raise ValidationError(too_long(words))
        if not words and self.needs_words:
            raise ValidationError(_("Tell us in a few words what you see."))
        return words

    def clean_contact(self):
        contact = cleaned_text(self.cleaned_data["contact"])
        how_to_answer(contact)
        return contact

    def clean(self):
        cleaned = super().clean()
        try:
            cleaned["seen_on"] = read_day(
                cleaned.get("month", ""),
                cleaned.get("day", ""),
                cleaned.get("year", ""),
                self.today,
            )
        except ValidationError as trouble:
            self.add_error("month", trouble)
        return cleaned


class ReplyForm(forms.Form):
    words = forms.CharField(
        label=gettext_lazy("Your answer"),
        strip=False,
        widget=forms.Textarea(attrs={"rows": 5}),
        error_messages={"required": gettext_lazy("Write a few words, then send them.")},
    )
    client_ref = forms.UUIDField(widget=forms.HiddenInput)

    def clean_words(self):
        words = cleaned_text(self.cleaned_data["words"])
        if len(words) > MOST_WORDS:
            raise ValidationError(too_long(words))
        if not words:
            raise ValidationError(self.fields["words"].error_messages["required"])
        return words
