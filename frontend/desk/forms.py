"""What each decision at the desk needs. Names of fields are those of the actions."""

from django import forms
from django.utils.translation import gettext as spoken
from django.utils.translation import gettext_lazy as _

from survey.handbook.book import book
from survey.handbook.wording import said
from survey.reports.actions.triage import MOST_MESSAGE, MOST_REASON
from survey.reports.models import Report
from survey.reports.reference import report_name
from survey.trees.models import Area


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self):
        super().__init__(format="%Y-%m-%d")


class _Decision(forms.Form):
    """Every decision carries the version that was on the desk, and a reason."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    reason = forms.CharField(
        label=_("Why, for the next person at the desk"),
        max_length=MOST_REASON,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class _Told(_Decision):
    message = forms.CharField(
        label=_("What the neighbor reads"),
        max_length=MOST_MESSAGE,
        widget=forms.Textarea(attrs={"rows": 6}),
    )


class AnswerForm(_Told):
    pass


class AskForm(_Told):
    pass


class WatchForm(_Told):
    look_due = forms.DateField(label=_("Look again by"), widget=DayInput)


class SetAsideForm(_Told):
    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["message"].required = False


class JoinForm(_Told):
    """Candidates are offered; any other report can be named by its day and number."""

    other = forms.ChoiceField(
        label=_("Join to"), required=False, widget=forms.RadioSelect, choices=()
    )
    other_day = forms.DateField(label=_("Or to the note of"), required=False, widget=DayInput)
    other_number = forms.IntegerField(
        label=_("Note number"), required=False, min_value=1, max_value=1_000_000
    )

    def __init__(self, *args, area: Area, candidates=(), **kwargs):
        super().__init__(*args, **kwargs)
        self.area = area
        self.fields["message"].required = False
        self.fields["other"].choices = [
            (str(c.pk), report_name(c, today=area.today())) for c in candidates
        ]

    def clean(self):
        given = super().clean()
        day, number, key = given.get("other_day"), given.get("other_number"), given.get("other")
        if day and number:
            found = Report.objects.filter(area=self.area, day=day, number=number).first()
            if found is None:
                self.add_error("other_number", spoken("There is no note of that day and number."))
            given["report"] = found
        elif bool(day) != bool(number):
            self.add_error("other_number", spoken("Give both the day and the number."))
        elif key:
            given["report"] = Report.objects.filter(area=self.area, pk=int(key)).first()
        elif not self.errors:
            self.add_error("other", spoken("Choose the note that this one repeats."))
        return given


class DangerForm(_Decision):
    danger = forms.ChoiceField(label=_("What kind of danger"), widget=forms.RadioSelect)
    field_order = ["danger", "reason"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["danger"].choices = [(d.code, said(d.label)) for d in book().dangers.values()]


class ClearForm(_Decision):
    pass


class NotDangerForm(_Decision):
    pass


class PlaceForm(forms.Form):
    """One tree or one site, chosen from what a search found."""

    version = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    place = forms.RegexField(regex=r"^(tree|site):[a-zA-Z0-9_-]{1,60}$", max_length=70)
