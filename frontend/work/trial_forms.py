"""What is typed about a side by side trial."""

from django import forms
from django.utils.translation import gettext_lazy as _

from frontend.field.forms import line
from frontend.work.forms import TagsField, a_day
from survey.handbook.book import book
from survey.handbook.wording import said
from survey.trees.models import Area, Tree
from survey.workorders.trials import USUAL_CARE, may_be_tried, not_by_lot


class TriedField(forms.ChoiceField):
    """One of the kinds of care that may be tried; another one is refused with its reason."""

    def validate(self, value):
        if value in book().care and (why := not_by_lot(value)):
            raise forms.ValidationError(why)
        super().validate(value)


class TrialForm(forms.Form):
    """The question, the care and what the others get, the trees, and the day of the answer."""

    def __init__(self, *args, area: Area, trees: list[Tree], **kwargs):
        super().__init__(*args, **kwargs)
        self.trees = {tree.ref: tree for tree in trees}
        self.fields["question"] = line(
            _("What do you want to know?"),
            300,
            required=True,
            help_text=_("For example: do coated trunks burn less than bare ones?"),
        )
        tried = [(care.code, said(care.label)) for care in may_be_tried()]
        self.fields["care"] = TriedField(
            label=_("Half the trees get"), choices=[("", _("Choose one")), *tried]
        )
        self.fields["instead"] = TriedField(
            label=_("The others get"),
            choices=[(USUAL_CARE, _("the usual care, without it")), *tried],
            help_text=_("All trees keep whatever else they need."),
        )
        self.fields["until"] = a_day(_("The answer is read on"))
        if trees:
            self.fields["trees"] = forms.MultipleChoiceField(
                label=_("Which trees"),
                choices=[(tree.ref, str(tree)) for tree in trees],
                widget=forms.CheckboxSelectMultiple,
                required=False,
                initial=[tree.ref for tree in trees],
            )
        self.fields["tags"] = TagsField(area=area, label=_("Trees by their tags"))

    def clean(self):
        given = super().clean()
        picked = [self.trees[ref] for ref in given.get("trees", ())]
        more = [tree for tree in given.get("tags") or () if tree not in picked]
        given["picked"] = [*picked, *more]
        if given.get("care") and given["care"] == given.get("instead"):
            self.add_error("instead", _("Both halves would get the same. Choose something else."))
        if len(given["picked"]) < 2 and "tags" not in self.errors and "trees" not in self.errors:
            self.add_error(
                "trees" if "trees" in self.fields else "tags",
                _("A trial needs at least two trees."),
            )
        return given


class EndForm(forms.Form):
    because = line(_("It ends, because"), 300, required=True)
