"""What is filled in on the way to being trained."""

from django import forms
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from survey.handbook.records import PracticeItem
from survey.handbook.wording import said
from survey.people.models import Person
from survey.people.policy import may_sign_off
from survey.trees.models import Area, Site

NOTE = 300


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self, today):
        super().__init__(attrs={"max": today.isoformat()}, format="%Y-%m-%d")


class PracticeForm(forms.Form):
    """One round: a question with its choices for each picture, under the picture's code."""

    def __init__(self, *args, pictures: list[PracticeItem], **kwargs):
        super().__init__(*args, **kwargs)
        for number, item in enumerate(pictures, start=1):
            field = forms.ChoiceField(
                label=said(item.question),
                choices=[(choice.code, said(choice.says)) for choice in item.choices],
                widget=forms.RadioSelect,
                error_messages={
                    "required": _("Pick one answer."),
                    "invalid_choice": _("Pick one answer."),
                },
            )
            field.told_of = _("Picture %d") % number
            self.fields[item.code] = field

    def questions(self, pictures: list[PracticeItem]):
        """Each picture beside its question."""
        return [(item, self[item.code]) for item in pictures]


class WalkForm(forms.Form):
    """Somebody who learns walked with a trained partner."""

    def __init__(self, *args, by: Person, area: Area, **kwargs):
        super().__init__(*args, **kwargs)
        today = area.today()
        learners = Person.objects.filter(role=Person.Role.VOLUNTEER, is_active=True)
        learners = learners.filter(Q(trained_on=None) | Q(trained_on__gt=today)).exclude(pk=by.pk)
        self.fields["person"] = forms.ModelChoiceField(
            learners.order_by("name", "pk"),
            to_field_name="key",
            label=_("Who learns"),
            empty_label=_("choose"),
        )
        if may_sign_off(by):
            partners = Person.objects.filter(is_active=True).exclude(role=Person.Role.LIAISON)
            partners = partners.exclude(role=Person.Role.VOLUNTEER, trained_on=None)
            self.fields["partner"] = forms.ModelChoiceField(
                partners.order_by("name", "pk"),
                to_field_name="key",
                label=_("Trained partner"),
                empty_label=_("choose"),
            )
        self.fields["site"] = forms.ModelChoiceField(
            Site.objects.filter(area=area).order_by("name", "pk"),
            to_field_name="ref",
            label=_("Where"),
            empty_label=_("choose"),
        )
        self.fields["day"] = forms.DateField(label=_("Day"), widget=DayInput(today), initial=today)
        self.fields["note"] = forms.CharField(
            label=_("Note"),
            required=False,
            max_length=NOTE,
            help_text=_("For example the weather, or what you talked about."),
        )


class SignOffForm(forms.Form):
    """Trained from a day on; a reason where something is missing."""

    def __init__(self, *args, today, complete: bool, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["on"] = forms.DateField(
            label=_("Trained from this day on"), widget=DayInput(today), initial=today
        )
        self.fields["reason"] = forms.CharField(
            label=_("Reason to sign off without it") if not complete else _("Note"),
            required=False,
            max_length=NOTE,
            help_text=""
            if complete
            else _("For example: trained in another town, by whom and when."),
        )


class TakeBackForm(forms.Form):
    """Looks no longer count as trained."""

    reason = forms.CharField(label=_("Reason"), max_length=NOTE)
